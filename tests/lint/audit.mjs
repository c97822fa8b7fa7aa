// Can what npm brings be trusted? Every package of both lock files has a hash that it is held against, and none
// that ships or builds the page has a known hole of high severity. Where the registry cannot be asked,
// that is said, and is no failure: a test must pass without a signal.
//   node tests/lint/audit.mjs

import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";

const ROOT = join(import.meta.dirname, "../..");

/** Names of packages that npm could not hold against a hash. */
export const withoutHash = (lock) =>
    Object.entries(lock.packages)
        .filter(([path, entry]) => path !== "" && !entry.link && !/^sha512-/.test(entry.integrity))
        .map(([path]) => path);

/** What an audit's answer says: holes as `name: severity`, or why there is none. */
export function holesIn(answer) {
    let read;
    try {
        read = JSON.parse(answer);
    } catch {
        return { unasked: "npm gave no answer" };
    }
    if (!read.vulnerabilities) return { unasked: read.message ?? "npm gave no answer" };
    return {
        holes: Object.entries(read.vulnerabilities)
            .filter(([, { severity }]) => ["high", "critical"].includes(severity))
            .map(([name, { severity }]) => `${name}: ${severity}`),
    };
}

const audit = (folder) =>
    spawnSync("npm", ["audit", "--json", "--fetch-retries=0", "--fetch-timeout=20000"], {
        cwd: folder,
        encoding: "utf8",
    }).stdout;

function main() {
    const counts = { passed: 0, failed: 0 };
    const count = (what, bad) => {
        counts[bad.length > 0 ? "failed" : "passed"] += 1;
        console.log(`${bad.length > 0 ? "not ok" : "ok"}  ${what}`);
        for (const one of bad) console.log(`    ${one}`);
    };
    for (const folder of ["site", "tests/engines"]) {
        const lock = JSON.parse(readFileSync(join(ROOT, folder, "package-lock.json"), "utf8"));
        count(`${folder}: every package has its hash`, withoutHash(lock));
        const { holes, unasked } = holesIn(audit(join(ROOT, folder)));
        if (unasked)
            console.log(`NOT AUDITED  ${folder}: the registry could not be asked: ${unasked}`);
        else count(`${folder}: no known hole of high severity`, holes);
    }
    console.log(`${counts.passed} passed, ${counts.failed} failed`);
    process.exitCode = counts.failed > 0 ? 1 : 0;
}

if (process.argv[1] === import.meta.filename) main();
