// How does the page work without a signal and renew itself? A service worker keeps every file; a newer
// one waits until the pilot says so.

import { registerSW } from "virtual:pwa-register";

export interface UpdateNews {
    /** every file is kept: works without a signal from now on */
    onKept: () => void;
    /** a newer page waits; `use` reloads with it */
    onNewer: (use: () => void) => void;
}

export function watchUpdates({ onKept, onNewer }: UpdateNews): void {
    const use = registerSW({ onNeedRefresh: () => onNewer(() => void use(true)) });
    void navigator.serviceWorker?.ready.then(onKept);
}
