// What may be entered? The core's field table as the page reads it: every label, unit, range, default
// and help text of the form comes from here.

import type { Json } from "../setup/json";

type FieldType = "number" | "integer" | "text" | "choice" | "flag" | "numbers" | "rows";

export interface Field {
    key: string;
    label: string;
    type: FieldType;
    unit: string;
    least: number | null;
    most: number | null;
    default: Json;
    estimated: boolean;
    required: boolean;
    choices?: string[];
    help: string;
    quick: boolean;
    group: string;
    /** of type rows: the fields of one row; `tuple`: a row is the list of their values */
    rows?: Field[];
    tuple?: boolean;
    /** the choice field this one goes with (none: always), and the choices it goes with */
    only_with?: string;
    only_for?: string[];
}

export interface Group {
    key: string;
    label: string;
}

/** What the core calls the field table. */
export interface CoreFields {
    groups: Group[];
    fields: Field[];
}

export interface FieldTable {
    all: Field[];
    quick: Field[];
    groups: Group[];
    find: (key: string) => Field | undefined;
    inGroup: (group: string) => Field[];
}

export function fieldTable({ fields, groups }: CoreFields): FieldTable {
    const byKey = new Map(fields.map((field) => [field.key, field]));
    return {
        all: fields,
        quick: fields.filter((field) => field.quick),
        groups,
        find: (key) => byKey.get(key),
        inGroup: (group) => fields.filter((field) => field.group === group),
    };
}

/** Whether a field may be answered with "not measured": the core then estimates, or does without. */
export const mayBeUnmeasured = (field: Field): boolean =>
    field.type !== "choice" &&
    field.type !== "flag" &&
    (field.estimated || (!field.required && field.default === null));

/** Whether a field's unit is that of a temperature, which the page shows in deg C or deg F. */
export const isTemperature = ({ unit }: Pick<Field, "unit">): boolean => unit === "deg C";

/** Whether a size may be told in inches as well, as it is marked on a propeller. */
export const inInches = ({ key, unit }: Field): boolean => key.startsWith("load.") && unit === "cm";
