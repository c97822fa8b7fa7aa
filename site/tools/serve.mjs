// Who serves the built page? A small file server for site/run and the tests: precompressed files where the
// browser takes them, the right types, hashed files for ever and the rest asked for anew.
//   node tools/serve.mjs FOLDER [PORT]

import { createHash } from "node:crypto";
import { readFileSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".png": "image/png",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
};

/** In the order of preference; made by pack.mjs. */
const PACKED = [
    ["br", ".br"],
    ["gzip", ".gz"],
];

const changed = (path) => statSync(path, { throwIfNoEntry: false })?.mtimeMs;

/** The packed file that the browser takes, unless the file itself is newer. */
function packedFor(file, accepted) {
    for (const [encoding, ending] of PACKED) {
        if (!accepted.includes(encoding)) continue;
        if ((changed(file + ending) ?? -1) >= changed(file)) return [encoding, file + ending];
    }
    return [undefined, file];
}

function answer(folder, request, response) {
    const path = normalize(decodeURIComponent(new URL(request.url, "http://page").pathname));
    const file = join(folder, path.endsWith("/") ? `${path}index.html` : path);
    if (!statSync(file, { throwIfNoEntry: false })?.isFile()) {
        response.writeHead(404, { "content-type": "text/plain" }).end("not here\n");
        return;
    }
    const accepted = (request.headers["accept-encoding"] ?? "").split(/[,\s;]+/);
    const [encoding, sent] = packedFor(file, accepted);
    const bytes = readFileSync(sent);
    const tag = `"${createHash("sha256").update(bytes).digest("base64url").slice(0, 22)}"`;
    const head = {
        "content-type": TYPES[extname(file)] ?? "application/octet-stream",
        // a hashed name never changes its content
        "cache-control": path.startsWith("/assets/")
            ? "public, max-age=31536000, immutable"
            : "no-cache",
        "x-content-type-options": "nosniff",
        "referrer-policy": "no-referrer",
        vary: "accept-encoding",
        etag: tag,
        ...(encoding && { "content-encoding": encoding }),
    };
    if (request.headers["if-none-match"] === tag) {
        response.writeHead(304, head).end();
        return;
    }
    response.writeHead(200, { ...head, "content-length": bytes.length });
    response.end(request.method === "HEAD" ? undefined : bytes);
}

/** Serves until stopped; port 0 is any free one. */
export async function serve(folder, port = 0) {
    const server = createServer((request, response) => {
        try {
            answer(folder, request, response);
        } catch {
            response.writeHead(400).end();
        }
    });
    await new Promise((done, failed) => {
        server.once("error", failed);
        server.listen(port, "127.0.0.1", done);
    });
    return {
        url: `http://localhost:${server.address().port}/`,
        stop: () =>
            new Promise((done) => {
                server.closeAllConnections();
                server.close(() => done());
            }),
    };
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
    const [folder = "dist", port = "4173"] = process.argv.slice(2);
    const { url } = await serve(resolve(folder), Number(port)).catch(() => serve(resolve(folder)));
    console.log(`  ${url}`);
}
