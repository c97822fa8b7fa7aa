// What may be entered, as the core says it: its field table, written down for the page, which is then drawn
// without waiting for the core.
//   node tools/fields.mjs MODULE FILE
import { readFileSync, writeFileSync } from "node:fs";
import { load } from "../../wasm/load.mjs";

const [module, file] = process.argv.slice(2);
const answer = (await load(readFileSync(module))).fields();
writeFileSync(file, JSON.stringify(answer.ok));
