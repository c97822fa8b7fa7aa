// How does the page follow the setup? Each change is answered at once without the spread, then with
// it; an answer that a newer change has overtaken is dropped, and bad entries keep the last good one.

import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import type { JsonObject } from "../setup/json";
import type { Door, Problem } from "./door";
import { messageOf } from "./messages";
import type { Report } from "./report";

/** A report and the setup it answers. `settled` when it holds the spread. */
export interface Good {
    report: Report;
    setup: JsonObject;
    settled: boolean;
    /** of which of the models opened it is the answer */
    model: number;
}

interface Following {
    good: Good | undefined;
    problems: Problem[];
    /** the setup that was answered last, well or with problems */
    about: JsonObject | undefined;
    /** the core itself failed: what is said of it */
    failure: string | undefined;
}

/** What is said of a core that failed. */
export const stopped = (cause: unknown): string =>
    `The core stopped: ${messageOf(cause)}. The next change starts it anew.`;

/** Wait before the long answer, so that steps in quick succession cost short ones only. */
const REST_MS = 150;

const rest = (): Promise<void> => new Promise((done) => setTimeout(done, REST_MS));

/** Runs one at a time; of those that come meanwhile only the last is run. */
function latestOnly<T>(run: (value: T) => Promise<void>): (value: T) => void {
    let waiting: { value: T } | undefined;
    let running = false;
    return (value) => {
        waiting = { value };
        if (running) return;
        running = true;
        void (async () => {
            while (waiting) {
                const next = waiting.value;
                waiting = undefined;
                await run(next);
            }
            running = false;
        })();
    };
}

const asKnown = (good: Good | undefined): Following => ({
    good,
    problems: [],
    about: good?.setup,
    failure: undefined,
});

/** `model` counts the models opened: while this one has no answer, another one's never stands for it.
 *  `known`: an answer that needs no asking. `fallback` is answered first when the setup itself has bad
 *  entries and nothing good is known. */
export function useAnswer(
    door: Door,
    setup: JsonObject,
    model: number,
    known: Good | undefined,
    fallback?: JsonObject,
): Following {
    const [following, setFollowing] = useState<Following>(asKnown(known));
    const current = useRef(setup);
    current.current = setup;
    const opened = useRef(model);
    opened.current = model;

    const failed = (cause: unknown): void =>
        setFollowing((f) => ({ ...f, failure: stopped(cause) }));

    const ask = useMemo(() => {
        const isCurrent = (asked: JsonObject): boolean => current.current === asked;

        function answered(asked: JsonObject, report: Report, settled: boolean): void {
            const good = { report, setup: asked, settled, model: opened.current };
            setFollowing({ good, problems: [], about: asked, failure: undefined });
        }
        const askWhole = latestOnly(async (asked: JsonObject) => {
            try {
                if (!isCurrent(asked)) return;
                const whole = await door.adviseWhole(asked);
                if (isCurrent(asked) && "ok" in whole) answered(asked, whole.ok, true);
            } catch (cause) {
                failed(cause);
            }
        });
        return latestOnly(async (asked: JsonObject) => {
            try {
                const quick = await door.adviseQuick(asked);
                if (!isCurrent(asked)) return;
                if ("problems" in quick) {
                    const { problems } = quick;
                    setFollowing(({ good }) => ({
                        good: good?.model === opened.current ? good : undefined,
                        problems,
                        about: asked,
                        failure: undefined,
                    }));
                    return;
                }
                answered(asked, quick.ok, false);
                void rest().then(() => askWhole(asked));
            } catch (cause) {
                failed(cause);
            }
        });
    }, [door]);

    useEffect(() => {
        if (setup !== known?.setup) ask(setup);
        else {
            const again = asKnown({ ...known, model: opened.current });
            setFollowing((f) => (f.about === setup ? f : again));
        }
    }, [ask, setup, known]);

    const lost = following.good === undefined && following.problems.length > 0;
    useEffect(() => {
        if (!lost || !fallback || model > 0) return;
        void door.adviseWhole(fallback).then((answer) => {
            if ("problems" in answer) return;
            const good = { report: answer.ok, setup: fallback, settled: true, model };
            setFollowing((f) => (f.good ? f : { ...f, good }));
        }, failed);
    }, [door, lost, fallback]);

    return following;
}
