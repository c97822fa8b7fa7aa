// Do the program and the wasm module give the same answers? Every preset, a grid of switching cycles
// and thermal cases, share links and refusals go through both; strings must be equal, numbers equal
// within the tolerances below.
//   node tests/wasm/compare.mjs PROGRAM [WASM]
import { spawn } from "node:child_process";
import { once } from "node:events";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { text } from "node:stream/consumers";
import { fileURLToPath } from "node:url";
import { load } from "../../wasm/load.mjs";

const root = fileURLToPath(new URL("../..", import.meta.url));
const program = process.argv[2] ?? join(root, "build/hotband");
const wasm = process.argv[3] ?? join(root, "site/public/hotband.wasm");

// The two differ by their C libraries' exp, pow and sin, in the last bit of a double; iterations that
// stop at 1e-10 of the answer pass that on. A number that is what two others leave carries the error
// of those two, so that each tolerance has a floor too.
// A switching cycle or a heat march: currents and powers of up to about 100, and their rounding.
const CASES = { relative: 1e-9, absolute: 1e-10 };
// A report: its changes and remainders are differences of about 100 K or 100 s.
const REPORT = { relative: 1e-9, absolute: 1e-9 * 100 };
// A report with measured rows: learning takes slopes over a thousandth of a spread
// (core/learn/calibrate.cpp), and a slope has a thousand times the error of what it is taken of.
const LEARNED = { relative: 1000 * 1e-10, absolute: 1000 * 1e-10 * 100 };

let passed = 0;
let failed = 0;

/** The first place where two JSON values differ, or undefined. */
function difference(native, other, within, path = "") {
    if (typeof native === "number" && typeof other === "number") {
        const size = Math.max(Math.abs(native), Math.abs(other));
        const room = within.relative * size + within.absolute;
        return Math.abs(native - other) <= room ? undefined : `${path}: ${native} and ${other}`;
    }
    if (
        native !== null &&
        other !== null &&
        typeof native === "object" &&
        typeof other === "object"
    ) {
        if (Array.isArray(native) !== Array.isArray(other)) return `${path}: one is an array`;
        const keys = Object.keys(native);
        if (keys.join() !== Object.keys(other).join()) {
            return `${path}: keys ${keys} and ${Object.keys(other)}`;
        }
        for (const key of keys) {
            const found = difference(
                native[key],
                other[key],
                within,
                path ? `${path}.${key}` : key,
            );
            if (found) return found;
        }
        return undefined;
    }
    return native === other
        ? undefined
        : `${path}: ${JSON.stringify(native)} and ${JSON.stringify(other)}`;
}

/** The native answer may still be on its way: the program works beside the module. */
async function check(name, native, other, within = CASES) {
    const found = difference(await native, other, within);
    if (found === undefined) {
        passed += 1;
    } else {
        failed += 1;
        console.log(`FAILED ${name}: native and wasm differ at ${found}`);
    }
}

/** The program's answer in the shape that the wasm module gives; `asText` for one that is no JSON. */
async function native(words, input, asText = false) {
    const run = spawn(program, words);
    run.stdin.on("error", () => undefined); // it may end before it has read all
    run.stdin.end(input);
    const [stdout, stderr, status] = await Promise.all([
        text(run.stdout),
        text(run.stderr),
        once(run, "close").then(([code]) => code),
    ]);
    if (status === 0) return { ok: asText ? stdout.trimEnd() : JSON.parse(stdout) };
    if (status !== 2) return { crash: stderr };
    return { problems: stderr.trimEnd().split("\n") };
}

/** The wasm module's answer, with its problems as the program prints them. */
function viaWasm(door, ...input) {
    let answer;
    try {
        answer = core[door](...input);
    } catch (error) {
        return { crash: error.message };
    }
    if (!answer.problems) return answer;
    return {
        problems: answer.problems.map(({ path, text }) => (path ? `${path}: ${text}` : text)),
    };
}

const core = await load(readFileSync(wasm));

// Parts change what the draws are drawn of, not what is done with them: few will do.
const FEW_DRAWS = 16;

async function compareSetup(name, setup, samples) {
    const within = JSON.parse(setup).measured?.length > 0 ? LEARNED : REPORT;
    await check(
        `advise ${name}`,
        native(samples ? ["advise", "--samples", `${samples}`] : ["advise"], setup),
        viaWasm("advise", setup, samples),
        within,
    );
    await check(
        `advise ${name}, without samples`,
        native(["advise", "--samples", "0"], setup),
        viaWasm("advise", setup, 0),
        within,
    );
    const link = await native(["link"], setup, true);
    await check(`link ${name}`, link, viaWasm("link", setup));
    if (link.ok) {
        await check(`unlink ${name}`, native(["unlink"], link.ok), viaWasm("unlink", link.ok));
    }
}

function presets(folder) {
    return readdirSync(join(root, "presets", folder))
        .filter((file) => file.endsWith(".json"))
        .sort()
        .map((file) => [
            `${folder}/${file}`,
            readFileSync(join(root, "presets", folder, file), "utf8"),
        ]);
}

/** A setup with a part's keys in the place of its own; a null clears one. */
function withPart(setup, part) {
    const made = { ...setup };
    for (const [key, value] of Object.entries(part)) {
        if (value === null) delete made[key];
        else if (typeof value === "object" && !Array.isArray(value))
            made[key] = withPart(made[key] ?? {}, value);
        else made[key] = value;
    }
    return made;
}

// One case as in the contract, and what a grid changes in it.
// prettier-ignore
const cycleCase = {
    mode: "diode", Voc: 22.2, R_src: 0.015, L_src: 2e-7, C: 1e-3, R_esr: 0.008, R_on: 7e-4,
    V_f0: 0.5, r_d: 0.002, R_m: 0.012, L_m: 1.2e-5, E: 9, D: 0.5, f: 8000,
};
// prettier-ignore
const heatCase = {
    Cj: 0.5, Cb: 25, Cs: 60, Gjb: 3, Gbs: 2, A: 0.0095, H: 0.07, L: 0.07, p: 101325, eps: 0.9,
    a: 0.6, b: 0.4, alpha: 0.005,
    schedule: [{ t_end: 60, P0: 8, v: 5, T_amb: 25 }, { t_end: 120, P0: 2, v: 0, T_amb: 25 }],
    T_init: [25, 25, 25], times: [0, 1, 30, 60, 61, 120],
};

const cycles = [];
for (const mode of ["active", "diode"])
    for (const D of [0, 0.05, 0.3, 0.6, 0.95, 1])
        for (const f of [8000, 24000, 48000])
            for (const share of [0, 0.7, 0.98, 1.1])
                cycles.push({ ...cycleCase, mode, D, f, E: share * D * cycleCase.Voc });
const heats = [0, 0.5, 2, 8, 25].map((v) => ({
    ...heatCase,
    schedule: heatCase.schedule.map((part) => ({ ...part, v })),
}));

const setups = presets("setups");
for (const [name, setup] of setups) await compareSetup(name, setup);
for (const [name, part] of presets("parts")) {
    const whole = withPart(JSON.parse(setups[0][1]), JSON.parse(part).setup);
    await compareSetup(`${name} in ${setups[0][0]}`, JSON.stringify(whole), FEW_DRAWS);
}
for (const [door, cases] of [
    ["cycle", cycles],
    ["heat", heats],
]) {
    const asked = JSON.stringify(cases);
    const [one, other] = [await native([door], asked), viaWasm(door, asked)];
    if (!one.ok || !other.ok) await check(`${door} cases`, one, other);
    else
        for (const [i, c] of cases.entries())
            await check(`${door} ${JSON.stringify(c)}`, one.ok[i], other.ok[i]);
}
await check("fields", native(["fields"]), viaWasm("fields"));

const refused = ["", "{", "[]", '"\u00e4"', '{"hotband": 1, "pack": {"cells": 900}, "spinner": 1}'];
for (const asked of refused) {
    for (const door of ["advise", "cycle", "heat", "link", "unlink"]) {
        await check(`${door} of ${asked}`, native([door], asked), viaWasm(door, asked));
    }
}

console.log(`${passed} passed, ${failed} failed`);
process.exitCode = failed > 0 || passed === 0 ? 1 : 0;
