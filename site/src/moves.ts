// What can the pilot do to the setup? Every change of it comes through here, with its way back and with what
// is said of it.

import { useCallback, useLayoutEffect, useRef, useState } from "preact/hooks";
import type { Good } from "./core/answer";
import type { Typed } from "./core/calm";
import type { Door } from "./core/door";
import type { FieldTable } from "./core/fields";
import { levelShown, type Change } from "./core/report";
import type { Editing } from "./form/editing";
import { nameOf } from "./form/places";
import { opened } from "./keep/back";
import { openFile } from "./keep/files";
import { openLink } from "./keep/link";
import { nameOfSetup } from "./keep/names";
import { keepBefore, type Tried } from "./keep/phone";
import type { Working } from "./keep/work";
import type { Said } from "./sections/Bar";
import type { Example } from "./setup/examples";
import {
    alike,
    inverse,
    isObject,
    merged,
    valueAt,
    withLater,
    withValue,
    type JsonObject,
} from "./setup/json";
import {
    emptySetup,
    isEmpty,
    isQuestion,
    otherAnswers,
    quickAnswers,
    withoutName,
} from "./setup/model";
import type { Wording } from "./words/scale";

export interface Moves extends Pick<Editing, "edit" | "measure"> {
    /** what was typed last, and when */
    typed: Typed | undefined;
    said: Said | undefined;
    unsay: () => void;
    /** of an example typed over: how many other answers wait for a decision */
    others: number | undefined;
    keepOthers: () => void;
    forgetOthers: () => void;
    back: () => void;
    begin: () => void;
    show: (example: Example) => void;
    replace: (next: JsonObject, from: string) => void;
    take: (link: string) => Promise<void>;
    takeFile: (text: string) => Promise<void>;
    attempt: (change: Change) => void;
    takeBack: (tried: Tried) => void;
}

interface About {
    door: Door;
    table: FieldTable;
    words: Wording;
    /** what is said at the start */
    said: Said | undefined;
}

/** The verdict over a setup, if this one has it: no name changes it. */
export const briefOf = (good: Good | undefined, setup: JsonObject) =>
    good && (good.setup === setup || alike(withoutName(good.setup), withoutName(setup)))
        ? { level: levelShown(good.report), peak_C: good.report.esc.peak_C.p50 }
        : null;

/** `good` is the answer on the page. */
export function useMoves(
    work: Working,
    good: Good | undefined,
    { door, table, words, said: first }: About,
): Moves {
    const { setup, example } = work.now;
    const [said, setSaid] = useState(first);
    const [asking, setAsking] = useState(false);
    const [typed, setTyped] = useState<Typed>();

    function back(only?: string): void {
        const text = work.undo(only);
        if (text === undefined) return;
        setAsking(false);
        setSaid({ text: `Taken back: ${text}.` });
    }
    /** Another model in place of this one, with a way back to it. */
    function replace(next: JsonObject, from: string, of?: string): void {
        if (!isEmpty(setup) && example === undefined) {
            const verdict = briefOf(good, setup);
            const name = nameOfSetup(setup);
            keepBefore({
                id: crypto.randomUUID?.() ?? name,
                name,
                setup,
                date: Date.now(),
                verdict,
            });
        }
        work.open(from, { setup: next, ...(of !== undefined && { example: of }) });
        setAsking(false);
        setSaid({ text: `${from}.`, back: true });
        opened(() => back(from));
        // another model is read from its beginning
        scrollTo(0, 0);
    }
    const edit = useCallback(
        (path: string, value: Parameters<Editing["edit"]>[1], done?: string): void => {
            const text = done ?? `${nameOf(path, table)} changed`;
            let asks = false;
            work.change(
                text,
                (now) => {
                    const next = withValue(now.setup, path, value);
                    const typedOver = now.example !== undefined && isQuestion(path, table, next);
                    asks = typedOver && otherAnswers(next, table).length > 0;
                    return {
                        setup: next,
                        unmeasured: now.unmeasured.filter((one) => one !== path),
                        ...(typedOver && !asks && { example: undefined, setup: withoutName(next) }),
                    };
                },
                done === undefined ? path : undefined,
            );
            if (asks) setAsking(true);
            setTyped(done === undefined ? { path, at: performance.now() } : undefined);
            setSaid(done === undefined ? undefined : { text: `${done}.`, back: true });
        },
        [table, work.change],
    );
    const measure = useCallback(
        (path: string, none: boolean): void => {
            work.change(`${nameOf(path, table)} not measured`, (now) => {
                const rest = now.unmeasured.filter((one) => one !== path);
                return {
                    setup: none
                        ? withLoad(withValue(now.setup, path, undefined), table)
                        : now.setup,
                    unmeasured: none ? [...rest, path] : rest,
                };
            });
            setSaid(undefined);
        },
        [table, work.change],
    );
    /** What is to become of an example's other answers. */
    function decide(text: string, next: (setup: JsonObject) => JsonObject): void {
        work.change(text, (now) => ({ setup: next(now.setup), example: undefined }));
        setAsking(false);
        setSaid({ text: `${text}.`, back: true });
    }
    function attempt({ id, text, patch }: Change): void {
        const change = patch as JsonObject;
        const done = `Tried: ${words.sentence(text)}`;
        work.change(done, (now) => {
            const next = asSetup(merged(now.setup, change));
            const rows = Array.isArray(next.measured) ? next.measured.length : 0;
            const back = inverse(now.setup, change);
            return {
                setup: next,
                tried: [...now.tried, { id: `${id}-${now.tried.length}`, text, back, rows }],
            };
        });
        setSaid({ text: done, back: true });
    }
    function takeBack(one: Tried): void {
        const done = `No longer tried: ${words.sentence(one.text)}`;
        work.change(done, (now) => {
            const next = asSetup(merged(now.setup, one.back));
            const replaced = "measured" in one.back && one.rows !== undefined;
            return {
                setup: replaced ? withLater(next, now.setup, "measured", one.rows ?? 0) : next,
                tried: now.tried.filter(({ id }) => id !== one.id),
            };
        });
        setSaid({ text: done, back: true });
    }
    async function take(text: string): Promise<void> {
        const answer = await openLink(door, text);
        if (answer.setup) replace(answer.setup, "Opened from the link");
        else setSaid({ text: answer.text });
    }
    async function takeFile(text: string): Promise<void> {
        const answer = await openFile(door, text);
        if (answer.setup) replace(answer.setup, "Opened from the file");
        else setSaid({ text: answer.text });
    }

    const replacing = useRef(replace);
    replacing.current = replace;
    const begin = useCallback(() => replacing.current(emptySetup, "A new model begun"), []);
    const show = useCallback(
        ({ name, setup: next }: Example) =>
            replacing.current(next, `Example opened: ${name}`, name),
        [],
    );

    // a setup that is gone from the screen takes its question with it
    const others = otherAnswers(setup, table).length;
    useLayoutEffect(() => {
        if (asking && (example === undefined || others === 0)) setAsking(false);
    }, [asking, example, others]);

    return {
        typed,
        said,
        unsay: () => setSaid(undefined),
        others: asking ? others : undefined,
        keepOthers: () => decide("The example’s other answers kept", withoutName),
        forgetOthers: () =>
            decide("The example’s other answers forgotten", (now) => quickAnswers(now, table)),
        back: () => back(),
        begin,
        show,
        replace,
        take,
        takeFile,
        edit,
        measure,
        attempt,
        takeBack,
    };
}

const asSetup = (value: unknown): JsonObject => (isObject(value) ? value : {});

/** A load told by its kind alone is still told: without it nothing would draw a current. */
function withLoad(setup: JsonObject, table: FieldTable): JsonObject {
    const kind = table.find("load.kind")?.default;
    return valueAt(setup, "load.kind") === undefined && typeof kind === "string"
        ? withValue(setup, "load.kind", kind)
        : setup;
}
