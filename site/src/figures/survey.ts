// When is a survey made? Once the whole answer stands and the survey's place is seen; an older one stays on the
// page until the new one is there.

import type { RefObject } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import type { Ask } from "../core/survey";
import { useEditing } from "../form/editing";
import { useSeen } from "../sections/later";
import { valueAt } from "../setup/json";

type Survey<T> = (
    good: Good,
    ask: Ask,
    live: () => boolean,
    air_C: number,
) => Promise<T | undefined>;

export interface Surveyed<T> {
    value: T;
    good: Good;
    air_C: number;
}

/** The newest survey, and whether it is behind the answer it is to go with. */
export function useSurvey<T>(
    door: Door,
    good: Good,
    survey: Survey<T>,
): { box: RefObject<HTMLDivElement | null>; made: Surveyed<T> | undefined; behind: boolean } {
    const box = useRef<HTMLDivElement>(null);
    const seen = useSeen(box);
    const { table } = useEditing();
    const [made, setMade] = useState<Surveyed<T>>();
    const [tried, setTried] = useState<Good>();

    useEffect(() => {
        if (!good.settled || !seen || tried === good) return;
        let live = true;
        const ask: Ask = async (setup, draws) => {
            const answer = await door.adviseAside(setup, draws);
            return "ok" in answer ? answer.ok : undefined;
        };
        const key = "air.temperature_C";
        const air_C = Number(valueAt(good.setup, key) ?? table.find(key)?.default);
        void survey(good, ask, () => live, air_C)
            // the core itself says elsewhere that it failed
            .catch(() => undefined)
            .then((value) => {
                if (!live) return;
                if (value !== undefined) setMade({ value, good, air_C });
                setTried(good);
            });
        return () => void (live = false);
    }, [door, good, survey, seen]);

    return { box, made, behind: seen && tried !== good };
}
