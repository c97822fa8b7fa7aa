// Where is everything else entered? Folded away under its part; a part says how much of it was told
// and how much is assumed.

import type { Field, Group } from "../core/fields";
import { valueAt } from "../setup/json";
import { useWords } from "../words/scale";
import { assumptionFor, belongs, problemAt, useEditing } from "./editing";
import { FieldEntry, Help } from "./FieldEntry";
import { MIX_KIND } from "./MixEditor";
import { RowsEditor } from "./RowsEditor";

export function Parts() {
    const { table, setup } = useEditing();
    return (
        <div class="parts">
            {table.groups.map((group) => (
                <Part
                    key={group.key}
                    group={group}
                    fields={table
                        .inGroup(group.key)
                        .filter(
                            (field) =>
                                !field.quick &&
                                field.key !== MIX_KIND &&
                                belongs(field, table, setup),
                        )}
                />
            ))}
        </div>
    );
}

function Part({ group, fields }: { group: Group; fields: Field[] }) {
    const { setup, report, problems } = useEditing();
    const words = useWords();
    const told = fields.filter((field) => valueAt(setup, field.key) !== undefined).length;
    const assumed = fields.filter((field) => assumptionFor(report, field.key)).length;
    const own = problemAt(problems, group.key);
    const wrong =
        own !== undefined ||
        fields.some((field) =>
            problems.some(({ path }) => path === field.key || path.startsWith(`${field.key}[`)),
        );
    return (
        <details class="part">
            <summary>
                <span class="part-name">{group.label}</span>
                <span class="part-count">
                    {wrong ? "▲ not accepted" : `${told} told, ${assumed} assumed`}
                </span>
            </summary>
            {own && <strong class="problem">▲ {words.sentence(own)}</strong>}
            {fields.map((field) =>
                field.type === "rows" ? (
                    <div class="entry entry-rows" key={field.key}>
                        <div class="entry-name">
                            <span>{field.label}</span>
                            <Help text={field.help} label={field.label} />
                        </div>
                        <RowsEditor field={field} addLabel="Add one" />
                    </div>
                ) : (
                    <FieldEntry key={field.key} field={field} />
                ),
            )}
        </details>
    );
}
