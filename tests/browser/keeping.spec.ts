// Is anything lost? Offline, newer versions, links, files, saved setups, paper, and the one-file page.

import {
    cpSync,
    existsSync,
    mkdtempSync,
    readdirSync,
    readFileSync,
    rmSync,
    writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import type { Page } from "@playwright/test";
import {
    bar,
    DIST,
    expect,
    onPhone,
    openExample,
    peak,
    putOnPhone,
    settled,
    SETUP,
    SITE,
    test,
    undo,
} from "./hotband";
import { serve } from "./server";

const KEPT = "works without a signal";

test("works offline after one visit", async ({ bench, server, complaints }) => {
    await expect(bench.getByText(KEPT)).toBeVisible({ timeout: 30_000 });
    await server.stop();
    await bench.reload();
    await settled(bench);
    const before = await peak(bench);
    await bench.locator("#entry-esc-pwm_Hz").fill("48");
    await settled(bench);
    expect(await peak(bench)).toBeGreaterThan(before);
    // the browser looks for a newer version on every visit, and says so when it cannot
    complaints.splice(
        0,
        Infinity,
        ...complaints.filter((one) => !/sw\.js|ERR_CONNECTION/.test(one)),
    );
});

/** The folder's page as a newer build makes it: another title, and a worker of another version. */
function makeNewer(folder: string): void {
    const change = (file: string, from: RegExp, to: string): void => {
        const path = join(folder, file);
        const text = readFileSync(path, "utf8");
        expect(text).toMatch(from);
        writeFileSync(path, text.replace(from, to));
    };
    change("index.html", /<title>.*<\/title>/, "<title>Hotband, newer</title>");
    change("sw.js", /"version":"[0-9a-f]+"/, '"version":"newer"');
    // hashed files that did not change are not fetched again, so that none is missed
    for (const file of readdirSync(join(folder, "assets"))) rmSync(join(folder, "assets", file));
}

test("what a browser short of room has dropped comes from the server", async ({ bench }) => {
    await expect(bench.getByText(KEPT)).toBeVisible({ timeout: 30_000 });
    const dropped = await bench.evaluate(async () => {
        const [name] = await caches.keys();
        const store = await caches.open(name ?? "");
        const files = await store.keys();
        const some = files.filter(({ url }) => /\/$|\.wasm$|index-.*js$/.test(url));
        await Promise.all(some.map((file) => store.delete(file)));
        return [some.length, files.length];
    });
    expect(dropped[0]).toBe(3);
    expect(dropped[1]).toBeGreaterThan(10);
    await bench.reload();
    await settled(bench);
});

test("a newer version waits for the pilot and drops no entry", async ({ page, complaints }) => {
    complaints.length = 0;
    const folder = mkdtempSync(join(tmpdir(), "hotband-"));
    cpSync(DIST, folder, { recursive: true });
    const own = await serve(folder);
    try {
        await putOnPhone(page, SETUP);
        await page.goto(own.url);
        await expect(page.getByText(KEPT)).toBeVisible({ timeout: 30_000 });
        await expect(page.getByText("A newer Hotband is here")).toHaveCount(0);
        makeNewer(folder);
        await page.reload();
        await expect(page.getByText("A newer Hotband is here")).toBeVisible({
            timeout: 30_000,
        });
        await page.getByLabel("Capacity, mAh").fill("4321");
        // a tab that is open beside it would miss files of the version that goes: it is renewed as well
        const beside = await page.context().newPage();
        await beside.goto(own.url);
        await expect(beside.getByText("A newer Hotband is here")).toBeVisible({ timeout: 30_000 });
        const loaded = [page.waitForEvent("load"), beside.waitForEvent("load")];
        await page.getByRole("button", { name: "Use it" }).click();
        await Promise.all(loaded);
        await expect(page.getByLabel("Capacity, mAh")).toHaveValue("4321");
        for (const tab of [page, beside]) {
            await expect(tab.getByText("A newer Hotband is here")).toHaveCount(0);
            await expect(tab).toHaveTitle("Hotband, newer");
        }
        await expect.poll(() => page.evaluate(() => caches.keys())).toEqual([`newer ${own.url}`]);
        await beside.close();
    } finally {
        await own.stop();
        rmSync(folder, { recursive: true });
        complaints.splice(0, Infinity, ...complaints.filter((one) => !one.includes(own.url)));
    }
});

test("a shared link opens on another phone", async ({ bench, browser }) => {
    await bench.getByLabel("Capacity, mAh").fill("4100");
    await settled(bench);
    await expect(bench).toHaveURL(/#HB/);
    const link = await bench.getByLabel("Link", { exact: true }).inputValue();
    expect(link).toBe(bench.url());
    const figures = await bench.locator(".figures-row").innerText();

    const other = await browser.newContext({
        viewport: { width: 360, height: 800 },
    });
    const page = await other.newPage();
    await page.goto(link);
    await settled(page);
    await expect(page.getByLabel("Capacity, mAh")).toHaveValue("4100");
    await expect(page.getByText("Opened from the link.")).toBeVisible();
    expect(await page.locator(".figures-row").innerText()).toBe(figures);
    await other.close();
});

test("a link opened over a setup keeps that within one touch", async ({
    bench,
    browser,
    server,
}) => {
    const link = await bench.getByLabel("Link", { exact: true }).inputValue();
    const other = await browser.newContext({
        viewport: { width: 360, height: 800 },
    });
    const page = await other.newPage();
    await putOnPhone(page, {
        ...SETUP,
        name: "Mine",
        esc: { rating_A: 40, pwm_Hz: 8000 },
    });
    await page.goto(server.url);
    await settled(page);
    await page.goto(link);
    await expect(page.getByLabel("ESC rating, A")).toHaveValue("80");
    await undo(page);
    await expect(page.getByLabel("ESC rating, A")).toHaveValue("40");
    await other.close();
});

test("a damaged link says so and leaves what was on the phone", async ({ bench, server }) => {
    const before = await onPhone(bench);
    const link = await bench.getByLabel("Link", { exact: true }).inputValue();
    const text = link.slice(link.indexOf("#") + 1);
    const damaged = [text.slice(0, -6), text.replace("PQ5000", "PQ5001"), "nonsense"];
    for (const one of damaged) {
        await bench.goto("about:blank");
        await bench.goto(`${server.url}#${one}`);
        await expect(bar(bench)).toContainText("The link was not opened");
        await settled(bench);
        expect(await onPhone(bench)).toEqual(before);
    }
    await bench.getByLabel("Open a link").fill("nonsense");
    await bench.locator(".paste").getByRole("button", { name: "Open" }).click();
    await expect(bar(bench)).toContainText("The link was not opened");
    expect(await onPhone(bench)).toEqual(before);
});

test("a link is opened when it is pasted into the page", async ({ bench }) => {
    const link = await bench.getByLabel("Link", { exact: true }).inputValue();
    await bench.getByLabel("Capacity, mAh").fill("3000");
    await bench.getByLabel("Open a link").fill(link);
    await bench.locator(".paste").getByRole("button", { name: "Open" }).click();
    await expect(bench.getByLabel("Capacity, mAh")).toHaveValue("5000");
});

test("what the core does not open or link is said, and nothing is lost", async ({
    page,
    server,
}) => {
    await putOnPhone(page, SETUP);
    await page.addInitScript(() => {
        const post = Worker.prototype.postMessage;
        // a phone short of memory ends workers at any time: at the call of this name
        Worker.prototype.postMessage = function (message: { name: string }) {
            post.call(this, message);
            if (message.name !== (globalThis as { endAt?: string }).endAt) return;
            this.dispatchEvent(new ErrorEvent("error", { message: "out of memory" }));
        };
    });
    await page.goto(server.url);
    const link = page.getByLabel("Link", { exact: true });
    await expect(link).toHaveValue(/#HB/);
    const address = await link.inputValue();
    const endAt = (name: string): Promise<void> =>
        page.evaluate((at) => void Object.assign(globalThis, { endAt: at }), name);
    const paste = async (): Promise<void> => {
        await page.getByLabel("Open a link").fill(address);
        await page.locator(".paste").getByRole("button", { name: "Open" }).click();
    };
    const stopped = "The core stopped: out of memory. The next change starts it anew.";

    await endAt("unlink");
    await paste();
    await expect(bar(page)).toContainText(`The link was not opened. ${stopped}`);
    await endAt("advise");
    await page.setInputFiles("input[type=file][accept*=json]", {
        name: "one.json",
        mimeType: "application/json",
        buffer: Buffer.from(JSON.stringify(SETUP)),
    });
    await expect(bar(page)).toContainText(`The file was not opened. ${stopped}`);
    await endAt("link");
    await page.getByLabel("Capacity, mAh").fill("4100");
    await expect(bar(page)).toContainText(stopped);
    await endAt("");
    await page.getByLabel("Capacity, mAh").fill("4200");
    await expect(link).not.toHaveValue(address);
    await paste();
    await expect(bar(page)).toContainText("Opened from the link");
});

test("the QR code is drawn", async ({ bench }) => {
    await bench.getByRole("button", { name: "QR code" }).click();
    const code = bench.getByRole("img", { name: /QR code of the link/ });
    await expect(code).toBeVisible();
    expect((await code.locator("path").getAttribute("d"))?.length).toBeGreaterThan(1000);
});

test("setups are kept, compared, opened and deleted", async ({ bench }) => {
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    await bench.getByLabel("ESC rating, A").fill("120");
    await settled(bench);
    await bench.reload();
    await bench.getByText("Two side by side").click();
    const compared = bench.getByRole("table", { name: "Compared" });
    await expect(compared.getByRole("row", { name: /ESC rating, A/ })).toContainText("120");
    await expect(compared.getByRole("row", { name: /ESC rating, A/ })).toContainText("80");
    await expect(compared.getByRole("row", { name: /Peak/ })).toHaveText(
        /\d+\s°C \d+–\d+.*\d+\s°C \d+–\d+/,
    );
    // what has just been kept is no other setup than the one on the page
    await bench.getByRole("button", { name: "Keep this setup" }).click();
    await bench.reload();
    await bench.getByText("Two side by side").click();
    await expect(compared.getByRole("row", { name: /ESC rating, A/ })).toContainText("80");
    await bench.getByRole("button", { name: "Delete Test bench" }).first().click();
    // it goes once the browser has let go of it
    await expect(bench.getByRole("button", { name: "Open Test bench" })).toHaveCount(1);
    await bench.getByRole("button", { name: "Open Test bench" }).click();
    await expect(bench.getByLabel("ESC rating, A")).toHaveValue("80");
    await bench.getByRole("button", { name: "Delete Test bench" }).click();
    await expect(bench.getByRole("button", { name: "Delete Test bench" })).toHaveCount(0);
    await bench.getByRole("button", { name: "Undo the deletion" }).click();
    await expect(bench.getByRole("button", { name: "Delete Test bench" })).toHaveCount(1);
});

test("a setup goes to a file and comes back; a bad file changes nothing", async ({ bench }) => {
    const download = bench.waitForEvent("download");
    await bench.getByRole("button", { name: "Save as a file" }).click();
    const path = await (await download).path();
    expect(JSON.parse(readFileSync(path, "utf8"))).toEqual(SETUP);

    await bench.getByLabel("Capacity, mAh").fill("3000");
    await settled(bench);
    const changed = await onPhone(bench);
    for (const text of ["no setup", '{"pack":{"cells":99}}']) {
        const buffer = Buffer.from(text);
        await bench.setInputFiles("input[type=file][accept*=json]", {
            name: "x.json",
            mimeType: "",
            buffer,
        });
        await expect(bar(bench)).toContainText("The file was not opened");
        expect(await onPhone(bench)).toEqual(changed);
    }
    await bench.setInputFiles("input[type=file][accept*=json]", path);
    await expect(bench.getByLabel("Capacity, mAh")).toHaveValue("5000");

    // what was said of one file is not said of the next
    const said = bench.locator("#keep div.said");
    const open = (text: string) =>
        bench.setInputFiles("input[type=file][accept*=json]", {
            name: "x.json",
            mimeType: "",
            buffer: Buffer.from(text),
        });
    await open(
        JSON.stringify({ hotband_kept: 1, setups: [{ id: "1", name: "One", setup: SETUP }] }),
    );
    await expect(said).toContainText("Kept from the file: 1.");
    await open("no setup");
    await expect(bar(bench)).toContainText("The file was not opened");
    await expect(said).toBeEmpty();
});

test("the field card is what is printed", async ({ bench }) => {
    await bench.emulateMedia({ media: "print" });
    await expect(bench.locator(".card")).toBeVisible();
    await expect(bench.locator(".card")).toContainText("Hold temperatures");
    await expect(bench.locator(".card")).toContainText("What would help");
    await expect(bench.locator(".card")).toContainText("from estimates, not a measurement");
    await expect(bench.locator("main")).toBeHidden();
    await expect(bench.locator(".foot")).toBeHidden();
});

test("the field card of every example is one A5 page, dated", async ({ browser, server }) => {
    test.setTimeout(240_000);
    const folder = join(SITE, "../presets/setups");
    for (const file of readdirSync(folder)) {
        const setup = JSON.parse(readFileSync(join(folder, file), "utf8")) as { name: string };
        const page = await browser.newPage();
        await putOnPhone(page, setup);
        await page.goto(server.url);
        await settled(page);
        // the code comes last, once the link of this very setup is known
        await expect(page.locator(".card .qr")).toBeAttached({ timeout: 30_000 });
        await expect(page.locator(".card h2")).toHaveText(setup.name);
        await expect(page.locator(".card header")).toContainText(String(new Date().getFullYear()));
        const paper = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
        const boxes = [...paper.matchAll(/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/g)];
        expect(paper.match(/\/Type\s*\/Page\b/g), `${file}: pages`).toHaveLength(1);
        // ISO 216: A5 is 148 mm x 210 mm; the browser rounds to whole CSS pixels
        expect(Math.abs(Number(boxes[0]?.[1]) - (148 / 25.4) * 72), file).toBeLessThan(1);
        expect(Math.abs(Number(boxes[0]?.[2]) - (210 / 25.4) * 72), file).toBeLessThan(1);
        await page.close();
    }
});

/** Each thing that ships, with its holder and the words that go with every copy. */
async function hasLicences(page: Page): Promise<void> {
    await page.getByText("Licences", { exact: true }).click();
    const licences = page.getByLabel("Licences", { exact: true });
    for (const name of [
        "Hotband",
        "preact",
        "uplot",
        "lean-qr",
        "Eigen",
        "nlohmann-json",
        "musl",
    ]) {
        await expect(licences).toContainText(new RegExp(`${name}\n=+\n\n.*Licen[sc]e`, "i"));
    }
    await expect(licences).toContainText("Mozilla Public License 2.0");
    await expect(licences).toContainText("copyright notice and this permission notice shall be");
}

test("the licences of what ships are on the page, without a signal as well", async ({
    bench,
    server,
    complaints,
}) => {
    await expect(bench.getByText(KEPT)).toBeVisible({ timeout: 30_000 });
    await hasLicences(bench);
    await server.stop();
    await bench.reload();
    await hasLicences(bench);
    complaints.length = 0;
    await bench.goto(`${server.url}licences.txt`);
    await expect(bench.getByText("Mozilla Public License 2.0")).toBeVisible();
    complaints.length = 0;
});

test("the one-file page opens from a memory card", async ({ browser }) => {
    const file = join(SITE, "dist-single/hotband.html");
    test.skip(!existsSync(file), "the one-file page is not built");
    const context = await browser.newContext({ offline: true });
    const page = await context.newPage();
    const complaints: string[] = [];
    page.on("console", (message) => complaints.push(message.text()));
    page.on("pageerror", (error) => complaints.push(error.message));
    await page.goto(pathToFileURL(file).href);
    await openExample(page);
    await page.getByRole("button", { name: "Cells in series: more" }).click();
    await settled(page);
    await expect(page).toHaveURL(/#HB/);
    const cells = await page.getByLabel("Cells in series", { exact: true }).inputValue();
    await page.reload();
    await expect(page.getByLabel("Cells in series", { exact: true })).toHaveValue(cells);
    await hasLicences(page);
    expect(complaints).toEqual([]);
    await context.close();
});
