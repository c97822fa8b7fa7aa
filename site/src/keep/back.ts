// What does the phone's Back key close? What was opened last, before it leaves the page: each thing that
// opens puts an entry into the browser's history, and the way back through it closes the thing.

interface Open {
    close: () => void;
}

const open: Open[] = [];
/** Ways back that this page goes by itself. */
let ours = 0;

/** Entries of this page's own making: a fragment in one of them is not a link from elsewhere. */
const MINE = { hotband: true };

/** The entry the page was opened with is its own from now on. */
export function takeEntry(): void {
    try {
        history.replaceState(MINE, "");
    } catch {
        // a page opened from a file may not
    }
}

export const isOurs = (): boolean =>
    (history.state as { hotband?: boolean } | null)?.hotband === true;

/** Puts the link into the address bar, without a new entry in the browser's history. */
export function showLink(link: string): void {
    try {
        history.replaceState(MINE, "", `#${link}`);
    } catch {
        // a browser may limit how often, or a page opened from a file: the link stays on the page
    }
}

addEventListener("popstate", () => {
    if (ours > 0) ours -= 1;
    else open.pop()?.close();
});

/** Call when something opens. Call what it returns when that is closed in another way. */
export function opened(close: () => void): () => void {
    const one = { close };
    try {
        history.replaceState(MINE, "");
        history.pushState(MINE, "");
    } catch {
        return () => undefined;
    }
    open.push(one);
    return () => {
        const place = open.indexOf(one);
        if (place < 0) return;
        open.splice(place, 1);
        ours += 1;
        history.back();
    };
}
