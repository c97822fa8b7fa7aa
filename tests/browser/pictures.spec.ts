// Do the pictures say what the figures say? Other air and other frequencies beside the verdict and the first
// picture, in both scales, and against what comes of trying them.

import type { Page } from "@playwright/test";
import { drawn, expect, peak, putOnPhone, settled, SETUP, test, unfold } from "./hotband";

const airPicture = (page: Page) => page.locator(".survey-air");
const pwmPicture = (page: Page) => page.locator(".survey-pwm");

/** Scrolls there and waits until the picture is drawn from the newest answer. */
async function look(page: Page, picture: ReturnType<typeof airPicture>): Promise<void> {
    await drawn(page);
    await picture.scrollIntoViewIfNeeded();
    await expect(picture.locator("figure")).toBeVisible({ timeout: 30_000 });
    await drawn(page);
}

for (const scale of ["°C", "°F"]) {
    test(`the pictures of air and frequency agree with the figures, in ${scale}`, async ({
        bench,
    }) => {
        await bench.locator(".foot").getByRole("radio", { name: scale }).check();
        await look(bench, airPicture(bench));
        const figures = await bench.locator(".figures-peak").innerText();
        const [middle = "", range = ""] =
            /(\d+)\s*°[CF]\s*peak\s*(\S+)/.exec(figures)?.slice(1) ?? [];
        await expect(airPicture(bench).locator(".readings dd").first()).toHaveText(
            `${middle} ${scale} ${range}`,
        );
        await expect(airPicture(bench).locator("output")).toHaveText(
            scale === "°C" ? "25 °C" : "77 °F",
        );

        await look(bench, pwmPicture(bench));
        const first = await bench.locator("#throttle .readings dd b").first().innerText();
        await expect(pwmPicture(bench).locator(".told")).toContainText(first);
        await expect(pwmPicture(bench).locator(".told")).toContainText("16 kHz");
        // one throttle is read in all pictures
        await pwmPicture(bench).getByRole("slider").press("PageDown");
        const read = await bench.locator("#throttle output").first().innerText();
        await expect(pwmPicture(bench).locator("output")).toHaveText(read);
        await expect(pwmPicture(bench).getByRole("slider")).toHaveAttribute(
            "aria-valuetext",
            new RegExp(`^${read}: 8 kHz .*, 16 kHz .*, 24 kHz `),
        );
    });
}

test("the picture of other air says what comes of typing that air", async ({ bench }) => {
    await look(bench, airPicture(bench));
    const slider = airPicture(bench).getByRole("slider");
    await slider.press("ArrowRight");
    await slider.press("ArrowRight");
    await expect(airPicture(bench).locator("output")).toHaveText("40 °C");
    const shown = await airPicture(bench).locator(".readings b").first().innerText();
    await unfold(bench);
    await bench.getByLabel("Air temperature, °C", { exact: true }).fill("40");
    await settled(bench);
    // a carried figure against a whole answer: tests/unit/survey_test.ts holds it within 1.5 K, and both are rounded
    expect(Math.abs((await peak(bench)) - Number.parseInt(shown, 10))).toBeLessThanOrEqual(2);
    await look(bench, airPicture(bench));
    await expect(airPicture(bench).locator(".readings b").first()).toHaveText(
        `${await peak(bench)} °C`,
    );
});

test("the pictures stay within narrow screens, their captions within two lines", async ({
    bench,
}) => {
    for (const width of [360, 320]) {
        await bench.setViewportSize({ width, height: 800 });
        for (const picture of [pwmPicture(bench), airPicture(bench)]) {
            await look(bench, picture);
            const { lines, outside } = await picture.evaluate((element) => {
                const caption = element.querySelector("figcaption") as HTMLElement;
                const side = document.documentElement.clientWidth;
                return {
                    lines: caption.clientHeight / parseFloat(getComputedStyle(caption).lineHeight),
                    outside: [...element.querySelectorAll("*:not(.unseen, svg *)")].filter(
                        (one) => one.getBoundingClientRect().right > side + 1,
                    ).length,
                };
            });
            expect(Math.round(lines)).toBeLessThanOrEqual(width === 360 ? 2 : 3);
            expect(outside).toBe(0);
        }
    }
});

test("where the heat runs away the pictures say so", async ({ page, server }) => {
    await putOnPhone(page, {
        ...SETUP,
        esc: { rating_A: 60, pwm_Hz: 48000 },
        air: { temperature_C: 40, cooling: "closed" },
        load: { kind: "propeller", full_throttle_A: 140 },
        flight: { kind: "sequence", parts: [{ throttle_pct: 70, seconds: 300 }] },
    });
    await page.goto(server.url);
    await settled(page);
    await expect(page.locator(".figures-peak b")).toHaveText("runs away");
    await look(page, airPicture(page));
    await expect(airPicture(page).locator(".readings b").first()).toHaveText("runs away");
    await look(page, pwmPicture(page));
    await expect(pwmPicture(page).locator(".told")).toContainText("runs away");
});
