// Does a new model hold the pilot's answers and no others? The empty first visit, examples, the way to a
// verdict in few touches, what was not measured, and the way back.

import type { Page } from "@playwright/test";
import { bar, expect, onPhone, openExample, peak, settled, test, undo } from "./hotband";

/** The six answers of one model, and of the test below. */
const ANSWERS = { cells: "6", capacity: "5000", rating: "80", current: "78" };

/** Touches and keys are counted here, digits aside. */
class Thumb {
    touches = 0;
    constructor(private page: Page) {}

    async tap(name: string): Promise<void> {
        this.touches += 1;
        await this.page.getByRole("button", { name, exact: true }).tap();
    }
    async into(label: string): Promise<void> {
        this.touches += 1;
        await this.page.getByLabel(label, { exact: true }).tap();
    }
    async digits(text: string): Promise<void> {
        await this.page.keyboard.type(text);
    }
    async next(): Promise<void> {
        this.touches += 1;
        await this.page.keyboard.press("Enter");
    }
}

test("a first visit asks six questions and claims nothing", async ({ page, server }) => {
    await page.goto(server.url);
    await expect(page.locator(".figures-peak")).toContainText("0 of 6");
    await expect(page.locator(".figures-level")).toHaveCount(0);
    await expect(page.locator(".headline-text")).not.toContainText(/fine|watch|stop/i);
    await expect(page.locator("#problems")).toHaveCount(0);
    await expect(page.locator("#throttle")).toHaveCount(0);
    await expect(page.locator(".questions .number input")).toHaveCount(5);
    for (const value of await page.locator(".questions .number input").all()) {
        await expect(value).toHaveValue("");
    }
    expect(await page.evaluate(() => location.hash)).toBe("");
    // how many are open is counted above, and nowhere else
    await expect(page.locator("#keep")).toContainText("no link yet: something is missing");
});

test("a verdict in at most 12 touches besides digits, without scrolling to it", async ({
    page,
    server,
}) => {
    await page.goto(server.url);
    const thumb = new Thumb(page);
    await thumb.into("Cells in series");
    await thumb.digits(ANSWERS.cells);
    await thumb.next();
    await expect(page.getByLabel("Capacity, mAh")).toBeFocused();
    await thumb.digits(ANSWERS.capacity);
    await thumb.next();
    await expect(page.getByLabel("ESC rating, A")).toBeFocused();
    await thumb.digits(ANSWERS.rating);
    await thumb.tap("16 kHz");
    await thumb.into("Full-throttle current, A");
    await thumb.digits(ANSWERS.current);
    await thumb.tap("aerobatics");
    await settled(page);
    await expect(page.locator(".figures-level b")).toHaveText(/^(fine|watch|stop)$/);
    await expect(page.locator(".figures-peak b")).toBeInViewport({ ratio: 1 });
    console.log(`    touches to a verdict: ${thumb.touches}`);
    expect(thumb.touches).toBeLessThanOrEqual(12);
    expect(await onPhone(page)).toEqual({
        hotband: 1,
        pack: { cells: 6, capacity_mAh: 5000 },
        esc: { rating_A: 80, pwm_Hz: 16000 },
        load: { full_throttle_A: 78 },
        flight: { parts: expect.any(Array) },
    });
});

test("Enter leads past what it would choose, and a help says what to do without a frequency", async ({
    page,
    server,
}) => {
    await page.goto(server.url);
    const thumb = new Thumb(page);
    await thumb.into("ESC rating, A");
    await thumb.digits(ANSWERS.rating);
    await thumb.next();
    await expect(page.locator("#entry-esc-pwm_Hz")).toBeFocused();
    await thumb.next();
    await expect(page.getByLabel("Full-throttle current, A")).toBeFocused();
    expect(await onPhone(page)).toEqual({ hotband: 1, esc: { rating_A: 80 } });
    await page.locator("#model").getByLabel("What is PWM frequency?").click();
    await expect(page.locator(".help[open] p")).toHaveText(
        /see its settings or manual.*Not known:/,
    );
});

test("a help that would open behind the foot is scrolled to", async ({ page, server }) => {
    await page.goto(server.url);
    for (const label of ["Cells in series", "Full-throttle current"]) {
        const mark = page.getByLabel(`What is ${label}?`, { exact: true });
        // just above the foot
        await mark.evaluate((one) => {
            const foot = document.querySelector(".foot") as HTMLElement;
            document.body.style.paddingBottom = "100vh";
            scrollBy(0, one.getBoundingClientRect().bottom - foot.getBoundingClientRect().top);
        });
        await mark.click();
        await expect
            .poll(() =>
                page.evaluate(() => {
                    const edge = (name: string) =>
                        (document.querySelector(name) as HTMLElement).getBoundingClientRect();
                    return edge(".help[open] p").bottom <= edge(".foot").top;
                }),
            )
            .toBe(true);
        await mark.click();
    }
});

/** The six answers over whatever stands there. */
async function answerSix(page: Page): Promise<void> {
    await page.getByLabel("Cells in series", { exact: true }).fill(ANSWERS.cells);
    await page.getByLabel("Capacity, mAh").fill(ANSWERS.capacity);
    await page.getByLabel("ESC rating, A").fill(ANSWERS.rating);
    await page.getByRole("button", { name: "16 kHz", exact: true }).click();
    await page.getByLabel("Full-throttle current, A").fill(ANSWERS.current);
    await page.getByRole("button", { name: "aerobatics", exact: true }).click();
    await settled(page);
}

test("the same six answers give the same verdict, whichever example was open", async ({
    page,
    server,
}) => {
    await page.goto(server.url);
    await answerSix(page);
    const own = await page.locator(".figures-row").innerText();
    const setup = await onPhone(page);
    for (const example of ["Draycart", "Kettlewisp", "Hayrick"]) {
        await openExample(page, example);
        await page.getByRole("button", { name: "New model" }).click();
        await expect(page.locator(".figures-peak")).toContainText("0 of 6");
        await answerSix(page);
        expect(await page.locator(".figures-row").innerText()).toBe(own);
        expect(await onPhone(page)).toEqual(setup);
    }
});

for (const width of [360, 1280]) {
    test(`another model is read from its beginning, ${width} px wide`, async ({ page, server }) => {
        await page.setViewportSize({ width, height: 800 });
        await page.goto(server.url);
        await openExample(page);
        await settled(page);
        await page.evaluate(() => scrollTo(0, 260));
        expect(await page.evaluate(() => scrollY)).toBe(260);
        await openExample(page, "Kettlewisp");
        await settled(page);
        // where it is drawn to its end, and stays
        await expect(page.locator("[data-behind]")).toHaveCount(0);
        expect(await page.evaluate(() => scrollY)).toBe(0);
        await expect(page.locator(".headline-what")).toBeInViewport();
    });
}

test("an example is named as one, until the pilot decides on its other answers", async ({
    page,
    server,
}) => {
    await page.goto(server.url);
    await openExample(page);
    const what = page.locator(".headline-what");
    await expect(what).toHaveText(/^Example: /);
    const before = await onPhone(page);
    await page.getByLabel("Capacity, mAh").fill("4200");
    await expect(bar(page)).toContainText(/This was an example\. Its \d+ other answers/);
    await page.getByRole("button", { name: "Forget them" }).click();
    await expect(what).not.toContainText("Example");
    await settled(page);
    expect(Object.keys((await onPhone(page)).esc as object).sort()).toEqual(["pwm_Hz", "rating_A"]);
    // it is asked once
    await page.getByLabel("Capacity, mAh").fill("4300");
    await expect(bar(page)).not.toContainText("example");
    // and can be undone: first the typing, then the forgetting, then the typing over the example
    for (let step = 0; step < 3; step++) {
        await page.locator(".foot").getByRole("button", { name: /^Undo/ }).click();
    }
    await expect(what).toHaveText(/^Example: /);
    expect(await onPhone(page)).toEqual(before);
});

test("an example's other answers can be kept", async ({ page, server }) => {
    await page.goto(server.url);
    await openExample(page);
    const before = await onPhone(page);
    await page.getByLabel("Capacity, mAh").fill("4200");
    await page.getByRole("button", { name: "Keep them" }).click();
    await expect(page.locator(".headline-what")).not.toContainText("Example");
    const after = await onPhone(page);
    expect(after.esc).toEqual(before.esc);
    expect(after).not.toHaveProperty("name");
});

test("an opened example is one undo, or one Back, from what was there", async ({ bench }) => {
    const before = await onPhone(bench);
    await openExample(bench);
    await undo(bench);
    expect(await onPhone(bench)).toEqual(before);
    await openExample(bench);
    await bench.goBack();
    await expect(bench.getByLabel("Capacity, mAh")).toHaveValue("5000");
    expect(await onPhone(bench)).toEqual(before);
});

test("a way back survives a reload", async ({ bench }) => {
    const before = await onPhone(bench);
    await openExample(bench);
    await bench.reload();
    await settled(bench);
    await bench.locator(".foot").getByRole("button", { name: /^Undo/ }).click();
    expect(await onPhone(bench)).toEqual(before);
});

test("a part of the mix removed, and a mix taken, are undone by one touch", async ({ bench }) => {
    const before = await onPhone(bench);
    await bench.getByRole("button", { name: "Remove part 1" }).click();
    await expect(bench.getByLabel("Part 2: Throttle", { exact: true })).toHaveCount(0);
    await undo(bench);
    expect(await onPhone(bench)).toEqual(before);
    await bench.getByRole("button", { name: "race", exact: true }).click();
    await undo(bench);
    expect(await onPhone(bench)).toEqual(before);
});

test("a time is told in minutes, and a part's flight speed is seen and changed", async ({
    bench,
}) => {
    const time = bench.getByLabel("Part 1: Time", { exact: true });
    for (const [typed, seconds] of [
        ["1:30", 90],
        ["2 min", 120],
        ["1,5 min", 90],
        ["45", 45],
    ] as const) {
        await time.fill(typed);
        expect(await onPhone(bench)).toMatchObject({
            flight: { parts: [{ seconds }, {}] },
        });
    }
    await bench.getByRole("radio", { name: "min" }).check();
    await time.fill("2");
    expect(await onPhone(bench)).toMatchObject({ flight: { parts: [{ seconds: 120 }, {}] } });
    await bench
        .getByRole("button", { name: /^flight speed/ })
        .first()
        .click();
    await bench.locator(".mix").getByLabel("Flight speed, m/s").fill("12");
    expect(await onPhone(bench)).toMatchObject({
        flight: { parts: [{ seconds: 120, flight_speed_mps: 12 }, {}] },
    });
});

test("a current that was not measured is an answer; the propeller's size is asked instead", async ({
    bench,
}) => {
    await bench.getByRole("button", { name: "Full-throttle current: not measured" }).click();
    await expect(bench.getByLabel("Full-throttle current, A")).toHaveValue("");
    await expect(bench.getByLabel("Propeller diameter, cm")).toBeVisible();
    // what is asked above is not asked again in its fold
    await bench.locator("#part-load summary").first().click();
    await expect(bench.locator("#part-load .entry").first()).toBeVisible();
    await expect(bench.locator("#entry-load-diameter_cm")).toHaveCount(1);
    expect(await onPhone(bench)).toMatchObject({ load: { kind: "propeller" } });
    await bench.reload();
    await expect(
        bench.getByRole("button", { name: "Full-throttle current: not measured" }),
    ).toHaveAttribute("aria-pressed", "true");
    await bench.getByLabel("Full-throttle current, A").fill("60");
    await settled(bench);
    expect(await peak(bench)).toBeGreaterThan(20);
});

test("a rotor is asked for its hover", async ({ page, server }) => {
    await page.goto(server.url);
    await page.getByRole("radio", { name: "rotor" }).check();
    await page.getByLabel("Cells in series", { exact: true }).fill("6");
    await page.getByLabel("Capacity, mAh").fill("10000");
    await page.getByLabel("ESC rating, A").fill("40");
    await page.getByRole("button", { name: "24 kHz", exact: true }).click();
    await page.getByLabel("Take-off mass, kg").fill("3,2");
    await page.getByLabel("Rotor diameter, m").fill("0,4");
    await page.getByLabel("Rotors", { exact: true }).fill("4");
    await page.getByRole("button", { name: "hover", exact: true }).click();
    // what a rotor flies is told as power
    await expect(page.locator(".mix-head")).toContainText("Power, % of hover");
    await expect(page.getByLabel("Part 1: Power", { exact: true })).toHaveValue("100");
    await settled(page);
    await expect(page.locator(".strip-scale")).toContainText("% of hover");
    await expect(page.locator("#throttle .pick output")).toContainText("% of hover");
});
