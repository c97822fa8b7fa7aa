// How does the page travel lightly? Each file of the build beside itself as .br and .gz, packed as well as can
// be, once: any static host that knows them sends them as they are.
//   node tools/pack.mjs FOLDER

import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

/** A picture is packed already. */
const PACKS = /\.(html|js|css|wasm|svg|txt|webmanifest)$/;

const folder = process.argv[2] ?? "dist";

for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    if (!entry.isFile() || !PACKS.test(entry.name)) continue;
    const file = join(entry.parentPath ?? entry.path, entry.name);
    const bytes = readFileSync(file);
    const options = { params: { [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length } };
    writeFileSync(`${file}.br`, brotliCompressSync(bytes, options));
    writeFileSync(`${file}.gz`, gzipSync(bytes, { level: 9 }));
}
