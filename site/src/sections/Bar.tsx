// What just happened, and what is to be decided? A bar above the foot, where thumb and eye are: never off the
// screen, and never moving the page.

import type { ComponentChildren } from "preact";
import { UpdateNotice } from "../keep/UpdateNotice";
import type { Moves } from "../moves";

export interface Said {
    text: string;
    /** a step back can be taken */
    back?: boolean;
}

type BarProps = Pick<
    Moves,
    "said" | "unsay" | "others" | "keepOthers" | "forgetOthers" | "back"
> & {
    /** a newer page waits: how to use it */
    newer: (() => void) | undefined;
};

export function Bar({ newer, said, unsay, others, keepOthers, forgetOthers, back }: BarProps) {
    let content: ComponentChildren;
    if (others !== undefined) {
        content = (
            <>
                <p>
                    This was an example. Its {others} other {others === 1 ? "answer" : "answers"},
                    folded away:
                </p>
                <button type="button" class="main" onClick={forgetOthers}>
                    Forget them
                </button>
                <button type="button" onClick={keepOthers}>
                    Keep them
                </button>
            </>
        );
    } else if (said) {
        content = (
            <>
                <p>{said.text}</p>
                {said.back && (
                    <button type="button" onClick={back}>
                        Undo
                    </button>
                )}
                <button type="button" aria-label="Close" onClick={unsay}>
                    ×
                </button>
            </>
        );
    }
    return (
        <div class="bar" role="status">
            {newer && <UpdateNotice use={newer} />}
            {content && (
                <div class="notice" key={others !== undefined ? "asked" : said?.text}>
                    {content}
                </div>
            )}
        </div>
    );
}
