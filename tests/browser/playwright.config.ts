// How are the browser tests run? `npm --prefix site run test:browser`, after the page has been built,
// in the machine's own Chromium without its windows, which takes a fifth less (CHROMIUM names another
// one). The three engines and Lighthouse take the whole one.

import { defineConfig } from "@playwright/test";

export default defineConfig({
    testDir: ".",
    outputDir: "../../test-results/browser",
    workers: 2,
    timeout: 60_000,
    expect: { timeout: 15_000 },
    reporter: [["list"]],
    use: {
        viewport: { width: 360, height: 800 },
        hasTouch: true,
        isMobile: false,
        contextOptions: { reducedMotion: "reduce" },
        locale: "en-GB",
        launchOptions: {
            executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium-headless-shell",
            args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"],
        },
    },
});
