// Is this flight all right for the ESC? First what to do, in one sentence; below it the figures, which stay
// in view while the pilot edits: verdict, peak, limit, margin, time, failed checks, and the strip of throttle.

import { useEffect, useState } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Problem } from "../core/door";
import type { Field } from "../core/fields";
import { failedChecks } from "../core/report";
import { useAxis } from "../figures/axis";
import { HeatStrip, LevelMark, StripKey } from "../figures/marks";
import { useEditing } from "../form/editing";
import { goTo, nameOf } from "../form/places";
import { useDark } from "../look/theme";
import { clock, percent } from "../words/numbers";
import { useWords } from "../words/scale";
import { goToSection } from "./Section";

interface HeadlineProps {
    good: Good | undefined;
    /** what stands in place of a verdict */
    waiting: string;
    /** name of the model */
    name: string;
    /** the model is this example */
    example: string | undefined;
}

export function Headline({ good, waiting, name, example }: HeadlineProps) {
    const words = useWords();
    return (
        <div class="headline">
            <p class="headline-what">
                {example === undefined ? (
                    name
                ) : (
                    <>
                        <b>Example</b>: {example}
                    </>
                )}
            </p>
            <p class="headline-text">
                {good ? words.sentence(good.report.verdict.headline) : waiting}
            </p>
        </div>
    );
}

interface FiguresProps {
    good: Good | undefined;
    /** of a bad entry: the figures are those of the last good ones */
    problem: Problem | undefined;
    /** the whole answer to the present setup is still to come */
    busy: boolean;
    questions: Field[];
    /** the questions without an answer */
    open: Field[];
}

export function Figures({ good, problem, busy, questions, open }: FiguresProps) {
    const { table } = useEditing();
    const level = good ? good.report.verdict.level : "none";
    const asks = open.length > 0 || problem !== undefined;
    return (
        <div class={`figures level-${level}`} aria-busy={busy}>
            {good && <Answered good={good} behind={problem !== undefined} />}
            {!good && asks && <Asking questions={questions} open={open} />}
            {!good && !asks && <div class="figures-room" />}
            {good && problem && (
                <button type="button" class="behind" onClick={(event) => goTo(event, problem.path)}>
                    ▲ {nameOf(problem.path, table)}:{" "}
                    {open.some(({ key }) => key === problem.path)
                        ? "to be answered"
                        : "not accepted"}
                </button>
            )}
            {good && <Spoken good={good} />}
        </div>
    );
}

function Answered({ good, behind }: { good: Good; behind: boolean }) {
    const words = useWords();
    const dark = useDark();
    const axis = useAxis();
    const { report, settled } = good;
    const { esc, flight } = report;
    const { level } = report.verdict;
    const failed = failedChecks(report);
    return (
        <>
            <div class="figures-row">
                <p class="figures-level">
                    <LevelMark level={level} />
                    <b>{level}</b>
                </p>
                <p class="figures-peak">
                    {esc.peak_C.p50 === null ? (
                        <b class="away">{words.peak(null)}</b>
                    ) : (
                        <b>
                            {words.temperature(esc.peak_C.p50)}
                            <small> {words.degree}</small>
                        </b>
                    )}
                    <span>
                        {esc.peak_C.p50 === null ? "heat" : "peak"}{" "}
                        {settled ? words.range(esc.peak_C) : "…"}
                    </span>
                </p>
                <p class="figures-limit">
                    <b>{words.temperature(esc.limit_C)}</b>
                    <span>limit</span>
                </p>
                <p class="figures-margin">
                    <b>{words.difference(esc.margin_K)}</b>
                    <span>margin, {words.kelvin}</span>
                </p>
                <p class="figures-time">
                    <b>{clock(flight.seconds)}</b>
                    <span>flight</span>
                </p>
            </div>
            <div class="figures-strip">
                <HeatStrip report={report} dark={dark} id="strip-top" />
                <div class="strip-scale" aria-hidden="true">
                    <span>0</span>
                    <span>{Number.isInteger(axis.most(report) / 2) && axis.most(report) / 2}</span>
                    <span>
                        {axis.most(report)} {axis.unit}
                    </span>
                </div>
                <div class="figures-notes">
                    <StripKey bands={report.bands} dark={dark} />
                    {failed > 0 && !behind && (
                        <button type="button" class="failed" onClick={() => goToSection("checks")}>
                            ▲ {failed === 1 ? "1 check failed" : `${failed} checks failed`}
                        </button>
                    )}
                </div>
            </div>
        </>
    );
}

/** In place of the figures: how far the questions are answered, and the next one. */
function Asking({ questions, open }: { questions: Field[]; open: Field[] }) {
    const next = open[0];
    return (
        <>
            <div class="figures-row">
                <p class="figures-peak">
                    <b>
                        {questions.length - open.length}
                        <small> of {questions.length}</small>
                    </b>
                    <span>answered</span>
                </p>
            </div>
            <div class="figures-strip">
                <ol class="steps" aria-hidden="true">
                    {questions.map((field) => (
                        <li key={field.key} class={open.includes(field) ? "" : "done"} />
                    ))}
                </ol>
                <div class="figures-notes">
                    {next && (
                        <button type="button" onClick={(event) => goTo(event, next.key)}>
                            Next: {next.label}
                        </button>
                    )}
                </div>
            </div>
        </>
    );
}

/** For a screen reader: said once the whole answer is there, and only when it says something new. */
function Spoken({ good }: { good: Good }) {
    const words = useWords();
    const [said, setSaid] = useState("");
    const { verdict, esc, flight } = good.report;
    const failed = failedChecks(good.report);
    const chance = esc.chance_over_limit;
    const text =
        `${verdict.level}: ${words.sentence(verdict.headline)} ` +
        `Peak ${words.peak(esc.peak_C.p50)}, ` +
        `${words.range(esc.peak_C)}, limit ${words.temperature(esc.limit_C)}, ` +
        (chance === null ? "" : `chance of passing it ${percent(chance)}, `) +
        `flight ${clock(flight.seconds)}.` +
        (failed > 0 ? ` Checks failed: ${failed}.` : "");
    useEffect(() => {
        if (good.settled) setSaid(text);
    }, [good.settled, text]);
    return (
        <p class="unseen" role="status" aria-live="polite">
            {said}
        </p>
    );
}
