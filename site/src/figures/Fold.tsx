// What is folded away? Content that is only made once it is unfolded, so that the page starts sooner.

import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";

interface Props {
    id?: string;
    class: string;
    summary: ComponentChildren;
    children: () => ComponentChildren;
}

export function Fold({ id, class: name, summary, children }: Props) {
    const [seen, setSeen] = useState(false);
    return (
        <details
            id={id}
            class={name}
            onToggle={(event) => event.currentTarget.open && setSeen(true)}
        >
            <summary>{summary}</summary>
            {seen && children()}
        </details>
    );
}
