// What do the pilot's own readings say? Rows are entered here; below them what the prediction makes of
// each, what does not fit, and which assumed values moved.

import type { Door } from "../core/door";
import { useEditing } from "../form/editing";
import { RowsEditor } from "../form/RowsEditor";
import { isObject, valueAt, type JsonObject } from "../setup/json";
import { written } from "../words/numbers";
import { useWords } from "../words/scale";
import { quantityOf } from "../words/unknowns";
import { Table } from "../figures/Figure";
import { LogFile } from "./LogFile";
import { Later } from "./later";
import { Section } from "./Section";

const MEASURED = "measured";

interface Props {
    door: Door;
    /** the last setup that the core gave an answer for */
    answered: JsonObject | undefined;
}

export function Learn({ door, answered }: Props) {
    const { table, setup, report } = useEditing();
    const words = useWords();
    const field = table.find(MEASURED);
    const list = valueAt(setup, MEASURED);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    const learned = report?.learned;
    const number = (value: unknown): number | null => (typeof value === "number" ? value : null);
    const landed = (row: JsonObject | undefined): string => {
        const after = number(row?.esc_after_C);
        return after === null ? "" : `: ${words.temperature(after, 1)} after landing`;
    };
    return (
        <Section id="learn">
            {field && (
                <>
                    <p>{words.sentence(field.help)}</p>
                    <RowsEditor
                        field={field}
                        addLabel="Add a reading"
                        needs="Needed at least: a current, a speed or an ESC temperature."
                    />
                    <Later value={answered} room={14}>
                        {() => <LogFile door={door} answered={answered} field={field} />}
                    </Later>
                </>
            )}
            {learned && learned.rows > 0 && (
                <>
                    {learned.text && <p>{words.sentence(learned.text)}</p>}
                    {learned.fit.length > 0 && (
                        <Table
                            caption={`Read and predicted, ${words.degree}`}
                            head={["Row", "Mean read", "predicted", "Peak read", "predicted"]}
                            rows={learned.fit.map((fit) => [
                                `${fit.row + 1}${landed(rows[fit.row])}`,
                                words.temperature(number(rows[fit.row]?.esc_mean_C), 1),
                                words.temperature(fit.hold_mean_C, 1),
                                words.temperature(number(rows[fit.row]?.esc_peak_C), 1),
                                words.temperature(fit.hold_peak_C, 1),
                            ])}
                        />
                    )}
                    {learned.misfit.map((misfit) => (
                        <p class="problem" key={misfit.row}>
                            ▲ {words.sentence(misfit.text)}
                        </p>
                    ))}
                    {learned.parameters.length > 0 && (
                        <Table
                            caption="What was learned"
                            head={["", "assumed before", "now"]}
                            rows={learned.parameters.map(({ key, prior, posterior }) => {
                                const known = quantityOf(table, key);
                                const range = (pair: [number, number]): string =>
                                    pair.map((n) => written(words.shown(known, n))).join("–");
                                return [words.named(known), range(prior), range(posterior)];
                            })}
                        />
                    )}
                </>
            )}
            {report?.untold_current && <p>{words.sentence(report.untold_current.text)}</p>}
            {learned?.next_run && <p>{words.sentence(learned.next_run.text)}</p>}
        </Section>
    );
}
