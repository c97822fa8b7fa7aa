// Which parts of the page have come yet? The form comes one paint after the first verdict, the pictures and the
// shelf once there is nothing else to do, so that nothing waits for them.

import { useEffect, useState } from "preact/hooks";
import { watchUpdates } from "./keep/update";
import { afterPaint, whenIdle } from "./sections/later";

export interface Parts {
    form: boolean;
    below: typeof import("./sections/below") | undefined;
    keeping: typeof import("./sections/Keep") | undefined;
    /** kept for the field: it opens without a network */
    offline: boolean;
    /** a newer page waits: how to use it */
    newer: (() => void) | undefined;
}

/** `started`: the page has answered, or has nothing to answer; `blank`: there is no model yet. */
export function useParts(started: boolean, blank: boolean): Parts {
    const [form, setForm] = useState(false);
    const [below, setBelow] = useState<Parts["below"]>();
    const [keeping, setKeeping] = useState<Parts["keeping"]>();
    const [offline, setOffline] = useState(false);
    const [newer, setNewer] = useState<() => void>();

    useEffect(() => afterPaint(() => setForm(true)), []);
    useEffect(() => {
        if (!started || blank) return;
        return whenIdle(() => void import("./sections/below").then(setBelow, () => undefined));
    }, [started, blank]);
    useEffect(() => {
        if (!started) return;
        return whenIdle(() => void import("./sections/Keep").then(setKeeping, () => undefined));
    }, [started]);
    // both the page and its copy for the field ask for the same slow line: the copy comes after
    useEffect(() => {
        if (!started) return;
        return watchUpdates({
            onKept: () => setOffline(true),
            onNewer: (use) => setNewer(() => use),
        });
    }, [started]);

    return { form, below, keeping, offline, newer };
}
