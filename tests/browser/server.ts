// Who serves the page to the tests? A plain file server of our own, because tests stop it to be offline,
// and replace its files to be a newer version. It sends brotli, as a server on the net does.

import { createHash } from "node:crypto";
import { existsSync, readFileSync, statSync } from "node:fs";
import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import { extname, join, normalize } from "node:path";
import { brotliCompressSync } from "node:zlib";

const TYPES: Record<string, string> = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
};

export interface PageServer {
    url: string;
    stop: () => Promise<void>;
}

export async function serve(folder: string): Promise<PageServer> {
    const server = createServer((request, response) => {
        const path = normalize(new URL(request.url ?? "/", "http://page").pathname);
        const file = join(folder, path.endsWith("/") ? `${path}index.html` : path);
        if (!existsSync(file) || !statSync(file).isFile()) {
            response.writeHead(404).end();
            return;
        }
        const type = TYPES[extname(file)] ?? "application/octet-stream";
        const packed = type !== "image/png";
        response.writeHead(200, {
            "content-type": type,
            "cache-control": "no-cache",
            ...(packed && { "content-encoding": "br" }),
        });
        response.end(packed ? brotli(readFileSync(file)) : readFileSync(file));
    });
    await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
    const { port } = server.address() as AddressInfo;
    return { url: `http://localhost:${port}/`, stop: () => stopped(server) };
}

const known = new Map<string, Buffer>();

/** Packed once: the same bytes are asked for by every test. */
function brotli(bytes: Buffer): Buffer {
    const key = createHash("sha256").update(bytes).digest("hex");
    const packed = known.get(key) ?? brotliCompressSync(bytes);
    known.set(key, packed);
    return packed;
}

const stopped = (server: Server): Promise<void> =>
    new Promise((done) => {
        server.closeAllConnections();
        server.close(() => done());
    });
