// What does a logger's file say? The pilot opens it, says which column is what, and has it read; the
// guesses only fill in the choices.

import { useRef, useState } from "preact/hooks";
import type { Door, LogReading } from "../core/door";
import type { Field } from "../core/fields";
import { Table } from "../figures/Figure";
import { entryId } from "../form/editing";
import type { Guess, LogLook, LogMapping, Role, Units } from "../log/log";
import type { JsonObject } from "../setup/json";
import { nameOfColumn, ROLE_WORDS } from "../words/logger";
import { read, written } from "../words/numbers";
import { LogSaid } from "./LogSaid";

/** What a log may hold, in the order it is asked; the speed as far as the core takes it. */
const rolesFor = (field: Field): Role[] =>
    (Object.keys(ROLE_WORDS) as Role[]).filter(
        (role) => role !== "rpm" || (field.rows ?? []).some(({ key }) => key === "rpm"),
    );

/** What the pilot has chosen so far. */
interface Choice {
    columns: LogMapping["columns"];
    units: Units;
    decimal: LogLook["layout"]["decimal"];
    /** as typed */
    row_s: string;
    none: string;
    full: string;
}

interface Opened {
    file: File;
    look: LogLook;
    choice: Choice;
}

const NOWHERE: LogMapping["columns"] = {
    time_s: null,
    throttle_pct: null,
    current_A: null,
    voltage_V: null,
    esc_C: null,
    rpm: null,
};

const guessed = (look: LogLook, roles: Role[]): Choice => ({
    columns: {
        ...NOWHERE,
        ...Object.fromEntries(roles.map((role) => [role, look.guesses[role]?.column ?? null])),
    },
    units: look.units,
    decimal: look.layout.decimal,
    row_s: "",
    none: "",
    full: "",
});

/** The look with the decimal sign that the pilot chose. */
const lookWith = ({ look, choice }: Opened): LogLook => ({
    ...look,
    layout: { ...look.layout, decimal: choice.decimal },
});

/** What cannot be read as a number goes on as none: the core says what is accepted. */
function mappingOf({ columns, units, row_s, none, full }: Choice): LogMapping {
    const number = (text: string): number => read(text) ?? NaN;
    return {
        columns,
        units,
        ...(columns.time_s === null && row_s.trim() && { row_s: number(row_s) }),
        ...(columns.throttle_pct !== null &&
            (none + full).trim() && {
                throttle_ends: [number(none), number(full)] as [number, number],
            }),
    };
}

interface Props {
    door: Door;
    /** the last setup that the core gave an answer for: predicted beside the log */
    answered: JsonObject | undefined;
    /** the list that the holds go into */
    field: Field;
}

export function LogFile({ door, answered, field }: Props) {
    const [opened, setOpened] = useState<Opened>();
    const [reading, setReading] = useState<LogReading>();
    const [said, setSaid] = useState("");
    const [failure, setFailure] = useState("");
    // an answer that a newer file or choice has overtaken is dropped
    const turn = useRef(0);

    /** Asks the core; what comes of it is shown if nothing newer was asked meanwhile. */
    async function ask<T>(words: string, call: () => Promise<T>, show: (value: T) => void) {
        turn.current += 1;
        const asked = turn.current;
        const isCurrent = (): boolean => asked === turn.current;
        setReading(undefined);
        setFailure("");
        setSaid(words);
        try {
            const value = await call();
            if (!isCurrent()) return;
            setSaid("");
            show(value);
        } catch (cause) {
            if (!isCurrent()) return;
            setSaid("");
            setFailure(cause instanceof Error ? cause.message : String(cause));
        }
    }
    const open = (file: File): Promise<void> => {
        setOpened(undefined);
        return ask(
            "Looking at the file …",
            () => door.lookAtLog(file),
            (look) => {
                if (look.refusal) setFailure(look.refusal);
                else setOpened({ file, look, choice: guessed(look, rolesFor(field)) });
            },
        );
    };
    function choose(change: Partial<Choice>): void {
        turn.current += 1;
        setReading(undefined);
        setFailure("");
        setSaid("");
        setOpened((now) => now && { ...now, choice: { ...now.choice, ...change } });
    }
    /** The unit follows the column, as far as the file tells it. */
    function chooseColumn(now: Opened, role: Role, column: number | null): void {
        const columns = { ...now.choice.columns, [role]: column };
        const { unit } = ROLE_WORDS[role];
        choose({ columns });
        if (!unit) return;
        void ask(
            "",
            () => door.unitsOf(lookWith(now), columns),
            (units) => choose({ units: { ...now.choice.units, [unit]: units[unit] } }),
        );
    }
    const readNow = (now: Opened): Promise<void> => {
        const asked = turn.current + 1;
        const progress = (share: number): void => {
            if (asked === turn.current) setSaid(`Reading … ${written(100 * share, 2)} %`);
        };
        return ask(
            "Reading …",
            () =>
                door.readLog(
                    now.file,
                    lookWith(now),
                    mappingOf(now.choice),
                    answered ?? null,
                    progress,
                ),
            setReading,
        );
    };

    return (
        <div class="log">
            <h3>From a logger's file</h3>
            <p>
                Rows of text with a column for each figure (CSV, TSV, TXT). The file stays on this
                phone.
            </p>
            <div class="buttons">
                <label class="file">
                    <input
                        type="file"
                        accept=".csv,.tsv,.txt,text/*"
                        onChange={(event) => {
                            const input = event.currentTarget;
                            const file = input.files?.[0];
                            if (file) void open(file);
                            input.value = "";
                        }}
                    />
                    <span>Open a logger's file</span>
                </label>
            </div>
            {opened && (
                <>
                    <Preview name={opened.file.name} look={opened.look} />
                    <Choices
                        opened={opened}
                        roles={rolesFor(field)}
                        onChoose={choose}
                        onColumn={(role, column) => chooseColumn(opened, role, column)}
                    />
                    <div class="buttons">
                        <button type="button" class="main" onClick={() => void readNow(opened)}>
                            Read the file
                        </button>
                    </div>
                </>
            )}
            <p role="status" class="said">
                {said}
            </p>
            {failure && (
                <p class="problem">
                    ▲ {opened ? "The file was not read" : "This is not taken for a log"}: {failure}
                </p>
            )}
            {opened && reading && <LogSaid reading={reading} look={opened.look} field={field} />}
        </div>
    );
}

function Preview({ name, look }: { name: string; look: LogLook }) {
    return (
        <Table
            caption={`The first rows of ${name}`}
            head={look.columns.map(nameOfColumn)}
            rows={look.preview.map((row) =>
                look.columns.map((_column, i) => row[i]?.trim() || "–"),
            )}
        />
    );
}

interface ChoicesProps {
    opened: Opened;
    roles: Role[];
    onChoose: (change: Partial<Choice>) => void;
    onColumn: (role: Role, column: number | null) => void;
}

function Choices({ opened: { look, choice }, roles, onChoose, onColumn }: ChoicesProps) {
    const { columns, units } = choice;
    const typed = (key: "row_s" | "none" | "full", label: string) => (
        <label>
            {label}
            <input
                type="text"
                inputMode="decimal"
                autocomplete="off"
                value={choice[key]}
                onInput={(event) => onChoose({ [key]: event.currentTarget.value })}
            />
        </label>
    );
    return (
        <>
            <h3>Which column is what</h3>
            {roles.map((role) => {
                const { label, unit, units: signs = {} } = ROLE_WORDS[role];
                const column = columns[role];
                const id = entryId(`log.${role}`);
                const note = noteOn(look.guesses[role], column);
                // a clock tells its own unit
                const asksUnit =
                    unit !== undefined &&
                    column !== null &&
                    look.columns[column]?.kind === "number";
                return (
                    <div class="entry entry-text" key={role}>
                        <label for={id}>{label}</label>
                        <span class="log-choose">
                            <select
                                id={id}
                                value={column ?? ""}
                                aria-describedby={note ? `${id}-note` : undefined}
                                onChange={(event) => {
                                    const { value } = event.currentTarget;
                                    onColumn(role, value === "" ? null : Number(value));
                                }}
                            >
                                <option value="">not logged</option>
                                {look.columns.map((one, place) => (
                                    <option key={place} value={place}>
                                        {nameOfColumn(one)}
                                    </option>
                                ))}
                            </select>
                            {asksUnit && (
                                <select
                                    aria-label={`${label}, unit`}
                                    value={units[unit]}
                                    onChange={(event) =>
                                        onChoose({
                                            units: { ...units, [unit]: event.currentTarget.value },
                                        })
                                    }
                                >
                                    {Object.entries(signs).map(([value, sign]) => (
                                        <option key={value} value={value}>
                                            {sign}
                                        </option>
                                    ))}
                                </select>
                            )}
                        </span>
                        {note && (
                            <p class="entry-notes" id={`${id}-note`}>
                                {note}
                            </p>
                        )}
                    </div>
                );
            })}
            {columns.time_s === null && (
                <div class="entry entry-text">
                    <span class="log-choose">{typed("row_s", "Seconds from row to row")}</span>
                </div>
            )}
            {columns.throttle_pct !== null && (
                <div class="entry entry-text">
                    <span>
                        Ends of the throttle column, where they are not 0 and 100 %, 0 and 1, or
                        1000 and 2000 µs
                    </span>
                    <span class="log-choose">
                        {typed("none", "At no throttle")}
                        {typed("full", "At full throttle")}
                    </span>
                </div>
            )}
            {!look.layout.decimalSure && (
                <div class="entry entry-text">
                    <label for={entryId("log.decimal")}>Decimal sign</label>
                    <span class="log-choose">
                        <select
                            id={entryId("log.decimal")}
                            value={choice.decimal}
                            aria-describedby={entryId("log.decimal-note")}
                            onChange={(event) =>
                                onChoose({
                                    decimal: event.currentTarget.value === "," ? "," : ".",
                                })
                            }
                        >
                            <option value=",">comma: 1,234 is a little over 1</option>
                            <option value=".">point: 1,234 is over a thousand</option>
                        </select>
                    </span>
                    <p class="entry-notes" id={entryId("log.decimal-note")}>
                        ▲ Not sure: the file leaves it open.
                    </p>
                </div>
            )}
        </>
    );
}

/** How sure the guess is, as long as it stands. */
function noteOn(guess: Guess | null, column: number | null): string {
    if (column === null || guess?.column !== column) return "";
    if (guess.confidence === "unsure") return "▲ Not sure: another column may be it as well.";
    return guess.confidence === "likely" ? "Likely, by its name or its unit." : "";
}
