// What does the page weigh over the air? Every file of the build, brotli, and of these what the first answer
// needs; says how far both are from their goals and fails above a ceiling, which is what it is now and a little.
//   node tools/weigh.mjs FOLDER

import { readdirSync, readFileSync, statSync } from "node:fs";
import { join, relative } from "node:path";
import { brotliCompressSync } from "node:zlib";

const FIRST = {
    name: "for the first answer",
    has: (file) => /^(index\.html|assets\/(index|page|worker)-.*)$/.test(file),
    goal: 150_000,
    ceiling: 230_900,
};
const WHOLE = { name: "over the air", has: () => true, goal: 190_000, ceiling: 281_750 };

const folder = process.argv[2] ?? "dist";

const filesIn = (path) =>
    statSync(path).isDirectory()
        ? readdirSync(path).flatMap((name) => filesIn(join(path, name)))
        : [path];

const weights = new Map([
    [FIRST, 0],
    [WHOLE, 0],
]);
for (const file of filesIn(folder).sort()) {
    if (/\.(br|gz)$/.test(file)) continue;
    const bytes = readFileSync(file);
    // a server does not compress what is compressed already
    const sent = file.endsWith(".png") ? bytes.length : brotliCompressSync(bytes).length;
    const name = relative(folder, file);
    for (const [part, weight] of weights) if (part.has(name)) weights.set(part, weight + sent);
    console.log(`${String(sent).padStart(7)} of ${String(bytes.length).padStart(7)}  ${name}`);
}
for (const [{ name, goal, ceiling }, weight] of weights) {
    console.log(`${String(weight).padStart(7)} bytes ${name}, goal ${goal}, ceiling ${ceiling}`);
    if (weight > ceiling) {
        console.error(`The page is ${weight - ceiling} bytes over its ceiling ${name}.`);
        process.exitCode = 1;
    }
}
