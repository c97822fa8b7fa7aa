// Are readings entered, kept and shown as they were taken? Rows that are corrected, what a reading needs, another
// frequency or model after it, and the figures that stand beside it.

import type { Page } from "@playwright/test";
import {
    bar,
    drawn,
    expect,
    onPhone,
    openExample,
    putOnPhone,
    settled,
    SETUP,
    test,
    undo,
    unfold,
} from "./hotband";

/** Hot at 16 kHz: the heat runs away at every frequency. */
const RUNAWAY = {
    hotband: 1,
    pack: { cells: 6, capacity_mAh: 5000 },
    esc: { rating_A: 40, pwm_Hz: 16000 },
    load: { kind: "propeller", full_throttle_A: 60 },
    air: { temperature_C: 38, cooling: "closed" },
    flight: {
        parts: [
            { throttle_pct: 100, seconds: 25 },
            { throttle_pct: 80, seconds: 6 },
        ],
    },
};

/** Warm for minutes: the choices of frequency are about as good. */
const ALIKE = {
    ...SETUP,
    air: { temperature_C: 30 },
    flight: {
        parts: [
            { throttle_pct: 100, seconds: 15 },
            { throttle_pct: 70, seconds: 60 },
        ],
    },
};

const TWO_PARTS = {
    hotband: 1,
    pack: { cells: 3, capacity_mAh: 2200 },
    esc: { rating_A: 40, pwm_Hz: 8000 },
    load: { kind: "propeller", full_throttle_A: 30 },
    flight: {
        parts: [
            { throttle_pct: 100, seconds: 8 },
            { throttle_pct: 55, seconds: 120 },
        ],
    },
};

async function open(page: Page, url: string, setup: object): Promise<void> {
    await putOnPhone(page, setup);
    await page.goto(url);
    await settled(page);
    await drawn(page);
}

test("a row that opened for a mistake stays open while it is corrected", async ({
    page,
    server,
}) => {
    const measured = [{ throttle_pct: 100, hold_s: 30, esc_peak_C: 410 }];
    await putOnPhone(page, { ...SETUP, measured });
    await page.goto(server.url);
    const row = page.locator("#learn .rows li");
    await expect(row).toHaveClass("bad");
    const entry = row.getByLabel("ESC, peak, °C");
    await entry.focus();
    await page.keyboard.press("5");
    await settled(page);
    await expect(row).not.toHaveClass("bad");
    await expect(entry).toBeFocused();
    await page.keyboard.press("2");
    await settled(page);
    expect(await onPhone(page)).toMatchObject({ measured: [{ esc_peak_C: 52 }] });
    await row.getByRole("button", { name: "Edit" }).click();
    await expect(entry).toHaveCount(0);
});

test("what a reading needs is said at its form, and of an empty one in labels", async ({
    bench,
}) => {
    await drawn(bench);
    await bench.getByText("Add a reading").click();
    const form = bench.locator("#learn .new-row");
    await expect(form).toContainText("Needed at least: a current, a speed or an ESC temperature.");
    await form.getByLabel("What is ESC, peak?").click();
    await expect(form.locator(".help[open] p")).toContainText("infrared");
    await form.getByRole("button", { name: "Add", exact: true }).click();
    for (const place of ["#learn .rows li", "#problems li"]) {
        await expect(bench.locator(place)).toContainText(
            /needs at least one of “Current”, .*“ESC, mean”, “ESC, peak”, “Logged trace”/,
        );
    }
});

test("a half-written reading stays with its model", async ({ bench }) => {
    await drawn(bench);
    // a rotor's is its power
    const entry = bench.locator("#learn .new-row").getByLabel(/^(Throttle, %|Power, % of hover)$/);
    await bench.getByText("Add a reading").click();
    await entry.fill("60");
    await openExample(bench, "Teasel");
    await drawn(bench);
    await expect(entry).toHaveValue("");
    const link = await bench.locator(".link input").inputValue();
    await undo(bench);
    await settled(bench);
    await expect(entry).toHaveValue("60");
    await bench.goto("about:blank");
    await bench.goto(link);
    await settled(bench);
    await drawn(bench);
    await bench.getByText("Add a reading").click();
    await expect(entry).toHaveValue("");
});

test("a frequency chosen by one touch leaves the readings at the old one", async ({
    page,
    server,
}) => {
    const measured = [
        { throttle_pct: 60, hold_s: 120, esc_peak_C: 46 },
        { throttle_pct: 100, hold_s: 30, esc_peak_C: 41, pwm_Hz: 12000 },
    ];
    const setup = { ...SETUP, measured };
    await open(page, server.url, setup);
    const kept = [{ ...measured[0], pwm_Hz: 16000 }, measured[1]];
    for (const name of ["Use 24 kHz", "24 kHz"]) {
        await page.getByRole("button", { name, exact: true }).click();
        await expect(bar(page)).toContainText("PWM changed; readings stay at 16 kHz.");
        expect(await onPhone(page)).toMatchObject({ esc: { pwm_Hz: 24000 }, measured: kept });
        await undo(page);
        await settled(page);
        expect(await onPhone(page)).toEqual(setup);
        await drawn(page);
    }
    // typed, it is a correction
    await page.locator("#entry-esc-pwm_Hz").fill("24");
    expect(await onPhone(page)).toMatchObject({ esc: { pwm_Hz: 24000 }, measured });
});

for (const [what, setup] of [
    ["where one is as good as another", ALIKE],
    ["where the heat runs away at all", RUNAWAY],
    ["where one stands out", TWO_PARTS],
] as const) {
    test(`no frequency is recommended before a likelier one, ${what}`, async ({ page, server }) => {
        await open(page, server.url, setup);
        const chances = await page.locator(".pwm li").evaluateAll((list) =>
            list.map((one) => ({
                recommended: one.classList.contains("recommended"),
                chance: Number(/with (\d+)/.exec(one.textContent ?? "")?.[1]),
                away: (one.textContent ?? "").includes("runs away"),
            })),
        );
        expect(chances.length).toBeGreaterThan(2);
        const most = Math.max(...chances.map(({ chance }) => chance));
        const recommended = chances.filter((one) => one.recommended);
        expect(recommended).toHaveLength(setup === TWO_PARTS ? 1 : 0);
        for (const { chance, away } of recommended) {
            expect(chance).toBe(most);
            expect(away).toBe(false);
        }
    });
}

test("what would help says what its chance means, and no figure where there is none", async ({
    page,
    server,
}) => {
    await open(page, server.url, RUNAWAY);
    const changes = page.locator("#changes");
    await expect(changes.locator("li").first()).toContainText("0.5 K cooler or more with");
    await expect(changes).not.toContainText("– K");
    await page.getByRole("radio", { name: "°F" }).check();
    await expect(changes.locator("li").first()).toContainText("0.9 °F cooler or more with");
});

test("the flight's table has both sides of an instant, and the flight's end", async ({
    page,
    server,
}) => {
    await open(page, server.url, TWO_PARTS);
    const flight = page.locator("#flight");
    await flight.getByText("The numbers as a table").click();
    const slider = flight.locator("input[type=range]");
    const reading = async () => {
        const time = await flight.locator(".pick output").innerText();
        const throttle = await flight.locator(".readings div", { hasText: "Throttle" }).innerText();
        return `${time} ${/\d+/.exec(throttle)?.[0]}`;
    };
    const rows = await flight
        .getByRole("table", { name: "The flight in numbers" })
        .locator("tbody tr")
        .evaluateAll((list) =>
            list.map((row) =>
                [...row.children]
                    .slice(0, 2)
                    .map((cell) => cell.textContent)
                    .join(" "),
            ),
        );
    // what can be read at a time of the table is in the table
    const times = new Set(rows.map((row) => row.split(" ")[0]));
    await slider.press("Home");
    for (let i = 0; i < 40; i++) {
        const read = await reading();
        if (times.has(read.split(" ")[0])) expect(rows).toContain(read);
        await slider.press("ArrowRight");
    }
    await slider.press("End");
    expect(rows.at(-1)).toBe(await reading());
});

test("what was read after landing stands beside what was predicted", async ({ page, server }) => {
    const measured = [
        { kind: "flight", esc_after_C: 52 },
        { throttle_pct: 100, hold_s: 30, esc_peak_C: 41 },
    ];
    await open(page, server.url, { ...TWO_PARTS, measured });
    const rows = page
        .locator("#learn")
        .getByRole("table", { name: /^Read and/ })
        .locator("tbody th");
    await expect(rows).toHaveText(["1: 52 after landing", "2"]);
});

test("what is assumed is counted alike wherever it is", async ({ page, server }) => {
    await open(page, server.url, {
        ...SETUP,
        esc: { ...SETUP.esc, switch_resistance_mOhm: 1.2 },
    });
    const counts = async (place: string) =>
        Object.fromEntries(
            await page
                .locator(`${place} > .part > summary, ${place} > details > summary`)
                .evaluateAll((list) =>
                    list.map((one) => [
                        one.querySelector(".part-name")?.textContent ?? "",
                        one.querySelector(".part-count")?.textContent ?? "",
                    ]),
                ),
        );
    const asked = await counts("#model .parts");
    const assumed = Object.entries(await counts("#assumed .later"));
    expect(assumed.length).toBeGreaterThan(3);
    for (const [part, count] of assumed) {
        expect(count).toMatch(/^\d+ assumed$/);
        expect(asked[part]).toMatch(new RegExp(`(^|told, )${count}$`));
    }
    expect(asked["Speed controller"]).toMatch(/^1 told, /);
    expect(Object.values(asked).join()).not.toMatch(/\b0 told/);
});

test("a rotor's bars keep their figures inside, in deg F too", async ({ page, server }) => {
    await open(page, server.url, {
        ...SETUP,
        pack: { cells: 6, capacity_mAh: 2600 },
        esc: { rating_A: 80, pwm_Hz: 12000 },
        load: { kind: "governed", hover_A: 12, rotor_rpm: 2500, gear_ratio: 10 },
        flight: { parts: [{ throttle_pct: 100, seconds: 60 }] },
    });
    await page.getByRole("radio", { name: "°F" }).check();
    await unfold(page);
    const figures = page.locator(".why .figure");
    expect(await figures.count()).toBeGreaterThan(3);
    for (const figure of await figures.all()) {
        // a figure of two digits and a tenth is the widest
        const wider = await figure.evaluate((one) => {
            one.textContent = "+12.4 °F";
            return one.scrollWidth - one.clientWidth;
        });
        expect(wider).toBeLessThanOrEqual(0);
    }
});
