// What must be kept in mind? The core's cautions and the limits of its model.

import { memo } from "../figures/memo";
import { useWords } from "../words/scale";

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

export const Cautions = memo(CautionList);
