// Which of two setups is the better? Their verdicts side by side, and the fields in which they differ.

import { useEffect, useState } from "preact/hooks";
import type { Door } from "../core/door";
import type { Report } from "../core/report";
import { Table, type Cell } from "../figures/Figure";
import { BAND_IS, LevelMark } from "../figures/marks";
import { effective, useEditing } from "../form/editing";
import { rowText } from "../form/row-text";
import { shown } from "../keep/names";
import type { Saved } from "../keep/phone";
import { alike, isObject, type Json, type JsonObject } from "../setup/json";
import { clock, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import type { Field } from "../core/fields";

interface Props {
    door: Door;
    now: JsonObject;
    saved: Saved[];
}

const HERE = "now";

export function Compare({ door, now, saved }: Props) {
    const [left, setLeft] = useState(HERE);
    // what has just been kept is on the page as well
    const other = saved.find(({ setup }) => !alike(setup, now)) ?? saved[0];
    const [right, setRight] = useState(other?.id ?? HERE);
    const sheets = [{ id: HERE, name: "On the page now", setup: now }, ...saved];
    const find = (id: string) => sheets.find((sheet) => sheet.id === id) ?? sheets[0];
    const a = find(left);
    const b = find(right);
    if (!a || !b) return null;
    const choose = (label: string, value: string, set: (id: string) => void) => (
        <label>
            {label}
            <select value={value} onChange={(event) => set(event.currentTarget.value)}>
                {sheets.map((sheet) => (
                    <option key={sheet.id} value={sheet.id}>
                        {shown(sheet.name)}
                    </option>
                ))}
            </select>
        </label>
    );
    return (
        <div class="compare">
            <div class="compare-choose">
                {choose("Left", a.id, setLeft)}
                {choose("Right", b.id, setRight)}
            </div>
            <SideBySide
                door={door}
                a={a.setup}
                b={b.setup}
                names={[shown(a.name), shown(b.name)]}
            />
        </div>
    );
}

interface SideProps {
    door: Door;
    a: JsonObject;
    b: JsonObject;
    names: [string, string];
}

function SideBySide({ door, a, b, names }: SideProps) {
    const { table } = useEditing();
    const words = useWords();
    const reports = [useReport(door, a), useReport(door, b)];
    const row = (name: string, cell: (report: Report) => Cell): Cell[] => [
        name,
        ...reports.map((report) => (report ? cell(report) : "–")),
    ];
    const told = (field: Field, setup: JsonObject): string => {
        const value = effective(setup, field);
        return value === undefined || value === null ? "not told" : cellText(value, field, words);
    };
    const differing = table.all
        .filter((field) => field.key !== "name" && told(field, a) !== told(field, b))
        .map((field): Cell[] => [words.named(field), told(field, a), told(field, b)]);
    return (
        <Table
            caption="Compared"
            head={["Of the two", ...names]}
            rows={[
                row("Verdict", ({ verdict: { level } }) => (
                    <>
                        <LevelMark level={level} /> {level}
                    </>
                )),
                row("Peak", ({ esc }) => (
                    <>
                        <b>{words.peak(esc.peak_C.p50)}</b> {words.range(esc.peak_C)}
                    </>
                )),
                row(`Margin, ${words.kelvin}`, ({ esc }) => words.difference(esc.margin_K)),
                row("Flight", ({ flight }) => clock(flight.seconds)),
                row("Bands, %", ({ bands }) =>
                    bands
                        .map(
                            (band) =>
                                `${BAND_IS[band.level]} ${written(band.from_pct, 2)}–${written(band.to_pct, 2)}`,
                        )
                        .join(", "),
                ),
                ...differing,
            ]}
        />
    );
}

function useReport(door: Door, setup: JsonObject): Report | undefined {
    const [report, setReport] = useState<Report>();
    useEffect(() => {
        let live = true;
        void door.adviseWhole(setup).then(
            (answer) => live && setReport("ok" in answer ? answer.ok : undefined),
            () => live && setReport(undefined),
        );
        return () => void (live = false);
    }, [door, setup]);
    return report;
}

function cellText(value: Json, field: Field, words: ReturnType<typeof useWords>): string {
    if (typeof value === "number") return written(words.shown(field, value), 6);
    if (typeof value === "boolean") return value ? "yes" : "no";
    if (typeof value === "string") return spelled(value);
    if (!Array.isArray(value)) return "";
    if (field.type === "numbers")
        return value.map((n) => written(words.shown(field, Number(n)), 6)).join("; ");
    return value
        .filter(isObject)
        .map((row) => rowText(field.rows ?? [], row, words).join(", "))
        .join("; ");
}
