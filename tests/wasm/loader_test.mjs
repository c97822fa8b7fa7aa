// Does the loader keep its word? Texts cross whole, and a failure of the core is an error after which
// the next call works.
//   node --test tests/wasm/loader_test.mjs
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { test } from "node:test";
import { load } from "../../wasm/load.mjs";

const bytesOf = (name) =>
    readFileSync(fileURLToPath(new URL(`../../site/public/${name}`, import.meta.url)));
const bytes = bytesOf("hotband.wasm");

const setup = {
    hotband: 1,
    name: "Ünïcode ✈ 飛行機 🛩",
    pack: { cells: 6, capacity_mAh: 5000 },
    esc: { rating_A: 100, pwm_Hz: 8000 },
    load: { kind: "propeller", full_throttle_A: 80 },
    flight: { parts: [{ throttle_pct: 60, seconds: 40 }] },
};

test("bytes and a compiled module start the same core", async () => {
    const fromBytes = await load(bytes);
    const fromModule = await load(await WebAssembly.compile(bytes));
    assert.deepEqual(fromBytes.fields(), fromModule.fields());
});

test("the page's module answers as the whole one, and has no door that the page does not open", async () => {
    const page = bytesOf("page.wasm");
    const doors = WebAssembly.Module.exports(await WebAssembly.compile(page)).map((e) => e.name);
    assert.deepEqual(doors.filter((name) => name.startsWith("hotband_")).sort(), [
        "hotband_advise",
        "hotband_alloc",
        "hotband_free",
        "hotband_link",
        "hotband_log",
        "hotband_unlink",
    ]);
    assert.ok(page.length < bytes.length);
    const [part, whole] = [await load(page), await load(bytes)];
    const text = JSON.stringify(setup);
    assert.deepEqual(part.advise(text, 8), whole.advise(text, 8));
    assert.deepEqual(part.link(text), whole.link(text));
    const fields = JSON.parse(bytesOf("fields.json"));
    assert.deepEqual(fields, whole.fields().ok);
    assert.throws(() => part.cycle("[]"), /failed in cycle/);
    assert.ok(part.advise(text, 0).ok);
});

test("text beyond ASCII comes back as it went", async () => {
    const core = await load(bytes);
    const link = core.link(JSON.stringify(setup));
    assert.equal(core.unlink(link.ok).ok.name, setup.name);
});

test("a text larger than the memory at the start is taken", async () => {
    const core = await load(bytes);
    const large = `{"hotband": 1, "name": "${"n".repeat(6e6)}"}`;
    assert.ok(core.advise(large).problems.length > 0);
    assert.ok(core.advise(JSON.stringify(setup), 0).ok);
});

test("a thousand calls leave nothing behind", async () => {
    const module = await WebAssembly.compile(bytes);
    let memory;
    const start = WebAssembly.Instance;
    WebAssembly.Instance = function (...words) {
        const instance = new start(...words);
        memory = instance.exports.memory;
        return instance;
    };
    const core = await load(module).finally(() => (WebAssembly.Instance = start));
    const text = JSON.stringify({ ...setup, name: "n".repeat(80) });
    core.link(text);
    const before = memory.buffer.byteLength;
    for (let call = 0; call < 1000; call += 1) core.link(text + " ".repeat(100_000));
    // each text and each answer would add 100 kB
    assert.ok(memory.buffer.byteLength < before + 2e6);
});

test("a log of a million rows is read, and its memory goes with it", async () => {
    // generator: 100 rows a second, throttle in steps of 40 s, a board that follows by 60 s
    const rows = 1_000_000;
    const table = new Float64Array(rows * 4);
    let board = 25;
    for (let row = 0; row < rows; row += 1) {
        const throttle = 20 + 10 * (Math.floor(row / 4000) % 8);
        const current = 80 * (throttle / 100) ** 3;
        board += (25 + 0.6 * current - board) * (1 - Math.exp(-0.01 / 60));
        table.set([row / 100, throttle, current, board], row * 4);
    }
    table[4 * 500] = NaN;
    const columns = { time_s: 0, throttle_pct: 1, current_A: 2, esc_C: 3 };
    const core = await load(bytes);
    const answer = core.log(table, 4, JSON.stringify({ setup, columns })).ok;
    assert.equal(answer.rows, rows);
    assert.equal(answer.used, rows - 1);
    assert.deepEqual(answer.damaged[0].first_rows, [500]);
    assert.equal(answer.holds.length, 100);
    assert.ok(answer.history.series.length <= 150);
    const measured = [answer.holds[0].measured];
    assert.ok(core.advise(JSON.stringify({ ...setup, measured }), 0).ok);
    assert.ok(core.log(table, 4, "{}").problems.length > 0);
    assert.ok(core.log(table.subarray(0, 0), 4, JSON.stringify({ columns })).ok);
});

test("after a failure the next call starts afresh", async () => {
    const core = await load(bytes);
    const broken = {
        toString() {
            throw new Error("no text");
        },
    };
    assert.throws(() => core.link(broken), /the core failed in link: no text/);
    assert.ok(core.fields().ok);
});

test("a trap that an engine makes is asked once more, of a fresh instance", async (t) => {
    const { Instance } = WebAssembly;
    t.after(() => (WebAssembly.Instance = Instance));
    let made = 0;
    // the first instance traps, as an engine of its own accord may
    WebAssembly.Instance = function (...words) {
        const { exports } = new Instance(...words);
        const trap = () => {
            throw new WebAssembly.RuntimeError("Out of bounds memory access");
        };
        made += 1;
        return { exports: made === 1 ? { ...exports, hotband_fields: trap } : exports };
    };
    const core = await load(bytes);
    assert.ok(core.fields().ok);
    assert.ok(core.fields().ok);
    assert.equal(made, 2);
    // what is no trap is not asked again
    assert.throws(() => core.log(undefined, 4, "{}"), /the core failed in log/);
    assert.equal(made, 3);
});

test("a trap is an error, and the next call starts afresh", async () => {
    // the same exports from a module that always traps: bytes 00 0b are `unreachable end`
    const trap = new WebAssembly.Module(trappingModule());
    const core = await load(trap);
    assert.throws(() => core.link("{}"), /the core failed in link: .*unreachable/);
    assert.throws(() => core.link("{}"), /the core failed in link: .*unreachable/);
});

/** A module with memory and the exports hotband_alloc and hotband_link, both `unreachable`. */
function trappingModule() {
    const name = (text) => [text.length, ...new TextEncoder().encode(text)];
    const section = (id, content) => [id, content.length, ...content];
    const i32 = 0x7f;
    return new Uint8Array([
        ...[0x00, 0x61, 0x73, 0x6d, 0x01, 0x00, 0x00, 0x00],
        ...section(1, [1, 0x60, 1, i32, 1, i32]),
        ...section(3, [1, 0]),
        ...section(5, [1, 0, 1]),
        ...section(7, [2, ...name("memory"), 2, 0, ...name("hotband_alloc"), 0, 0]),
        ...section(10, [1, 3, 0, 0x00, 0x0b]),
    ]);
}
