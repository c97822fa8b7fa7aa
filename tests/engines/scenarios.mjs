// What must the page do in every engine? One list of scenarios, each a name and what is done and expected with
// a driver of drivers.mjs that was never anywhere. `only` names the engines that can measure it.

import { strict as assert } from "node:assert";
import { readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { pause } from "./drivers.mjs";

const SITE = new URL("../../site/", import.meta.url);
const AXE = readFileSync(new URL("node_modules/axe-core/axe.min.js", SITE), "utf8");
const ONE_FILE = new URL("dist-single/hotband.html", SITE);

const PATIENCE_MS = 30_000;
const ARRIVES_MS = 5000;

/** Waits until `call` in the page gives something true, and gives that. */
async function until(browser, what, call, ...words) {
    const end = Date.now() + PATIENCE_MS;
    for (;;) {
        const value = await browser.run(call, ...words).catch(() => undefined);
        if (value) return value;
        if (Date.now() > end) throw new Error(`waited in vain for ${what}`);
        await pause(80);
    }
}

/** Marks what a reader calls `name`, so that a driver finds it. Runs in the page. */
function mark(kind, name) {
    document.querySelectorAll("[data-found]").forEach((one) => one.removeAttribute("data-found"));
    const plain = (text) => text.replace(/\s+/g, " ").trim();
    const seen = (one) => one.getClientRects().length > 0;
    const called = (one) =>
        plain(
            one.getAttribute("aria-label") ?? one.labels?.[0]?.textContent ?? one.textContent ?? "",
        );
    const found = [...document.querySelectorAll(kind)].filter(seen).find((one) => {
        const own = called(one);
        return own === name || own.startsWith(`${name}…`);
    });
    found?.setAttribute("data-found", "");
    found?.scrollIntoView({ block: "center", behavior: "instant" });
    globalThis.touched = false;
    found?.addEventListener("click", () => (globalThis.touched = true), { once: true });
    return found !== undefined;
}
const FOUND = "[data-found]";

/** Whether the touch of what was marked reaches the page. */
async function arrives(browser) {
    const end = Date.now() + ARRIVES_MS;
    for (;;) {
        // a page that was left meanwhile has nothing to say of it
        const touched = await browser.run(() => globalThis.touched).catch(() => true);
        if (touched !== false) return true;
        if (Date.now() > end) return false;
        await pause(80);
    }
}

/** Counts as one touch. One that a driver loses on its way, so that no event comes of it, is done again and told
 *  of; what the page makes of one that arrives is the page's. */
async function tap(browser, kind, name) {
    browser.touches = (browser.touches ?? 0) + 1;
    for (let tries = 0; tries < 3; tries += 1) {
        await until(browser, `${kind} ${name}`, mark, kind, name);
        // where it lies under what stays on the screen it is brought out first
        await browser.click(FOUND);
        if (await arrives(browser)) return;
        console.log(`  ${browser.name} lost a touch of ${name}`);
    }
    throw new Error(`no touch of ${name} arrives`);
}
const button = (browser, name) => tap(browser, "button", name);
async function fill(browser, name, text) {
    await tap(browser, "input", name);
    await browser.run(() => document.activeElement.select?.());
    await browser.type(text);
}

const settled = (browser) =>
    until(
        browser,
        "the whole answer",
        () =>
            document.querySelector(".figures[aria-busy=false] .figures-level") &&
            !document.querySelector(".figures-peak")?.textContent.includes("…"),
    );
const drawn = (browser) =>
    until(
        browser,
        "everything drawn",
        () => document.querySelector("#keep") && !document.querySelector(".later[data-behind]"),
    );
const text = (browser, selector) =>
    browser.run((one) => document.querySelector(one)?.innerText ?? "", selector);
const value = (browser, id) => browser.run((one) => document.getElementById(one)?.value, id);

const formOf = (browser) =>
    until(
        browser,
        "the form",
        () => !!document.querySelector(".questions") && !!document.querySelector(".figures"),
    );

async function visit(browser, url) {
    await browser.open(url);
    await formOf(browser);
}
async function example(browser, url) {
    await visit(browser, url);
    await chooseExample(browser);
}
async function chooseExample(browser) {
    await tap(browser, ".examples summary", "Or see an example");
    await button(browser, "Draycart, tow plane");
    await settled(browser);
}

/** How far the page goes over its window once its layout is at rest. */
const over = (browser) =>
    browser.run(async () => {
        const frame = () => new Promise((done) => setTimeout(done, 50));
        const root = document.documentElement;
        const measure = () => `${root.scrollWidth} ${root.scrollHeight}`;
        for (let before = ""; before !== measure();) {
            before = measure();
            for (let i = 0; i < 5; i++) await frame();
        }
        return root.scrollWidth - root.clientWidth;
    });

async function axe(browser) {
    await browser.inject(AXE);
    return browser.run(async () => {
        const { violations } = await window.axe.run({
            resultTypes: ["violations"],
            runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
        });
        return violations.flatMap(({ id, nodes }) => nodes.map(({ html }) => `${id}: ${html}`));
    });
}

export const scenarios = [
    {
        name: "works with the server gone",
        async run(browser, { url, stop, start }) {
            await example(browser, url);
            await drawn(browser);
            await until(browser, "the page kept", () =>
                document.querySelector("#keep")?.innerText.includes("works without a signal"),
            );
            await stop();
            try {
                await browser.reload();
                await settled(browser);
                await fill(browser, "Capacity, mAh", "7000");
                await settled(browser);
            } finally {
                await start();
            }
        },
    },
    {
        name: "a first visit asks and claims nothing",
        async run(browser, { url }) {
            await visit(browser, url);
            await until(browser, "the count", () =>
                document.querySelector(".figures")?.innerText.includes("0 of 6"),
            );
            assert.equal(
                await browser.run(() => document.querySelectorAll(".figures-level").length),
                0,
            );
        },
    },
    {
        name: "six answers, a verdict, at most 12 touches",
        async run(browser, { url }) {
            await visit(browser, url);
            await tap(browser, "input", "Cells in series");
            await browser.type("6");
            await browser.enter();
            await browser.type("5000");
            await browser.enter();
            await browser.type("80");
            browser.touches += 2; // Enter twice
            await button(browser, "16 kHz");
            await tap(browser, "input", "Full-throttle current, A");
            await browser.type("78");
            await button(browser, "aerobatics");
            await settled(browser);
            assert.match(await text(browser, ".figures-level"), /fine|watch|stop/);
            assert.ok(browser.touches <= 12, `${browser.touches} touches`);
            const top = await browser.run(
                () => document.querySelector(".figures-peak").getBoundingClientRect().top,
            );
            assert.ok(top >= 0, `the peak lies at ${top}`);
        },
    },
    {
        name: "an entry survives a reload",
        async run(browser, { url }) {
            await example(browser, url);
            await fill(browser, "Capacity, mAh", "4321");
            await browser.reload();
            await until(
                browser,
                "the entry",
                () => document.getElementById("entry-pack-capacity_mAh")?.value === "4321",
            );
        },
    },
    {
        name: "a bad entry is marked and keeps the last answer",
        async run(browser, { url }) {
            await example(browser, url);
            const before = await text(browser, ".figures-row");
            await fill(browser, "ESC rating, A", "x400");
            const said = await until(
                browser,
                "the words",
                () => document.getElementById("entry-esc-rating_A-problem")?.innerText,
            );
            assert.match(said, /number from/);
            assert.equal(await text(browser, ".figures-row"), before);
        },
    },
    {
        name: "a decimal comma and kHz are taken",
        async run(browser, { url }) {
            await example(browser, url);
            await fill(browser, "Full-throttle current, A", "64,5");
            await fill(browser, "PWM frequency, kHz", "12,5");
            const setup = await until(browser, "the setup", () => {
                const { setup } = JSON.parse(localStorage.getItem("hotband.now"));
                return setup.esc.pwm_Hz === 12500 && setup;
            });
            assert.equal(setup.load.full_throttle_A, 64.5);
        },
    },
    {
        name: "an example is named, and one touch takes it back",
        async run(browser, { url }) {
            await example(browser, url);
            assert.match(await text(browser, ".headline-what"), /^Example/);
            await tap(browser, ".bar button", "Undo");
            await until(browser, "the empty model", () =>
                document.querySelector(".figures")?.innerText.includes("0 of 6"),
            );
        },
    },
    {
        name: "a link opens, a damaged one is refused",
        async run(browser, { url }) {
            await example(browser, url);
            await drawn(browser);
            const link = await until(
                browser,
                "the link",
                () => document.querySelector(".link input")?.value,
            );
            await browser.renew();
            await browser.open(link);
            await settled(browser);
            assert.equal(await value(browser, "entry-pack-capacity_mAh"), "8000");
            await until(browser, "the model kept", () =>
                localStorage.getItem("hotband.now")?.includes("8000"),
            );
            // WebKit hands what is kept to another process, which a page left at once may outrun.
            await pause(1000);
            await browser.open("about:blank");
            await browser.open(link.slice(0, -4));
            await until(browser, "the refusal", () =>
                document.querySelector(".bar")?.innerText.includes("not opened"),
            );
            await until(
                browser,
                "what was there before",
                () => document.getElementById("entry-pack-capacity_mAh")?.value === "8000",
            );
        },
    },
    {
        name: "degrees Fahrenheit agree with Celsius",
        async run(browser, { url }) {
            await example(browser, url);
            const peak = async () => parseInt(await text(browser, ".figures-peak b"), 10);
            const celsius = await peak();
            await browser.run(() => document.querySelectorAll(".foot input")[1].click());
            await until(browser, "deg F", () =>
                document.querySelector(".figures-peak b").innerText.includes("F"),
            );
            assert.equal(await peak(), Math.round(celsius * 1.8 + 32));
        },
    },
    {
        name: "nothing scrolls sideways, all unfolded, narrow",
        async run(browser, { url }) {
            await browser.resize(320, 850);
            await example(browser, url);
            await drawn(browser);
            await until(browser, "all folds open", () => {
                const closed = [...document.querySelectorAll("details:not([open], .help)")];
                closed.forEach((fold) => (fold.open = true));
                return closed.length === 0;
            });
            await drawn(browser);
            assert.equal(await over(browser), 0);
        },
    },
    {
        name: "the verdict stays in view in 300 px of height",
        async run(browser, { url }) {
            await example(browser, url);
            await browser.resize(447, 350);
            await until(browser, "the mark of little height", () =>
                document.documentElement.hasAttribute("data-low"),
            );
            await browser.run(() =>
                document.querySelector(".mix-row:last-child input").scrollIntoView({
                    block: "center",
                    behavior: "instant",
                }),
            );
            const box = await browser.run(() => {
                const { top, bottom } = document
                    .querySelector(".figures-peak")
                    .getBoundingClientRect();
                return { top, bottom, height: innerHeight };
            });
            assert.ok(box.top >= 0 && box.bottom <= box.height, JSON.stringify(box));
        },
    },
    {
        name: "the layout shifts less than 0.02 while typing",
        only: ["Chromium"],
        async run(browser, { url }) {
            await visit(browser, url);
            await browser.run(() => {
                window.shifted = 0;
                // whatever moves counts, also just after a key, which the browser's own sum leaves out
                new PerformanceObserver((list) => {
                    for (const { value } of list.getEntries()) window.shifted += value;
                }).observe({ type: "layout-shift", buffered: true });
            });
            await tap(browser, "input", "Cells in series");
            for (const answer of ["6", "5000", "80"]) {
                await browser.type(answer);
                await browser.enter();
            }
            const shifted = await browser.run(() => window.shifted);
            assert.ok(shifted < 0.02, `shifted ${shifted}`);
        },
    },
    {
        name: "axe finds nothing: empty, answered, a bad entry",
        async run(browser, { url }) {
            await visit(browser, url);
            assert.deepEqual(await axe(browser), []);
            await chooseExample(browser);
            await drawn(browser);
            assert.deepEqual(await axe(browser), []);
            await fill(browser, "ESC rating, A", "4000");
            await until(browser, "the problem", () => !!document.querySelector("#problems"));
            assert.deepEqual(await axe(browser), []);
        },
    },
    {
        name: "the pictures are drawn",
        async run(browser, { url }) {
            await example(browser, url);
            await drawn(browser);
            const inked = await browser.run(() =>
                [...document.querySelectorAll(".plot canvas")].map((canvas) => {
                    const { data } = canvas
                        .getContext("2d")
                        .getImageData(0, 0, canvas.width, canvas.height);
                    let count = 0;
                    for (let i = 3; i < data.length; i += 4) if (data[i] > 0) count += 1;
                    return count / (data.length / 4);
                }),
            );
            assert.ok(inked.length >= 4, `${inked.length} pictures`);
            for (const share of inked) assert.ok(share > 0.01, `inked ${inked}`);
        },
    },
    {
        name: "a change is tried and taken back",
        async run(browser, { url }) {
            await example(browser, url);
            await drawn(browser);
            const before = await text(browser, ".figures-row");
            await browser.run(() => document.querySelector(".changes button").click());
            await until(browser, "the tried one", () => !!document.querySelector(".tried li"));
            await settled(browser);
            assert.notEqual(await text(browser, ".figures-row"), before);
            await browser.run(() => document.querySelector(".tried button").click());
            await until(browser, "none tried", () => !document.querySelector(".tried li"));
            await settled(browser);
            assert.equal(await text(browser, ".figures-row"), before);
        },
    },
    {
        name: "a log gives a hold, a picture is refused in words",
        async run(browser, { url }) {
            await example(browser, url);
            await drawn(browser);
            const picture = join(tmpdir(), `hotband-${process.pid}.png`);
            writeFileSync(picture, readFileSync(new URL("static/icon-192.png", SITE)));
            await browser.upload(".log input[type=file]", picture);
            await until(browser, "the refusal", () =>
                document.querySelector(".log .problem")?.innerText.includes("no text"),
            );
            const rows = ["time_s,throttle_pct,current_A,voltage_V,esc_C"];
            for (let t = 0; t < 120; t += 0.5) {
                const on = t >= 10 && t < 100;
                rows.push([t, on ? 75 : 0, on ? 35 : 0, 38, (25 + 0.2 * t).toFixed(2)].join());
            }
            const log = join(tmpdir(), `hotband-${process.pid}.csv`);
            writeFileSync(log, rows.join("\n"));
            await browser.upload(".log input[type=file]", log);
            await button(browser, "Read the file");
            await until(
                browser,
                "the hold",
                () => !!document.querySelector('[aria-label="Add hold 1 to the readings"]'),
            );
            assert.equal(
                await browser.run(
                    () => document.querySelectorAll('[aria-label^="Add hold"]').length,
                ),
                1,
            );
        },
    },
    {
        name: "Back closes a sheet",
        async run(browser, { url }) {
            await example(browser, url);
            await button(browser, "Contents");
            await until(browser, "the sheet", () => !!document.querySelector("dialog[open]"));
            await browser.back();
            await until(browser, "the sheet closed", () => !document.querySelector("dialog[open]"));
            assert.equal(await value(browser, "entry-pack-capacity_mAh"), "8000");
        },
    },
    {
        name: "the one file opens from a memory card",
        async run(browser) {
            await browser.open(pathToFileURL(ONE_FILE.pathname).href);
            await formOf(browser);
            await chooseExample(browser);
            await settled(browser);
            await drawn(browser);
            assert.match(await text(browser, "#keep"), /no link leads to it/);
        },
    },
];
