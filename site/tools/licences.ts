// Under which licences is what ships? Ours, those of the packages that the page is built with, as they came with
// them, and those of what is compiled into the core (site/licences, from Debian's packages): one text,
// as a file beside the page or, in the one-file build, within it.

import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Plugin } from "vite";

const FILE = "licences.txt";
const MODULE = "virtual:licences";

const shipped = (root: string): [name: string, text: string][] => {
    const read = (...path: string[]): string => readFileSync(join(root, ...path), "utf8").trim();
    const { dependencies } = JSON.parse(read("package.json")) as { dependencies: object };
    const ofCore = readdirSync(join(root, "licences")).sort();
    return [
        ["Hotband", read("..", "LICENSE")],
        ...Object.keys(dependencies).map((name): [string, string] => [
            name,
            read("node_modules", name, "LICENSE"),
        ]),
        ...ofCore.map((file): [string, string] => [
            file.replace(/\.txt$/, ""),
            read("licences", file),
        ]),
    ];
};

/** A paragraph's lines as one: a phone breaks them where it has to. */
const unbroken = (text: string): string => text.replace(/(.{55,})\n(?=\S)/g, "$1 ");

const asText = (all: [string, string][]): string =>
    all
        .map(([name, text]) => `${name}\n${"=".repeat(name.length)}\n\n${unbroken(text)}\n`)
        .join("\n\n");

export const licences = (): Plugin => {
    let root = "";
    return {
        name: "licences",
        configResolved(config) {
            root = config.root;
        },
        resolveId: (id) => (id === MODULE ? `\0${MODULE}` : null),
        load: (id) =>
            id === `\0${MODULE}` ? `export default ${JSON.stringify(asText(shipped(root)))}` : null,
        generateBundle() {
            if ([...this.getModuleIds()].includes(`\0${MODULE}`)) return;
            this.emitFile({ type: "asset", fileName: FILE, source: asText(shipped(root)) });
        },
    };
};
