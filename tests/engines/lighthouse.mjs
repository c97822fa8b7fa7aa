// How does Lighthouse mark the page on its emulated phone? Prints the marks beside their goals. The mark for
// speed hangs on how busy this machine is and is printed only; the other two must be full.

import { fileURLToPath } from "node:url";
import lighthouse from "lighthouse";
import puppeteer from "puppeteer-core";
import { serve } from "../../site/tools/serve.mjs";

const DIST = fileURLToPath(new URL("../../site/dist", import.meta.url));
const GOALS = { performance: 98, accessibility: 100, "best-practices": 100 };
const MUST = ["accessibility", "best-practices"];
const FIGURES = [
    "first-contentful-paint",
    "largest-contentful-paint",
    "total-blocking-time",
    "cumulative-layout-shift",
    "speed-index",
];

const server = await serve(DIST);
const browser = await puppeteer.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"],
});
const port = Number(new URL(browser.wsEndpoint()).port);
let passed = 0;
let failed = 0;
try {
    const result = await lighthouse(server.url, {
        port,
        logLevel: "error",
        onlyCategories: Object.keys(GOALS),
    });
    const { categories, audits } = result.lhr;
    for (const [name, goal] of Object.entries(GOALS)) {
        const mark = Math.round(100 * (categories[name].score ?? 0));
        console.log(`${name.padEnd(26)} ${String(mark).padStart(3)}, goal ${goal}`);
        if (mark >= goal) passed += 1;
        else if (MUST.includes(name)) failed += 1;
        for (const { id, weight } of mark === 100 ? [] : categories[name].auditRefs) {
            const { score, title, displayValue = "" } = audits[id];
            if (weight > 0 && score !== null && score < 0.9)
                console.log(`    ${title} ${displayValue}`);
        }
    }
    for (const id of FIGURES) console.log(`${id.padEnd(26)} ${audits[id].displayValue}`);
} finally {
    await browser.close();
    await server.stop();
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
