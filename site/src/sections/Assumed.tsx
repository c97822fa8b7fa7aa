// What did the pilot not tell? Every assumed value with its range and what it rests on; a touch leads to
// the place where it can be told.

import type { Assumption, Report } from "../core/report";
import { Fold } from "../figures/Fold";
import { entryId, useEditing } from "../form/editing";
import { goTo } from "../form/places";
import { written } from "../words/numbers";
import { plainWord, useWords } from "../words/scale";
import { Section } from "./Section";

export function Assumed({ report }: { report: Report }) {
    const { table } = useEditing();
    const groups = table.groups
        .map((group) => ({
            ...group,
            list: report.assumptions.filter(({ key }) => key.startsWith(`${group.key}.`)),
        }))
        .filter(({ list }) => list.length > 0);
    return (
        <Section id="assumed">
            {groups.map(({ key, label, list }) => (
                <Fold
                    class="part"
                    key={key}
                    summary={
                        <>
                            <span class="part-name">{label}</span>
                            <span class="part-count">
                                {list.length === 1 ? "1 value" : `${list.length} values`}
                            </span>
                        </>
                    }
                >
                    {() => (
                        <ul class="assumed">
                            {list.map((assumption) => (
                                <OneAssumption key={assumption.key} assumption={assumption} />
                            ))}
                        </ul>
                    )}
                </Fold>
            ))}
        </Section>
    );
}

function OneAssumption({ assumption }: { assumption: Assumption }) {
    const { table } = useEditing();
    const words = useWords();
    const { key, value, low, high, basis } = assumption;
    const field = table.find(key);
    const number = (n: number): string => written(field ? words.shown(field, n) : n);
    return (
        <li>
            {field ? (
                <a href={`#${entryId(key)}`} onClick={(event) => goTo(event, key)}>
                    {field.label}
                </a>
            ) : (
                <span>{plainWord(key.replace(/^.*\./, ""))}</span>
            )}
            <b>
                {number(value)} {field ? words.unit(field.unit) : ""}
            </b>
            <span>{low < high ? `${number(low)}–${number(high)}` : ""}</span>
            <small>{words.sentence(basis)}</small>
        </li>
    );
}
