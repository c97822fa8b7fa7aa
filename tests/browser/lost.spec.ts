// Is an edit ever lost? Two tabs, a full or forbidden store, entries that are not accepted, and a browser
// that is killed at moments of saving.

import { spawn, type ChildProcess } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium, type Page } from "@playwright/test";
import { bar, expect, openExample, settled, SETUP, test } from "./hotband";

const capacity = (page: Page) => page.getByLabel("Capacity, mAh");

test("two tabs keep both their setups", async ({ bench, context, server }) => {
    const other = await context.newPage();
    await other.goto(server.url);
    await settled(other);
    await capacity(other).fill("3000");
    await capacity(bench).fill("4100");
    await other.getByLabel("ESC rating, A").fill("61");
    await Promise.all([bench.reload(), other.reload()]);
    await expect(capacity(bench)).toHaveValue("4100");
    await expect(capacity(other)).toHaveValue("3000");
    await expect(other.getByLabel("ESC rating, A")).toHaveValue("61");

    // both closed: one is gone on with, the other stands in the list of what was here
    await bench.close();
    await other.close();
    const later = await context.newPage();
    await later.goto(server.url);
    await expect(capacity(later)).toHaveValue("3000");
    await later.getByText("What was here before").click();
    await later.locator("details", { hasText: "What was here before" }).getByText("Open").click();
    await expect(capacity(later)).toHaveValue("4100");
});

test("what one tab keeps, another does not write over", async ({ bench, context, server }) => {
    const other = await context.newPage();
    await other.goto(server.url);
    await settled(other);
    for (const [page, name] of [
        [bench, "One"],
        [other, "Two"],
    ] as const) {
        await page.getByLabel("Name", { exact: true }).fill(name);
        await page.getByRole("button", { name: "Keep this setup" }).click();
        await expect(page.locator("#keep .said").first()).toContainText(`Kept: ${name}`);
    }
    for (const page of [bench, other]) {
        await page.reload();
        await expect(page.getByRole("button", { name: "Open One" })).toBeVisible();
        await expect(page.getByRole("button", { name: "Open Two" })).toBeVisible();
    }
});

test("a setup kept right after it was named has its verdict; one that is not answered yet has none", async ({
    bench,
}) => {
    const keptAfter = (id: string, value: string): Promise<string> =>
        bench.evaluate(
            async ([id, value]) => {
                const input = document.querySelector<HTMLInputElement>(`#${id}`);
                const keep = document.querySelector<HTMLButtonElement>("#keep button.main");
                if (!input || !keep) throw new Error("no entry");
                input.value = value;
                input.dispatchEvent(new Event("input", { bubbles: true }));
                // drawn
                await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
                keep.click();
                await new Promise((done) => setTimeout(done, 50));
                return document.querySelector("#keep .said")?.textContent ?? "";
            },
            [id, value] as const,
        );
    expect(await keptAfter("entry-name", "One")).toBe("Kept: One.");
    // No answer comes any more.
    await bench.evaluate(() => {
        Worker.prototype.postMessage = () => undefined;
    });
    expect(await keptAfter("entry-pack-capacity_mAh", "4444")).toBe(
        "Kept as it stands, without an answer yet: One.",
    );
});

test("an edit is kept before anything else is done with it", async ({ bench }) => {
    const kept = await bench.evaluate(() => {
        const input = document.querySelector<HTMLInputElement>("#entry-pack-capacity_mAh");
        if (!input) throw new Error("no entry");
        input.value = "4444";
        input.dispatchEvent(new Event("input", { bubbles: true }));
        return localStorage.getItem("hotband.now");
    });
    expect(kept).toContain("4444");
});

test("a browser that keeps nothing is said to, beside the button", async ({ page, server }) => {
    await page.addInitScript(() => {
        Storage.prototype.setItem = () => {
            throw new DOMException("full", "QuotaExceededError");
        };
        IDBObjectStore.prototype.put = () => {
            throw new DOMException("full", "QuotaExceededError");
        };
    });
    await page.goto(server.url);
    await openExample(page);
    await page.getByRole("button", { name: "Keep this setup" }).click();
    await expect(page.locator("#keep .said").first()).toContainText("Not kept");
    await expect(page.locator("#keep .said").first()).toBeInViewport();
    await expect(page.locator(".saved li")).toHaveCount(0);
    await expect(page.locator(".mast")).toContainText("keeps nothing");
});

test("a database that hangs keeps neither the page nor what it says waiting", async ({
    page,
    server,
}) => {
    await page.addInitScript(() => {
        const put = IDBObjectStore.prototype.put;
        IDBTransaction.prototype.commit = () => undefined;
        IDBObjectStore.prototype.put = function (this: IDBObjectStore, ...words) {
            const again = (): void => {
                this.get("now").onsuccess = again;
            };
            again();
            return put.apply(this, words);
        };
    });
    await page.goto(server.url);
    await openExample(page);
    await page.getByRole("button", { name: "Keep this setup" }).click();
    await expect(page.locator("#keep .said").first()).toContainText("Kept");
    await page.reload();
    await expect(page.locator(".saved li")).toHaveCount(1);
});

test("a setup with a bad entry is kept and saved as it stands, and has no link of an older one", async ({
    bench,
}) => {
    await expect(bench.getByLabel("Link", { exact: true })).toHaveValue(/#HB/);
    await capacity(bench).fill("9,5 or so");
    await expect(bench.getByLabel("Link", { exact: true })).toHaveCount(0);
    await expect(bench.locator("#keep")).toContainText("There is no link yet");
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    await expect(bench.locator("#keep .said").first()).toContainText("Kept as it stands");
    const download = bench.waitForEvent("download");
    await bench.getByRole("button", { name: "Save as a file" }).click();
    const path = await (await download).path();
    expect(JSON.parse(readFileSync(path, "utf8"))).toMatchObject({
        pack: { capacity_mAh: "9,5 or so" },
    });
    await capacity(bench).fill("5000");
    await bench.getByRole("button", { name: "Open Test bench" }).click();
    await expect(capacity(bench)).toHaveValue("9,5 or so");
    await capacity(bench).fill("5000");
    await bench.setInputFiles("input[type=file][accept*=json]", path);
    await expect(capacity(bench)).toHaveValue("9,5 or so");
});

test("kept setups show date and verdict, and go into one file and back", async ({ bench }) => {
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    await expect(bench.locator(".saved li")).toContainText(
        /\d{4}.*\d:\d\d.*(fine|watch|stop), \d+/,
    );
    await bench.getByLabel("Name", { exact: true }).fill("Second");
    await settled(bench);
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    const download = bench.waitForEvent("download");
    await bench.getByRole("button", { name: "Save all in one file" }).click();
    const path = await (await download).path();
    for (const name of ["Test bench", "Second"]) {
        await bench.getByRole("button", { name: `Delete ${name}` }).click();
    }
    await expect(bench.locator(".saved li")).toHaveCount(0);
    await bench.setInputFiles("input[type=file][accept*=json]", path);
    await expect(bench.locator(".saved li")).toHaveCount(2);
    await expect(bench.getByRole("button", { name: "Open Second" })).toBeVisible();
});

test("Back closes what is open before it leaves", async ({ bench }) => {
    const here = bench.url();
    await bench.getByRole("button", { name: "Contents" }).click();
    await expect(bench.getByRole("dialog")).toBeVisible();
    await bench.goBack();
    await expect(bench.getByRole("dialog")).toHaveCount(0);
    expect(bench.url().replace(/#.*/, "")).toBe(here.replace(/#.*/, ""));
    // closed by its own button it leaves nothing behind
    await bench.getByRole("button", { name: "Cautions" }).click();
    await bench.getByRole("dialog").getByRole("button", { name: "Close" }).click();
    await expect(bar(bench)).toBeEmpty();
    await expect(capacity(bench)).toHaveValue("5000");
});

/** Chromium as a process of its own, so that it can be killed like one that runs out of battery. */
async function startBrowser(program: string, profile: string) {
    const flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"];
    const browser = spawn(
        program,
        [...flags, `--user-data-dir=${profile}`, "--remote-debugging-port=0", "about:blank"],
        { stdio: ["ignore", "ignore", "pipe"] },
    );
    const endpoint = await new Promise<string>((found, failed) => {
        let said = "";
        browser.stderr.on("data", (piece: Buffer) => {
            said += piece;
            const address = /ws:\/\/\S+/.exec(said);
            if (address) found(address[0]);
        });
        browser.once("exit", () => failed(new Error(said)));
    });
    const connected = await chromium.connectOverCDP(endpoint);
    const page = await connected.contexts()[0]?.newPage();
    if (!page) throw new Error("no page");
    return { browser, page };
}

const killed = (browser: ChildProcess): Promise<void> =>
    new Promise((done) => {
        browser.once("exit", () => done());
        browser.kill("SIGKILL");
    });

/** Moments after an edit, ms. */
const MOMENTS = [0, 5, 10, 20, 35, 50, 70, 100, 150, 250];
/** An edit this old is there again whatever happens. */
const KEPT_MS = 100;

test("a browser killed at ten moments of saving loses no edit older than 100 ms", async ({
    server,
}) => {
    test.setTimeout(240_000);
    const profile = mkdtempSync(join(tmpdir(), "hotband-kill-"));
    // the whole browser: the one without windows writes its storage to the disk when it likes
    const program = process.env.CHROMIUM ?? "chromium";
    let last = "5000";
    let { browser, page } = await startBrowser(program, profile);
    try {
        await page.goto(server.url);
        await page.evaluate((setup) => {
            localStorage.setItem("hotband.now", JSON.stringify({ setup, tried: [] }));
        }, SETUP);
        await page.reload();
        await expect(capacity(page)).toHaveValue(last);
        for (const [round, moment] of MOMENTS.entries()) {
            const next = String(3000 + 100 * round);
            await capacity(page).fill(next);
            await page.evaluate((ms) => new Promise((done) => setTimeout(done, ms)), moment);
            await killed(browser);
            ({ browser, page } = await startBrowser(program, profile));
            await page.goto(server.url);
            await expect(capacity(page)).toHaveValue(/^\d{4}$/);
            const there = await capacity(page).inputValue();
            // whole, one of the two, and the newer one once it has had its time
            expect(moment >= KEPT_MS ? [next] : [last, next]).toContain(there);
            await expect(page.getByLabel("ESC rating, A")).toHaveValue("80");
            await expect(page.getByLabel("Part 2: Time", { exact: true })).toHaveValue("8");
            last = there;
        }
    } finally {
        await killed(browser);
        // the killed browser's own helpers may still be closing files in it
        rmSync(profile, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
    }
});
