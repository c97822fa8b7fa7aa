// How is it said that an entry is not accepted?

import type { Field } from "../core/fields";
import { useWords } from "../words/scale";

/** `field`: whose value the core's text begins with, if it does. */
export function Mistake({ field, text }: { field?: Field; text: string }) {
    return <strong class="problem">▲ {useWords().problem(field, text)}</strong>;
}
