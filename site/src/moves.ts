// What can the pilot do to the setup? Every change of it comes through here, with its way back and with what
// is said of it.

import { useCallback, useLayoutEffect, useRef, useState } from "preact/hooks";
import { stopped, type Good } from "./core/answer";
import type { Typed } from "./core/calm";
import type { Door } from "./core/door";
import type { FieldTable } from "./core/fields";
import type { Change } from "./core/report";
import type { Editing } from "./form/editing";
import { nameOf } from "./form/places";
import { PWM_KEY } from "./form/PwmEntry";
import { opened } from "./keep/back";
import { openFile } from "./keep/files";
import { openLink } from "./keep/link";
import { freshId, nameOfSetup } from "./keep/names";
import { keep, keepBefore, kept, type Tried } from "./keep/phone";
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
    readBefore,
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
    /** says that the core did not answer */
    failed: (cause: unknown) => void;
    back: () => void;
    begin: () => void;
    show: (example: Example) => void;
    replace: (next: JsonObject, from: string) => void;
    take: (link: string) => void;
    takeFile: (text: string) => void;
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
        ? { level: good.report.verdict.level, peak_C: good.report.esc.peak_C.p50 }
        : null;

type Say = (said: Said | undefined) => void;

/** `good` is the answer on the page. */
export function useMoves(
    work: Working,
    good: Good | undefined,
    { door, table, words, said: first }: About,
): Moves {
    const [said, say] = useState(first);
    const { asks, ...entries } = useEntries(work, table, say);

    /** readings half written for the model before, by what took its place */
    const halfWritten = useRef<Record<string, Record<string, JsonObject>>>({}).current;

    function back(only?: string): void {
        const text = work.undo(only);
        if (text === undefined) return;
        if (halfWritten[text]) void keep("rows", halfWritten[text]);
        asks(false);
        say({ text: `Taken back: ${text}.` });
    }
    /** Another model in place of this one, with a way back to it. */
    function replace(next: JsonObject, from: string, of?: string): void {
        const { setup, example } = work.now;
        if (!isEmpty(setup) && example === undefined) {
            const verdict = briefOf(good, setup);
            const name = nameOfSetup(setup);
            keepBefore({ id: freshId(), name, setup, date: Date.now(), verdict });
        }
        halfWritten[from] = kept("rows") ?? {};
        void keep("rows", {});
        work.open(from, { setup: next, ...(of !== undefined && { example: of }) });
        asks(false);
        say({ text: `${from}.`, back: true });
        opened(() => back(from));
        // another model is read from its beginning
        scrollTo(0, 0);
    }
    return {
        said,
        unsay: () => say(undefined),
        failed: (cause) => say({ text: stopped(cause) }),
        back: () => back(),
        replace,
        ...entries,
        ...useOpening(door, replace, say),
        ...trials(work, words, say),
    };
}

type Entries = Pick<
    Moves,
    "typed" | "others" | "keepOthers" | "forgetOthers" | "edit" | "measure"
> & {
    /** whether an example's other answers are asked for */
    asks: (asking: boolean) => void;
};

/** What is told in the form; and of an example typed over, what is to become of its other answers. */
function useEntries(work: Working, table: FieldTable, say: Say): Entries {
    const { setup, example } = work.now;
    const [asking, setAsking] = useState(false);
    const [typed, setTyped] = useState<Typed>();

    const edit = useCallback(
        (path: string, value: Parameters<Editing["edit"]>[1], done?: string): void => {
            const text = done ?? `${nameOf(path, table)} changed`;
            let asks = false;
            work.change(
                text,
                (now) => {
                    const from = done && path === PWM_KEY ? readBefore(now.setup) : now.setup;
                    const next = withValue(from, path, value);
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
            say(done === undefined ? undefined : { text: `${done}.`, back: true });
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
            say(undefined);
        },
        [table, work.change],
    );
    function decide(text: string, next: (setup: JsonObject) => JsonObject): void {
        work.change(text, (now) => ({ setup: next(now.setup), example: undefined }));
        setAsking(false);
        say({ text: `${text}.`, back: true });
    }

    // a setup that is gone from the screen takes its question with it
    const others = otherAnswers(setup, table).length;
    useLayoutEffect(() => {
        if (asking && (example === undefined || others === 0)) setAsking(false);
    }, [asking, example, others]);

    return {
        typed,
        others: asking ? others : undefined,
        keepOthers: () => decide("The example’s other answers kept", withoutName),
        forgetOthers: () =>
            decide("The example’s other answers forgotten", (now) => quickAnswers(now, table)),
        edit,
        measure,
        asks: setAsking,
    };
}

/** The core's changes, tried and no longer tried. */
function trials(work: Working, words: Wording, say: Say): Pick<Moves, "attempt" | "takeBack"> {
    return {
        attempt({ id, text, patch }) {
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
            say({ text: done, back: true });
        },
        takeBack(one) {
            const done = `No longer tried: ${words.sentence(one.text)}`;
            work.change(done, (now) => {
                const next = asSetup(merged(now.setup, one.back));
                const replaced = "measured" in one.back && one.rows !== undefined;
                return {
                    setup: replaced ? withLater(next, now.setup, "measured", one.rows ?? 0) : next,
                    tried: now.tried.filter(({ id }) => id !== one.id),
                };
            });
            say({ text: done, back: true });
        },
    };
}

/** Where another model comes from: begun, an example, a link, a file. */
function useOpening(
    door: Door,
    replace: (next: JsonObject, from: string, of?: string) => void,
    say: Say,
): Pick<Moves, "begin" | "show" | "take" | "takeFile"> {
    const replacing = useRef(replace);
    replacing.current = replace;
    const begin = useCallback(() => replacing.current(emptySetup, "A new model begun"), []);
    const show = useCallback(
        ({ name, setup }: Example) => replacing.current(setup, `Example opened: ${name}`, name),
        [],
    );
    async function open(found: ReturnType<typeof openFile>, from: string): Promise<void> {
        try {
            const { setup, text } = await found;
            if (setup) replacing.current(setup, `Opened from the ${from}`);
            else say({ text });
        } catch (cause) {
            say({ text: `The ${from} was not opened. ${stopped(cause)}` });
        }
    }
    return {
        begin,
        show,
        take: (text) => void open(openLink(door, text), "link"),
        takeFile: (text) => void open(openFile(door, text), "file"),
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
