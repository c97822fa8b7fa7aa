// What does every entry of the form need to know? The setup, how to change it, what is wrong with it
// and what is assumed instead.

import { createContext } from "preact";
import { useContext } from "preact/hooks";
import type { Problem } from "../core/door";
import type { Field, FieldTable } from "../core/fields";
import type { Assumption, Report } from "../core/report";
import { valueAt, type Json, type JsonObject } from "../setup/json";

export interface Editing {
    table: FieldTable;
    setup: JsonObject;
    report: Report | undefined;
    problems: Problem[];
    edit: (path: string, value: Json | undefined) => void;
}

export const EditingContext = createContext<Editing | undefined>(undefined);

export function useEditing(): Editing {
    const editing = useContext(EditingContext);
    if (!editing) throw new Error("an entry of the form stands outside the form");
    return editing;
}

export const problemAt = (problems: Problem[], path: string): string | undefined =>
    problems.find((problem) => problem.path === path)?.text;

export const assumptionFor = (report: Report | undefined, key: string): Assumption | undefined =>
    report?.assumptions.find((assumption) => assumption.key === key);

/** A problem of the part as a whole, such as one of several fields being needed. */
export const problemOfPart = (problems: Problem[], field: Field): string | undefined =>
    field.quick && field.group ? problemAt(problems, field.group) : undefined;

/** The id of an entry's control, for labels and for links to it. */
export const entryId = (path: string): string => `entry-${path.replace(/[.[\]]+/g, "-")}`;

/** Told by the pilot, or else the table's default. */
export const effective = (setup: JsonObject, field: Field): Json | undefined =>
    valueAt(setup, field.key) ?? field.default ?? undefined;

/** Whether a field goes with the choices made, as the table's `only_with` and `only_for` say. */
export function belongs(field: Field, table: FieldTable, setup: JsonObject): boolean {
    if (!field.only_with) return true;
    const chooser = table.find(field.only_with);
    const chosen = chooser ? effective(setup, chooser) : undefined;
    return typeof chosen !== "string" || (field.only_for ?? []).includes(chosen);
}
