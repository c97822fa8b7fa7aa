// How is the PWM frequency asked? In kHz, as the trade names it: one touch on what ESCs can usually be set
// to, or another one typed.

import type { Field } from "../core/fields";
import { valueAt, type Json } from "../setup/json";
import { written } from "../words/numbers";
import { useWords } from "../words/scale";
import { effective, entryId, isOpen, useEditing } from "./editing";
import { Help } from "./FieldEntry";
import { Mistake } from "./Mistake";
import { NumberEntry } from "./NumberEntry";

export const PWM_KEY = "esc.pwm_Hz";
const CHOICES_KEY = "esc.pwm_choices_Hz";

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
                        onClick={() => edit(field.key, hertz)}
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
