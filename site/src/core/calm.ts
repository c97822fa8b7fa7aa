// When is an entry said to be wrong? Not while it is being typed: a rest after the last key. What was said of
// it before stays that long, and a question just answered is no longer open, whatever the last answer said.

import { useEffect, useRef, useState } from "preact/hooks";
import { valueAt, type JsonObject } from "../setup/json";
import type { Problem } from "./door";

/** Rest after a key, ms: longer than from one digit to the next. */
const REST_MS = 700;

export interface Typed {
    path: string;
    /** performance.now() */
    at: number;
}

/** `about` is the setup that `problems` speak of. */
export function useCalm(
    problems: Problem[],
    about: JsonObject | undefined,
    setup: JsonObject,
    typed: Typed | undefined,
): Problem[] {
    // entries that are said to be wrong, not those that are only open
    const wrong = useRef(new Set<string>());
    const [, wake] = useState(0);
    const rest = typed ? typed.at + REST_MS - performance.now() : 0;

    useEffect(() => {
        if (rest <= 0) return;
        const timer = setTimeout(() => wake((count) => count + 1), rest + 10);
        return () => clearTimeout(timer);
    }, [typed, problems]);

    const isTyped = ({ path }: Problem): boolean => rest > 0 && path === typed?.path;
    const isTold = ({ path }: Problem): boolean => valueAt(setup, path) !== undefined;
    const wasTold = ({ path }: Problem): boolean =>
        about === undefined || valueAt(about, path) !== undefined;
    const calm = problems.filter((one) => {
        if (isTyped(one)) return wrong.current.has(one.path);
        return about === setup || wasTold(one) || !isTold(one);
    });
    wrong.current = new Set(calm.filter(isTold).map(({ path }) => path));
    return calm;
}
