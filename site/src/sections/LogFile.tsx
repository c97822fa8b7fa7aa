// What does a logger's file say? The pilot opens it, says which column is what (LogChoices.tsx), and has it
// read.

import { useRef, useState } from "preact/hooks";
import type { Door, LogReading } from "../core/door";
import type { Field } from "../core/fields";
import { messageOf } from "../core/messages";
import { Table } from "../figures/Figure";
import { FileEntry } from "../form/FileEntry";
import { shown } from "../keep/names";
import type { LogLook, LogMapping, Role } from "../log/log";
import type { JsonObject } from "../setup/json";
import { nameOfColumn, ROLE_WORDS } from "../words/logger";
import { read, written } from "../words/numbers";
import { guessed, LogChoices, type Choice } from "./LogChoices";
import { LogSaid } from "./LogSaid";

/** What a log may hold, in the order it is asked; the speed as far as the core takes it. */
const rolesFor = (field: Field): Role[] =>
    (Object.keys(ROLE_WORDS) as Role[]).filter(
        (role) => role !== "rpm" || (field.rows ?? []).some(({ key }) => key === "rpm"),
    );

interface Opened {
    file: File;
    look: LogLook;
    choice: Choice;
}

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

export function LogFile(props: Props) {
    const { opened, reading, said, failure, open, choose, chooseColumn, readNow } =
        useLogFile(props);
    return (
        <div class="log">
            <h3>From a logger's file</h3>
            <p>
                Rows of text with a column for each figure (CSV, TSV, TXT). The file stays on this
                phone.
            </p>
            <div class="buttons">
                <FileEntry
                    accept=".csv,.tsv,.txt,text/*"
                    label="Open a logger's file"
                    onFile={(file) => void open(file)}
                />
            </div>
            {opened && (
                <>
                    <Preview name={shown(opened.file.name)} look={opened.look} />
                    <LogChoices
                        look={opened.look}
                        choice={opened.choice}
                        roles={rolesFor(props.field)}
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
            {opened && reading && (
                <LogSaid reading={reading} look={opened.look} field={props.field} />
            )}
        </div>
    );
}

interface Walk {
    opened: Opened | undefined;
    reading: LogReading | undefined;
    said: string;
    failure: string;
    open: (file: File) => Promise<void>;
    choose: (change: Partial<Choice>) => void;
    chooseColumn: (now: Opened, role: Role, column: number | null) => void;
    readNow: (now: Opened) => Promise<void>;
}

/** From a file to what was read of it, as far as the pilot has come. */
function useLogFile({ door, answered, field }: Props): Walk {
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
            setFailure(messageOf(cause));
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
    return { opened, reading, said, failure, open, choose, chooseColumn, readNow };
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
