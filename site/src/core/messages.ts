// How do page and worker speak? A call is a message with a number, its name and its arguments; the answer carries
// the number back with a value or with what went wrong. A function as last argument stays on the page and is told
// how far the call is.

export interface Call {
    id: number;
    name: string;
    args: unknown[];
    tells: boolean;
}

type Reply = { id: number } & ({ value: unknown } | { error: string } | { told: unknown });

type Calls = Record<string, (...args: never[]) => unknown>;

export type Caller<C extends Calls> = <K extends keyof C & string>(
    name: K,
    ...args: Parameters<C[K]>
) => Promise<Awaited<ReturnType<C[K]>>>;

/** What went wrong, in words. */
export const messageOf = (cause: unknown): string =>
    cause instanceof Error ? cause.message : String(cause);

/** On the page: calls into a worker. One that ends answers nothing any more: its open calls fail, and `onEnd` is
 *  told. */
export function callsTo<C extends Calls>(worker: Worker, onEnd: () => void): Caller<C> {
    interface Open {
        done: (value: never) => void;
        failed: (cause: Error) => void;
        tell: ((told: unknown) => void) | undefined;
    }
    const open = new Map<number, Open>();
    let last = 0;
    let ended: Error | undefined;
    worker.addEventListener("message", ({ data }: MessageEvent<Reply>) => {
        const call = open.get(data.id);
        if (!call) return;
        if ("told" in data) return call.tell?.(data.told);
        open.delete(data.id);
        if ("error" in data) call.failed(new Error(data.error));
        else call.done(data.value as never);
    });
    worker.addEventListener("error", ({ message }) => {
        const cause = (ended = new Error(message || "its script did not arrive"));
        worker.terminate();
        onEnd();
        open.forEach((call) => call.failed(cause));
        open.clear();
    });
    return (name, ...args) =>
        new Promise((done, failed) => {
            if (ended) return failed(ended);
            const id = (last += 1);
            const end: unknown = args.at(-1);
            const tell = typeof end === "function" ? (end as (told: unknown) => void) : undefined;
            open.set(id, { done, failed, tell });
            const sent = tell ? args.slice(0, -1) : args;
            worker.postMessage({ id, name, args: sent, tells: tell !== undefined } as Call);
        });
}

/** In the worker: answers them. */
export function answerWith(calls: Calls): void {
    const reply = (message: Reply): void => postMessage(message);
    addEventListener("message", ({ data: { id, name, args, tells } }: MessageEvent<Call>) => {
        const all = tells ? [...args, (told: unknown) => reply({ id, told })] : args;
        void (async () => {
            try {
                reply({ id, value: await calls[name]?.(...(all as never[])) });
            } catch (cause) {
                reply({ id, error: messageOf(cause) });
            }
        })();
    });
}
