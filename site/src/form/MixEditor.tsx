// How is the flight's throttle mix told? As a short list of parts, each a throttle and its time or its
// share, with a drawing of one round above it.

import type { Field } from "../core/fields";
import { isObject, valueAt, type JsonObject } from "../setup/json";
import { spelled, useWords } from "../words/scale";
import { effective, entryId, problemAt, useEditing } from "./editing";
import { Help } from "./FieldEntry";
import { NumberEntry } from "./NumberEntry";

/** The choice that says how the mix is told: asked here, beside the mix. */
export const MIX_KIND = "flight.kind";

const amountOf = (row: JsonObject, key: string): number => {
    const amount = row[key];
    return typeof amount === "number" && amount > 0 ? amount : 0;
};

/** The rows of one kind told as the other: the proportions stay. */
function turned(rows: JsonObject[], from: string, to: string): JsonObject[] {
    const whole = rows.reduce((sum, row) => sum + amountOf(row, from), 0);
    let left = 100;
    return rows.map((row, index) => {
        const { [from]: _gone, ...rest } = row;
        const last = index === rows.length - 1;
        const share = last ? left : Math.round((100 * amountOf(row, from)) / (whole || 1));
        left -= share;
        return { ...rest, [to]: share };
    });
}

export function MixEditor({ field }: { field: Field }) {
    const { setup, edit, problems, table } = useEditing();
    const words = useWords();

    const list = valueAt(setup, field.key);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    const kindField = table.find(MIX_KIND);
    const kind = kindField ? effective(setup, kindField) : "sequence";
    const amountKey = kind === "shares" ? "share_pct" : "seconds";
    const columns = ["throttle_pct", amountKey]
        .map((key) => field.rows?.find((column) => column.key === key))
        .filter((column) => column !== undefined);

    function setKind(next: string): void {
        if (next === kind) return;
        const nextKey = next === "shares" ? "share_pct" : "seconds";
        edit("flight", {
            ...(isObject(setup.flight) ? setup.flight : {}),
            kind: next,
            parts: turned(rows, amountKey, nextKey),
        });
    }

    const own = problemAt(problems, field.key);
    return (
        <fieldset class="mix">
            <legend>{field.label}</legend>
            <Help text={field.help} label={field.label} />
            {kindField && (
                <span class="choice" role="radiogroup" aria-label={kindField.label}>
                    {(kindField.choices ?? []).map((choice) => (
                        <label key={choice}>
                            <input
                                type="radio"
                                name="flight-kind"
                                checked={kind === choice}
                                onChange={() => setKind(choice)}
                            />
                            <span>{spelled(choice)}</span>
                        </label>
                    ))}
                </span>
            )}
            <Round rows={rows} amountKey={amountKey} />
            {own && <strong class="problem">▲ {words.sentence(own)}</strong>}
            <div class="mix-rows">
                <div class="mix-head" aria-hidden="true">
                    {columns.map((column) => (
                        <span key={column.key}>
                            {column.label}
                            <span class="unit">, {words.unit(column.unit)}</span>
                        </span>
                    ))}
                </div>
                {rows.map((row, index) => (
                    <MixRow
                        key={index}
                        {...{ row, index, columns }}
                        path={`${field.key}[${index}]`}
                        onRemove={
                            rows.length > 1
                                ? () =>
                                      edit(
                                          field.key,
                                          rows.filter((_row, i) => i !== index),
                                      )
                                : undefined
                        }
                    />
                ))}
            </div>
            <button
                type="button"
                class="add"
                onClick={() => edit(field.key, [...rows, rows.at(-1) ?? {}])}
            >
                + Another part
            </button>
        </fieldset>
    );
}

interface MixRowProps {
    row: JsonObject;
    index: number;
    columns: Field[];
    path: string;
    onRemove: (() => void) | undefined;
}

function MixRow({ row, index, columns, path, onRemove }: MixRowProps) {
    const { edit, problems } = useEditing();
    const words = useWords();
    const wrong = problems.filter((problem) => problem.path.startsWith(`${path}.`));
    const note = `${entryId(path)}-problem`;
    return (
        <div class="mix-row">
            {columns.map((column) => {
                const place = `${path}.${column.key}`;
                const bad = problemAt(problems, place) !== undefined;
                return (
                    <NumberEntry
                        key={column.key}
                        id={entryId(place)}
                        field={column}
                        label={`Part ${index + 1}: ${column.label}`}
                        value={row[column.key]}
                        bad={bad}
                        describedBy={bad ? note : undefined}
                        onValue={(value) => edit(place, value)}
                    />
                );
            })}
            {onRemove && (
                <button
                    type="button"
                    class="remove"
                    aria-label={`Remove part ${index + 1}`}
                    onClick={onRemove}
                >
                    ×
                </button>
            )}
            {wrong.length > 0 && (
                <p class="mix-problem" id={note}>
                    {wrong.map((problem) => (
                        <strong class="problem" key={problem.path}>
                            ▲ {words.sentence(problem.text)}
                        </strong>
                    ))}
                </p>
            )}
        </div>
    );
}

/** One round of the mix: width is time, height is throttle. */
function Round({ rows, amountKey }: { rows: JsonObject[]; amountKey: string }) {
    const whole = rows.reduce((sum, row) => sum + amountOf(row, amountKey), 0);
    if (whole === 0) return null;
    let x = 0;
    return (
        <svg class="round" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
            {rows.map((row, index) => {
                const width = (100 * amountOf(row, amountKey)) / whole;
                const height = Math.min(100, Math.max(0, amountOf(row, "throttle_pct")));
                const left = x;
                x += width;
                return <rect key={index} x={left} y={100 - height} width={width} height={height} />;
            })}
        </svg>
    );
}
