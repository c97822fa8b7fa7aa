// How does the page hang together? One setup, the answer that follows it, and the sections that show both.
// Every change of the setup comes through here.

import { useCallback, useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import { useAnswer, type Good } from "./core/answer";
import { useCalm, type Typed } from "./core/calm";
import type { Door } from "./core/door";
import type { FieldTable } from "./core/fields";
import { levelShown, type Change } from "./core/report";
import { AxisContext, axisFor } from "./figures/axis";
import { EditingContext, isOpen, type Editing } from "./form/editing";
import { nameOf } from "./form/places";
import { PWM_KEY } from "./form/PwmEntry";
import { isOurs, opened, showLink } from "./keep/back";
import { openFile } from "./keep/files";
import { addressOf, openLink, type Start } from "./keep/link";
import { keep, keepBefore, kept, nameOfSetup, type Tried } from "./keep/phone";
import { useWork } from "./keep/work";
import { watchUpdates } from "./keep/update";
import { Bar, type Said } from "./sections/Bar";
import { Foot } from "./sections/Foot";
import { afterPaint, Later, whenIdle } from "./sections/later";
import { Model } from "./sections/Model";
import { Figures, Headline } from "./sections/Verdict";
import type { Example } from "./setup/examples";
import { inverse, isObject, merged, valueAt, withValue, type JsonObject } from "./setup/json";
import {
    emptySetup,
    isAnswered,
    isEmpty,
    isQuestion,
    otherAnswers,
    questions,
    quickAnswers,
    withoutName,
} from "./setup/model";
import { Wording, Words, type Scale } from "./words/scale";

interface Props {
    door: Door;
    table: FieldTable;
    start: Start;
}

export function App({ door, table, start }: Props) {
    const work = useWork(start.now);
    const { setup, example, tried, unmeasured, link, undo } = work.now;
    const [said, setSaid] = useState<Said | undefined>(
        start.notice === undefined
            ? undefined
            : { text: start.notice, back: start.now.undo.length > 0 },
    );
    const [asking, setAsking] = useState(false);
    const [scale, setScale] = useState<Scale>(() => kept("scale") ?? "C");
    const [offline, setOffline] = useState(false);
    const [newer, setNewer] = useState<() => void>();
    const words = useMemo(() => new Wording(scale), [scale]);

    const [below, setBelow] = useState<typeof import("./sections/below")>();
    const [keeping, setKeeping] = useState<typeof import("./sections/Keep")>();

    const [typed, setTyped] = useState<Typed>();
    const { good, problems, about, failure } = useAnswer(door, setup, work.model, start.now.good);
    const calm = useCalm(problems, about, setup, typed);
    const whole = good?.settled === true && good.setup === setup;
    // the last good answer of an earlier visit is still to come
    const recalling = good === undefined && work.model === 0 && start.now.good !== undefined;
    const busy = about !== setup || recalling || (problems.length === 0 && !whole);
    const asked = questions(table, setup);
    const open = asked.filter((field) => !isAnswered(field, setup, unmeasured));
    const axis = axisFor(valueAt(good?.setup ?? setup, "load.kind"));

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
    const choosePwm = useCallback((hertz: number): void => edit(PWM_KEY, hertz), [edit]);
    const measure = useCallback(
        (path: string, none: boolean): void =>
            work.change(`${nameOf(path, table)} not measured`, (now) => {
                const rest = now.unmeasured.filter((one) => one !== path);
                return {
                    setup: none
                        ? withLoad(withValue(now.setup, path, undefined), table)
                        : now.setup,
                    unmeasured: none ? [...rest, path] : rest,
                };
            }),
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
        work.change(`Tried: ${words.sentence(text)}`, (now) => ({
            setup: asSetup(merged(now.setup, change)),
            tried: [
                ...now.tried,
                { id: `${id}-${now.tried.length}`, text, back: inverse(now.setup, change) },
            ],
        }));
    }
    function takeBack(one: Tried): void {
        work.change(`No longer tried: ${words.sentence(one.text)}`, (now) => ({
            setup: asSetup(merged(now.setup, one.back)),
            tried: now.tried.filter(({ id }) => id !== one.id),
        }));
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

    // the form comes one paint after the first verdict, so that nothing waits for it
    const [formed, setFormed] = useState(false);
    useEffect(() => afterPaint(() => setFormed(true)), []);
    const replacing = useRef(replace);
    replacing.current = replace;
    const begin = useCallback(() => replacing.current(emptySetup, "A new model begun"), []);
    const show = useCallback(
        ({ name, setup: next }: Example) =>
            replacing.current(next, `Example opened: ${name}`, name),
        [],
    );

    // the pictures come after the first verdict, or once there is nothing else to do
    const started = good !== undefined || problems.length > 0;
    const blank = isEmpty(setup);
    useEffect(() => {
        if (!started || blank) return;
        return whenIdle(() => void import("./sections/below").then(setBelow, () => undefined));
    }, [started, blank]);
    useEffect(() => {
        if (!started) return;
        return whenIdle(() => void import("./sections/Keep").then(setKeeping, () => undefined));
    }, [started]);

    // the page is kept for the field once it has answered: both ask for the same slow line
    useEffect(() => {
        if (!started) return;
        return watchUpdates({
            onKept: () => setOffline(true),
            onNewer: (use) => setNewer(() => use),
        });
    }, [started]);

    useEffect(() => {
        if (!good?.settled) return;
        let live = true;
        void door.link(good.setup).then((answer) => {
            if (!live || "problems" in answer) return;
            work.note({ good: good.setup, link: answer.ok });
            // a link that was opened just now is not written over
            const foreign = location.hash !== "" && !isOurs();
            if (!foreign && (undo.length > 0 || location.hash !== "")) showLink(answer.ok);
        });
        return () => void (live = false);
    }, [door, good]);

    useEffect(() => {
        const follow = (): void => {
            // an older link of this page's own, on the way back: it is not a new one
            if (isOurs() || location.hash === "") return;
            void take(location.hash);
        };
        addEventListener("hashchange", follow);
        return () => removeEventListener("hashchange", follow);
    });

    // a setup that is gone from the screen takes its question with it
    useLayoutEffect(() => {
        if (asking && (example === undefined || otherAnswers(setup, table).length === 0)) {
            setAsking(false);
        }
    }, [asking, example, setup]);

    const editing = useMemo<Editing>(
        () => ({ table, setup, report: good?.report, problems: calm, unmeasured, edit, measure }),
        [table, setup, good?.report, calm, unmeasured, edit, measure],
    );

    // the answer's own place, before it is there: nothing is pushed away when it comes
    const awaited = open.length === 0 && !blank && !(below && good);
    // a link that stands for an older setup is none for this one
    const current = whole && link !== undefined;
    const mistakes = calm.filter((problem) => !isOpen(problem, setup, table));
    return (
        <Words.Provider value={words}>
            <AxisContext.Provider value={axis}>
                <EditingContext.Provider value={editing}>
                    <header class="mast">
                        <h1>Hotband</h1>
                        {!work.kept && (
                            <p class="problem">▲ This browser keeps nothing: save a file.</p>
                        )}
                    </header>
                    <main>
                        {failure && (
                            <div class="notice" role="alert">
                                <p>
                                    ▲ The core stopped: {failure}. The next change starts it anew.
                                </p>
                            </div>
                        )}
                        <Headline
                            good={good}
                            name={blank ? "A new model" : nameOfSetup(setup)}
                            example={example}
                            waiting={waitingWords(
                                problems.length > 0,
                                mistakes.length,
                                open.length,
                            )}
                        />
                        <Figures
                            good={good}
                            problem={calm[0]}
                            busy={busy}
                            questions={asked}
                            open={open}
                        />
                        <div class="columns">
                            <div class="column-form">
                                {formed && <Model onNew={begin} onExample={show} />}
                            </div>
                            <div class="column-answer">
                                {(awaited || (!below && !blank)) && (
                                    <div
                                        class={awaited ? "later awaited" : "later"}
                                        data-behind=""
                                    />
                                )}
                                {below && good && (
                                    <below.Answer
                                        door={door}
                                        good={good}
                                        pwm_Hz={valueAt(setup, PWM_KEY)}
                                        tried={tried}
                                        onPwm={choosePwm}
                                        onTry={attempt}
                                        onUndo={takeBack}
                                    />
                                )}
                                {below && !blank && (
                                    <below.Learn
                                        door={door}
                                        report={good?.report}
                                        answered={good?.setup}
                                    />
                                )}
                                {keeping && (
                                    <keeping.Keep
                                        door={door}
                                        offline={offline}
                                        setup={setup}
                                        verdict={briefOf(good, setup)}
                                        link={current ? addressOf(link) : undefined}
                                        waits={problems.length}
                                        headline={
                                            good ? words.sentence(good.report.verdict.headline) : ""
                                        }
                                        onReplace={replace}
                                        onLink={(text) => void take(text)}
                                        onImport={(text) => void takeFile(text)}
                                    />
                                )}
                            </div>
                        </div>
                    </main>
                    <div class="under">
                        <Bar
                            newer={newer}
                            said={said}
                            others={asking ? otherAnswers(setup, table).length : undefined}
                            onBack={() => back()}
                            onClose={() => setSaid(undefined)}
                            onKeep={() => decide("The example’s other answers kept", withoutName)}
                            onForget={() =>
                                decide("The example’s other answers forgotten", (now) =>
                                    quickAnswers(now, table),
                                )
                            }
                        />
                        <Foot
                            cautions={good?.report.cautions ?? []}
                            back={undo.at(-1)?.text}
                            onBack={() => back()}
                            onScale={(next) => {
                                setScale(next);
                                void keep("scale", next);
                            }}
                        />
                    </div>
                    {below && good?.settled && (
                        <Later value={good} room={0}>
                            {(drawn) => (
                                <below.FieldCard
                                    good={drawn}
                                    example={example}
                                    link={link === undefined ? undefined : addressOf(link)}
                                />
                            )}
                        </Later>
                    )}
                </EditingContext.Provider>
            </AxisContext.Provider>
        </Words.Provider>
    );
}

const asSetup = (value: unknown): JsonObject => (isObject(value) ? value : {});

/** A load told by its kind alone is still told: without it nothing would draw a current. */
function withLoad(setup: JsonObject, table: FieldTable): JsonObject {
    const kind = table.find("load.kind")?.default;
    return valueAt(setup, "load.kind") === undefined && typeof kind === "string"
        ? withValue(setup, "load.kind", kind)
        : setup;
}

/** The verdict over a setup, if this one has it. */
const briefOf = (good: Good | undefined, setup: JsonObject) =>
    good && good.setup === setup
        ? { level: levelShown(good.report), peak_C: good.report.esc.peak_C.p50 }
        : null;

function waitingWords(waits: boolean, mistakes: number, open: number): string {
    if (!waits) return "Working it out …";
    if (mistakes > 0) return "One entry is not accepted: it says below what is.";
    if (open === 0) return "Nearly there: see what the questions below still want.";
    return "A few answers, and it says whether the ESC stays cool enough, and which throttle not to sit at.";
}
