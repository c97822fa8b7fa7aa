// What just happened, and what is to be decided? A bar above the foot, where thumb and eye are: never off the
// screen, and never moving the page.

import type { ComponentChildren } from "preact";
import { UpdateNotice } from "../keep/UpdateNotice";

export interface Said {
    text: string;
    /** a step back can be taken */
    back?: boolean;
}

interface BarProps {
    /** a newer page waits: how to use it */
    newer: (() => void) | undefined;
    said: Said | undefined;
    /** of an example typed over: how many other answers it has */
    others: number | undefined;
    onBack: () => void;
    onClose: () => void;
    onKeep: () => void;
    onForget: () => void;
}

export function Bar({ newer, said, others, onBack, onClose, onKeep, onForget }: BarProps) {
    let content: ComponentChildren;
    if (others !== undefined) {
        content = (
            <>
                <p>
                    This was an example. Its {others} other {others === 1 ? "answer" : "answers"},
                    folded away:
                </p>
                <button type="button" class="main" onClick={onForget}>
                    Forget them
                </button>
                <button type="button" onClick={onKeep}>
                    Keep them
                </button>
            </>
        );
    } else if (said) {
        content = (
            <>
                <p>{said.text}</p>
                {said.back && (
                    <button type="button" onClick={onBack}>
                        Undo
                    </button>
                )}
                <button type="button" aria-label="Close" onClick={onClose}>
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
