// How is the PWM frequency asked? In kHz, as the trade names it: one touch on what ESCs can usually be set
// to, or another one typed.

import type { Problem } from "../core/door";
import type { Field } from "../core/fields";
import { alike, valueAt, type Json, type JsonObject } from "../setup/json";
import { readBefore } from "../setup/model";
import { written } from "../words/numbers";
import { useWords } from "../words/scale";
import { effective, entryId, isOpen, useEditing } from "./editing";
import { Help } from "./FieldEntry";
import { Mistake } from "./Mistake";
import { NumberEntry } from "./NumberEntry";

export const PWM_KEY = "esc.pwm_Hz";
const CHOICES_KEY = "esc.pwm_choices_Hz";

/** What is said of a frequency chosen by one touch where readings name none: they were taken at the one before. */
export function pwmChosen(setup: JsonObject, problems: Problem[], hertz: number) {
    const before = valueAt(setup, PWM_KEY);
    const refused = problems.some(({ path }) => path === PWM_KEY);
    return refused || before === hertz || alike(readBefore(setup), setup)
        ? undefined
        : `PWM changed; readings stay at ${written(Number(before) / 1000, 4)}\u00a0kHz`;
}

export function PwmEntry({ field }: { field: Field }) {
    const { setup, table, problems, edit } = useEditing();
    const words = useWords();
    const id = entryId(field.key);
    const value = valueAt(setup, field.key);
    const found = problems.find(({ path }) => path === field.key);
    const problem = found && !isOpen(found, setup, table) ? found.text : undefined;
    const told = table.find(CHOICES_KEY);
    const choices = told ? numbers(effective(setup, told)) : [];
    return (
        <div class={`entry entry-choice${problem ? " bad" : ""}`}>
            <div class="entry-name">
                <span id={`${id}-name`}>
                    {field.label}
                    <span class="unit">, {words.unit(field.unit)}</span>
                </span>
                <Help field={field} />
            </div>
            <div class="chips" role="group" aria-labelledby={`${id}-name`}>
                {choices.map((hertz) => (
                    <button
                        key={hertz}
                        type="button"
                        aria-pressed={value === hertz}
                        aria-label={`${written(hertz / 1000, 4)} kHz`}
                        onClick={() => edit(field.key, hertz, pwmChosen(setup, problems, hertz))}
                    >
                        {written(hertz / 1000, 4)}
                    </button>
                ))}
                <NumberEntry
                    id={id}
                    field={field}
                    label={`${field.label}, ${words.unit(field.unit)}`}
                    value={value}
                    bad={problem !== undefined}
                    describedBy={problem ? `${id}-problem` : undefined}
                    onValue={(next) => edit(field.key, next)}
                />
            </div>
            {problem && (
                <p class="entry-notes" id={`${id}-problem`}>
                    <Mistake field={field} text={problem} />
                </p>
            )}
        </div>
    );
}

const numbers = (list: Json | undefined): number[] =>
    Array.isArray(list) ? list.filter((n) => typeof n === "number") : [];
