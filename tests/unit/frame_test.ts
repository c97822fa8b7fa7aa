// What of a picture of temperatures is in its frame?

import assert from "node:assert/strict";
import { test } from "node:test";
import { frame } from "../../site/src/figures/frame.ts";

const shows = ([bottom, top]: [number, number], value: number): boolean =>
    bottom < value && value < top;

test("a frame holds what is drawn and the limit, with room", () => {
    const cool = frame(30, 60, 100);
    assert.ok(Math.abs(cool[0] - (30 - 0.08 * 70)) < 1e-9);
    assert.ok(Math.abs(cool[1] - (100 + 0.08 * 70)) < 1e-9);
    // just over the limit all is within
    assert.ok(shows(frame(40, 130, 100), 130));
});

test("what is far over the limit leaves the frame, the limit stays readable", () => {
    const burning = frame(40, 1e5, 100);
    // six tenths of what lies below the limit: 136, and 8 % of 96 as room
    assert.ok(Math.abs(burning[1] - (136 + 0.08 * 96)) < 1e-9);
    // where all is over the limit, so is 20 below it
    assert.ok(shows(frame(150, 300, 100), 80));
    assert.ok(!shows(frame(150, 300, 100), 150));
});

test("the point as told is never lost", () => {
    assert.ok(shows(frame(150, 300, 100, 220), 220));
    assert.ok(!shows(frame(150, 300, 100, 220), 260));
    // one within the frame changes nothing
    assert.deepEqual(frame(40, 130, 100, 90), frame(40, 130, 100));
});
