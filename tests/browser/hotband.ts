// What does every test start from? The built page on a server of its own, watched for errors and for
// requests that go anywhere else; and the page's entries and figures by the names a pilot reads.

import { existsSync } from "node:fs";
import { join } from "node:path";
import { expect, test as base, type BrowserContext, type Page } from "@playwright/test";
import { serve, type PageServer } from "./server";

export const SITE = join(__dirname, "../../site");
export const DIST = join(SITE, "dist");

/** A setup of the tests' own, in which the PWM frequency weighs. */
export const SETUP = {
    hotband: 1,
    name: "Test bench",
    pack: { cells: 6, capacity_mAh: 5000 },
    esc: { rating_A: 80, pwm_Hz: 16000 },
    load: { kind: "propeller", full_throttle_A: 78 },
    flight: {
        kind: "sequence",
        parts: [
            { throttle_pct: 60, seconds: 40 },
            { throttle_pct: 100, seconds: 8 },
        ],
    },
};

interface Fixtures {
    server: PageServer;
    /** what went wrong in any page of the context: a test ends with none */
    complaints: string[];
    /** the page with SETUP on it */
    bench: Page;
}

export const test = base.extend<Fixtures>({
    server: async ({}, use) => {
        if (!existsSync(join(DIST, "index.html"))) throw new Error("build the page first");
        const server = await serve(DIST);
        await use(server);
        await server.stop();
    },
    complaints: [
        async ({ context, server }, use) => {
            const complaints: string[] = [];
            watch(context, server.url, complaints);
            await use(complaints);
            expect(complaints).toEqual([]);
        },
        { auto: true },
    ],
    bench: async ({ page, server }, use) => {
        await putOnPhone(page, SETUP);
        await page.goto(server.url);
        await settled(page);
        await use(page);
    },
});

export { expect };

/** Console errors and warnings, uncaught errors, and requests to any other origin. */
export function watch(context: BrowserContext, url: string, complaints: string[]): void {
    context.on("console", (message) => {
        if (message.type() === "error" || message.type() === "warning") {
            complaints.push(`console ${message.type()}: ${message.text()}`);
        }
    });
    context.on("weberror", (error) => complaints.push(`uncaught: ${error.error().message}`));
    context.on("request", (request) => {
        const there = request.url();
        if (!there.startsWith(url) && !there.startsWith("blob:")) {
            complaints.push(`request to ${there}`);
        }
    });
}

/** Leaves a setup on the phone, as if it had been edited there before. */
export async function putOnPhone(page: Page, setup: object): Promise<void> {
    await page.addInitScript(
        (text) => {
            if (!location.protocol.startsWith("http")) return;
            localStorage.getItem("hotband.now") ?? localStorage.setItem("hotband.now", text);
        },
        JSON.stringify({ setup, tried: [] }),
    );
}

/** Waits for the whole answer to what has been entered, the one with the range. */
export async function settled(page: Page): Promise<void> {
    await expect(page.locator(".figures")).toHaveAttribute("aria-busy", "false", {
        timeout: 30_000,
    });
}

/** What the phone holds: the setup being edited. */
export const onPhone = (page: Page): Promise<Record<string, unknown>> =>
    page.evaluate(() => JSON.parse(localStorage.getItem("hotband.now") ?? "{}").setup);

export async function peak(page: Page): Promise<number> {
    const text = await page.locator(".figures-peak b").innerText();
    return Number(/−?\d+/.exec(text)?.[0].replace("−", "-"));
}

/** Waits until everything below the first screen is drawn, and drawn from the newest answer. */
export async function drawn(page: Page): Promise<void> {
    await expect(page.locator("#keep")).toBeAttached();
    await expect(page.locator(".later[data-behind]")).toHaveCount(0, { timeout: 30_000 });
}

/** Every fold of the page opened, and every picture seen that is only drawn then. What is in a fold is made when
 *  it opens, and may hold folds itself. */
export async function unfold(page: Page): Promise<void> {
    await drawn(page);
    for (const picture of await page.locator(".survey-air, .survey-pwm").all()) {
        await picture.scrollIntoViewIfNeeded();
        await expect(picture.locator("figure")).toBeVisible({ timeout: 30_000 });
    }
    await page.evaluate(() => scrollTo(0, 0));
    await drawn(page);
    await expect(async () => {
        const closed = await page.evaluate(() => {
            const folds = [...document.querySelectorAll("details:not([open], .help)")];
            for (const fold of folds) (fold as HTMLDetailsElement).open = true;
            return folds.length;
        });
        expect(closed).toBe(0);
    }).toPass({ intervals: [50, 100, 200] });
    await drawn(page);
}

/** How much wider the page is than the window, once its layout is at rest. */
export async function wider(page: Page): Promise<number> {
    await drawn(page);
    return page.evaluate(async () => {
        await document.fonts.ready;
        const frame = () => new Promise((done) => requestAnimationFrame(done));
        const measure = () =>
            `${document.documentElement.scrollWidth} ${document.documentElement.scrollHeight} ${innerWidth}`;
        // at rest: as wide and as high as five frames ago
        for (let before = ""; before !== measure();) {
            before = measure();
            for (let i = 0; i < 5; i++) await frame();
        }
        return document.documentElement.scrollWidth - innerWidth;
    });
}

/** What the bar above the foot says. */
export const bar = (page: Page) => page.locator(".bar");

export const undo = (page: Page): Promise<void> =>
    bar(page).getByRole("button", { name: "Undo" }).click();

/** Opens the first example, or the one of that name. */
export async function openExample(page: Page, name?: string): Promise<void> {
    await page.locator(".examples summary").click();
    const buttons = page.locator(".examples button");
    await (name === undefined ? buttons.first() : buttons.filter({ hasText: name })).click();
    await settled(page);
}
