// What is on the bench? The quick questions, everything else folded under its part, and example setups
// to start from.

import type { Json } from "../setup/json";
import { examples } from "../setup/examples";
import { belongs, entryId, useEditing } from "../form/editing";
import { FieldEntry } from "../form/FieldEntry";
import { MixEditor } from "../form/MixEditor";
import { Parts } from "../form/Parts";
import { goTo, nameOf, PROBLEMS_ID } from "../form/places";
import { useWords } from "../words/scale";
import type { JsonObject } from "../setup/json";
import { Section } from "./Section";

interface Props {
    onReplace: (setup: JsonObject, from: string) => void;
}

/** The PWM question steps through what the ESC can be set to. */
const PWM_KEY = "esc.pwm_Hz";
const PWM_CHOICES_KEY = "esc.pwm_choices_Hz";

export function Model({ onReplace }: Props) {
    const { table, setup, report, problems } = useEditing();
    const words = useWords();
    const stops =
        report?.pwm.choices.map((choice) => choice.pwm_Hz) ??
        numbers(table.find(PWM_CHOICES_KEY)?.default);
    const name = table.find("name");
    return (
        <Section id="model">
            <div class="questions">
                {table.quick
                    .filter((field) => belongs(field, table, setup))
                    .map((field) =>
                        field.type === "rows" ? (
                            <MixEditor key={field.key} field={field} />
                        ) : (
                            <FieldEntry
                                key={field.key}
                                field={field}
                                stops={field.key === PWM_KEY ? stops : undefined}
                            />
                        ),
                    )}
            </div>
            <h3>What else you know</h3>
            <Parts />
            {name && <FieldEntry field={name} />}
            {examples.length > 0 && (
                <details class="examples">
                    <summary>Start from an example</summary>
                    <ul>
                        {examples.map((example) => (
                            <li key={example.name}>
                                <button
                                    type="button"
                                    onClick={() => onReplace(example.setup, example.name)}
                                >
                                    {example.name}
                                </button>
                            </li>
                        ))}
                    </ul>
                </details>
            )}
            {problems.length > 0 && (
                <div class="problems" id={PROBLEMS_ID} role="alert">
                    <p>
                        The answer waits for {problems.length === 1 ? "one entry" : "these entries"}
                        :
                    </p>
                    <ul>
                        {problems.map(({ path, text }) => (
                            <li key={path + text}>
                                <a
                                    href={`#${entryId(path)}`}
                                    onClick={(event) => goTo(event, path)}
                                >
                                    {nameOf(path, table)}
                                </a>{" "}
                                {words.sentence(text)}
                            </li>
                        ))}
                    </ul>
                </div>
            )}
        </Section>
    );
}

const numbers = (list: Json | undefined): number[] =>
    Array.isArray(list) ? list.filter((n) => typeof n === "number") : [];
