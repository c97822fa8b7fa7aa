// What does an audit's answer say? Holes by name, or that nobody was asked.

import assert from "node:assert/strict";
import { test } from "node:test";
import { holesIn, withoutHash } from "./audit.mjs";

test("every package of a lock file wants a hash", () => {
    const lock = {
        packages: {
            "": { name: "page" },
            "node_modules/kept": { version: "1.0.0", integrity: "sha512-AA==" },
            "node_modules/weak": { version: "1.0.0", integrity: "sha1-AA==" },
            "node_modules/bare": { version: "1.0.0" },
        },
    };
    assert.deepEqual(withoutHash(lock), ["node_modules/weak", "node_modules/bare"]);
});

test("holes of high severity are named, lesser ones are not", () => {
    const found = (severity) => ({ name: "x", severity });
    const answer = {
        vulnerabilities: {
            a: found("moderate"),
            b: found("high"),
            c: found("critical"),
            d: found("low"),
        },
    };
    assert.deepEqual(holesIn(JSON.stringify(answer)), { holes: ["b: high", "c: critical"] });
    assert.deepEqual(holesIn('{"vulnerabilities":{}}'), { holes: [] });
});

test("an audit that could not be made says why", () => {
    assert.deepEqual(holesIn('{"message":"405 Method Not Allowed"}'), {
        unasked: "405 Method Not Allowed",
    });
    assert.deepEqual(holesIn(""), { unasked: "npm gave no answer" });
});
