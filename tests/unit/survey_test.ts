// Do the pictures of other air and other frequencies say what the report would? Their figures against whole
// reports on the changed setup; the core is the wasm module of site/public.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { test } from "node:test";
import { pathToFileURL } from "node:url";
import type { Report } from "../../site/src/core/report.ts";
import { atFrequency, carried, overAir, overPwm, type Ask } from "../../site/src/core/survey.ts";
import { merged, type JsonObject } from "../../site/src/setup/json.ts";
import type { Hotband } from "../../wasm/load.d.mts";

// npm runs this in site/
const fromSite = (path: string): string => resolve(process.cwd(), path);
const { load } = (await import(pathToFileURL(fromSite("../wasm/load.mjs")).href)) as {
    load: (bytes: Uint8Array) => Promise<Hotband>;
};
const core = await load(readFileSync(fromSite("public/page.wasm")));

const USUAL = -1;
function report(setup: JsonObject, draws = USUAL): Report {
    const answer = core.advise(JSON.stringify(setup), draws);
    assert.ok("ok" in answer, JSON.stringify(answer));
    return answer.ok as Report;
}
const ask: Ask = async (setup, draws) => report(setup, draws);
const always = (): boolean => true;

const setupOf = (name: string): JsonObject =>
    JSON.parse(readFileSync(fromSite(`../presets/setups/${name}.json`), "utf8")) as JsonObject;

/** How far a carried figure may be from a whole report, K: for the middle and for the ends of its range. The
 *  range is as wide as 30 K; the middle plant does not know how each draw would warm its own switches. */
const MIDDLE_K = 1.5;
const END_K = 2.5;

function near(a: number | null | undefined, b: number | null | undefined, off: number): void {
    assert.ok(Math.abs((a ?? NaN) - (b ?? NaN)) <= off, `${a} against ${b}, within ${off} K`);
}

test("the peak over the air is the report's own where it is told, and near a whole report elsewhere", async () => {
    const setup = setupOf("hayrick-sailplane");
    const told = report(setup);
    const peaks = (await overAir({ report: told, setup }, ask, always, 24)) ?? [];
    assert.deepEqual(
        peaks.map(({ air_C }) => air_C),
        [-10, 0, 10, 20, 24, 30, 40, 50],
    );
    assert.deepEqual(peaks[4]?.peak_C, told.esc.peak_C);
    for (const one of peaks.filter(({ air_C }) => air_C === 0 || air_C === 40)) {
        const there = merged(setup, { air: { temperature_C: one.air_C } }) as JsonObject;
        const whole = report(there).esc.peak_C;
        near(one.peak_C.p10, whole.p10, END_K);
        near(one.peak_C.p50, whole.p50, MIDDLE_K);
        near(one.peak_C.p90, whole.p90, END_K);
    }
    // each is hotter than the one before
    for (const [i, one] of peaks.slice(1).entries()) {
        assert.ok((one.peak_C.p50 ?? 0) > (peaks[i]?.peak_C.p50 ?? Infinity));
    }
});

test("where the heat runs away the core itself says what is left, from one air on", async () => {
    const setup = merged(setupOf("draycart-tow-plane"), {
        air: { temperature_C: 38, cooling: "closed", flight_speed_mps: 0 },
        esc: { pwm_Hz: 24000 },
        load: { full_throttle_A: 150 },
        flight: { parts: [{ throttle_pct: 70, seconds: 400, flight_speed_mps: 0 }] },
    }) as JsonObject;
    const told = report(setup);
    assert.equal(told.esc.peak_C.p50, null);
    const asked: (number | undefined)[] = [];
    const peaks =
        (await overAir(
            { report: told, setup },
            (changed, draws) => {
                asked.push(draws);
                return ask(changed, draws);
            },
            always,
            38,
        )) ?? [];
    assert.ok(asked.includes(undefined));
    assert.deepEqual(peaks.find(({ air_C }) => air_C === 38)?.peak_C, told.esc.peak_C);
    const first = peaks.findIndex(({ peak_C }) => peak_C.p50 === null);
    assert.ok(first >= 0);
    assert.ok(peaks.slice(first).every(({ peak_C }) => peak_C.p50 === null));
});

test("the holds' peaks at each frequency are a whole report's", async () => {
    const setup = setupOf("draycart-tow-plane");
    const told = report(setup);
    const rows = (await overPwm({ report: told, setup }, ask, always)) ?? [];
    assert.deepEqual(
        rows.map(({ pwm_Hz }) => pwm_Hz),
        [8000, 16000, 24000],
    );
    assert.deepEqual(
        rows[1]?.peaks_C,
        told.holds.map((hold) => hold.hold_peak_C.p50),
    );
    const whole = new Map(
        report(atFrequency(setup, 24000)).holds.map((hold) => [
            hold.throttle_pct,
            hold.hold_peak_C.p50,
        ]),
    );
    let compared = 0;
    for (const [i, { throttle_pct }] of told.holds.entries()) {
        // the hottest throttle, read between the steps, lies elsewhere at each frequency
        if (throttle_pct % 5 !== 0) continue;
        assert.equal(rows[2]?.peaks_C[i], whole.get(throttle_pct));
        compared += 1;
    }
    assert.ok(compared > 15);
});

test("a survey nobody waits for any more stops, and readings keep their frequency", async () => {
    const setup = setupOf("hayrick-sailplane");
    const told = report(setup, 0);
    let count = 0;
    const counted: Ask = async (changed, draws) => {
        count += 1;
        return ask(changed, draws);
    };
    assert.equal(await overAir({ report: told, setup }, counted, () => count < 3, 24), undefined);
    assert.equal(count, 3);
    const rows = atFrequency(
        { esc: { pwm_Hz: 8000 }, measured: [{ throttle_pct: 60 }, { pwm_Hz: 12000 }] },
        24000,
    );
    assert.deepEqual(rows, {
        esc: { pwm_Hz: 24000 },
        measured: [{ pwm_Hz: 8000, throttle_pct: 60 }, { pwm_Hz: 12000 }],
    });
});

test("a rise is carried in proportion, and a small one by its difference", () => {
    assert.equal(carried(60, 20, 50, { air_C: 30, peak_C: 66 }), 30 + (40 * 36) / 30);
    assert.equal(carried(21, 20, 20.5, { air_C: 30, peak_C: 30.5 }), 31);
});
