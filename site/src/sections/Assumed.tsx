// What did the pilot not tell? Every assumed value with its range and what it rests on; a touch leads to
// the place where it can be told.

import type { Assumption, Report } from "../core/report";
import { Fold } from "../figures/Fold";
import { assumedIn, entryId, useEditing } from "../form/editing";
import { goTo } from "../form/places";
import { percent, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { quantityOf } from "../words/unknowns";

export function Assumed({ report }: { report: Report }) {
    const { table } = useEditing();
    const groups = table.groups
        .map((group) => ({
            ...group,
            list: report.assumptions.filter(({ key }) => key.startsWith(`${group.key}.`)),
        }))
        .filter(({ list }) => list.length > 0);
    return (
        <>
            {groups.map(({ key, label, list }) => (
                <Fold
                    class="part"
                    key={key}
                    summary={
                        <>
                            <span class="part-name">{label}</span>
                            <span class="part-count">{assumedIn(report, key)}</span>
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
        </>
    );
}

function OneAssumption({ assumption }: { assumption: Assumption }) {
    const { table } = useEditing();
    const words = useWords();
    const { key, value, low, high, basis } = assumption;
    const field = table.find(key);
    const quantity = quantityOf(table, key);
    const number = (n: number): string => written(words.shown(quantity, n));
    // of the freewheel the value is the chance that it is active
    const chance = field?.type === "choice";
    return (
        <li>
            {field ? (
                <a href={`#${entryId(key)}`} onClick={(event) => goTo(event, key)}>
                    {field.label}
                </a>
            ) : (
                <span>{quantity.label}</span>
            )}
            <b>
                {chance
                    ? `${spelled("active")} ${percent(value)}`
                    : `${number(value)} ${words.unit(quantity.unit)}`}
            </b>
            <span>{!chance && low < high ? `${number(low)}–${number(high)}` : ""}</span>
            <small>{words.sentence(basis)}</small>
        </li>
    );
}
