// How is the page built as ONE file that opens from a memory card? Everything inlined; what needs a
// server (service worker, files beside the page) is left out.

import { renameSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { defineConfig, type Plugin } from "vite";
import { viteSingleFile } from "vite-plugin-singlefile";
import { strictCspOfOneFile } from "./tools/csp.ts";
import { licences } from "./tools/licences.ts";

/** Modules that have a version of their own for the one-file build, beside them. */
const REPLACED = /\/(licences|start-worker|update)$/;

const inlineVersions = (): Plugin => ({
    name: "inline-versions",
    enforce: "pre",
    resolveId(source, importer) {
        if (!importer || !REPLACED.test(source)) return null;
        return fileURLToPath(new URL(`${source}.inline.ts`, `file://${importer}`));
    },
});

/** Links to files that do not exist beside the one file. */
const withoutFiles = (): Plugin => ({
    name: "without-files",
    transformIndexHtml: (html) =>
        html.replace(/\s*<link rel="(icon|apple-touch-icon|manifest)"[^>]*>/g, ""),
});

const FOLDER = "dist-single";

/** A name that says on a memory card what it is. */
const named = (name: string): Plugin => ({
    name: "named",
    closeBundle: () => renameSync(`${FOLDER}/index.html`, `${FOLDER}/${name}`),
});

export default defineConfig({
    base: "./",
    publicDir: false,
    build: {
        target: "es2022",
        modulePreload: { polyfill: false },
        assetsInlineLimit: () => true,
        outDir: FOLDER,
    },
    worker: { format: "iife" },
    plugins: [
        inlineVersions(),
        licences(),
        withoutFiles(),
        viteSingleFile(),
        strictCspOfOneFile(),
        named("hotband.html"),
    ],
});
