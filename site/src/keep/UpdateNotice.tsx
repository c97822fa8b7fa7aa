// Is there a newer page? Says so and waits: entries are kept on the phone before it reloads.

import { useEffect, useState } from "preact/hooks";
import { watchUpdates } from "./update";

export function UpdateNotice() {
    const [offline, setOffline] = useState(false);
    const [use, setUse] = useState<() => void>();
    useEffect(
        () =>
            watchUpdates({
                onKept: () => setOffline(true),
                onNewer: (take) => setUse(() => take),
            }),
        [],
    );
    return (
        <>
            {use && (
                <div class="notice" role="status">
                    <p>A newer Hotband is here. Your entries stay.</p>
                    <button type="button" onClick={use}>
                        Use it
                    </button>
                    <button type="button" onClick={() => setUse(undefined)}>
                        Later
                    </button>
                </div>
            )}
            {offline && (
                <div class="notice" role="status">
                    <p>Kept on this phone: from now on it works without a signal.</p>
                    <button type="button" onClick={() => setOffline(false)}>
                        Close
                    </button>
                </div>
            )}
        </>
    );
}
