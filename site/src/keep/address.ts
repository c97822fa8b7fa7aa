// What stands in the address bar? The link of the model on the page, and one from elsewhere is opened.

import { useEffect } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import { isOurs, showLink } from "./back";
import type { Moves } from "../moves";
import type { Working } from "./work";

/** `take` opens a link that was put there, `failed` says that the core made none. */
export function useAddress(
    door: Door,
    good: Good | undefined,
    work: Working,
    { take, failed }: Pick<Moves, "take" | "failed">,
): void {
    const { undo } = work.now;
    useEffect(() => {
        if (!good?.settled) return;
        let live = true;
        door.link(good.setup).then((answer) => {
            if (!live || "problems" in answer) return;
            work.note({ good: good.setup, link: answer.ok });
            // a link that was opened just now is not written over
            const foreign = location.hash !== "" && !isOurs();
            if (!foreign && (undo.length > 0 || location.hash !== "")) showLink(answer.ok);
        }, failed);
        return () => void (live = false);
    }, [door, good]);

    useEffect(() => {
        const follow = (): void => {
            // an older link of this page's own, on the way back: it is not a new one
            if (isOurs() || location.hash === "") return;
            take(location.hash);
        };
        addEventListener("hashchange", follow);
        return () => removeEventListener("hashchange", follow);
    });
}
