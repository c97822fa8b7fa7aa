// What is the pilot at, and what was it a moment ago? The work with its steps back, kept at every change
// before anything is drawn.

import { useMemo, useRef, useState } from "preact/hooks";
import type { JsonObject } from "../setup/json";
import { keepNow, type Now, type Step, type Work } from "./phone";

export interface Working {
    now: Now;
    /** counts the models opened: an answer to one never stands over another */
    model: number;
    /** false once the browser has refused to keep something */
    kept: boolean;
    /** A change; `text` names the step back, `path` joins what is typed into one entry to one step. */
    change: (text: string, change: (work: Work) => Partial<Work>, path?: string) => void;
    /** Another model in place of this one. */
    open: (text: string, work: Partial<Work> & { setup: JsonObject }) => void;
    /** The last step back, or `only` this one; says what it took back. */
    undo: (only?: string) => string | undefined;
    /** What the page itself knows of the work: no step of the pilot's. */
    note: (known: Pick<Now, "good" | "link">) => void;
}

const workOf = ({ setup, example, tried, unmeasured }: Now): Work => ({
    setup,
    ...(example !== undefined && { example }),
    tried,
    unmeasured,
});

export function useWork(start: Now): Working {
    const [now, setNow] = useState(start);
    const [model, setModel] = useState(0);
    const [kept, setKept] = useState(true);
    const latest = useRef(start);

    const calls = useMemo(() => {
        function become(next: Now, byPilot = true): void {
            latest.current = next;
            void keepNow(next, byPilot).then(setKept);
            setNow(next);
        }
        function stepped(text: string, work: Work, path?: string): void {
            const before = latest.current;
            const top = before.undo.at(-1);
            const typedOn = path !== undefined && top?.path === path;
            const step: Step = { text, path, work: workOf(before) };
            const undo = typedOn ? before.undo : [...before.undo.slice(-19), step];
            become({ ...work, undo, good: before.good, link: before.link });
        }
        const note = (known: Pick<Now, "good" | "link">): void =>
            become({ ...latest.current, ...known }, false);
        return {
            change: (text, change, path) => {
                const work = workOf(latest.current);
                stepped(text, { ...work, ...change(work) }, path);
            },
            open: (text, work) => {
                setModel((count) => count + 1);
                note({ good: undefined, link: undefined });
                stepped(text, { tried: [], unmeasured: [], ...work });
            },
            undo: (only) => {
                const { undo } = latest.current;
                const step = undo.at(-1);
                if (!step || (only !== undefined && step.text !== only)) return undefined;
                setModel((count) => count + 1);
                become({ ...step.work, undo: undo.slice(0, -1) });
                return step.text;
            },
            note,
        } satisfies Omit<Working, "now" | "model" | "kept">;
    }, []);

    return { now, model, kept, ...calls };
}
