// What is kept for a field without a signal? Every file of the build, in a store of its own. A newer set of
// files is fetched whole beside the one in use and waits; it takes over when the pilot says so.

import type { Kept } from "./kept.ts";

declare const self: ServiceWorkerGlobalScope;
/** Written in by the build. */
declare const KEPT: Kept;

// One address may serve several pages, each under a path of its own.
const { scope } = self.registration;
const STORE = `${KEPT.version} ${scope}`;
const PAGE = "./";
// Hosts name headers that a file may differ by; ours never do.
const HOWEVER_SENT = { ignoreVary: true };

/** A hashed file never changes: one that is here, kept or in the browser's own cache, is the file. */
const fetchInto = async (store: Cache, file: string): Promise<void> => {
    const hashed = file.startsWith("assets/");
    const here = hashed ? await caches.match(file, HOWEVER_SENT) : undefined;
    if (here) return store.put(file, here);
    return store.add(new Request(file, { cache: hashed ? "default" : "no-cache" }));
};

const keepAll = async (): Promise<void> => {
    const store = await caches.open(STORE);
    await Promise.all(KEPT.files.map((file) => fetchInto(store, file)));
};

const dropOthers = async (): Promise<void> => {
    const others = (await caches.keys()).filter((name) => name.endsWith(scope) && name !== STORE);
    await Promise.all(others.map((name) => caches.delete(name)));
};

const answer = async (request: Request): Promise<Response> => {
    const store = await caches.open(STORE);
    const kept =
        (await store.match(request, HOWEVER_SENT)) ??
        (request.mode === "navigate" ? await store.match(PAGE, HOWEVER_SENT) : undefined);
    // a browser short of room may have dropped it
    return kept ?? fetch(request);
};

self.addEventListener("install", (event) => event.waitUntil(keepAll()));
self.addEventListener("activate", (event) => event.waitUntil(dropOthers()));
self.addEventListener("fetch", (event) => {
    const { request } = event;
    if (request.method === "GET" && request.url.startsWith(scope)) {
        event.respondWith(answer(request));
    }
});
self.addEventListener("message", (event) => {
    if (event.data?.type === "SKIP_WAITING") void self.skipWaiting();
});
