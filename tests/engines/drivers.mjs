// How are three browser engines driven alike? Chromium and Firefox by puppeteer-core (DevTools protocol and
// WebDriver BiDi), WebKit by its own WebDriver under a display of our own. Each gives the same few calls;
// after `renew` the browser was never anywhere and has the usual window, whatever came before.

import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import puppeteer from "puppeteer-core";

/** px; WebKitGTK's window is never narrower than 447. */
const WIDTH = 360;
const HEIGHT = 800;

export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

async function freePort() {
    const server = createServer().listen(0, "127.0.0.1");
    await new Promise((done) => server.once("listening", done));
    const { port } = server.address();
    await new Promise((done) => server.close(done));
    return port;
}

async function byPuppeteer(name, options) {
    const browser = await puppeteer.launch({ headless: true, ...options });
    let context;
    let page;
    async function renew() {
        await context?.close();
        context = await browser.createBrowserContext();
        page = await context.newPage();
        await page.setViewport({ width: WIDTH, height: HEIGHT });
    }
    await renew();
    const element = async (selector) => {
        const found = await page.$(selector);
        if (!found) throw new Error(`nothing at ${selector}`);
        return found;
    };
    return {
        name,
        version: await browser.version(),
        renew,
        open: (url) => page.goto(url),
        reload: () => page.reload(),
        back: () => page.goBack({ waitUntil: [] }).catch(() => undefined),
        resize: (width, height) => page.setViewport({ width, height }),
        run: (call, ...words) => page.evaluate(call, ...words),
        inject: (source) => page.evaluate(source),
        click: async (selector) => (await element(selector)).click(),
        type: (text) => page.keyboard.type(text),
        enter: () => page.keyboard.press("Enter"),
        upload: async (selector, path) => (await element(selector)).uploadFile(path),
        close: () => browser.close(),
    };
}

export const chromium = () =>
    byPuppeteer("Chromium", {
        browser: "chrome",
        executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
        args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--lang=en-GB"],
    });

export const firefox = () =>
    byPuppeteer("Firefox", {
        browser: "firefox",
        executablePath: process.env.FIREFOX ?? "/usr/bin/firefox-esr",
        extraPrefsFirefox: { "intl.accept_languages": "en-GB" },
    });

const MINI_BROWSERS = ["4.1", "4.0"].flatMap((version) =>
    ["x86_64", "aarch64"].map(
        (cpu) => `/usr/lib/${cpu}-linux-gnu/webkit2gtk-${version}/MiniBrowser`,
    ),
);
const ENTER = "\uE007";
/** No request of a scenario takes longer; a browser that hangs fails what it was asked. */
const REQUEST_MS = 30_000;
const ELEMENT = "element-6066-11e4-a52e-4f735466cecf";

export async function webkit() {
    const display = `:${90 + (process.pid % 400)}`;
    const screen = spawn("Xvfb", [display, "-screen", "0", "1400x1000x24", "-nolisten", "tcp"], {
        stdio: "ignore",
    });
    const binary = process.env.WEBKIT ?? MINI_BROWSERS.find((path) => existsSync(path));
    const wish = { "webkitgtk:browserOptions": { binary, args: ["--automation"] } };

    let version = "";
    let address = "";
    let end = () => undefined;
    async function ask(method, path, body) {
        const response = await fetch(`${address}${path}`, {
            method,
            signal: AbortSignal.timeout(REQUEST_MS),
            ...(body && { body: JSON.stringify(body) }),
        });
        const { value } = await response.json();
        if (value?.error) throw new Error(`${value.error}: ${value.message}`);
        return value;
    }
    const rect = (width, height) => ask("POST", "/window/rect", { x: 0, y: 0, width, height });
    async function renew() {
        end();
        const home = mkdtempSync(join(tmpdir(), "hotband-webkit-"));
        const env = { ...process.env, DISPLAY: display, LANG: "en_US.UTF-8", HOME: home };
        const port = await freePort();
        // a group of its own: an engine that hangs ends with its driver
        const server = spawn("WebKitWebDriver", [`--port=${port}`], {
            env,
            stdio: "ignore",
            detached: true,
        });
        end = () => {
            end = () => undefined;
            if (server.pid) process.kill(-server.pid, "SIGKILL");
            rmSync(home, { recursive: true, force: true, maxRetries: 20 });
        };
        address = `http://127.0.0.1:${port}`;
        const ends = Date.now() + REQUEST_MS;
        let made;
        while (!made) {
            await pause(100);
            made = await ask("POST", "/session", { capabilities: { alwaysMatch: wish } }).catch(
                (cause) => {
                    if (Date.now() > ends) throw cause;
                },
            );
        }
        address += `/session/${made.sessionId}`;
        version = made.capabilities.browserVersion ?? "";
        await ask("POST", "/timeouts", { script: 60_000, pageLoad: 60_000 });
        await rect(WIDTH, HEIGHT + 50);
    }
    const element = async (selector) => {
        const found = await ask("POST", "/element", { using: "css selector", value: selector });
        return `/element/${found[ELEMENT]}`;
    };
    const keys = (text) =>
        ask("POST", "/actions", {
            actions: [
                {
                    type: "key",
                    id: "keys",
                    actions: [...text].flatMap((value) => [
                        { type: "keyDown", value },
                        { type: "keyUp", value },
                    ]),
                },
            ],
        });
    const close = () => {
        end();
        screen.kill();
    };
    await renew().catch((cause) => {
        close();
        throw cause;
    });
    return {
        name: "WebKitGTK",
        version,
        renew,
        open: (url) => ask("POST", "/url", { url }),
        reload: () => ask("POST", "/refresh", {}),
        back: () => ask("POST", "/back", {}),
        resize: rect,
        async run(call, ...words) {
            const script = `const done = arguments[arguments.length - 1];
                const words = [...arguments].slice(0, -1);
                Promise.resolve().then(() => (${call})(...words))
                    .then((ok) => done({ ok }), (cause) => done({ cause: String(cause) }));`;
            const { ok, cause } = await ask("POST", "/execute/async", { script, args: words });
            if (cause) throw new Error(cause);
            return ok;
        },
        inject: (source) => ask("POST", "/execute/sync", { script: source, args: [] }),
        click: async (selector) => ask("POST", `${await element(selector)}/click`, {}),
        type: keys,
        enter: () => keys(ENTER),
        upload: async (selector, path) =>
            ask("POST", `${await element(selector)}/value`, { text: path }),
        close: async () => close(),
    };
}
