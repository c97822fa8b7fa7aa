// Where does the worker's script come from? From a file of its own; the one-file build puts
// start-worker.inline.ts in this file's place.

export const startWorker = (): Worker =>
    new Worker(new URL("./worker.ts", import.meta.url), { type: "module" });
