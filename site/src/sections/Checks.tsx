// Is the rest within bounds? What moved the verdict; then rating, pack, capacitor and supply: each figure
// beside its bound and what the bound rests on, the failed ones first.

import type { Check, Report } from "../core/report";
import { LevelMark } from "../figures/marks";
import { spelled, useWords } from "../words/scale";

export function Checks({ report }: { report: Report }) {
    const words = useWords();
    const reasons = report.verdict.reasons ?? [];
    const groups = Object.entries(report.checks)
        .filter(([, checks]) => checks.items.length > 0)
        .sort(([, a], [, b]) => Number(a.ok) - Number(b.ok));
    return (
        <>
            {reasons.length > 0 && (
                <ul class="reasons" aria-label="What the verdict rests on">
                    {reasons.map(({ key, level, text }) => (
                        <li key={key + text}>
                            <LevelMark level={level} /> <span class="unseen">{level}: </span>
                            {words.sentence(text)}
                        </li>
                    ))}
                </ul>
            )}
            {groups.map(([about, checks]) => (
                <div class="checks" key={about}>
                    <h3>{spelled(about)}</h3>
                    <ul>
                        {[...checks.items]
                            .sort((a, b) => Number(a.ok) - Number(b.ok))
                            .map((check) => (
                                <OneCheck key={check.key} check={check} />
                            ))}
                    </ul>
                </div>
            ))}
        </>
    );
}

function OneCheck({ check }: { check: Check }) {
    const words = useWords();
    const state = check.serious ? "▲ beyond: do not fly so" : "▲ beyond";
    return (
        <li class={check.ok ? "" : "over"}>
            <span class="check-name">{words.sentence(check.label)}</span>
            <span class="check-figures">
                <b>{words.quantity(check.value, check.unit)}</b>
                <span>
                    {bound(check)} {words.quantity(check.bound, check.unit)}
                    {typeof check.bound_high === "number" &&
                        ` and ${words.quantity(check.bound_high, check.unit)}`}
                </span>
                <span class="check-state">{check.ok ? "○ within" : state}</span>
            </span>
            <small>{words.sentence(check.basis)}</small>
        </li>
    );
}

const SIDES = { at_most: "at most", at_least: "at least", outside: "not between" };

/** On which side of the bound the figure is wanted; an older core tells it by whether it is within. */
const bound = ({ side, ok, value, bound }: Check): string =>
    side ? SIDES[side] : ok === value <= bound ? "at most" : "at least";
