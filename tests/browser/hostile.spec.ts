// What can a stranger's file or link do, and what can storage that another version wrote? Nothing runs, nothing is
// lost, and the page goes on. A report of the Content-Security-Policy is an error of the console, which fails
// any test (hotband.ts); those here also look for what ran and for addresses that would.

import { readFileSync } from "node:fs";
import type { Page } from "@playwright/test";
import { bar, drawn, expect, onPhone, settled, SETUP, test, unfold, wider } from "./hotband";

const TITLE = "Hotband: how hot the speed controller gets";
const RUN = "document.title='run'";
const NAMES = {
    "of markup": `"><img src=x onerror="${RUN}"><script>${RUN}</script>`.slice(0, 80),
    "of a script's address": `javascript:${RUN}`,
    "from right to left": "\u05D0\u05D1 \u05D2",
    "of one overlong word": "W".repeat(80),
    "of a property": "__proto__",
};

const openText = (page: Page, text: string): Promise<void> =>
    page.setInputFiles("input[type=file][accept*=json]", {
        name: "setup.json",
        mimeType: "application/json",
        buffer: Buffer.from(text),
    });

/** Nothing of the setup ran, changed what all objects share, or made an address of its own. */
async function nothingRan(page: Page): Promise<void> {
    expect(await page.title()).toBe(TITLE);
    const found = await page.evaluate(() => ({
        shared: Object.keys(Object.prototype).length + ("taken" in {} ? 1 : 0),
        addresses: [...document.querySelectorAll("[href], [src], [action]")]
            .map((one) => one.getAttribute("href") ?? one.getAttribute("src") ?? "")
            .filter((one) => !/^(#|\.\/|assets\/|blob:|http:\/\/localhost:)/.test(one)),
    }));
    expect(found).toEqual({ shared: 0, addresses: [] });
}

for (const [kind, name] of Object.entries(NAMES)) {
    test(`a name ${kind} is shown as it is`, async ({ bench }) => {
        await openText(bench, JSON.stringify({ ...SETUP, name }));
        await settled(bench);
        await expect(bench.locator(".headline")).toContainText(name);
        await bench.getByRole("button", { name: "Keep this setup" }).click();
        await bench.getByText("Two side by side").click();
        await expect(bench.locator("#keep")).toContainText(name);
        await nothingRan(bench);
        expect(await wider(bench)).toBe(0);
        for (const head of await bench.locator(".compare th").all()) {
            expect((await head.boundingBox())?.width ?? 0).toBeLessThan(360);
        }
    });
}

test("a link with a name of markup runs nothing", async ({ bench, context }) => {
    const name = NAMES["of markup"];
    const entry = bench.getByLabel("Link", { exact: true });
    const before = await entry.inputValue();
    await openText(bench, JSON.stringify({ ...SETUP, name }));
    await expect(entry).not.toHaveValue(before);
    await expect(entry).toHaveValue(/#HB/);
    const link = await entry.inputValue();
    const other = await context.newPage();
    await other.goto(link);
    await settled(other);
    await expect(other.locator(".headline")).toContainText(name);
    await unfold(other);
    await nothingRan(other);
});

test("what a name turns round ends with it", async ({ bench }) => {
    await openText(bench, JSON.stringify({ ...SETUP, name: "\u202Enoitats \u2067\u05D0\u05D1" }));
    await settled(bench);
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    await drawn(bench);
    // text behind a name in the same line stands right of it
    const said = bench.locator("#keep [role=status] p");
    await expect(said).toContainText("Kept: ");
    const places = await said.evaluate((line) => {
        const text = line.firstChild as Text;
        return Array.from({ length: text.length }, (_, at) => {
            const range = document.createRange();
            range.setStart(text, at);
            range.setEnd(text, at + 1);
            return range.getBoundingClientRect().right;
        });
    });
    expect(places.at(-1)).toBe(Math.max(...places));
});

test("a file that is no setup changes nothing, whatever it holds", async ({ bench }) => {
    const before = await onPhone(bench);
    const pack = { cells: 6, capacity_mAh: 5000 };
    const files = {
        prototype: '{"__proto__":{"taken":1},"constructor":{"prototype":{"taken":1}}}',
        deep: "[".repeat(100_000),
        large: JSON.stringify({ hotband: 1, name: "x".repeat(10_000_000) }),
        wide: JSON.stringify(
            Object.fromEntries(Array.from({ length: 100_000 }, (_, i) => [`k${i}`, i])),
        ),
        list: "[1,2,3]",
        "of another version": JSON.stringify({ hotband: 2, pack }),
        "kept list of nothing": JSON.stringify({
            hotband_kept: 1,
            setups: [null, 1, "x", { setup: 3 }],
        }),
    };
    for (const [kind, text] of Object.entries(files)) {
        // what was said of the last file would do for this one
        const last = bar(bench).getByRole("button", { name: "Close" });
        if (await last.isVisible()) await last.click();
        await expect(bar(bench)).not.toContainText("not opened");
        await openText(bench, text);
        const said = text.includes("hotband_kept") ? bench.locator("#keep div.said") : bar(bench);
        await expect(said, kind).toContainText(/not opened|Kept from the file: 0/);
        expect(await onPhone(bench), kind).toEqual(before);
        await nothingRan(bench);
    }
    await bench.reload();
    await settled(bench);
});

const MALFORMED = {
    "lists for groups": { pack: [1, 2], esc: [], motor: "x", load: 3, air: true, flight: [] },
    "no rows": { flight: { parts: "abc" }, measured: 7, ask_holds: { length: 3 } },
    "rows of nothing": {
        flight: { parts: [null, 1, "x", []] },
        measured: [null, [], { trace: 3 }],
    },
    "objects for figures": {
        pack: { cells: {}, capacity_mAh: [] },
        esc: { rating_A: "80", pwm_Hz: null },
    },
    "an object for a name": { name: { toString: 1 } },
    "prototype keys": JSON.parse(
        '{"__proto__":{"taken":1},"pack":{"__proto__":{"taken":1},"constructor":1,"cells":6}}',
    ) as object,
    "endless figures": { pack: { cells: 1e308, capacity_mAh: -1e308 }, esc: { pwm_Hz: 1e-320 } },
};

for (const [kind, part] of Object.entries(MALFORMED)) {
    test(`a saved setup with ${kind} leaves the page standing`, async ({ bench }) => {
        await openText(bench, JSON.stringify({ ...SETUP, ...part }));
        await expect(bar(bench)).toContainText("pened");
        await nothingRan(bench);
        // the way back stays
        const undo = bench.getByRole("button", { name: /^Undo/ }).first();
        if (await undo.isEnabled()) await undo.click();
        await settled(bench);
        await expect(bench.getByLabel("Capacity, mAh")).toHaveValue("5000");
    });
}

test("a link of ten megabytes or of nonsense says so and leaves what was here", async ({
    bench,
}) => {
    const before = await onPhone(bench);
    for (const code of [
        "A".repeat(10_000_000),
        "HB1.__proto__",
        "HB1%00%FF",
        "<script>",
        "javascript:1",
    ]) {
        await bench.getByLabel("Open a link").evaluate((entry, text) => {
            (entry as HTMLInputElement).value = `https://example.org/#HB1${text}`;
            entry.dispatchEvent(new Event("input", { bubbles: true }));
        }, code);
        await bench.locator(".paste").getByRole("button", { name: "Open" }).click();
        await expect(bar(bench)).toContainText("The link was not opened");
        expect(await onPhone(bench)).toEqual(before);
        await nothingRan(bench);
    }
});

const DOUBTFUL = [
    { verdict: { level: "sure", peak_C: 80 } },
    { verdict: { level: "fine", peak_C: "hot" } },
    { verdict: 3 },
    { date: "today" },
    { name: 7 },
    { setup: [] },
].map((doubt, i) => ({ id: `${i}`, name: "Of doubt", setup: SETUP, ...doubt }));

/** What a version that is not this one may have left, and what of it this one cannot read. */
const STORED: Record<string, { left: Record<string, unknown>; aside: unknown[] }> = {
    "lists that are none": {
        left: { saved: { version: 9, list: [1] }, before: "x", rows: [1], scale: "K" },
        aside: ["x", { version: 9, list: [1] }, "K", [1]],
    },
    "entries that are none": {
        left: {
            saved: [null, 1, { id: 3 }, { id: "a", name: "Kept once", setup: SETUP }, ...DOUBTFUL],
        },
        aside: [null, 1, { id: 3 }, ...DOUBTFUL],
    },
    "work that is none": { left: { now: 7 }, aside: [7] },
    "work without a setup": {
        left: { now: { setup: null, tried: {}, undo: [{ text: "x" }], unmeasured: 3 } },
        aside: [{ setup: null, tried: {}, undo: [{ text: "x" }], unmeasured: 3 }],
    },
    "work of more": {
        left: {
            now: {
                setup: SETUP,
                tried: [null, { id: 1 }],
                undo: [null, { text: "x", work: {} }],
                unmeasured: [4],
                more: 1,
                good: 3,
                link: [],
            },
        },
        aside: [],
    },
    prototypes: {
        left: { rows: JSON.parse('{"__proto__":{"taken":1}}') as object, saved: [] },
        aside: [],
    },
};

for (const [kind, { left, aside }] of Object.entries(STORED)) {
    test(`storage with ${kind} opens, and loses nothing`, async ({ page, server }) => {
        await page.addInitScript((all) => {
            if (localStorage.length > 0) return;
            for (const [key, value] of Object.entries(all)) {
                localStorage.setItem(`hotband.${key}`, JSON.stringify(value));
            }
        }, left);
        await page.goto(server.url);
        await expect(page.locator("#keep")).toBeAttached();
        await page.getByLabel("Capacity, mAh").fill("4321");
        await page.getByRole("button", { name: "Keep this setup" }).click();
        await expect(page.locator("#keep div.said")).toContainText("Kept");
        await nothingRan(page);
        for (const visit of ["first", "second"]) {
            const there = await page.evaluate(
                () => JSON.parse(localStorage.getItem("hotband.aside") ?? "[]") as unknown[],
            );
            const sorted = (list: unknown[]): string[] =>
                list.map((one) => JSON.stringify(one)).sort();
            expect(sorted(there), visit).toEqual(sorted(aside));
            await page.reload();
            await expect(page.getByLabel("Capacity, mAh")).toHaveValue("4321");
        }
        const unread = page.getByText("What could not be read here");
        await expect(unread).toHaveCount(aside.length > 0 ? 1 : 0);
        if ("saved" in left && kind.startsWith("entries")) {
            await expect(page.locator("#keep .saved").first()).toContainText("Kept once");
            // what goes with a setup may be in doubt, not the setup
            await expect(page.getByRole("button", { name: /^Delete/ })).toHaveCount(7);
        }
        await nothingRan(page);
    });
}

test("what could not be read is saved to a file", async ({ page, server }) => {
    await page.addInitScript(() => {
        if (localStorage.length === 0) localStorage.setItem("hotband.saved", '[{"id":3},7]');
    });
    await page.goto(server.url);
    await drawn(page);
    await page.getByText("What could not be read here").click();
    await expect(page.locator("#keep")).toContainText("Another version of this page left it");
    const waiting = page.waitForEvent("download");
    await page.getByRole("button", { name: "Save it in one file" }).click();
    const file = await waiting;
    expect(file.suggestedFilename()).toBe("hotband-unread.json");
    expect(JSON.parse(readFileSync(await file.path(), "utf8"))).toEqual({
        hotband_kept: 1,
        setups: [{ id: 3 }, 7],
    });
    await page.setInputFiles("input[type=file][accept*=json]", await file.path());
    await expect(page.locator("#keep div.said")).toContainText("nothing in it can be read here");
});
