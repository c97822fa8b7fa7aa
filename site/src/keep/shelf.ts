// Where is something laid down so that neither a closed tab nor an empty battery takes it? In two places:
// localStorage at once, which other tabs see, and IndexedDB a moment later, which outlives a killed browser
// and holds more. Of the two the newer one counts. A browser that keeps nothing loses only that.

interface Entry {
    at: number;
    value: unknown;
}

const NAME = "hotband";
const STORE = "kept";
/** A browser's database may never answer: the page does not wait for that. */
const PATIENCE_MS = 800;

/** `otherwise` in place of what does not come in time. */
const inTime = <T>(one: Promise<T>, otherwise: T): Promise<T> =>
    Promise.race([one, new Promise<T>((done) => setTimeout(() => done(otherwise), PATIENCE_MS))]);

const shelf = new Map<string, Entry>();
let database: IDBDatabase | undefined;

const answered = <T>(request: IDBRequest<T>): Promise<T> =>
    new Promise((done, failed) => {
        request.onsuccess = () => done(request.result);
        request.onerror = () => failed(request.error);
    });

async function openDatabase(): Promise<IDBDatabase> {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE);
    return answered(request);
}

function inLocal(key: string): Entry | undefined {
    try {
        const text = localStorage.getItem(`${NAME}.${key}`);
        if (text === null) return undefined;
        const at = Number(localStorage.getItem(`${NAME}.${key}.at`)) || 0;
        return { at, value: JSON.parse(text) };
    } catch {
        return undefined;
    }
}

function toLocal(key: string, { at, value }: Entry): boolean {
    try {
        localStorage.setItem(`${NAME}.${key}`, JSON.stringify(value));
        localStorage.setItem(`${NAME}.${key}.at`, String(at));
        return true;
    } catch {
        return false;
    }
}

async function toDatabase(key: string, entry: Entry): Promise<boolean> {
    if (!database) return false;
    try {
        const change = database.transaction(STORE, "readwrite");
        change.objectStore(STORE).put(entry, key);
        change.commit?.();
        const done = new Promise<boolean>((said) => {
            change.oncomplete = () => said(true);
            change.onabort = change.onerror = () => said(false);
        });
        return await inTime(done, false);
    } catch {
        return false;
    }
}

function take(key: string, entry: Entry | undefined): void {
    const before = shelf.get(key);
    if (entry && (!before || entry.at > before.at)) shelf.set(key, entry);
}

/** Reads what is kept. `keys` are those that may be in localStorage. */
export async function openShelf(keys: readonly string[]): Promise<void> {
    for (const key of keys) take(key, inLocal(key));
    addEventListener("storage", ({ key }) => {
        const name = key?.slice(NAME.length + 1).replace(/\.at$/, "");
        if (name !== undefined && keys.includes(name)) take(name, inLocal(name));
    });
    const read = async (): Promise<void> => {
        database = await openDatabase();
        // a newer page that wants to change the database is not kept waiting by this one
        database.onversionchange = () => database?.close();
        const store = database.transaction(STORE).objectStore(STORE);
        await Promise.all(
            keys.map(async (key) => take(key, (await answered(store.get(key))) as Entry)),
        );
    };
    await inTime(
        read().catch(() => undefined),
        undefined,
    );
}

export const onShelf = (key: string): unknown => shelf.get(key)?.value;

/** Lays a value down: in localStorage before this returns. The promise is whether it is kept anywhere. */
export async function layDown(key: string, value: unknown): Promise<boolean> {
    const at = Math.max(Date.now(), (shelf.get(key)?.at ?? 0) + 1);
    const entry = { at, value };
    shelf.set(key, entry);
    const local = toLocal(key, entry);
    return (await toDatabase(key, entry)) || local;
}
