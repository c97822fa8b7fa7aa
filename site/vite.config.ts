// How is the page built? Hashed files that work from any folder, and a service worker that keeps them.

import { defineConfig } from "vite";
import { preloadCore } from "./tools/preload.ts";
import { strictCsp } from "./tools/csp.ts";
import { keepFiles } from "./tools/keep.ts";
import { licences } from "./tools/licences.ts";

export default defineConfig({
    base: "./",
    // the core's page.wasm lies in public/ but is imported, so that its name carries its hash
    publicDir: "static",
    build: { target: "es2022", modulePreload: { polyfill: false }, assetsInlineLimit: 0 },
    worker: { format: "es" },
    plugins: [preloadCore(), strictCsp(), licences(), keepFiles("src/keep/sw.ts")],
});
