// Where is everything else entered? Folded away under its part, its entries made once it is unfolded; a part
// says how much of it was told and how much is assumed.

import type { Field, Group } from "../core/fields";
import { Fold } from "../figures/Fold";
import { belongs, instead, leading, questions } from "../setup/model";
import { valueAt } from "../setup/json";
import { assumedIn, isOpen, problemAt, useEditing } from "./editing";
import { FieldEntry, Help } from "./FieldEntry";
import { Mistake } from "./Mistake";
import { MIX_KIND } from "./MixEditor";
import { partId } from "./places";
import { RowsEditor } from "./RowsEditor";

export function Parts() {
    const { table, setup, unmeasured } = useEditing();
    const asked = [
        ...questions(table, setup),
        ...leading(table),
        ...instead(table, setup, unmeasured),
    ];
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
                                !asked.includes(field) &&
                                field.key !== MIX_KIND &&
                                belongs(field, table, setup),
                        )}
                />
            ))}
        </div>
    );
}

function Part({ group, fields }: { group: Group; fields: Field[] }) {
    const { setup, report, problems, table } = useEditing();
    if (fields.length === 0) return null;
    const told = fields.filter((field) => valueAt(setup, field.key) !== undefined).length;
    const mistakes = problems.filter((problem) => !isOpen(problem, setup, table));
    const own = problemAt(mistakes, group.key);
    const wrong =
        own !== undefined ||
        fields.some((field) =>
            mistakes.some(({ path }) => path === field.key || path.startsWith(`${field.key}[`)),
        );
    return (
        <Fold
            id={partId(group.key)}
            class="part"
            summary={
                <>
                    <span class="part-name">{group.label}</span>
                    <span class="part-count">
                        {wrong
                            ? "▲ not accepted"
                            : (told > 0 ? `${told} told, ` : "") + assumedIn(report, group.key)}
                    </span>
                </>
            }
        >
            {() => (
                <>
                    {own && <Mistake text={own} />}
                    {fields.map((field) =>
                        field.type === "rows" ? (
                            <div class="entry entry-rows" key={field.key}>
                                <div class="entry-name">
                                    <span>{field.label}</span>
                                    <Help field={field} />
                                </div>
                                <RowsEditor field={field} addLabel="Add one" />
                            </div>
                        ) : (
                            <FieldEntry key={field.key} field={field} />
                        ),
                    )}
                </>
            )}
        </Fold>
    );
}
