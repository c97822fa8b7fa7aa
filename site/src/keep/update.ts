// How does the page work without a signal and renew itself? A service worker keeps every file (sw.ts); a
// newer one waits until the pilot says so.

export interface UpdateNews {
    /** every file is kept: works without a signal from now on */
    onKept: () => void;
    /** a newer page waits; `use` reloads with it */
    onNewer: (use: () => void) => void;
}

/** What a waiting worker listens to, of this version and of those before. */
const TAKE_OVER = { type: "SKIP_WAITING" };

export function watchUpdates({ onKept, onNewer }: UpdateNews): void {
    const workers: ServiceWorkerContainer | undefined = navigator.serviceWorker;
    // a first visit is not renewed by the worker that it installs
    const renewable = Boolean(workers?.controller);
    if (renewable) workers.addEventListener("controllerchange", () => location.reload());
    void workers?.ready.then(onKept);
    // without a worker the page is read anew from its server each time
    void workers?.register("sw.js").then(
        (registration) => {
            const tell = (): void => {
                const { waiting } = registration;
                if (renewable && waiting) onNewer(() => waiting.postMessage(TAKE_OVER));
            };
            tell();
            registration.addEventListener("updatefound", () =>
                registration.installing?.addEventListener("statechange", tell),
            );
        },
        () => undefined,
    );
}
