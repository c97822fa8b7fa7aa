// What is on the bench? The questions, everything else folded under its part, and the ways to begin: anew,
// or from an example.

import type { Problem } from "../core/door";
import { Fold } from "../figures/Fold";
import { memo } from "../figures/memo";
import { FieldEntry } from "../form/FieldEntry";
import { entryId, isOpen, useEditing } from "../form/editing";
import { MixEditor } from "../form/MixEditor";
import { Parts } from "../form/Parts";
import { goTo, nameOf, PROBLEMS_ID, saidOf } from "../form/places";
import { PWM_KEY, PwmEntry } from "../form/PwmEntry";
import { examples, type Example } from "../setup/examples";
import { instead, isEmpty, leading, questions } from "../setup/model";
import { useWords } from "../words/scale";
import { Soon } from "./later";
import { Section } from "./Section";

interface Props {
    onNew: () => void;
    onExample: (example: Example) => void;
}

export const Model = memo(function Model({ onNew, onExample }: Props) {
    const { table, setup, report, problems, unmeasured } = useEditing();
    const name = table.find("name");
    const size = instead(table, setup, unmeasured);
    const mistakes = problems.filter(
        (problem) => report !== undefined || !isOpen(problem, setup, table),
    );
    return (
        <Section id="model">
            <Begin empty={isEmpty(setup)} onNew={onNew} onExample={onExample} />
            <div class="questions">
                {leading(table).map((field) => (
                    <FieldEntry key={field.key} field={field} />
                ))}
                {questions(table, setup).map((field) => {
                    if (field.type === "rows") return <MixEditor key={field.key} field={field} />;
                    if (field.key === PWM_KEY) return <PwmEntry key={field.key} field={field} />;
                    return (
                        <>
                            <FieldEntry key={field.key} field={field} asked />
                            {unmeasured.includes(field.key) &&
                                size.map((one) => <FieldEntry key={one.key} field={one} />)}
                        </>
                    );
                })}
            </div>
            {mistakes.length > 0 && <Problems problems={mistakes} />}
            <Soon>
                {() => (
                    <>
                        <h3>What else you know</h3>
                        <Parts />
                        {name && <FieldEntry field={name} />}
                    </>
                )}
            </Soon>
        </Section>
    );
});

function Begin({ empty, onNew, onExample }: Props & { empty: boolean }) {
    return (
        <div class="begin">
            <button type="button" disabled={empty} onClick={onNew}>
                New model
            </button>
            <Fold class="examples" summary={empty ? "Or see an example" : "Examples"}>
                {() => (
                    <ul>
                        {examples.map((example) => (
                            <li key={example.name}>
                                <button
                                    type="button"
                                    onClick={(event) => {
                                        const fold = event.currentTarget.closest("details");
                                        if (fold) fold.open = false;
                                        onExample(example);
                                    }}
                                >
                                    {example.name}
                                </button>
                            </li>
                        ))}
                    </ul>
                )}
            </Fold>
        </div>
    );
}

function Problems({ problems }: { problems: Problem[] }) {
    const { table } = useEditing();
    const words = useWords();
    return (
        <div class="problems" id={PROBLEMS_ID} role="alert">
            <p>The answer waits for {problems.length === 1 ? "one entry" : "these entries"}:</p>
            <ul>
                {problems.map(({ path, text }) => (
                    <li key={path + text}>
                        <a href={`#${entryId(path)}`} onClick={(event) => goTo(event, path)}>
                            {nameOf(path, table)}
                        </a>{" "}
                        {words.problem(table.find(path), saidOf(path, text, table))}
                    </li>
                ))}
            </ul>
        </div>
    );
}
