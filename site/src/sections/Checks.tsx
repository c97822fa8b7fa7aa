// Is the rest within bounds? Rating, pack, capacitor and supply: each figure beside its bound and what
// the bound rests on.

import type { Check, Report } from "../core/report";
import { plainWord, useWords } from "../words/scale";
import { Section } from "./Section";

export function Checks({ report }: { report: Report }) {
    const words = useWords();
    return (
        <Section id="checks">
            {Object.entries(report.checks)
                .filter(([, checks]) => checks.items.length > 0)
                .map(([about, checks]) => (
                    <div class="checks" key={about}>
                        <h3>{plainWord(about)}</h3>
                        <ul>
                            {checks.items.map((check) => (
                                <li key={check.key} class={check.ok ? "" : "over"}>
                                    <span class="check-name">{words.sentence(check.label)}</span>
                                    <span class="check-figures">
                                        <b>{words.quantity(check.value, check.unit)}</b>
                                        <span>
                                            {bound(check)} {words.quantity(check.bound, check.unit)}
                                        </span>
                                        <span class="check-state">
                                            {check.ok ? "○ within" : "▲ beyond"}
                                        </span>
                                    </span>
                                    <small>{words.sentence(check.basis)}</small>
                                </li>
                            ))}
                        </ul>
                    </div>
                ))}
        </Section>
    );
}

/** On which side of the bound the figure is wanted: told by whether it is within. */
const bound = ({ ok, value, bound }: Check): string =>
    ok === value <= bound ? "at most" : "at least";
