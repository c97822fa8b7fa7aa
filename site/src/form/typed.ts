// What stands in an entry while it is typed? The text itself, as long as the value is still what it made; what
// cannot be read is handed on as it stands.

import { useState } from "preact/hooks";
import type { Json } from "../setup/json";

interface Draft {
    text: string;
    made: Json | undefined;
}

/** For a control that shows `shown` while nothing is typed into it; `onBlur` forgets what was typed. */
export function useTyped(
    value: Json | undefined,
    shown: string,
    read: (text: string) => Json | undefined,
    onValue: (value: Json | undefined) => void,
) {
    const [draft, setDraft] = useState<Draft>();
    return {
        value: draft && draft.made === value ? draft.text : shown,
        onInput(event: { currentTarget: { value: string } }): void {
            const text = event.currentTarget.value;
            const made = text.trim() === "" ? undefined : (read(text) ?? text);
            setDraft({ text, made });
            onValue(made);
        },
        onBlur: (): void => setDraft(undefined),
    };
}
