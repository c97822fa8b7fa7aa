// Are times and figures read and written as a pilot does?

import assert from "node:assert/strict";
import { test } from "node:test";

// a browser tells its language
Object.defineProperty(globalThis, "navigator", { value: { language: "en" }, configurable: true });
const { clock, percent, read, readTime, written } = await import("../../site/src/words/numbers.ts");

test("a time is read in seconds, minutes or as a clock shows it", () => {
    for (const [text, seconds] of [
        ["90", 90],
        ["1:30", 90],
        ["0:05", 5],
        ["2 min", 120],
        ["1,5 min", 90],
        ["1.5m", 90],
        ["45 s", 45],
        ["1 h", 3600],
    ] as const) {
        assert.equal(readTime(text, 1), seconds, text);
    }
    assert.equal(readTime("2", 60), 120);
    assert.equal(readTime("30 s", 60), 30);
    for (const text of ["", "soon", "1:75", "1:2:3", "min"]) {
        assert.equal(readTime(text, 1), undefined, text);
    }
});

test("numbers are read with comma or point", () => {
    assert.equal(read("64,5"), 64.5);
    assert.equal(read("−3"), -3);
    assert.equal(read("a lot"), undefined);
});

test("a chance is never written as certain", () => {
    assert.equal(percent(0), "under 1\u00a0%");
    assert.equal(percent(0.01), "1\u00a0%");
    assert.equal(percent(0.001), "under 1\u00a0%");
    assert.equal(percent(0.42), "42\u00a0%");
    assert.equal(percent(0.999), "over 99\u00a0%");
    assert.equal(percent(1), "over 99\u00a0%");
    assert.equal(percent(0.99), "99\u00a0%");
    assert.equal(clock(65), "1:05");
});

test("a number is written with the figures it is worth, and none that say nothing", () => {
    for (const [value, text] of [
        [0, "0"],
        [-0.0000000001, "0"],
        [12, "12"],
        [12.0, "12"],
        [12.34, "12.3"],
        [-12.34, "−12.3"],
        [1234.5, "1235"],
        [0.012345, "0.0123"],
        [100, "100"],
        [1000000, "1000000"],
        [NaN, "–"],
    ] as const) {
        assert.equal(written(value), text);
    }
    assert.equal(written(24.1, 4), "24.1");
    assert.equal(written(0.5, 2), "0.5");
});
