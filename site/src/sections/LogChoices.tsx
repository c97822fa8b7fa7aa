// Which column of a logger's file is what? The guesses only fill in the choices.

import { entryId } from "../form/editing";
import type { Guess, LogLook, LogMapping, Role, Units } from "../log/log";
import { nameOfColumn, ROLE_WORDS } from "../words/logger";

/** What the pilot has chosen so far. */
export interface Choice {
    columns: LogMapping["columns"];
    units: Units;
    decimal: LogLook["layout"]["decimal"];
    /** as typed */
    row_s: string;
    none: string;
    full: string;
}

const NOWHERE: LogMapping["columns"] = {
    time_s: null,
    throttle_pct: null,
    current_A: null,
    voltage_V: null,
    esc_C: null,
    rpm: null,
};

export const guessed = (look: LogLook, roles: Role[]): Choice => ({
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

interface Props {
    look: LogLook;
    choice: Choice;
    roles: Role[];
    onChoose: (change: Partial<Choice>) => void;
    onColumn: (role: Role, column: number | null) => void;
}

export function LogChoices(props: Props) {
    const { look, choice, roles, onChoose } = props;
    const { columns } = choice;
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
            {roles.map((role) => (
                <RoleEntry key={role} role={role} {...props} />
            ))}
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
                <DecimalEntry
                    decimal={choice.decimal}
                    onDecimal={(decimal) => onChoose({ decimal })}
                />
            )}
        </>
    );
}

/** One role: its column, and its unit where the column does not tell it. */
function RoleEntry({ role, look, choice, onChoose, onColumn }: Props & { role: Role }) {
    const { label, unit, units: signs = {} } = ROLE_WORDS[role];
    const column = choice.columns[role];
    const id = entryId(`log.${role}`);
    const note = noteOn(look.guesses[role], column);
    // a clock tells its own unit
    const asksUnit =
        unit !== undefined && column !== null && look.columns[column]?.kind === "number";
    return (
        <div class="entry entry-text">
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
                        value={choice.units[unit]}
                        onChange={(event) =>
                            onChoose({
                                units: { ...choice.units, [unit]: event.currentTarget.value },
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
}

function DecimalEntry(props: {
    decimal: Choice["decimal"];
    onDecimal: (sign: Choice["decimal"]) => void;
}) {
    const id = entryId("log.decimal");
    return (
        <div class="entry entry-text">
            <label for={id}>Decimal sign</label>
            <span class="log-choose">
                <select
                    id={id}
                    value={props.decimal}
                    aria-describedby={`${id}-note`}
                    onChange={(event) =>
                        props.onDecimal(event.currentTarget.value === "," ? "," : ".")
                    }
                >
                    <option value=",">comma: 1,234 is a little over 1</option>
                    <option value=".">point: 1,234 is over a thousand</option>
                </select>
            </span>
            <p class="entry-notes" id={`${id}-note`}>
                ▲ Not sure: the file leaves it open.
            </p>
        </div>
    );
}

/** How sure the guess is, as long as it stands. */
function noteOn(guess: Guess | null, column: number | null): string {
    if (column === null || guess?.column !== column) return "";
    if (guess.confidence === "unsure") return "▲ Not sure: another column may be it as well.";
    return guess.confidence === "likely" ? "Likely, by its name or its unit." : "";
}
