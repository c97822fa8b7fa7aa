// What came of reading a logger's file? What was left out and why, the steady holds that can be learned
// from, and the prediction beside the log.

import { useState } from "preact/hooks";
import type { LogReading, Problem } from "../core/door";
import type { Field, FieldTable } from "../core/fields";
import { Readings, Table, type Cell } from "../figures/Figure";
import { LogFigure } from "../figures/LogFigure";
import { useEditing } from "../form/editing";
import { NumberEntry } from "../form/NumberEntry";
import { nameOf } from "../form/places";
import { isIdle } from "../log/idle";
import type { LogAnswer, LogCells, LoggedHold, LogLook, Role } from "../log/log";
import { isObject, valueAt, type Json, type JsonObject } from "../setup/json";
import { nameOfColumn, ROLE_WORDS } from "../words/logger";
import { written } from "../words/numbers";
import { useWords, type Wording } from "../words/scale";

interface Props {
    reading: LogReading;
    look: LogLook;
    /** the list that the holds go into */
    field: Field;
}

export function LogSaid({ reading: { answer, cells }, look, field }: Props) {
    const { table } = useEditing();
    const words = useWords();
    if ("problems" in answer) {
        return (
            <>
                {answer.problems.map((problem) => (
                    <p class="problem" key={problem.path}>
                        ▲ {nameOfProblem(problem, table)} {words.sentence(problem.text)}
                    </p>
                ))}
            </>
        );
    }
    const log = answer.ok;
    const left = leftOut(log, cells, look, words);
    const holds = log.holds.filter((hold) => !isIdle(hold, log));
    const idle = log.holds.length - holds.length;
    return (
        <>
            <h3>What the file holds</h3>
            <Readings
                pairs={[
                    ["Rows", written(log.rows)],
                    ["Rows used", written(log.used)],
                    ["Row to row, s", written(log.row_s)],
                    ["Sessions", written(log.sessions.length)],
                    ...rangesOf(log, words),
                ]}
            />
            {left.length > 0 ? (
                <Table
                    caption="Left out or joined"
                    head={["Why", "How often", "First lines"]}
                    rows={left}
                />
            ) : (
                <p>Nothing was left out.</p>
            )}
            <h3>Steady holds</h3>
            {holds.length === 0 && <p>None was found.</p>}
            {idle > 0 && <p>With the motor at rest, and so no hold: {idle}.</p>}
            <ol class="saved">
                {holds.map((hold, i) => (
                    <Hold
                        key={i}
                        number={i + 1}
                        hold={hold}
                        session={log.sessions.length > 1 ? hold.session + 1 : undefined}
                        field={field}
                    />
                ))}
            </ol>
            <h3>Logged and predicted</h3>
            {log.history ? (
                <LogFigure history={log.history} sessions={log.sessions} />
            ) : (
                <p>
                    No prediction beside the log: it takes an answered setup, an ESC temperature and
                    a current (or, but for rotors, a throttle).
                </p>
            )}
        </>
    );
}

function nameOfProblem({ path }: Problem, table: FieldTable): string {
    const role = path.startsWith("columns.") ? path.slice("columns.".length) : "";
    if (role in ROLE_WORDS) return ROLE_WORDS[role as Role].label;
    if (path.startsWith("throttle_ends")) return "No and full throttle:";
    if (path === "row_s") return "Seconds from row to row:";
    if (path === "table") return "The file";
    return nameOf(path.replace(/^setup\./, ""), table);
}

/** Least and greatest of each column: a wrong unit or column shows there. */
function rangesOf({ ranges }: LogAnswer, words: Wording): [string, string][] {
    const between = (pair: [number, number] | null, shown: (n: number) => string): string =>
        pair ? pair.map((n) => shown(n)).join(" to ") : "not logged";
    const plain = (n: number): string => written(n);
    return [
        ["Throttle, %", between(ranges.throttle_pct, plain)],
        ["Current, A", between(ranges.current_A, plain)],
        ["Voltage, V", between(ranges.voltage_V, plain)],
        [`ESC, ${words.degree}`, between(ranges.esc_C, (n) => words.temperature(n, 1))],
        ...(ranges.rpm
            ? [["Motor speed, rpm", between(ranges.rpm, plain)] as [string, string]]
            : []),
    ];
}

function leftOut(log: LogAnswer, cells: LogCells, look: LogLook, words: Wording): Cell[][] {
    const lines = (all: number[]): string => all.join(", ");
    const rows: Cell[][] = log.damaged.map((damage) => [
        words.sentence(damage.reason),
        damage.count,
        lines(damage.first_lines),
    ]);
    for (const { column, count, firstLines, examples } of cells.unreadable) {
        const known = look.columns[column];
        const shown = examples.map((example) => `“${example}”`).join(", ");
        rows.push([
            `no number in ${known ? nameOfColumn(known) : "a column"}: ${shown}`,
            count,
            lines(firstLines),
        ]);
    }
    const { short, emptyLines } = cells;
    if (short.count > 0) rows.push(["too few cells", short.count, lines(short.firstLines)]);
    if (emptyLines > 0) rows.push(["empty lines", emptyLines, "–"]);
    if (log.repeated_times > 0) {
        rows.push(["same time as the row before: joined with it", log.repeated_times, "–"]);
    }
    return rows;
}

const THROTTLE = "throttle_pct";

interface HoldProps {
    /** counted from 1 */
    number: number;
    hold: LoggedHold;
    /** counted from 1; told where there are several */
    session: number | undefined;
    field: Field;
}

/** One hold with the button that makes it a reading of the setup. */
function Hold({ number, hold, session, field }: HoldProps) {
    const { setup, edit } = useEditing();
    const words = useWords();
    const [throttle, setThrottle] = useState<Json | undefined>();
    const asked = hold.measured.throttle_pct === null;
    const told = asked ? throttle : hold.measured.throttle_pct;
    const column = field.rows?.find((one) => one.key === THROTTLE);

    const list = valueAt(setup, field.key);
    const rows = Array.isArray(list) ? list.filter(isObject) : [];
    const row = { ...hold.measured, [THROTTLE]: told } as JsonObject;
    const text = JSON.stringify(row);
    const added = rows.some((one) => JSON.stringify(one) === text);
    const problems = hold.problems.filter(({ path }) => !(asked && path === THROTTLE));
    return (
        <li>
            <span>
                {session !== undefined && `Session ${session}: `}
                {words.sentence(hold.text)}
                {problems.map((problem) => (
                    <strong class="problem" key={problem.path}>
                        ▲ {field.rows?.find((one) => one.key === problem.path)?.label}{" "}
                        {words.sentence(problem.text)}
                    </strong>
                ))}
            </span>
            {asked && column && (
                <NumberEntry
                    id={`log-hold-${number}`}
                    field={column}
                    label={`Throttle of hold ${number}, %`}
                    value={throttle}
                    onValue={setThrottle}
                />
            )}
            {added ? (
                <b>added</b>
            ) : (
                <button
                    type="button"
                    aria-label={`Add hold ${number} to the readings`}
                    disabled={typeof told !== "number"}
                    onClick={() => edit(`${field.key}[${rows.length}]`, row)}
                >
                    {typeof told === "number" ? "Add" : "Tell its throttle"}
                </button>
            )}
        </li>
    );
}
