// Can the pilot learn from a logger's file on the page? A file is opened, its guesses are shown, what was
// left out is counted, and a hold becomes a reading of the setup.

import { expect, onPhone, putOnPhone, settled, SETUP, test, wider } from "./hotband";

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

interface Bench {
    /** % and seconds of each part */
    parts: [number, number][];
    head: string;
    throttle: boolean;
}

/**
 * A bench run as semicolon CSV with decimal commas. Generator mulberry32, seed 42: five rows a second,
 * noise of 0.3 K and 0.4 A on a board that follows the current with a time constant of 60 s.
 */
function benchRun({ parts, head, throttle }: Bench): string[] {
    const next = random(42);
    const comma = (n: number): string => n.toFixed(2).replace(".", ",");
    const rows = [head];
    let board = 25;
    let t = 0;
    for (const [pct, seconds] of parts) {
        for (let i = 0; i < seconds * 5; i += 1) {
            const current = 78 * (pct / 100) ** 3;
            board += (25 + 0.7 * current - board) * (1 - Math.exp(-0.2 / 60));
            const cells = [t, pct, current + 0.4 * (next() - 0.5), 25 - t / 100];
            cells.push(board + 0.3 * (next() - 0.5));
            rows.push(
                cells
                    .filter((_cell, place) => throttle || place !== 1)
                    .map(comma)
                    .join(";"),
            );
            t += 0.2;
        }
    }
    return rows;
}

const WHOLE: Bench = {
    parts: [
        [0, 10],
        [75, 80],
        [0, 20],
    ],
    head: "Time [s];Throttle [%];Current [A];Voltage [V];ESC temp [°C]",
    throttle: true,
};

const csv = (rows: string[]) => ({
    name: "run.csv",
    mimeType: "text/csv",
    buffer: Buffer.from(rows.join("\n"), "utf8"),
});

test("a hold in a logger's file becomes a reading", async ({ bench }) => {
    const rows = benchRun(WHOLE);
    rows[100] = "xx;75,00;32,00;24,00;40,00";
    const learn = bench.locator("#learn");
    await learn.getByLabel("Open a logger's file").setInputFiles(csv(rows));
    await expect(learn.getByRole("region", { name: "The first rows of run.csv" })).toBeVisible();
    for (const [role, column] of [
        ["Time", "0"],
        ["Throttle", "1"],
        ["Current", "2"],
        ["Voltage", "3"],
        ["ESC temperature", "4"],
    ] as const) {
        await expect(learn.getByRole("combobox", { name: role, exact: true })).toHaveValue(column);
    }
    // decimal commas beyond doubt: nothing to ask
    await expect(learn.getByLabel("Decimal sign")).toHaveCount(0);
    await learn.getByRole("button", { name: "Read the file" }).click();

    const left = learn.getByRole("region", { name: "Left out or joined" });
    await expect(left.getByRole("row", { name: /no time that can be read/ })).toContainText("101");
    await expect(left.getByRole("row", { name: /“xx”/ })).toContainText("101");
    await expect(learn.locator(".readings").first()).toContainText(String(rows.length - 1));
    await expect(learn.getByText(/the prediction is .* off/)).toBeVisible();
    await learn.getByText("The numbers as a table").click();
    await expect(learn.locator(".numbers-below tbody tr").nth(10)).toBeVisible();
    expect(await wider(bench)).toBe(0);

    expect(await onPhone(bench)).not.toHaveProperty("measured");
    await expect(learn.getByRole("button", { name: /^Add hold/ })).toHaveCount(1);
    await learn.getByRole("button", { name: "Add hold 1 to the readings" }).click();
    await settled(bench);
    expect(await onPhone(bench)).toMatchObject({ measured: [{ throttle_pct: 75 }] });
    await expect(learn.getByRole("button", { name: /^Add hold/ })).toHaveCount(0);
    const learned = learn.getByRole("region", { name: /^Read and predicted/ });
    await expect(learned.locator("tbody tr")).toHaveCount(1);
});

test("a column chosen anew is what is read", async ({ bench }) => {
    const learn = bench.locator("#learn");
    await learn.getByLabel("Open a logger's file").setInputFiles(csv(benchRun(WHOLE)));
    await learn.getByRole("combobox", { name: "Time", exact: true }).selectOption("not logged");
    await learn.getByRole("button", { name: "Read the file" }).click();
    await expect(learn.locator(".problem")).toContainText("Time is missing");
    await learn.getByLabel("Seconds from row to row").fill("0,2");
    await learn
        .getByRole("combobox", { name: "ESC temperature", exact: true })
        .selectOption("not logged");
    await learn.getByRole("button", { name: "Read the file" }).click();
    await expect(learn.getByText("No prediction beside the log")).toBeVisible();
    await expect(learn.locator(".problem")).toHaveCount(0);
});

test("a file that leaves the decimal sign open is asked about", async ({ bench }) => {
    const learn = bench.locator("#learn");
    const rows = ["Time;Current", ...Array.from({ length: 40 }, (_row, i) => `${i};1,${200 + i}`)];
    await learn.getByLabel("Open a logger's file").setInputFiles(csv(rows));
    const sign = learn.getByLabel("Decimal sign");
    await expect(sign).toHaveValue(",");
    const readings = learn.locator(".readings").first();
    const read = learn.getByRole("button", { name: "Read the file" });
    await read.click();
    await expect(readings).toContainText("1.2 to 1.24");
    await sign.selectOption(".");
    await read.click();
    await expect(readings).toContainText("1200 to 1239");
});

test("without an answered setup the pilot tells a hold's throttle", async ({ page, server }) => {
    await putOnPhone(page, { ...SETUP, esc: { rating_A: 4000 } });
    await page.goto(server.url);
    const learn = page.locator("#learn");
    const head = "Time [s];Current [A];Voltage [V];ESC temp [°C]";
    const rows = benchRun({ ...WHOLE, head, throttle: false });
    await learn.getByLabel("Open a logger's file").setInputFiles(csv(rows));
    await learn.getByRole("button", { name: "Read the file" }).click();
    await expect(learn.getByText("No prediction beside the log")).toBeVisible();
    const add = learn.getByRole("button", { name: "Add hold 1 to the readings" });
    await expect(add).toBeDisabled();
    await learn.getByLabel("Throttle of hold 1, %", { exact: true }).fill("75");
    await add.click();
    expect(await onPhone(page)).toMatchObject({ measured: [{ throttle_pct: 75 }] });
    await expect(learn.getByText("added", { exact: true })).toBeVisible();
});

test("two sessions stand apart, and nothing scrolls sideways", async ({ bench }) => {
    await bench.setViewportSize({ width: 320, height: 800 });
    const [head = "", ...rows] = benchRun(WHOLE);
    const learn = bench.locator("#learn");
    await learn.getByLabel("Open a logger's file").setInputFiles(csv([head, ...rows, ...rows]));
    await learn.getByRole("button", { name: "Read the file" }).click();
    await expect(learn.getByText(/^Session 2: /)).toBeVisible();
    const slider = learn.getByRole("slider");
    await slider.press("End");
    await expect(learn.locator(".pick output")).toContainText("session 2");
    expect(await wider(bench)).toBe(0);
});
