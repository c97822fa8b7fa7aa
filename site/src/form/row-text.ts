// What does a row of a list say? What was told of it, each with its label and unit.

import type { Field } from "../core/fields";
import type { JsonObject } from "../setup/json";
import { written } from "../words/numbers";
import { spelled, type Wording } from "../words/scale";

export const rowText = (columns: Field[], row: JsonObject, words: Wording): string[] =>
    columns
        .filter(({ key }) => row[key] !== undefined)
        .map((column) => {
            const value = row[column.key];
            const shown = Array.isArray(value)
                ? `${value.length} points`
                : typeof value === "number"
                  ? `${written(words.shown(column, value), 4)} ${words.unit(column.unit)}`
                  : value === "unknown"
                    ? "not known"
                    : spelled(String(value));
            // within a sentence, but for ESC, PWM and Kv
            const label = column.label.replace(/^[A-Z](?=[a-z]{2})/, (c) => c.toLowerCase());
            return `${label} ${shown}`.trim();
        });
