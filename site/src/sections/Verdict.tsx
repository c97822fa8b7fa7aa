// Is this flight all right for the ESC? One sentence, and below it the figures that stay in view while
// the pilot edits.

import { useEffect, useState } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Problem } from "../core/door";
import { HeatStrip, LevelMark } from "../figures/marks";
import { useEditing } from "../form/editing";
import { goTo, nameOf } from "../form/places";
import { useDark } from "../look/theme";
import { clock, written } from "../words/numbers";
import { useWords } from "../words/scale";

export function Headline({ good, waiting }: { good: Good | undefined; waiting: string }) {
    const words = useWords();
    return (
        <div class="headline">
            <p>{good ? words.sentence(good.report.verdict.headline) : waiting}</p>
        </div>
    );
}

interface FiguresProps {
    good: Good;
    /** of a bad entry: the figures are those of the last good ones */
    problem: Problem | undefined;
    /** the whole answer to the present setup is still to come */
    busy: boolean;
}

export function Figures({ good, problem, busy }: FiguresProps) {
    const words = useWords();
    const { table } = useEditing();
    const dark = useDark();
    const { report, settled } = good;
    const { verdict, esc, flight } = report;
    return (
        <div class={`figures level-${verdict.level}`} aria-busy={busy}>
            <div class="figures-row">
                <p class="figures-level">
                    <LevelMark level={verdict.level} />
                    <b>{verdict.level}</b>
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
                <p>
                    <b>{words.temperature(esc.limit_C)}</b>
                    <span>limit</span>
                </p>
                <p>
                    <b>{words.difference(esc.margin_K)}</b>
                    <span>margin, {words.kelvin}</span>
                </p>
                <p>
                    <b>{clock(flight.seconds)}</b>
                    <span>flight</span>
                </p>
            </div>
            <HeatStrip report={report} dark={dark} id="strip-top" />
            <div class="strip-scale" aria-hidden="true">
                <span>0</span>
                <span>50</span>
                <span>100 % throttle</span>
            </div>
            {problem && (
                <button type="button" class="behind" onClick={(event) => goTo(event, problem.path)}>
                    ▲ {nameOf(problem.path, table)}: not accepted
                </button>
            )}
            <Spoken good={good} />
        </div>
    );
}

/** For a screen reader: said once the whole answer is there, and only when it says something new. */
function Spoken({ good }: { good: Good }) {
    const words = useWords();
    const [said, setSaid] = useState("");
    const { verdict, esc, flight } = good.report;
    const chance = esc.chance_over_limit;
    const text =
        `${verdict.level}: ${words.sentence(verdict.headline)} ` +
        `Peak ${words.peak(esc.peak_C.p50)}, ` +
        `${words.range(esc.peak_C)}, limit ${words.temperature(esc.limit_C)}, ` +
        (chance === null ? "" : `chance of passing it ${written(100 * chance, 2)} %, `) +
        `flight ${clock(flight.seconds)}.`;
    useEffect(() => {
        if (good.settled) setSaid(text);
    }, [good.settled, text]);
    return (
        <p class="unseen" role="status" aria-live="polite">
            {said}
        </p>
    );
}
