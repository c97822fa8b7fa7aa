// How much room is there, measured in the reader's own letters? Whoever enlarges the text has less of it, in
// whichever way the browser does that: marked on the page for the style sheets.

/** rem: below these there is little room. */
const NARROW = 17;
const SLIM = 24;
const LOW = 30;

function mark(): void {
    const root = document.documentElement;
    const rem = parseFloat(getComputedStyle(root).fontSize);
    root.toggleAttribute("data-narrow", innerWidth / rem < NARROW);
    root.toggleAttribute("data-slim", innerWidth / rem < SLIM);
    root.toggleAttribute("data-low", innerHeight / rem < LOW);
}

/** Marks now, and again whenever the window or the letters change. */
export function watchRoom(): void {
    mark();
    addEventListener("resize", mark);
    const letter = document.createElement("i");
    letter.className = "letter";
    letter.setAttribute("aria-hidden", "true");
    document.body.append(letter);
    new ResizeObserver(mark).observe(letter);
}
