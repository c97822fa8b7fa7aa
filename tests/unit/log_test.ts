// Is a logger's file read as it is meant? Files of every layout are written here from known figures and
// must come back as those figures, with every cell that cannot be read counted. Cells, headings and words are
// listed in tests/logs, for the program's own reader too. Generated files state their generator and seed; the
// core is the wasm module of site/public.
//   npm --prefix site run test:unit
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { test } from "node:test";
import { pathToFileURL } from "node:url";
import {
    clockIn,
    dateIn,
    decimalOf,
    isMissing,
    numberIn,
    unitBehind,
} from "../../site/src/log/cells.ts";
import { cellsOf, layoutOf, rowsOf, type Layout } from "../../site/src/log/layout.ts";
import { isIdle } from "../../site/src/log/idle.ts";
import { lookAtLog, readLog, ROLES, unitsOf } from "../../site/src/log/log.ts";
import type { LogAnswer, LoggedHold, LogMapping, Role } from "../../site/src/log/log.ts";
import { ESC, guessRoles, SIGNS } from "../../site/src/log/roles.ts";
import { tableOf } from "../../site/src/log/table.ts";
import { headOf, encodingOf } from "../../site/src/log/text.ts";
import { headingOf, LETTERS, SPELLINGS, unitNamed } from "../../site/src/log/units.ts";
import type { Hotband } from "../../wasm/load.d.mts";

// npm runs this in site/
const fromSite = (path: string): string => resolve(process.cwd(), path);
async function core(): Promise<Hotband> {
    const { load } = (await import(pathToFileURL(fromSite("../wasm/load.mjs")).href)) as {
        load: (bytes: Uint8Array) => Promise<Hotband>;
    };
    return load(readFileSync(fromSite("public/page.wasm")));
}

const file = (...parts: (string | Uint8Array)[]): Blob => new Blob(parts as BlobPart[]);

/** mulberry32 (T. Ettinger; from memory): numbers from 0 to 1 by a seed. */
function random(seed: number): () => number {
    let state = seed;
    return () => {
        state = (state + 0x6d2b79f5) | 0;
        let t = Math.imul(state ^ (state >>> 15), state | 1);
        t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
        return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
    };
}

async function read(blob: Blob): Promise<{ layout: Layout; rows: number[][] }> {
    const layout = await layoutOf(blob);
    const places = layout.columns.map((_, place) => place);
    const { table, rows } = await tableOf(blob, layout, places);
    const width = places.length;
    return {
        layout,
        rows: Array.from({ length: rows }, (_, row) => [
            ...table.subarray(row * width, (row + 1) * width),
        ]),
    };
}

const FIGURES = [
    [0, 0, 0.5, 25.2, 24],
    [0.5, 41.5, 12.25, 24.6, 24.5],
    [1, 41.5, 12.5, 24.5, 25.5],
    [1.5, 100, 88.75, 23.1, 1031.5],
];

/** What the program's own reader is held to as well (tests/core/logger_test.cpp). */
const listed = <T>(name: string): T =>
    JSON.parse(readFileSync(fromSite(`../tests/logs/${name}.json`), "utf8")) as T;

interface ListedCell {
    cell: string;
    point?: number;
    comma?: number;
    clock?: number;
    date?: number;
    missing?: true;
    unit?: string;
}
const CELLS = listed<{
    cells: Record<string, ListedCell[]>;
    decimals: { cells: string[]; decimal: string; sure: boolean }[];
    lines: { line: string; cells: string[] }[];
    heads: { bytes: string; encoding: string; lines: string[] }[];
}>("cells");
interface ListedSign {
    words: string[];
    units: string[];
    never: string[];
}
const WORDS = listed<{
    units: Record<string, string[]>;
    letters: string[];
    roles: Record<string, ListedSign>;
    esc: string[];
    headings: [string, string, string][];
    guesses: { header: string[]; roles: Partial<Record<Role, string>> }[];
}>("words");

test("each cell is what the list says, by every way to read one", () => {
    const cells = Object.values(CELLS.cells).flat();
    for (const { cell, point = NaN, comma = NaN, clock = NaN, date = NaN, ...told } of cells) {
        const what = JSON.stringify(cell);
        assert.equal(numberIn(cell, "."), point, what);
        assert.equal(numberIn(cell, ","), comma, what);
        assert.equal(clockIn(cell), clock, what);
        assert.equal(dateIn(cell), date, what);
        assert.equal(isMissing(cell), told.missing ?? false, what);
        const { unit = "" } = told;
        assert.equal(unitBehind(cell, "."), Number.isNaN(point) ? "" : unit, what);
        assert.equal(unitBehind(cell, ","), Number.isNaN(comma) ? "" : unit, what);
    }
    assert.ok(cells.length > 250);
});

test("the decimal sign is told by the cells, and doubt is said", () => {
    for (const { cells, decimal, sure } of CELLS.decimals)
        assert.deepEqual(decimalOf(cells), { decimal, sure }, JSON.stringify(cells));
});

test("bytes are the characters that the list says, those cut off too", async () => {
    // bytes 80 to 9F of windows-1252 are in no list: node 20 reads them as Latin-1
    for (const { bytes, encoding, lines } of CELLS.heads) {
        const numbers = bytes.split(" ").map((byte) => parseInt(byte, 16));
        const blob = file(Uint8Array.from(numbers));
        assert.deepEqual(await headOf(blob), { encoding, lines }, bytes);
    }
});

test("the words of units and names are those of the list, all of them", () => {
    assert.deepEqual(SPELLINGS, WORDS.units);
    assert.deepEqual([...LETTERS], WORDS.letters);
    assert.deepEqual(SIGNS, WORDS.roles);
    assert.deepEqual(ESC, WORDS.esc);
    for (const [unit, words] of Object.entries(WORDS.units))
        for (const word of words) assert.equal(unitNamed(word), unit, word);
});

test("headings are parted into name and unit", () => {
    for (const [cell, name, unit] of WORDS.headings)
        assert.deepEqual(headingOf(cell), { name, unit }, JSON.stringify(cell));
});

// one file in every dialect
const NAMES = ["Time (s)", "Throttle (%)", "Current (A)", "Voltage (V)", "ESC temp (\u00b0C)"];
const written = (decimal: string, delimiter: string, quoted: boolean, end: string): string => {
    const cell = (text: string): string => (quoted ? `"${text}"` : text);
    const rows = FIGURES.map((row) => row.map((n) => cell(String(n).replace(".", decimal))));
    return [NAMES.map(cell), ...rows].map((row) => row.join(delimiter)).join(end) + end;
};

for (const [delimiter, decimal, quoted] of [
    [",", ".", false],
    [";", ".", false],
    [";", ",", false],
    ["\t", ",", false],
    ["\t", ".", false],
    ["|", ".", false],
    [",", ",", true],
    [",", ".", true],
    [";", ",", true],
] as const) {
    for (const end of ["\n", "\r\n", "\r"]) {
        const what = JSON.stringify({ delimiter, decimal, quoted, end });
        test(`the figures come back from ${what}`, async () => {
            const { layout, rows } = await read(file(written(decimal, delimiter, quoted, end)));
            assert.equal(layout.delimiter, delimiter);
            assert.equal(layout.decimal, decimal);
            assert.equal(layout.headerLine, 1);
            assert.deepEqual(rows, FIGURES);
            assert.deepEqual(
                layout.columns.map(({ unit }) => unit),
                ["s", "pct", "A", "V", "C"],
            );
        });
    }
}

test("encodings: marks, UTF-16 without one, and the old eight bits", async () => {
    const text = written(",", ";", false, "\r\n");
    const utf16 = (big: boolean): Uint8Array => {
        const bytes = new Uint8Array(text.length * 2);
        const view = new DataView(bytes.buffer);
        for (let i = 0; i < text.length; i += 1) view.setUint16(2 * i, text.charCodeAt(i), !big);
        return bytes;
    };
    const latin = Uint8Array.from(text, (c) => c.charCodeAt(0));
    const files: [Blob, string][] = [
        [file(Uint8Array.of(0xef, 0xbb, 0xbf), text), "utf-8"],
        [file(text), "utf-8"],
        [file(Uint8Array.of(0xff, 0xfe), utf16(false)), "utf-16le"],
        [file(Uint8Array.of(0xfe, 0xff), utf16(true)), "utf-16be"],
        [file(utf16(false)), "utf-16le"],
        [file(utf16(true)), "utf-16be"],
        [file(latin), "windows-1252"],
    ];
    for (const [blob, encoding] of files) {
        const { layout, rows } = await read(blob);
        assert.equal(layout.encoding, encoding);
        assert.deepEqual(rows, FIGURES, encoding);
        assert.equal(layout.columns[4]?.unit, "C", encoding);
        assert.equal(layout.columns[0]?.name, "Time", encoding);
    }
});

test("a head that ends within a character is still UTF-8", () => {
    const bytes = new TextEncoder().encode("25 \u00b0");
    assert.equal(encodingOf(bytes.subarray(0, bytes.length - 1)), "utf-8");
});

test("a preamble, a line of units and empty lines are no data", async () => {
    const blob = file(
        "Device log\nStarted;2024-05-01 12:00:00\n\nTime;Current;ESC temperature\n[ms];[A];[\u00b0C]\n",
        "0;1.5;24\n\n100;2.5;25\n200;3.5;26\n",
    );
    const layout = await layoutOf(blob);
    assert.equal(layout.headerLine, 4);
    assert.equal(layout.dataLine, 6);
    assert.deepEqual(
        layout.columns.map(({ name, unit }) => [name, unit]),
        [
            ["Time", "ms"],
            ["Current", "A"],
            ["ESC temperature", "C"],
        ],
    );
    const table = await tableOf(blob, layout, [0, 2]);
    assert.deepEqual([...table.table], [0, 24, 100, 25, 200, 26]);
    assert.deepEqual([...table.lines], [6, 8, 9]);
    assert.equal(table.emptyLines, 1);
});

test("a spreadsheet's hint names the delimiter, and is no header", async () => {
    const figures = [
        [0, 1.5],
        [1, 2.5],
    ];
    const named = await read(file("sep=;\nt;A\n0;1,5\n1;2,5\n"));
    assert.equal(named.layout.delimiter, ";");
    assert.equal(named.layout.columns[1]?.name, "A");
    assert.deepEqual(named.rows, figures);
    for (const [hint, delimiter] of [
        ["sep=;\n", ";"],
        ['\ufeff"SEP=;"\r\n', ";"],
        ["sep=\t\n", "\t"],
    ] as const) {
        const { layout, rows } = await read(file(`${hint}0${delimiter}1,5\n1${delimiter}2,5\n`));
        assert.equal(layout.delimiter, delimiter, hint);
        assert.equal(layout.headerLine, 0, hint);
        assert.equal(layout.columns[0]?.name, "Column 1", hint);
        assert.deepEqual(rows, figures, hint);
    }
    // no delimiter is named: the line is one of the preamble
    for (const none of ["sep=", "sep= ", "sep=x", '"sep="']) {
        const { layout, rows } = await read(file(`${none}\n0;1,5\n1;2,5\n`));
        assert.equal(layout.delimiter, ";", none);
        assert.deepEqual(rows, figures, none);
    }
});

test("no header: columns are numbered, the first line is data", async () => {
    const { layout, rows } = await read(file("0,1.5\n0.1,2.5\n0.2,3.5\n"));
    assert.equal(layout.headerLine, 0);
    assert.deepEqual(
        layout.columns.map(({ name }) => name),
        ["Column 1", "Column 2"],
    );
    assert.equal(rows.length, 3);
});

test("a header whose quoted names hold line breaks", async () => {
    const { layout, rows } = await read(
        file('"Time\n(s)","ESC temp\n(\u00b0C)"\n0,24.5\n1,25.5\n2,26.5\n'),
    );
    assert.equal(layout.dataLine, 4);
    assert.deepEqual(
        layout.columns.map(({ name, unit }) => [name, unit]),
        [
            ["Time", "s"],
            ["ESC temp", "C"],
        ],
    );
    assert.deepEqual(rows, [
        [0, 24.5],
        [1, 25.5],
        [2, 26.5],
    ]);
});

test("a quote left open swallows no line", () => {
    const lines = ["0,1", '1,"2', '"a"b,c', "3,4", '5,"6"', '7,8"'];
    const rows = rowsOf(lines.join("\n"), ",");
    assert.equal(rows.length, lines.length);
    assert.deepEqual(rows[0], ["0", "1"]);
    assert.deepEqual(rows[3], ["3", "4"]);
    assert.deepEqual(rows[4], ["5", "6"]);
});

test("quotes that do not add up are ordinary characters, and left out", () => {
    for (const { line, cells } of CELLS.lines) {
        assert.deepEqual(cellsOf(line, ","), cells, line);
        // neither the line before nor the one after makes a difference
        assert.deepEqual(rowsOf(`"a"b,c\n${line}\n"d"e,"f"`, ",")[1], cells, line);
    }
});

test("a name with a stray quote, and a cell with one, cost no other cell", async () => {
    const lines = ['0,"1,24', '1,"2,25', "2,3,26"];
    const open = await read(file(`"Time",I,ESC temp\n${lines.join("\n")}\n`));
    assert.equal(open.layout.dataLine, 2);
    assert.deepEqual(open.rows, [
        [0, 1, 24],
        [1, 2, 25],
        [2, 3, 26],
    ]);
    const { layout, rows } = await read(
        file('Time,Propeller 5",ESC temp\n0,"1,24\n1,"2"x,25\n2,3,26\n'),
    );
    assert.deepEqual(
        layout.columns.map(({ name }) => name),
        ["Time", 'Propeller 5"', "ESC temp"],
    );
    assert.deepEqual(rows, [
        [0, 1, 24],
        [1, NaN, 25],
        [2, 3, 26],
    ]);
});

test("garbage, cut lines and trailing text are counted and named", async () => {
    const good = (i: number): string => `${i},${20 + i},${30 + i}\n`;
    const text = [
        "time,current,temp\n",
        ...[0, 1, 2, 3, 4, 5].map(good),
        "0x1F,FFFF,1A2B\n", // line 8
        good(7),
        "8,2", // line 10: cut, with its break
        "\n",
        '9,"29,39\n', // line 11: a stray quote
        good(10),
        "end of log\n", // line 13
        "\n",
    ].join("");
    const layout = await layoutOf(file(text));
    const { rows, lines, unreadable, short, emptyLines, table } = await tableOf(
        file(text),
        layout,
        [0, 1, 2],
    );
    assert.equal(rows, 12);
    assert.equal(emptyLines, 1);
    assert.deepEqual(short, { count: 2, firstLines: [10, 13] });
    assert.deepEqual(
        unreadable.map(({ column, count, firstLines, examples }) => [
            column,
            count,
            firstLines,
            examples,
        ]),
        [
            [0, 2, [8, 13], ["0x1F", "end of log"]],
            [1, 1, [8], ["FFFF"]],
            [2, 1, [8], ["1A2B"]],
        ],
    );
    assert.deepEqual([...table.subarray(9 * 3, 10 * 3)], [9, 29, 39]);
    assert.equal(lines[9], 11);
    assert.equal(table.length, 12 * 3);
});

test("an example that is cut short ends with a whole character", async () => {
    const long = "x".repeat(39);
    const blob = file(`t,a\n0,1\n1,2\n2,${long}\u{1f6e9}\n3,4\n`);
    const { unreadable } = await tableOf(blob, await layoutOf(blob), [0, 1]);
    assert.deepEqual(unreadable[0]?.examples, [long]);
});

test("a clock past midnight goes on", async () => {
    const { rows } = await read(file("time,A\n23:59:59.5,1\n00:00:00.0,2\n00:00:00.5,3\n"));
    const times = rows.map(([t]) => t ?? NaN);
    assert.deepEqual(
        times.map((t) => t - (times[0] ?? 0)),
        [0, 0.5, 1],
    );
});

test("dates with their time are seconds", async () => {
    const { layout, rows } = await read(
        file("stamp;esc_C\n01.05.2024 12:00:00,5;30,5\n01.05.2024 12:00:01,5;31,5\n"),
    );
    assert.equal(layout.columns[0]?.kind, "date");
    const times = rows.map(([t]) => t ?? NaN);
    assert.equal((times[1] ?? 0) - (times[0] ?? 0), 1);
    assert.deepEqual(
        rows.map(([, c]) => c),
        [30.5, 31.5],
    );
});

test("empty files, one line, no figures at all", async () => {
    for (const text of ["", "\ufeff", "\n", "\r\n\r\n", "just words\n", "a,b,c\n"]) {
        const look = await lookAtLog(file(text));
        assert.ok(look.columns.length >= 1, JSON.stringify(text));
        for (const role of ROLES) assert.equal(look.guesses[role], null, JSON.stringify(text));
        const { rows } = await tableOf(file(text), look.layout, [0]);
        assert.equal(rows, 0, JSON.stringify(text));
    }
    const { rows } = await read(file("1,2,3"));
    assert.deepEqual(rows, [[1, 2, 3]]);
});

test("roles are guessed from names as the list says, with how sure that is", async () => {
    for (const { header, roles } of WORDS.guesses) {
        // figures that go on, so that the names alone tell
        const rows = Array.from({ length: 20 }, (_, i) => header.map((_, k) => i + k).join(","));
        const guesses = guessRoles(await layoutOf(file([header.join(","), ...rows].join("\n"))));
        for (const role of ROLES) {
            const guess = guesses[role];
            const found = guess ? `${guess.column} ${guess.confidence}` : undefined;
            assert.equal(found, roles[role], `${role} of ${header.join()}`);
        }
    }
});

test("what is no log is refused in words", async () => {
    const bytes = (...list: number[]) => new Blob([new Uint8Array(list)]);
    for (const [blob, why] of [
        [new Blob([]), /empty/],
        // a byte order mark and nothing behind it, in each encoding
        [bytes(0xef, 0xbb, 0xbf), /empty/],
        [bytes(0xff, 0xfe), /empty/],
        [bytes(0xfe, 0xff), /empty/],
        [bytes(0xef, 0xbb, 0xbf, 13, 10, 32, 13, 10), /empty/],
        [bytes(0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10, 0, 0, 0, 13, 1, 2, 3), /no text/],
        [bytes(0x50, 0x4b, 3, 4, 20, 0, 0, 0, 8, 0, 1, 2, 3, 4), /no text/],
        [file("Dear club,\nthe meeting is on Friday, at 7.\n"), /no rows of figures/],
        [file('{"hotband":1,"pack":{"cells":4}}'), /no rows of figures/],
        [file("<html>\n<body>\n<p>404</p>\n"), /no rows of figures/],
        [file("a\n1\n2\n3\n"), /no rows of figures/],
    ] as const) {
        assert.match((await lookAtLog(blob)).refusal, why);
    }
    const rows = Array.from({ length: 5 }, (_, i) => `${i},${2 * i}`).join("\n");
    assert.equal((await lookAtLog(file(`t,I\n${rows}`))).refusal, "");
    assert.equal((await lookAtLog(file(rows))).refusal, "");
});

test("a stretch with the motor at rest is no hold", () => {
    const log = { ranges: { current_A: [0.2, 60] } } as unknown as LogAnswer;
    const hold = (measured: object) => ({ measured }) as unknown as LoggedHold;
    assert.equal(isIdle(hold({ throttle_pct: 0, pack_A: 0.3 }), log), true);
    assert.equal(isIdle(hold({ throttle_pct: null, pack_A: 0.3 }), log), true);
    assert.equal(isIdle(hold({ throttle_pct: null, pack_A: 12 }), log), false);
    assert.equal(isIdle(hold({ throttle_pct: 30, pack_A: 3 }), log), false);
    // a stick that reads a little at its end; a light load at part throttle; no current logged
    assert.equal(isIdle(hold({ throttle_pct: 4, pack_A: 0.3 }), log), true);
    assert.equal(isIdle(hold({ throttle_pct: 30, pack_A: 1.2 }), log), false);
    assert.equal(isIdle(hold({ throttle_pct: 4 }), log), false);
});

test("units are told by the file, or by the size of the figures", async () => {
    const look = async (text: string) => {
        const found = await lookAtLog(file(text));
        return found.units;
    };
    const rows = (row: (i: number) => string): string =>
        Array.from({ length: 30 }, (_, i) => row(i)).join("\n");
    assert.equal(
        (await look(`time,thr\n${rows((i) => `${i * 100},${1000 + i}`)}`)).time_unit,
        "ms",
    );
    assert.equal((await look(`time,thr\n${rows((i) => `${i * 20000},1`)}`)).time_unit, "us");
    assert.equal((await look(`time,thr\n${rows((i) => `${i * 0.1},1`)}`)).time_unit, "s");
    assert.equal((await look(`time,thr\n${rows((i) => `${i},${1000 + i}`)}`)).throttle_unit, "us");
    assert.equal((await look(`time,thr\n${rows((i) => `${i},${i / 30}`)}`)).throttle_unit, "share");
    assert.equal((await look(`time,thr\n${rows((i) => `${i},${i}`)}`)).throttle_unit, "pct");
    assert.equal(
        (await look(`time,esc temp (\u00b0F)\n${rows((i) => `${i},${i}`)}`)).temperature_unit,
        "F",
    );
    assert.equal((await look(`time,current [mA]\n${rows((i) => `${i},${i}`)}`)).current_unit, "mA");
    // no figures tell nothing
    assert.equal((await look(`time,a\n${rows((i) => `${i},${i}`)}`)).throttle_unit, "pct");
    const other = await lookAtLog(file(`t,a [mV],b\n${rows((i) => `${i},${i},${i}`)}`));
    const columns = {
        time_s: 0,
        throttle_pct: null,
        current_A: null,
        voltage_V: 1,
        esc_C: null,
        rpm: null,
    };
    assert.equal(unitsOf(other, columns).voltage_unit, "mV");
});

test("pieces of a large file join without a seam", async () => {
    // generator: mulberry32, seed 5; 3 MB of rows with a multi-byte sign in each, CRLF
    const next = random(5);
    const figures = Array.from({ length: 90000 }, (_, i) => [
        i / 10,
        Math.round(next() * 1e4) / 100,
    ]);
    const lines = figures.map(([t, c]) => `${t};"${c} \u00b0C";\u2713 note`);
    const blob = file(`t;temp;note\r\n${lines.join("\r\n")}\r\n`);
    assert.ok(blob.size > 2 * 1024 * 1024);
    const layout = await layoutOf(blob);
    const shares: number[] = [];
    const { table, rows, unreadable } = await tableOf(blob, layout, [0, 1], (s) => shares.push(s));
    assert.equal(rows, figures.length);
    assert.deepEqual(unreadable, []);
    assert.deepEqual([...table], figures.flat());
    assert.equal(shares.at(-1), 1);
    assert.ok(shares.length >= 3);
});

test("a file of damage is read to its end", async () => {
    // generator: mulberry32, seed 11; a sound log with bytes overwritten at random, quotes among them
    const next = random(11);
    const lines = Array.from(
        { length: 5000 },
        (_, i) => `${i / 10},${50 + (i % 7)},${20 + i / 500}`,
    );
    const bytes = new TextEncoder().encode(`time,throttle,temp\n${lines.join("\n")}\n`);
    let breaks = 0;
    for (let i = 0; i < 400; i += 1) {
        const at = 20 + Math.floor(next() * (bytes.length - 21));
        const value = [0x22, 0x00, 0xff, 0x2c, 0x41][Math.floor(next() * 5)] ?? 0;
        if (bytes[at] === 0x0a) breaks += 1;
        bytes[at] = value;
    }
    const blob = file(bytes);
    const layout = await layoutOf(blob);
    const { rows, table, unreadable, short } = await tableOf(blob, layout, [0, 1, 2]);
    assert.equal(rows, lines.length - breaks);
    const sound = Array.from(table).filter((n) => !Number.isNaN(n)).length;
    assert.ok(sound > 3 * lines.length - 3 * 400);
    assert.ok(unreadable.length > 0 && short.count >= 0);
});

test("no file makes it fail or hang", async () => {
    // generator: mulberry32, seed 17; files of random bytes, and of the pieces that logs are made of
    const next = random(17);
    const pick = <T>(list: T[]): T => list[Math.floor(next() * list.length)] as T;
    const pieces = [
        '"',
        ",",
        ";",
        "\t",
        "\r",
        "\n",
        "1",
        "2.5",
        "1,5",
        "a",
        " ",
        "sep=",
        "\u00b0C",
    ];
    for (let i = 0; i < 300; i += 1) {
        const length = Math.floor(next() * 2000);
        const blob = file(
            i % 2 === 0
                ? Uint8Array.from({ length }, () => Math.floor(next() * 256))
                : Array.from({ length }, () => pick(pieces)).join(""),
        );
        const { layout, columns } = await lookAtLog(blob);
        const places = columns.map((_, place) => place);
        const { table, rows } = await tableOf(blob, layout, places);
        assert.equal(table.length, rows * places.length);
    }
    // long runs of one character, where a careless pattern takes for ever
    for (const run of [" ", "(", "_", "-", "1", ",", '"', "1 ", "/", "\n"]) {
        await lookAtLog(file(`x${run.repeat(200_000)}y\n1,2\n`));
    }
});

/** A log of three holds: generator mulberry32, noise of 0.3 K and 0.4 A, ten rows a second. */
function threeHolds(seed: number): number[][] {
    const next = random(seed);
    const parts: [number, number][] = [
        [0, 10],
        [50, 60],
        [75, 80],
        [0, 20],
        [100, 25],
        [0, 10],
    ];
    const rows: number[][] = [];
    let board = 25;
    let t = 0;
    for (const [throttle, seconds] of parts) {
        for (let i = 0; i < seconds * 10; i += 1) {
            const current = 80 * (throttle / 100) ** 3;
            board += (25 + 0.7 * current - board) * (1 - Math.exp(-0.1 / 60));
            rows.push([
                t,
                throttle,
                current + 0.4 * (next() - 0.5),
                25 - t / 100,
                board + 0.3 * (next() - 0.5),
            ]);
            t += 0.1;
        }
    }
    return rows;
}

const SETUP = {
    hotband: 1,
    pack: { cells: 6, capacity_mAh: 5000 },
    esc: { rating_A: 100, pwm_Hz: 16000 },
    load: { kind: "propeller", full_throttle_A: 80 },
    flight: { parts: [{ throttle_pct: 60, seconds: 40 }] },
};

test("from the file to the setup: look, map, read, learn", async () => {
    const hotband = await core();
    const comma = (n: number): string => n.toFixed(3).replace(".", ",");
    const lines = threeHolds(42).map(([t = 0, thr = 0, a = 0, v = 0, c = 0]) =>
        [comma(t * 1000), comma(1000 + 10 * thr), comma(a), comma(v), comma(32 + 1.8 * c)].join(
            ";",
        ),
    );
    lines[300] = "xx;yy;;;";
    const blob = file(
        `Time [ms];Throttle [us];Current [A];Voltage [V];ESC temp [\u00b0F]\n`,
        lines.join("\n"),
    );
    const look = await lookAtLog(blob);
    assert.deepEqual(look.units, {
        time_unit: "ms",
        throttle_unit: "us",
        current_unit: "A",
        voltage_unit: "V",
        temperature_unit: "F",
    });
    const columns = Object.fromEntries(
        ROLES.map((role) => [role, look.guesses[role]?.column ?? null]),
    ) as LogMapping["columns"];
    const { answer, cells } = await readLog(
        hotband,
        blob,
        look,
        { columns, units: look.units },
        SETUP,
    );
    assert.ok("ok" in answer, JSON.stringify(answer));
    const { ok } = answer;
    assert.equal(ok.rows, lines.length);
    assert.deepEqual(ok.damaged[0]?.first_rows, [300]);
    assert.deepEqual(ok.damaged[0]?.first_lines, [302]);
    assert.deepEqual(
        cells.unreadable.map(({ count }) => count),
        [1, 1],
    );
    const throttles = ok.holds.map(({ measured }) => measured.throttle_pct);
    assert.deepEqual(throttles, [50, 75, 100]);
    assert.ok(ok.history && ok.history.samples > 0);
    const measured = ok.holds.map((hold) => hold.measured);
    const taught = hotband.advise<{ learned: { rows: number } }>(
        JSON.stringify({ ...SETUP, measured }),
        0,
    );
    assert.ok("ok" in taught, JSON.stringify(taught));
    assert.equal(taught.ok.learned.rows, 3);
});

test("without a time column the rows' own rate will do; problems come back as such", async () => {
    const hotband = await core();
    const lines = threeHolds(43).map(([, thr, a, , c]) => `${thr},${a},${c}`);
    const blob = file(`throttle,current,esc temp\n${lines.join("\n")}\n`);
    const look = await lookAtLog(blob);
    const columns = {
        time_s: null,
        throttle_pct: 0,
        current_A: 1,
        voltage_V: null,
        esc_C: 2,
        rpm: null,
    };
    const told = await readLog(
        hotband,
        blob,
        look,
        { columns, units: look.units, row_s: 0.1 },
        null,
    );
    assert.ok("ok" in told.answer);
    assert.equal(told.answer.ok.holds.length, 3);
    assert.equal(told.answer.ok.history, null);
    const not = await readLog(hotband, blob, look, { columns, units: look.units }, null);
    assert.ok("problems" in not.answer);
    assert.equal(not.answer.problems[0]?.path, "columns.time_s");
    const bad = await readLog(
        hotband,
        blob,
        look,
        { columns, units: look.units, row_s: 0.1 },
        { ...SETUP, pack: {} },
    );
    assert.ok("problems" in bad.answer);
    assert.ok(bad.answer.problems.every(({ path }) => path.startsWith("setup.")));
});

test("a million rows in linear time", async () => {
    const took = async (count: number) => {
        // generator: rows of 40 s at a throttle, 100 a second; a million are 30 MB
        const lines = Array.from({ length: count }, (_, i) => {
            const throttle = 20 + 10 * (Math.floor(i / 4000) % 8);
            return `${(i / 100).toFixed(2)},${throttle},${(80 * (throttle / 100) ** 3).toFixed(2)},${(40 + (i % 400) / 100).toFixed(1)}`;
        });
        const blob = file(`time,throttle,current,esc temp\n${lines.join("\n")}\n`);
        const began = process.cpuUsage();
        const layout = await layoutOf(blob);
        const { rows } = await tableOf(blob, layout, [0, 1, 2, 3]);
        assert.equal(rows, count);
        // what else the machine does is no part of it
        return process.cpuUsage(began).user;
    };
    const small = await took(250_000);
    assert.ok((await took(1_000_000)) < 8 * small); // 4 is exactly linear, 16 by the square
});

test("the head of a file without any break is taken as a line", async () => {
    const { lines } = await headOf(file("x".repeat(300 * 1024)));
    assert.equal(lines.length, 1);
});
