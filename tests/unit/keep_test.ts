// What does the service worker keep? Every file of the build but itself, under a version that no change of any of
// them leaves as it is.

import assert from "node:assert/strict";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { kept } from "../../site/tools/keep.ts";

function built(files: Record<string, string>): ReturnType<typeof kept> {
    const folder = mkdtempSync(join(tmpdir(), "hotband-"));
    mkdirSync(join(folder, "assets"));
    for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
    const found = kept(folder);
    rmSync(folder, { recursive: true });
    return found;
}

const FILES = {
    "index.html": "page",
    "assets/index-1.js": "code",
    "icon.svg": "<svg/>",
    "sw.js": "",
};

test("every file is kept, the page as its folder, the worker not", () => {
    assert.deepEqual(built(FILES).files, ["assets/index-1.js", "icon.svg", "./"]);
});

test("a version is of what the files hold and are called, and of nothing else", () => {
    const { version } = built(FILES);
    assert.match(version, /^[0-9a-f]{16}$/);
    assert.equal(built(FILES).version, version);
    assert.equal(built({ ...FILES, "sw.js": "another" }).version, version);
    for (const file of ["index.html", "assets/index-1.js", "icon.svg"]) {
        assert.notEqual(built({ ...FILES, [file]: "changed" }).version, version, file);
    }
    const { "icon.svg": icon, ...others } = FILES;
    assert.notEqual(built({ ...others, "other.svg": icon }).version, version);
});
