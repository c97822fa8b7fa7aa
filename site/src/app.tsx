// How does the page hang together? One setup, the answer that follows it, and the sections that show both.

import { useMemo, useState } from "preact/hooks";
import { useAnswer } from "./core/answer";
import { useCalm } from "./core/calm";
import type { Door } from "./core/door";
import type { FieldTable } from "./core/fields";
import { AxisContext, axisFor } from "./figures/axis";
import { EditingContext, isOpen, type Editing } from "./form/editing";
import { useAddress } from "./keep/address";
import { useKeptAnswer } from "./keep/answer";
import { addressOf, type Start } from "./keep/link";
import { nameOfSetup } from "./keep/names";
import { keep, kept } from "./keep/phone";
import { useWork } from "./keep/work";
import { briefOf, useMoves } from "./moves";
import { useParts } from "./parts";
import { Bar } from "./sections/Bar";
import { Foot } from "./sections/Foot";
import { Later } from "./sections/later";
import { Model } from "./sections/Model";
import { Figures, Headline } from "./sections/Verdict";
import { valueAt } from "./setup/json";
import { isAnswered, isEmpty, questions } from "./setup/model";
import { Wording, Words, type Scale } from "./words/scale";

interface Props {
    door: Door;
    table: FieldTable;
    start: Start;
}

export function App({ door, table, start }: Props) {
    const work = useWork(start.now);
    const { setup, example, tried, unmeasured, link, undo } = work.now;
    const [scale, setScale] = useState<Scale>(() => kept("scale") ?? "C");
    const words = useMemo(() => new Wording(scale), [scale]);

    const { good, problems, about, failure } = useAnswer(
        door,
        setup,
        work.model,
        start.known,
        start.now.good,
    );
    useKeptAnswer(good, start.known);
    const moves = useMoves(work, good, {
        door,
        table,
        words,
        said:
            start.notice === undefined
                ? undefined
                : { text: start.notice, back: start.now.undo.length > 0 },
    });
    useAddress(door, good, work, moves);
    const calm = useCalm(problems, about, setup, moves.typed);
    const blank = isEmpty(setup);
    const { form, below, keeping, offline, newer } = useParts(
        good !== undefined || problems.length > 0,
        blank,
    );

    const whole = good?.settled === true && good.setup === setup;
    // the last good answer of an earlier visit is still to come
    const recalling = good === undefined && work.model === 0 && start.now.good !== undefined;
    const busy = about !== setup || recalling || (problems.length === 0 && !whole);
    const asked = questions(table, setup);
    const open = asked.filter((field) => !isAnswered(field, setup, unmeasured));
    const axis = axisFor(valueAt(good?.setup ?? setup, "load.kind"));
    const { edit, measure } = moves;

    const editing = useMemo<Editing>(
        () => ({
            table,
            setup,
            model: work.model,
            report: good?.report,
            problems: calm,
            unmeasured,
            edit,
            measure,
        }),
        [table, setup, work.model, good?.report, calm, unmeasured, edit, measure],
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
                                <p>▲ {failure}</p>
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
                                {form && <Model onNew={moves.begin} onExample={moves.show} />}
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
                                        tried={tried}
                                        {...moves}
                                    />
                                )}
                                {below && !blank && (
                                    <below.Learn door={door} answered={good?.setup} />
                                )}
                                {keeping && (
                                    <keeping.Keep
                                        door={door}
                                        offline={offline}
                                        setup={setup}
                                        verdict={briefOf(good, setup)}
                                        link={current ? addressOf(link) : undefined}
                                        waits={problems.length > 0}
                                        headline={
                                            good ? words.sentence(good.report.verdict.headline) : ""
                                        }
                                        {...moves}
                                    />
                                )}
                            </div>
                        </div>
                    </main>
                    <div class="under">
                        <Bar newer={newer} {...moves} />
                        <Foot
                            cautions={good?.report.cautions ?? []}
                            back={undo.at(-1)?.text}
                            onBack={moves.back}
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

function waitingWords(waits: boolean, mistakes: number, open: number): string {
    if (!waits) return "Working it out …";
    if (mistakes === 1) return "One entry is not accepted: it says below what is.";
    if (mistakes > 1) return `${mistakes} entries are not accepted: they say below what is.`;
    if (open === 0) return "Nearly there: see what the questions below still want.";
    return "A few answers, and it says whether the ESC stays cool enough, and which throttle not to sit at.";
}
