// Does the page work in three engines? Runs the list of scenarios.mjs in each, prints a table and the counts.
//   node run.mjs [ENGINE]...      all three, or those named: chromium firefox webkit

import { fileURLToPath } from "node:url";
import { serve } from "../../site/tools/serve.mjs";
import * as drivers from "./drivers.mjs";
import { scenarios } from "./scenarios.mjs";

const DIST = fileURLToPath(new URL("../../site/dist", import.meta.url));
const ENGINES = ["chromium", "firefox", "webkit"];

const wished = process.argv.slice(2);
const engines = wished.length > 0 ? ENGINES.filter((name) => wished.includes(name)) : ENGINES;

/** engine -> what came of each scenario */
const results = new Map();
let passed = 0;
let failed = 0;

/** The page that failed a scenario: its address, its figures, what it says, its text. */
const shown = (browser) =>
    browser
        .run(() => {
            const of = (selector) =>
                [...document.querySelectorAll(selector)].map((one) => one.outerHTML).join("\n");
            return `    at ${location.href}, ${document.visibilityState}
${of(".figures").slice(0, 2000)}\n${of("[role=alert]").slice(0, 1000)}
${document.body.innerText.slice(0, 2000)}`;
        })
        .catch((cause) => `    and the page does not answer: ${cause.message}`);

/** One engine through the list, on a server of its own. */
async function through(engine) {
    const column = [];
    const said = [];
    results.set(engine, column);
    let server = await serve(DIST);
    const { url } = server;
    const place = {
        url,
        stop: () => server.stop(),
        start: async () => (server = await serve(DIST, Number(new URL(url).port))),
    };
    let browser;
    try {
        browser = await drivers[engine]();
    } catch (cause) {
        console.log(`${engine} could not be started: ${cause.message}`);
        failed += 1;
        column.push(...scenarios.map(() => "not run"));
        await server.stop();
        return;
    }
    for (const { name, run, only } of scenarios) {
        if (only && !only.includes(browser.name)) {
            column.push("–");
            continue;
        }
        const began = Date.now();
        try {
            // whatever the scenario before did to the engine or left in it
            await browser.renew();
            browser.touches = 0;
            await run(browser, place);
            passed += 1;
            column.push(`${((Date.now() - began) / 1000).toFixed(1)} s`);
            said.push(`  ${name}: ${column.at(-1)}`);
        } catch (cause) {
            failed += 1;
            column.push("FAILED");
            said.push(`  ${name}: ${String(cause.message).slice(0, 2000)}`, await shown(browser));
        }
    }
    await browser.close().catch(() => undefined);
    await server.stop();
    console.log([`${browser.name} ${browser.version}`, ...said].join("\n"));
}

// One after another: side by side they take as long, and wait for each other.
for (const engine of engines) await through(engine);

const width = Math.max(...scenarios.map(({ name }) => name.length));
const line = (cells) => cells.map((cell, i) => cell.padEnd(i === 0 ? width : 10)).join("  ");
console.log(line(["", ...engines]));
scenarios.forEach(({ name }, i) =>
    console.log(line([name, ...engines.map((engine) => results.get(engine)[i] ?? "not run")])),
);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
