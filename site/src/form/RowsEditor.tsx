// How is a list entered that is not the throttle mix? Row by row; a new row is written in a form of its
// own, kept on the phone until it is added, so that a half-written one never spoils the answer.

import { useMemo, useReducer, useState } from "preact/hooks";
import type { Field } from "../core/fields";
import { toldFor } from "../figures/axis";
import { keep, kept } from "../keep/phone";
import { isObject, valueAt, type Json, type JsonObject } from "../setup/json";
import { belongs } from "../setup/model";
import { written } from "../words/numbers";
import { useWords, type Wording } from "../words/scale";
import { rowText } from "./row-text";
import { problemAt, useEditing } from "./editing";
import { EntryRow } from "./FieldEntry";
import { Mistake } from "./Mistake";
import { LOAD_KIND } from "./MixEditor";
import { saidOf } from "./places";

const heldRow = (key: string): JsonObject => kept("rows")?.[key] ?? {};

const THROTTLE = "throttle_pct";

/** What is asked first of a reading: what it is, where, in what air, how long. */
const FIRST = ["kind", "where", "air_C", THROTTLE, "hold_s", "pack_A", "rpm"];
/** What may have been other than it is now: asked behind a fold. */
const THEN = [
    "full_throttle_A",
    "kv_rpm_per_V",
    "cells",
    "freewheel",
    "bec_kind",
    "cooling",
    "sun",
];
/** What says nothing of a flight: that is flown as the setup tells. */
const OF_A_HOLD = [THROTTLE, "hold_s", "pack_A"];
const placeOf = ({ key }: Field): number => {
    const place = FIRST.indexOf(key);
    return place < 0 ? FIRST.length : place;
};

interface Props {
    field: Field;
    addLabel: string;
    /** what a new row has to tell at least */
    needs?: string;
}

export function RowsEditor({ field, addLabel, needs }: Props) {
    const { setup, model, table, edit, problems } = useEditing();
    const words = useWords();
    const [, draw] = useReducer<number, void>((count) => count + 1, 0);
    /** The rows open: by touch or by a mistake, and then until they are shut. */
    const open = useMemo(() => new Set<number>(), [model]);

    const list = valueAt(setup, field.key);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    // what belongs to every reading comes first, the rest as the table has it
    const columns = toldFor(valueAt(setup, LOAD_KIND), field.rows).sort(
        (a, b) => placeOf(a) - placeOf(b),
    );

    function without(index: number): void {
        const left = rows.filter((_row, i) => i !== index);
        edit(field.key, left.length > 0 ? left : undefined, `Row ${index + 1} removed`);
        open.clear();
    }

    const own = problemAt(problems, field.key);
    return (
        <div class="rows">
            {own && <Mistake text={own} />}
            <ol>
                {rows.map((row, index) => {
                    const place = `${field.key}[${index}]`;
                    const wrong = problems.some((problem) => problem.path.startsWith(place));
                    if (wrong) open.add(index);
                    const missing = problemAt(problems, place);
                    return (
                        <li key={index} class={wrong ? "bad" : ""}>
                            <div class="row-line">
                                <span>{summary(row, index, columns, words)}</span>
                                <button
                                    type="button"
                                    aria-expanded={open.has(index)}
                                    onClick={() => {
                                        if (!open.delete(index)) open.add(index);
                                        draw();
                                    }}
                                >
                                    Edit
                                </button>
                                <button type="button" onClick={() => without(index)}>
                                    Remove
                                </button>
                            </div>
                            {missing && (
                                <strong class="problem">▲ {saidOf(place, missing, table)}</strong>
                            )}
                            {open.has(index) && (
                                <RowFields
                                    row={row}
                                    columns={columns}
                                    place={place}
                                    onValue={(key, value) => edit(`${place}.${key}`, value)}
                                />
                            )}
                        </li>
                    );
                })}
            </ol>
            <details class="new-row">
                <summary>{addLabel}</summary>
                <NewRow
                    key={model}
                    list={field.key}
                    columns={columns}
                    needs={needs}
                    onAdd={(row) => edit(`${field.key}[${rows.length}]`, row, "Row added")}
                />
            </details>
        </div>
    );
}

/** Called as the core's messages call it, then what else was told. */
function summary(row: JsonObject, index: number, columns: Field[], words: Wording): string {
    const throttle = row[THROTTLE] ?? columns.find(({ key }) => key === THROTTLE)?.default;
    const name = row.kind === "flight" ? row.kind : `${written(Number(throttle ?? NaN))} %`;
    const told = columns.filter(({ key }) => key !== "kind" && key !== THROTTLE);
    return [`Row ${index + 1} (${name})`, ...rowText(told, row, words)].join("; ");
}

interface RowProps {
    row: JsonObject;
    columns: Field[];
    /** where the row stands in the setup, or a name of its own */
    place: string;
    onValue: (key: string, value: Json | undefined) => void;
}

/** What may be told of one row, as far as it goes with what is told already. */
function RowFields({ row, columns, place, onValue }: RowProps) {
    const { setup, table } = useEditing();
    const find = (key: string) => columns.find((column) => column.key === key);
    const entries = (asked: Field[]) =>
        asked
            .filter(
                ({ key }) =>
                    row.kind !== "flight" || row[key] !== undefined || !OF_A_HOLD.includes(key),
            )
            .filter((column) =>
                column.only_with?.includes(".")
                    ? belongs(column, table, setup)
                    : belongs(column, { find }, row),
            )
            .map((column) => (
                <EntryRow
                    key={column.key}
                    field={column}
                    path={`${place}.${column.key}`}
                    value={row[column.key]}
                    onValue={(value) => onValue(column.key, value)}
                />
            ));
    const then = columns.filter(({ key }) => THEN.includes(key));
    return (
        <>
            {entries(columns.filter((column) => !then.includes(column)))}
            {then.length > 0 && (
                <details open={then.some(({ key }) => row[key] !== undefined)}>
                    <summary>Read with other parts than now</summary>
                    {entries(then)}
                </details>
            )}
        </>
    );
}

interface NewProps {
    /** the key of the list it is to stand in */
    list: string;
    columns: Field[];
    /** what it has to tell at least */
    needs: string | undefined;
    onAdd: (row: JsonObject) => void;
}

/** A row that is not added yet, as far as it is written. */
function NewRow({ list, columns, needs, onAdd }: NewProps) {
    const [draft, setDraft] = useState<JsonObject>(() => heldRow(list));
    function hold(row: JsonObject): void {
        setDraft(row);
        void keep("rows", { ...kept("rows"), [list]: row });
    }
    return (
        <>
            <RowFields
                row={draft}
                columns={columns}
                place={`new-${list}`}
                onValue={(key, value) => hold({ ...draft, [key]: value })}
            />
            {needs && <p>{needs}</p>}
            <button
                type="button"
                class="main"
                onClick={() => {
                    onAdd(JSON.parse(JSON.stringify(draft)) as JsonObject);
                    hold({});
                }}
            >
                Add
            </button>
        </>
    );
}
