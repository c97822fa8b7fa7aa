// How is one field of the table asked? By its type: stepped number, choice, flag, text or several
// numbers, with the assumed value and its range below, and with what the core found wrong.

import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import type { Field } from "../core/fields";
import { valueAt, type Json } from "../setup/json";
import { readSeveral, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { assumptionFor, effective, entryId, problemAt, problemOfPart, useEditing } from "./editing";
import { NumberEntry } from "./NumberEntry";

/** A field at its own place in the setup. */
export function FieldEntry({ field, stops }: { field: Field; stops?: number[] | undefined }) {
    const { setup, edit } = useEditing();
    return (
        <EntryRow
            field={field}
            path={field.key}
            value={valueAt(setup, field.key)}
            stops={stops}
            onValue={(value) => edit(field.key, value)}
        />
    );
}

interface RowProps {
    field: Field;
    path: string;
    value: Json | undefined;
    stops?: number[] | undefined;
    onValue: (value: Json | undefined) => void;
}

/** Label, control and notes of one field, wherever its value is kept. */
export function EntryRow({ field, path, value, stops, onValue }: RowProps) {
    const { report, problems, setup } = useEditing();
    const words = useWords();
    const id = entryId(path);
    const problem =
        problemAt(problems, path) ??
        (value === undefined ? problemOfPart(problems, field) : undefined);
    const assumed = value === undefined ? assumptionFor(report, path) : undefined;
    const number = (n: number): string => written(words.shown(field, n), 3);
    const unit = words.unit(field.unit);

    const notes: [string, ComponentChildren][] = [];
    if (problem) {
        notes.push([`${id}-problem`, <strong class="problem">▲ {words.sentence(problem)}</strong>]);
    }
    if (assumed) {
        const spread =
            assumed.low < assumed.high ? ` (${number(assumed.low)}–${number(assumed.high)})` : "";
        notes.push([`${id}-assumed`, `assumed ${number(assumed.value)} ${unit}${spread}`]);
    }
    const describedBy = notes.map(([name]) => name).join(" ") || undefined;

    const fallback = assumed?.value ?? field.default;
    const base = typeof fallback === "number" ? fallback : undefined;
    const chosen = value ?? (path === field.key ? effective(setup, field) : field.default);

    return (
        <div class={`entry entry-${field.type}${problem ? " bad" : ""}`}>
            <div class="entry-name">
                {field.type === "choice" ? (
                    <span id={`${id}-name`}>{field.label}</span>
                ) : (
                    <label for={id}>
                        {field.label}
                        {unit && <span class="unit">, {unit}</span>}
                    </label>
                )}
                <Help text={field.help} label={field.label} />
            </div>
            <Control
                {...{ field, id, value, chosen, base, stops, onValue, describedBy }}
                bad={!!problem}
            />
            {notes.length > 0 && (
                <div class="entry-notes">
                    {notes.map(([name, note]) => (
                        <p id={name} key={name}>
                            {note}
                        </p>
                    ))}
                </div>
            )}
        </div>
    );
}

interface ControlProps {
    field: Field;
    id: string;
    value: Json | undefined;
    chosen: Json | undefined;
    base: number | undefined;
    stops: number[] | undefined;
    bad: boolean;
    describedBy: string | undefined;
    onValue: (value: Json | undefined) => void;
}

function Control(props: ControlProps) {
    const { field, id, value, chosen, describedBy, onValue } = props;
    const common = {
        id,
        "aria-invalid": props.bad ? ("true" as const) : undefined,
        "aria-describedby": describedBy,
    };
    if (field.type === "flag") {
        return (
            <span class="flag">
                <input
                    {...common}
                    type="checkbox"
                    checked={chosen === true}
                    onChange={(event) => onValue(event.currentTarget.checked)}
                />
            </span>
        );
    }
    if (field.type === "choice") {
        return (
            <span class="choice" role="radiogroup" aria-labelledby={`${id}-name`} id={id}>
                {(field.choices ?? []).map((choice) => (
                    <label key={choice}>
                        <input
                            type="radio"
                            name={id}
                            checked={chosen === choice}
                            onChange={() => onValue(choice)}
                        />
                        <span>{spelled(choice)}</span>
                    </label>
                ))}
            </span>
        );
    }
    if (field.type === "numbers") return <SeveralNumbers {...props} />;
    if (field.type === "text") {
        return (
            <input
                {...common}
                class="text"
                type="text"
                autocomplete="off"
                value={typeof value === "string" ? value : ""}
                onInput={(event) => onValue(event.currentTarget.value || undefined)}
            />
        );
    }
    return (
        <NumberEntry
            id={id}
            field={field}
            value={value}
            base={props.base}
            stops={props.stops}
            bad={props.bad}
            describedBy={describedBy}
            onValue={onValue}
        />
    );
}

function SeveralNumbers({ id, value, chosen, bad, describedBy, onValue }: ControlProps) {
    const [draft, setDraft] = useState<{ text: string; made: Json | undefined }>();
    const listed = (list: Json | undefined): string =>
        Array.isArray(list)
            ? list.map((n) => written(Number(n), 6)).join("; ")
            : String(list ?? "");

    return (
        <input
            id={id}
            class="text"
            type="text"
            autocomplete="off"
            value={draft && draft.made === value ? draft.text : listed(value)}
            placeholder={listed(chosen)}
            aria-invalid={bad ? "true" : undefined}
            aria-describedby={describedBy}
            onInput={(event) => {
                const text = event.currentTarget.value;
                const made = text.trim() === "" ? undefined : (readSeveral(text) ?? text);
                setDraft({ text, made });
                onValue(made);
            }}
            onBlur={() => setDraft(undefined)}
        />
    );
}

/** The table's help text, folded away behind a question mark. */
export function Help({ text, label }: { text: string; label: string }) {
    const words = useWords();
    if (!text) return null;
    return (
        <details class="help" name="help">
            <summary aria-label={`What is ${label}?`}>?</summary>
            <p>{words.sentence(text)}</p>
        </details>
    );
}
