// Are times and figures read and written as a pilot does?

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

// a browser tells its language
Object.defineProperty(globalThis, "navigator", { value: { language: "en" }, configurable: true });
const { clock, percent, read, readSize, readTime, written } =
    await import("../../site/src/words/numbers.ts");
const { Wording } = await import("../../site/src/words/scale.ts");
const { quantityOf } = await import("../../site/src/words/unknowns.ts");
const { fieldTable } = await import("../../site/src/core/fields.ts");

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

test("a propeller's size is read in cm, or in inches where it is marked so", () => {
    // an inch is 2.54 cm by definition
    for (const [text, cm] of [
        ["25,4", 25.4],
        ['10"', 25.4],
        ["10 in", 25.4],
        ["10IN", 25.4],
        ["4.5″", 11.43],
        ["4,7 ” ", 11.938],
    ] as const) {
        assert.equal(readSize(text), cm, text);
    }
    for (const text of ["", "in", '"', "10 inch", '10""']) {
        assert.equal(readSize(text), undefined, text);
    }
});

test("every unknown of the core has words and a unit, those to come as well", () => {
    const priors = readFileSync("../core/plant/priors.cpp", "utf8");
    const keys = [...priors.matchAll(/(?:row|additive)\(\s*"([\w.]+)"/g)].map(
        ([, key]) => key ?? "",
    );
    assert.ok(keys.length > 40);
    const table = fieldTable(JSON.parse(readFileSync("public/fields.json", "utf8")));
    const words = new Wording("C");
    const named = (key: string): string => words.named(quantityOf(table, key));
    for (const key of keys) assert.match(named(key), /^[A-Z][^_]+[^_,]$/, key);
    for (const [key, text] of [
        ["esc.mass_g", "ESC mass, g"],
        ["air.wash_share", "Share of propeller wash"],
        ["air.convection_factor", "Surface’s cooling, factor"],
        ["esc.case_path_K_per_W", "Path from board to case, K/W"],
        ["motor.winding_capacity_J_per_K", "Winding capacity, J/K"],
        ["motor.ac_resistance_ratio", "AC resistance ratio"],
        ["bench.air_factor", "Bench: air over the ESC, factor"],
        ["flown.sensor_gain", "Flown: sensor gain"],
        ["model.heat_60_pct", "Model: heat near 60\u00a0% duty, factor"],
        ["esc.thing_to_come_nH", "Thing to come, nH"],
        ["esc.thing_to_come_pct", "Thing to come, %"],
        ["weather.thing_to_come", "Weather: thing to come"],
    ] as const) {
        assert.equal(named(key), text);
    }
    // a difference stays one: 5 K are 9 deg F
    const fahrenheit = new Wording("F");
    const offset = quantityOf(table, "bench.air_offset_K");
    assert.equal(fahrenheit.named(offset), "Bench: air warmer than told, °F");
    assert.equal(fahrenheit.shown(offset, 5), 9);
    assert.equal(words.named(offset), "Bench: air warmer than told, K");
});

test("a difference of nought keeps its sign, so that it is no temperature", () => {
    const fahrenheit = new Wording("F");
    for (const [kelvin, text] of [
        ["-0.0 K", "−0 °F"],
        ["+0.0 K", "+0 °F"],
        ["-0.5 K", "−0.9 °F"],
        ["+1.5 K", "+2.7 °F"],
        ["5 K", "9 °F"],
    ] as const) {
        assert.equal(
            fahrenheit.sentence(`24 kHz: ESC ${kelvin}, 2 W`),
            `24\u00a0kHz: ESC ${text}, 2\u00a0W`,
        );
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
