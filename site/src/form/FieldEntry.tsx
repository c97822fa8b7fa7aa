// How is one field of the table asked? By its type: stepped number, choice, flag, text or several
// numbers, with the assumed value and its range below, and with what the core found wrong. What may be
// left out can be answered with "not measured".

import type { ComponentChildren } from "preact";
import { inInches, mayBeUnmeasured, type Field } from "../core/fields";
import { valueAt, type Json } from "../setup/json";
import { readSeveral, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { assumptionFor, effective, entryId, isOpen, useEditing } from "./editing";
import { Mistake } from "./Mistake";
import { NumberEntry } from "./NumberEntry";
import { goOn } from "./places";
import { useTyped } from "./typed";
import { Ways } from "./Ways";

/** A field at its own place in the setup. `asked`: one of the questions. */
export function FieldEntry({ field, asked = false }: { field: Field; asked?: boolean }) {
    const { setup, edit, unmeasured, measure } = useEditing();
    const left = unmeasured.includes(field.key);
    return (
        <EntryRow
            field={field}
            path={field.key}
            value={valueAt(setup, field.key)}
            {...(asked &&
                mayBeUnmeasured(field) && {
                    unmeasured: left,
                    onUnmeasured: (next: boolean) => measure(field.key, next),
                })}
            onValue={(value) => edit(field.key, value)}
        />
    );
}

interface RowProps {
    field: Field;
    path: string;
    value: Json | undefined;
    /** of a question that may be left out: whether it is */
    unmeasured?: boolean;
    onUnmeasured?: (next: boolean) => void;
    onValue: (value: Json | undefined) => void;
}

/** Label, control and notes of one field, wherever its value is kept. */
export function EntryRow(props: RowProps) {
    const { field, path, value, unmeasured, onUnmeasured, onValue } = props;
    const { report, problems, setup, table } = useEditing();
    const words = useWords();
    const id = entryId(path);
    const found = problems.find((problem) => problem.path === path);
    // a question not answered yet is no mistake
    const open = found !== undefined && isOpen(found, setup, table);
    const problem = open ? undefined : found?.text;
    const assumed = value === undefined ? assumptionFor(report, path) : undefined;
    const number = (n: number): string => written(words.shown(field, n), 3);
    const unit = words.unit(field.unit);

    const notes: [string, ComponentChildren][] = [];
    if (problem) {
        notes.push([`${id}-problem`, <Mistake field={field} text={problem} />]);
    } else if (open && report) notes.push([`${id}-open`, "still to be answered"]);
    if (assumed && field.type !== "choice") {
        const spread =
            assumed.low < assumed.high ? ` (${number(assumed.low)}–${number(assumed.high)})` : "";
        notes.push([`${id}-assumed`, `assumed ${number(assumed.value)} ${unit}${spread}`]);
    }
    const describedBy = notes.map(([name]) => name).join(" ") || undefined;

    const fallback = assumed?.value ?? field.default;
    const base = typeof fallback === "number" ? fallback : undefined;
    const chosen = value ?? (path === field.key ? effective(setup, field) : field.default);
    const forgets = onUnmeasured === undefined && mayBeUnmeasured(field) && value !== undefined;

    return (
        <div class={`entry entry-${field.type}${problem ? " bad" : ""}`}>
            <div class="entry-name">
                {field.type === "choice" ? (
                    <span id={`${id}-name`}>{field.label}</span>
                ) : (
                    <label for={id}>
                        {field.label}
                        {unit && <span class="unit">, {unit}</span>}
                        {inInches(field) && " (or 10\u00a0in)"}
                    </label>
                )}
                <Help field={field} />
            </div>
            <Control
                {...{ field, id, value, chosen, base, onValue, describedBy }}
                bad={!!problem}
            />
            {onUnmeasured && (
                <button
                    type="button"
                    class="left-out"
                    aria-pressed={unmeasured}
                    aria-label={`${field.label}: not measured`}
                    onClick={() => onUnmeasured(!unmeasured)}
                >
                    not measured
                </button>
            )}
            {forgets && field.type !== "text" && (
                <button
                    type="button"
                    class="left-out"
                    aria-label={`${field.label}: take out`}
                    onClick={() => onValue(undefined)}
                >
                    {field.estimated ? "not measured" : "take out"}
                </button>
            )}
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
        return <Choice {...{ field, id, chosen, describedBy, onValue }} />;
    }
    if (field.type === "numbers") return <SeveralNumbers {...props} common={common} />;
    if (field.type === "rows") return <PairsEntry {...props} common={common} />;
    if (field.type === "text") {
        return (
            <input
                {...common}
                class="text"
                type="text"
                autocomplete="off"
                value={typeof value === "string" ? value : ""}
                onInput={(event) => onValue(event.currentTarget.value || undefined)}
                onKeyDown={(event) => event.key === "Enter" && goOn(event)}
            />
        );
    }
    return (
        <NumberEntry
            id={id}
            field={field}
            value={value}
            base={props.base}
            bad={props.bad}
            describedBy={describedBy}
            onValue={onValue}
        />
    );
}

/** `common`: what every typed control has. */
type ListProps = ControlProps & { common: object };

type ChoiceProps = Pick<ControlProps, "field" | "id" | "chosen" | "describedBy" | "onValue">;

/** "Do not know" stands first: it is what most can say. */
function Choice({ field, id, chosen, describedBy, onValue }: ChoiceProps) {
    const choices = [...(field.choices ?? [])].sort(
        (a, b) => Number(b === "unknown") - Number(a === "unknown"),
    );
    return (
        <Ways
            name={id}
            id={id}
            aria-labelledby={`${id}-name`}
            aria-describedby={describedBy}
            ways={choices.map((choice) => [choice, spelled(choice)])}
            chosen={chosen}
            onChoose={onValue}
        />
    );
}

/** A list within a row: one line each, its figures parted by spaces. */
function PairsEntry({ field, common, value, onValue }: ListProps) {
    const words = useWords();
    const columns = field.rows ?? [];
    const listed = (list: Json | undefined): string =>
        Array.isArray(list)
            ? list
                  .map((row) =>
                      columns
                          .map((column, i) => {
                              const cell = Array.isArray(row) ? row[i] : undefined;
                              return typeof cell === "number"
                                  ? written(words.shown(column, cell), 6)
                                  : String(cell ?? "");
                          })
                          .join(" "),
                  )
                  .join("\n")
            : String(list ?? "");
    function read(text: string): Json | undefined {
        const rows = text
            .split("\n")
            .filter((line) => line.trim() !== "")
            .map((line) => readSeveral(line));
        if (!rows.every((row) => row !== undefined)) return undefined;
        return rows.map((row) =>
            row.map((n, i) => (columns[i] ? words.entered(columns[i], n) : n)),
        );
    }
    return (
        <textarea
            {...common}
            rows={3}
            spellcheck={false}
            {...useTyped(value, listed(value), read, onValue)}
            placeholder={columns.map((one) => words.named(one)).join("  ")}
        />
    );
}

function SeveralNumbers({ field, common, value, chosen, onValue }: ListProps) {
    const words = useWords();
    const listed = (list: Json | undefined): string =>
        Array.isArray(list)
            ? list.map((n) => written(words.shown(field, Number(n)), 6)).join("; ")
            : String(list ?? "");
    const own = (text: string) => readSeveral(text)?.map((n) => words.entered(field, n));
    return (
        <input
            {...common}
            class="text"
            type="text"
            autocomplete="off"
            {...useTyped(value, listed(value), own, onValue)}
            placeholder={listed(chosen)}
        />
    );
}

/** The table's help text, folded away behind a question mark. */
export function Help({ field: { help, label } }: { field: Field }) {
    const words = useWords();
    if (!help) return null;
    return (
        <details
            class="help"
            name="help"
            // not behind the foot
            onToggle={({ currentTarget: one }) =>
                one.open && one.lastElementChild?.scrollIntoView({ block: "nearest" })
            }
        >
            <summary aria-label={`What is ${label}?`}>?</summary>
            <p>{words.sentence(help)}</p>
        </details>
    );
}
