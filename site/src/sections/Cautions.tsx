// What must be kept in mind? The core's cautions and the limits of its model.

import { useWords } from "../words/scale";
import { Section } from "./Section";

export function CautionList({ cautions }: { cautions: string[] }) {
    const words = useWords();
    return (
        <ul class="cautions">
            {cautions.map((caution) => (
                <li key={caution}>{words.sentence(caution)}</li>
            ))}
        </ul>
    );
}

export function Cautions({ cautions }: { cautions: string[] }) {
    return (
        <Section id="cautions">
            <CautionList cautions={cautions} />
        </Section>
    );
}
