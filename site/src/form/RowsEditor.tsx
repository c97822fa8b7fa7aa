// How is a list entered that is not the throttle mix? Row by row; a new row is written in a form of its
// own, kept on the phone until it is added, so that a half-written one never spoils the answer.

import { useState } from "preact/hooks";
import type { Field } from "../core/fields";
import { keep, kept } from "../keep/phone";
import { isObject, valueAt, type Json, type JsonObject } from "../setup/json";
import { belongs } from "../setup/model";
import { written } from "../words/numbers";
import { useWords } from "../words/scale";
import { rowText } from "./row-text";
import { problemAt, useEditing } from "./editing";
import { EntryRow } from "./FieldEntry";

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
}

export function RowsEditor({ field, addLabel }: Props) {
    const { setup, table, edit, problems } = useEditing();
    const words = useWords();
    const [draft, setDraft] = useState<JsonObject>(() => heldRow(field.key));
    const [open, setOpen] = useState<number>();

    const list = valueAt(setup, field.key);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    // what belongs to every reading comes first, the rest as the table has it
    const columns = [...(field.rows ?? [])].sort((a, b) => placeOf(a) - placeOf(b));
    const find = (key: string) => columns.find((column) => column.key === key);

    function hold(row: JsonObject): void {
        setDraft(row);
        void keep("rows", { ...kept("rows"), [field.key]: row });
    }

    /** Called as the core's messages call it, then what else was told. */
    function summary(row: JsonObject, index: number): string {
        const throttle = row[THROTTLE] ?? find(THROTTLE)?.default;
        const name = row.kind === "flight" ? row.kind : `${written(Number(throttle ?? NaN))} %`;
        const told = columns.filter(({ key }) => key !== "kind" && key !== THROTTLE);
        return [`Row ${index + 1} (${name})`, ...rowText(told, row, words)].join("; ");
    }

    const fieldsOf = (
        row: JsonObject,
        pathOf: (key: string) => string,
        set: (key: string, value: Json | undefined) => void,
    ) => {
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
                        path={pathOf(column.key)}
                        value={row[column.key]}
                        onValue={(value) => set(column.key, value)}
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
    };

    function without(index: number): void {
        const left = rows.filter((_row, i) => i !== index);
        edit(field.key, left.length > 0 ? left : undefined, `Row ${index + 1} removed`);
        setOpen(undefined);
    }

    const own = problemAt(problems, field.key);
    return (
        <div class="rows">
            {own && <strong class="problem">▲ {words.sentence(own)}</strong>}
            <ol>
                {rows.map((row, index) => {
                    const place = `${field.key}[${index}]`;
                    const wrong = problems.some((problem) => problem.path.startsWith(place));
                    return (
                        <li key={index} class={wrong ? "bad" : ""}>
                            <div class="row-line">
                                <span>{summary(row, index)}</span>
                                <button
                                    type="button"
                                    aria-expanded={open === index || wrong}
                                    onClick={() => setOpen(open === index ? undefined : index)}
                                >
                                    Edit
                                </button>
                                <button type="button" onClick={() => without(index)}>
                                    Remove
                                </button>
                            </div>
                            {(open === index || wrong) &&
                                fieldsOf(
                                    row,
                                    (key) => `${place}.${key}`,
                                    (key, value) => edit(`${place}.${key}`, value),
                                )}
                        </li>
                    );
                })}
            </ol>
            <details class="new-row">
                <summary>{addLabel}</summary>
                {fieldsOf(
                    draft,
                    (key) => `new-${field.key}.${key}`,
                    (key, value) => hold({ ...draft, [key]: value }),
                )}
                <button
                    type="button"
                    class="main"
                    onClick={() => {
                        const row = JSON.parse(JSON.stringify(draft)) as JsonObject;
                        edit(`${field.key}[${rows.length}]`, row, "Row added");
                        hold({});
                    }}
                >
                    Add
                </button>
            </details>
        </div>
    );
}
