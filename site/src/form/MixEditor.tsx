// How is the flight's throttle mix told? One touch takes a usual mix, which is then edited: a short list of
// parts, each a throttle and its time or its share, with a drawing of one round above it.

import { useState } from "preact/hooks";
import type { Field } from "../core/fields";
import { toldFor } from "../figures/axis";
import { mixesFor, type Mix } from "../setup/mixes";
import { isObject, valueAt, type Json, type JsonObject } from "../setup/json";
import { spelled, useWords } from "../words/scale";
import { effective, entryId, isOpen, problemAt, useEditing } from "./editing";
import { EntryRow, Help } from "./FieldEntry";
import { Mistake } from "./Mistake";
import { NumberEntry } from "./NumberEntry";
import { Ways } from "./Ways";

/** The choice that says how the mix is told: asked here, beside the mix. */
export const MIX_KIND = "flight.kind";
export const LOAD_KIND = "load.kind";
const SHARES = "shares";

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
    const [minutes, setMinutes] = useState(false);

    const list = valueAt(setup, field.key);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    const kindField = table.find(MIX_KIND);
    const kind = kindField ? String(effective(setup, kindField)) : "sequence";
    const amountKey = kind === SHARES ? "share_pct" : "seconds";
    const told = toldFor(valueAt(setup, LOAD_KIND), field.rows);
    const columns = ["throttle_pct", amountKey]
        .map((key) => told.find((column) => column.key === key))
        .filter((column) => column !== undefined);
    const more = told.filter(
        (column) => !columns.includes(column) && column.only_with !== MIX_KIND,
    );

    function setFlight(changes: JsonObject, done: string): void {
        edit("flight", { ...(isObject(setup.flight) ? setup.flight : {}), ...changes }, done);
    }
    function setKind(next: string): void {
        if (next === kind) return;
        const nextKey = next === SHARES ? "share_pct" : "seconds";
        setFlight({ kind: next, parts: turned(rows, amountKey, nextKey) }, "Mix told another way");
    }
    function setRows(next: JsonObject[] | undefined, done: string): void {
        edit(field.key, next, done);
    }
    const removed = (index: number): JsonObject[] | undefined =>
        rows.length > 1 ? rows.filter((_row, i) => i !== index) : undefined;

    const found = problems.find(({ path }) => path === field.key);
    const own = found && !isOpen(found, setup, table) ? found.text : undefined;
    return (
        <fieldset class="mix" id={entryId(field.key)}>
            <legend>{field.label}</legend>
            <Help field={field} />
            <UsualMixes
                rows={rows}
                kind={kind}
                onTake={(parts, name) => setFlight({ parts }, `Mix for ${name} taken`)}
            />
            {own && <Mistake text={own} />}
            {rows.length > 0 && (
                <>
                    <Round rows={rows} amountKey={amountKey} />
                    <div class="mix-ways">
                        {kindField && (
                            <Ways
                                name="mix told"
                                aria-label={`${kindField.label}, told`}
                                ways={(kindField.choices ?? []).map((one) => [one, spelled(one)])}
                                chosen={kind}
                                onChoose={setKind}
                            />
                        )}
                        {kind !== SHARES && (
                            <Ways
                                name="mix times"
                                aria-label="Times in"
                                ways={[
                                    ["s", "s"],
                                    ["min", "min"],
                                ]}
                                chosen={minutes ? "min" : "s"}
                                onChoose={(unit) => setMinutes(unit === "min")}
                            />
                        )}
                    </div>
                    <MixHead columns={columns} minutes={minutes} />
                </>
            )}
            <div class="mix-rows">
                {rows.map((row, index) => (
                    <MixRow
                        key={index}
                        {...{ row, index, columns, more, minutes }}
                        path={`${field.key}[${index}]`}
                        onRemove={() => setRows(removed(index), `Part ${index + 1} removed`)}
                    />
                ))}
            </div>
            <button
                type="button"
                class="add"
                onClick={() =>
                    setRows(
                        [...rows, rows.at(-1) ?? firstPart(amountKey)],
                        `Part ${rows.length + 1} added`,
                    )
                }
            >
                {rows.length > 0 ? "+ Another part" : "+ A part of your own"}
            </button>
        </fieldset>
    );
}

/** The usual mixes for such a load, told as the flight's are; the one that stands is marked. */
function UsualMixes(props: {
    rows: JsonObject[];
    kind: string;
    onTake: (parts: JsonObject[], name: string) => void;
}) {
    const { setup } = useEditing();
    const told = ({ parts }: Mix): JsonObject[] =>
        props.kind === SHARES ? turned(parts, "seconds", "share_pct") : parts;
    const standing = JSON.stringify(props.rows);
    return (
        <div class="mixes chips" role="group" aria-label="Usual mixes">
            {mixesFor(valueAt(setup, LOAD_KIND)).map((mix) => (
                <button
                    key={mix.name}
                    type="button"
                    aria-pressed={JSON.stringify(told(mix)) === standing}
                    onClick={() => props.onTake(told(mix), mix.name)}
                >
                    {mix.name}
                </button>
            ))}
        </div>
    );
}

function MixHead({ columns, minutes }: { columns: Field[]; minutes: boolean }) {
    const words = useWords();
    return (
        <div class="mix-head" aria-hidden="true">
            {columns.map(({ key, label, unit }) => (
                <span key={key}>
                    {label}
                    <span class="unit">, {unit === "s" && minutes ? "min" : words.unit(unit)}</span>
                </span>
            ))}
        </div>
    );
}

/** A part to be edited: all of the flight at full throttle. */
const firstPart = (amountKey: string): JsonObject => ({
    throttle_pct: 100,
    [amountKey]: amountKey === "seconds" ? 30 : 100,
});

interface MixRowProps {
    row: JsonObject;
    index: number;
    columns: Field[];
    /** what else may be told of a part */
    more: Field[];
    minutes: boolean;
    path: string;
    onRemove: () => void;
}

function MixRow({ row, index, columns, more, minutes, path, onRemove }: MixRowProps) {
    const { edit, problems } = useEditing();
    const words = useWords();
    const wrong = problems.filter((problem) => problem.path.startsWith(`${path}.`));
    const told = more.filter((column) => row[column.key] !== undefined);
    const [open, setOpen] = useState(false);
    const note = `${entryId(path)}-problem`;
    const set = (column: Field) => (value: Json | undefined) =>
        edit(`${path}.${column.key}`, value);
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
                        per={column.unit === "s" && minutes ? 60 : 1}
                        bad={bad}
                        describedBy={bad ? note : undefined}
                        onValue={set(column)}
                    />
                );
            })}
            <button
                type="button"
                class="remove"
                aria-label={`Remove part ${index + 1}`}
                onClick={onRemove}
            >
                ×
            </button>
            {wrong.length > 0 && (
                <p class="mix-problem" id={note}>
                    {wrong.map((problem) => (
                        <Mistake key={problem.path} text={problem.text} />
                    ))}
                </p>
            )}
            {more.length > 0 && (
                <button
                    type="button"
                    class="mix-more"
                    aria-expanded={open}
                    onClick={() => setOpen(!open)}
                >
                    {told.length > 0
                        ? told
                              .map(
                                  (column) =>
                                      `${column.label.toLowerCase()} ${words.quantity(Number(row[column.key]), column.unit)}`,
                              )
                              .join(", ")
                        : `${more.map((column) => column.label.toLowerCase()).join(", ")}: as usual`}
                </button>
            )}
            {open && (
                <div class="mix-problem">
                    {more.map((column) => (
                        <EntryRow
                            key={column.key}
                            field={column}
                            path={`${path}.${column.key}`}
                            value={row[column.key]}
                            onValue={set(column)}
                        />
                    ))}
                </div>
            )}
        </div>
    );
}

/** One round of the mix: width is time, height is throttle. */
function Round({ rows, amountKey }: { rows: JsonObject[]; amountKey: string }) {
    const whole = rows.reduce((sum, row) => sum + amountOf(row, amountKey), 0);
    const highest = Math.max(100, ...rows.map((row) => amountOf(row, "throttle_pct")));
    let x = 0;
    return (
        <svg class="round" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
            {whole > 0 &&
                rows.map((row, index) => {
                    const width = (100 * amountOf(row, amountKey)) / whole;
                    const height = (100 * amountOf(row, "throttle_pct")) / highest;
                    const left = x;
                    x += width;
                    return (
                        <rect key={index} x={left} y={100 - height} width={width} height={height} />
                    );
                })}
        </svg>
    );
}
