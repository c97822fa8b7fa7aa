// What is a model that is the pilot's own? Nothing but the pilot's answers: empty at first, and of an
// example only what the pilot keeps.

import type { Field, FieldTable } from "../core/fields";
import { isObject, valueAt, withValue, type JsonObject } from "./json";

export const emptySetup: JsonObject = { hotband: 1 };

const NAME = "name";

/** Whether nothing has been told yet. */
export const isEmpty = (setup: JsonObject): boolean =>
    Object.keys(setup).every((key) => key === "hotband");

/** Whether a field goes with the choices made, as the table's `only_with` and `only_for` say. */
export function belongs(field: Field, table: Pick<FieldTable, "find">, setup: JsonObject): boolean {
    if (!field.only_with) return true;
    const chooser = table.find(field.only_with);
    const chosen = valueAt(setup, field.only_with) ?? chooser?.default;
    return typeof chosen !== "string" || (field.only_for ?? []).includes(chosen);
}

/** What is asked of this model: the quick fields, and where one does not go with the choices made, what of
 *  its group goes with them instead and is not estimated. */
export function questions(table: FieldTable, setup: JsonObject): Field[] {
    return table.quick.flatMap((field) => {
        if (belongs(field, table, setup)) return [field];
        return table
            .inGroup(field.group)
            .filter(
                (other) =>
                    other.only_with === field.only_with &&
                    !other.estimated &&
                    other.type !== "rows" &&
                    belongs(other, table, setup),
            );
    });
}

/** The choices that lead to other questions. */
export const leading = (table: FieldTable): Field[] =>
    table.quick.flatMap(({ only_with }) => {
        const chooser = only_with ? table.find(only_with) : undefined;
        return chooser ? [chooser] : [];
    });

const SIZE = ["load.diameter_cm", "load.pitch_cm", "load.blades"];

/** What is asked in place of a current that was not measured: the size of the propeller or fan, from which it
 *  is then estimated. */
export const instead = (table: FieldTable, setup: JsonObject, unmeasured: string[]): Field[] =>
    unmeasured.includes("load.full_throttle_A")
        ? table.all.filter((field) => SIZE.includes(field.key) && belongs(field, table, setup))
        : [];

/** Whether a path lies in one of the questions. */
export const isQuestion = (path: string, table: FieldTable, setup: JsonObject): boolean =>
    questions(table, setup).some(({ key }) => path === key || path.startsWith(`${key}[`)) ||
    leading(table).some(({ key }) => key === path);

/** The answers that are not to a question: folded away, and easily not seen. */
export const otherAnswers = (setup: JsonObject, table: FieldTable): string[] =>
    table.all
        .filter(
            ({ key }) => key !== NAME && !isQuestion(key, table, setup) && !tellsMix(key, table),
        )
        .filter(({ key }) => valueAt(setup, key) !== undefined)
        .map(({ key }) => key);

/** Whether a choice decides how one of the quick lists is told. */
const tellsMix = (key: string, table: FieldTable): boolean =>
    table.quick.some((field) => (field.rows ?? []).some((row) => row.only_with === key));

/** Readings that name no frequency name the setup's: another one comes. */
export function readBefore(setup: JsonObject): JsonObject {
    const rows = setup.measured;
    const pwm_Hz = valueAt(setup, "esc.pwm_Hz");
    return Array.isArray(rows) && pwm_Hz !== undefined
        ? {
              ...setup,
              measured: rows.map((row) =>
                  isObject(row) ? { ...row, pwm_Hz: row.pwm_Hz ?? pwm_Hz } : row,
              ),
          }
        : setup;
}

export const withoutName = (setup: JsonObject): JsonObject => withValue(setup, NAME, undefined);

/** The answers to the questions alone, with the choices that lead to them. */
export const quickAnswers = (setup: JsonObject, table: FieldTable): JsonObject =>
    otherAnswers(setup, table).reduce(
        (left, key) => withValue(left, key, undefined),
        withoutName(setup),
    );

/** Whether a question is answered: told, or said not to be measured. */
export const isAnswered = (field: Field, setup: JsonObject, unmeasured: string[]): boolean =>
    valueAt(setup, field.key) !== undefined || unmeasured.includes(field.key);
