// Which files does the page keep for a field without a signal? All of the build, under a version that is made
// of them: written into the service worker, which so is another whenever one of them is.

import { createHash } from "node:crypto";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Plugin } from "vite";
import type { Kept } from "../src/keep/kept.ts";

const WORKER = "sw.js";
const PAGE = "index.html";

/** What is kept of a folder. */
export const kept = (folder: string): Kept => {
    const files = readdirSync(folder, { recursive: true, encoding: "utf8", withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
        .filter((file) => file !== WORKER)
        .sort();
    const all = createHash("sha256");
    for (const file of files) all.update(`${file}\n`).update(readFileSync(join(folder, file)));
    return {
        version: all.digest("hex").slice(0, 16),
        files: files.map((file) => (file === PAGE ? "./" : file)),
    };
};

/** Builds `source` as the service worker beside the page. */
export const keepFiles = (source: string): Plugin => {
    let folder = "";
    return {
        name: "keep-files",
        apply: "build",
        config: () => ({
            build: {
                rolldownOptions: {
                    input: { index: PAGE, sw: source },
                    output: {
                        entryFileNames: ({ name }) =>
                            name === "sw" ? WORKER : "assets/[name]-[hash].js",
                    },
                },
            },
        }),
        configResolved(config) {
            folder = join(config.root, config.build.outDir);
        },
        writeBundle() {
            const worker = join(folder, WORKER);
            const code = readFileSync(worker, "utf8");
            const list = `const KEPT=${JSON.stringify(kept(folder))};\n`;
            writeFileSync(worker, list + code);
        },
    };
};
