// How fast is it, and how much goes over the air? Prints the figures with their goals; natively from
// the program bench_speed, as wasm from here, in one run on one machine.
//   node tests/bench/speed.mjs BENCH_SPEED
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { basename, join } from "node:path";
import { fileURLToPath } from "node:url";
import { brotliCompressSync } from "node:zlib";
import { load } from "../../wasm/load.mjs";

const root = fileURLToPath(new URL("../..", import.meta.url));
const setups = readdirSync(join(root, "presets/setups"))
    .filter((file) => file.endsWith(".json"))
    .map((file) => join(root, "presets/setups", file));
const wasm = readFileSync(join(root, "site/public/hotband.wasm"));

/** The least time of one call over five rounds, as the native measurement takes it. */
function leastMilliseconds(call) {
    let least = Infinity;
    for (let round = 0; round < 5; round += 1) {
        let calls = 0;
        const start = performance.now();
        do {
            call();
            calls += 1;
        } while (performance.now() - start < 100);
        least = Math.min(least, (performance.now() - start) / calls);
    }
    return least;
}

function line(what, value, goal = "") {
    console.log(`${what.padEnd(46)} ${value.padStart(16)}   ${goal}`);
}

const median = (numbers) => numbers.toSorted((a, b) => a - b)[Math.floor(numbers.length / 2)];
const span = (numbers, digits = 1) =>
    `${median(numbers).toFixed(digits)} (most ${Math.max(...numbers).toFixed(digits)})`;

const native = JSON.parse(execFileSync(process.argv[2], setups, { encoding: "utf8" }));
if (!native.cycle.solved || !native.reports.every(({ answered }) => answered)) {
    throw new Error("a cycle was not solved or a setup not answered: these times mean nothing");
}
const core = await load(wasm);
const inWasm = setups.map((file) => {
    const setup = readFileSync(file, "utf8");
    return {
        nominal_ms: leastMilliseconds(() => core.advise(setup, 0)),
        whole_ms: leastMilliseconds(() => core.advise(setup)),
    };
});

const of = (key, list) => list.map((times) => times[key]);
const ratios = (key) => inWasm.map((times, i) => times[key] / native.reports[i][key]);
console.log(`Times: median over ${setups.length} preset setups\n`);
line(
    "exact cycle, native, mean (worst), us",
    `${native.cycle.mean_us.toFixed(1)} (${native.cycle.worst_us.toFixed(1)})`,
    "goal 5",
);
line("nominal report, native, ms", span(of("nominal_ms", native.reports)), "goal 1.5");
line("whole report, native, ms", span(of("whole_ms", native.reports)), "goal 20");
line("nominal report, wasm, ms", span(of("nominal_ms", inWasm)));
line("whole report, wasm, ms", span(of("whole_ms", inWasm)));
line("wasm / native, nominal report", span(ratios("nominal_ms"), 2), "goal 1.4");
line("wasm / native, whole report", span(ratios("whole_ms"), 2), "goal 1.4");

console.log("\nBytes over the air\n");
const page = readFileSync(join(root, "site/public/page.wasm"));
line("page.wasm, raw", String(page.length));
line("page.wasm, brotli", String(brotliCompressSync(page).length));
