// What does the page weigh over the air? Every file of the build, brotli; says how far it is from the
// goal and fails above the ceiling, which is what it weighs now and a little.
//   node tools/weigh.mjs FOLDER

import { readdirSync, readFileSync, statSync } from "node:fs";
import { join, relative } from "node:path";
import { brotliCompressSync } from "node:zlib";

const GOAL_BYTES = 150_000;
const CEILING_BYTES = 266_600;

const folder = process.argv[2] ?? "dist";

const filesIn = (path) =>
    statSync(path).isDirectory()
        ? readdirSync(path).flatMap((name) => filesIn(join(path, name)))
        : [path];

let whole = 0;
for (const file of filesIn(folder).sort()) {
    if (/\.(br|gz)$/.test(file)) continue;
    const bytes = readFileSync(file);
    // a server does not compress what is compressed already
    const sent = file.endsWith(".png") ? bytes.length : brotliCompressSync(bytes).length;
    whole += sent;
    console.log(
        `${String(sent).padStart(7)} of ${String(bytes.length).padStart(7)}  ${relative(folder, file)}`,
    );
}
console.log(
    `${String(whole).padStart(7)} bytes over the air, goal ${GOAL_BYTES}, ceiling ${CEILING_BYTES}`,
);
if (whole > CEILING_BYTES) {
    console.error(`The page is ${whole - CEILING_BYTES} bytes over its ceiling.`);
    process.exit(1);
}
