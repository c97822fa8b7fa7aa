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
    /** counts the models opened */
    model: number;
    report: Report | undefined;
    problems: Problem[];
    /** questions answered with "not measured" */
    unmeasured: string[];
    /** `done` is said with a way back, where the change is more than an entry typed */
    edit: (path: string, value: Json | undefined, done?: string) => void;
    /** answers with "not measured", or takes that back */
    measure: (path: string, unmeasured: boolean) => void;
}

export const EditingContext = createContext<Editing | undefined>(undefined);

export function useEditing(): Editing {
    const editing = useContext(EditingContext);
    if (!editing) throw new Error("an entry of the form stands outside the form");
    return editing;
}

/** Whether a problem is only a question that is not answered yet. */
export const isOpen = ({ path }: Problem, setup: JsonObject, table: FieldTable): boolean =>
    valueAt(setup, path) === undefined || table.groups.some(({ key }) => key === path);

export const problemAt = (problems: Problem[], path: string): string | undefined =>
    problems.find((problem) => problem.path === path)?.text;

export const assumptionFor = (report: Report | undefined, key: string): Assumption | undefined =>
    report?.assumptions.find((assumption) => assumption.key === key);

/** `5 assumed`: what of a part was not told. */
export const assumedIn = (report: Report | undefined, group: string): string =>
    `${report?.assumptions.filter(({ key, told }) => key.startsWith(`${group}.`) && !told).length ?? 0} assumed`;

/** The id of an entry's control, for labels and for links to it. */
export const entryId = (path: string): string => `entry-${path.replace(/[.[\]]+/g, "-")}`;

/** Told by the pilot, or else the table's default. */
export const effective = (setup: JsonObject, field: Field): Json | undefined =>
    valueAt(setup, field.key) ?? field.default ?? undefined;
