// Who serves the page to the tests? The server of site/run, because tests stop it to be offline, and replace
// its files to be a newer version.

import { join } from "node:path";
import { pathToFileURL } from "node:url";
import type { PageServer } from "../../site/tools/serve.mjs";

export type { PageServer } from "../../site/tools/serve.mjs";

type Serving = typeof import("../../site/tools/serve.mjs");

const FILE = join(__dirname, "../../site/tools/serve.mjs");

export async function serve(folder: string): Promise<PageServer> {
    // a module of the new kind, from a test runner that may hand out the old one
    const tools = (await import(pathToFileURL(FILE).href)) as Serving;
    return tools.serve(folder);
}
