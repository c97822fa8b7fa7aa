// Does the first screen say it, whatever its size? Little height, narrow windows, large text, a shifting
// layout, agreeing figures, failed checks, rotors, and what is drawn below.

import type { Page } from "@playwright/test";
import {
    drawn,
    expect,
    openExample,
    peak,
    putOnPhone,
    settled,
    SETUP,
    test,
    unfold,
    wider,
} from "./hotband";

/** The verdict, whole and in view, with the last part of the mix being edited. */
async function verdictInView(page: Page): Promise<void> {
    const last = page.locator(".mix-row input").last();
    await last.focus();
    await last.scrollIntoViewIfNeeded();
    await expect(page.locator(".figures-level b")).toBeInViewport({ ratio: 1 });
    await expect(page.locator(".figures-peak b")).toBeInViewport({ ratio: 1 });
    // and it leaves room for what is being edited
    const [figures, entry] = await Promise.all([
        page.locator(".figures").boundingBox(),
        last.boundingBox(),
    ]);
    if (!figures || !entry) throw new Error("not drawn");
    expect(entry.y).toBeGreaterThanOrEqual(figures.y + figures.height - 1);
}

for (const [what, width, height] of [
    ["with the keyboard up", 360, 300],
    ["in a narrow window", 320, 560],
    ["on its side", 740, 340],
] as const) {
    test(`the verdict is in view ${what}, ${width} x ${height} px`, async ({ bench }) => {
        await bench.setViewportSize({ width, height });
        await verdictInView(bench);
        expect(await wider(bench)).toBe(0);
    });
}

for (const [width, height] of [
    [360, 800],
    [320, 640],
] as const) {
    test(`text at 200 % in ${width} px: the verdict in view, no word one letter a line`, async ({
        bench,
    }) => {
        await bench.setViewportSize({ width, height });
        await bench.evaluate(() => {
            const style = new CSSStyleSheet();
            style.replaceSync("html { font-size: 200% }");
            document.adoptedStyleSheets.push(style);
        });
        await expect(bench.locator("html[data-narrow]")).toBeAttached();
        await verdictInView(bench);
        await unfold(bench);
        expect(await wider(bench)).toBe(0);
        const squeezed = await bench.evaluate(() => {
            const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
            return [
                ...document.querySelectorAll("label, dt, dd, p, th, td, li > span, summary span"),
            ]
                .filter((one) => !one.closest(".unseen, dialog, .card, svg"))
                .filter((one) => (one.textContent ?? "").trim().length > 8)
                .map((one) => ({ one, box: one.getBoundingClientRect() }))
                .filter(({ box }) => box.width > 0 && box.width < 2.5 * rem)
                .map(({ one, box }) => `${one.outerHTML.slice(0, 90)} ${box.width}`);
        });
        expect(squeezed).toEqual([]);
    });
}

test("the layout shifts less than 0.02 from the first letter to the verdict", async ({
    page,
    server,
}) => {
    for (const viewport of [
        { width: 360, height: 800 },
        { width: 1280, height: 800 },
    ]) {
        await page.setViewportSize(viewport);
        // as slow as a phone: what comes half a second after a touch is no answer to it
        const phone = await page.context().newCDPSession(page);
        await phone.send("Emulation.setCPUThrottlingRate", { rate: 4 });
        await page.goto(server.url);
        await page.evaluate(() => {
            const shifts: number[] = [];
            Object.assign(window, { shifts });
            new PerformanceObserver((list) => {
                for (const entry of list.getEntries()) {
                    const { value, hadRecentInput } = entry as PerformanceEntry & {
                        value: number;
                        hadRecentInput: boolean;
                    };
                    if (!hadRecentInput) shifts.push(value);
                }
            }).observe({ type: "layout-shift", buffered: true });
        });
        await openExample(page, "Hayrick");
        await page.getByLabel("Capacity, mAh").fill("4000");
        await page.waitForTimeout(700);
        await page.getByLabel("ESC rating, A").pressSequentially("40", { delay: 400 });
        await settled(page);
        await drawn(page);
        const shifts = await page.evaluate(
            () => (window as unknown as { shifts: number[] }).shifts,
        );
        const sum = shifts.reduce((all, one) => all + one, 0);
        console.log(`    layout shift at ${viewport.width} px: ${sum.toFixed(4)}`);
        expect(sum).toBeLessThan(0.02);
    }
});

test("the figures of one screen agree to the last digit, in both scales", async ({ bench }) => {
    for (const scale of ["°C", "°F"]) {
        await bench.locator(".foot").getByRole("radio", { name: scale }).check();
        await expect(bench.locator(".figures-peak b")).toContainText(scale);
        const shown = await peak(bench);
        const headline = await bench.locator(".headline-text").innerText();
        const said = [...headline.matchAll(/(\d+)\s?°[CF]/g)].map((match) => Number(match[1]));
        expect(said).toContain(shown);
        const limit = Number(await bench.locator(".figures-limit b").innerText());
        const margin = await bench.locator(".figures-margin b").innerText();
        expect(Number(margin.replace("−", "-"))).toBe(limit - shown);
    }
});

test("failed checks are counted, one touch away, and never stand under fine", async ({
    page: bench,
    server,
}) => {
    // more cells than the ESC's maker allows
    await putOnPhone(bench, { ...SETUP, esc: { ...SETUP.esc, cells_max: 4 } });
    await bench.goto(server.url);
    await settled(bench);
    const failed = bench.locator(".failed");
    await expect(failed).toHaveText(/▲ \d+ checks? failed/);
    await expect(bench.locator(".figures-level b")).not.toHaveText("fine");
    await drawn(bench);
    await failed.click();
    await expect(bench.locator("#checks .over").first()).toBeInViewport();
    const count = Number(/\d+/.exec(await failed.innerText())?.[0]);
    await expect(bench.locator("#checks .over")).toHaveCount(count);
});

test("a rotor's pictures run to its own maximum, every mark inside", async ({ page, server }) => {
    await page.goto(server.url);
    for (const [example, most] of [
        ["Teasel", 140],
        ["Sixpence", 125],
    ] as const) {
        await openExample(page, example);
        await drawn(page);
        await expect(page.locator(".strip-scale")).toContainText(`${most} % of hover`);
        const outside = await page.evaluate(() => {
            const strip = document.querySelector(".figures .strip")?.getBoundingClientRect();
            if (!strip) return ["no strip"];
            return [...document.querySelectorAll(".figures .strip rect, .figures .strip path")]
                .map((mark) => mark.getBoundingClientRect())
                .filter(({ left, right }) => left < strip.left - 5 || right > strip.right + 5)
                .map(({ left, right }) => `${left} ${right}`);
        });
        expect(outside).toEqual([]);
        const slider = page.locator("#throttle input[type=range]");
        await slider.press("End");
        await expect(page.locator("#throttle .pick output")).toHaveText(`${most} % of hover`);
        await expect(page.locator("#throttle")).not.toContainText("Throttle, %");
    }
});

test("captions take two lines at most, and no label of a picture is cut", async ({ bench }) => {
    for (const width of [360, 320]) {
        await bench.setViewportSize({ width, height: 800 });
        await drawn(bench);
        const lines = await bench.evaluate(() =>
            [...document.querySelectorAll("figcaption")].map((caption) => {
                const { lineHeight } = getComputedStyle(caption);
                return Math.round(caption.clientHeight / parseFloat(lineHeight));
            }),
        );
        expect(lines.length).toBeGreaterThan(3);
        if (width === 360) expect(Math.max(...lines)).toBeLessThanOrEqual(2);
        else expect(Math.max(...lines)).toBeLessThanOrEqual(3);
    }
});
