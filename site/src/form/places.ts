// Where on the page is what a path names? Its label, and the way to its entry.

import type { FieldTable } from "../core/fields";
import { entryId } from "./editing";

/** The list of problems: where to go for a path that has no entry of its own. */
export const PROBLEMS_ID = "problems";

/** The label of what a problem's path names, as far as the table knows it. */
export function nameOf(path: string, table: FieldTable): string {
    const field = table.find(path);
    if (field) return field.label;
    const [list, index, leaf] = path.split(/\[(\d+)\]\.?/);
    const owner = list === undefined ? undefined : table.find(list);
    const column = owner?.rows?.find((row) => row.key === leaf);
    if (owner && index !== undefined) {
        const row = `${owner.label}, row ${Number(index) + 1}`;
        return column ? `${row}, ${column.label}` : row;
    }
    return table.groups.find((group) => group.key === path)?.label ?? path;
}

/** What is said of a row as a whole, which names the row's entries by their keys: by their labels. */
export function saidOf(path: string, text: string, table: FieldTable): string {
    const rows = /]$/.test(path) ? table.find(path.replace(/\[.*/, ""))?.rows : undefined;
    return text.replace(/\w+/g, (key) => {
        const label = rows?.find((row) => row.key === key)?.label;
        return label ? `“${label}”` : key;
    });
}

/** The fold of a part, whose entries are made once it is open. */
export const partId = (group: string): string => `part-${group}`;

/** Unfolds what the entry is folded into and puts the cursor there. */
export function goTo(event: Event, path: string): void {
    event.preventDefault();
    const part = document.getElementById(partId(path.replace(/[.[].*/s, "")));
    if (part instanceof HTMLDetailsElement && !document.getElementById(entryId(path))) {
        part.open = true;
        // its entries are there two frames later
        requestAnimationFrame(() => requestAnimationFrame(() => show(path)));
    } else show(path);
}

function show(path: string): void {
    const entry = document.getElementById(entryId(path)) ?? document.getElementById(PROBLEMS_ID);
    for (
        let fold = entry?.closest("details");
        fold;
        fold = fold.parentElement?.closest("details")
    ) {
        fold.open = true;
    }
    entry?.scrollIntoView({ block: "center" });
    const control = entry?.matches("input, button") ? entry : entry?.querySelector(CONTROLS);
    (control as HTMLElement | null | undefined)?.focus({ preventScroll: true });
}

const CONTROLS = "input, select, button";

/** Enter: on to the next question, and from the last one out of the keyboard's way. */
export function goOn(event: KeyboardEvent): void {
    event.preventDefault();
    const here = event.currentTarget as HTMLElement;
    const all = [...document.querySelectorAll<HTMLElement>(".entry, .mix-row, .mixes")].filter(
        (entry) => entry.getClientRects().length > 0,
    );
    // the second entry of a row comes before the next row
    const row = here.closest<HTMLElement>(".mix-row");
    const inRow = row ? [...row.querySelectorAll("input")] : [];
    const beside = inRow[inRow.indexOf(here as HTMLInputElement) + 1];
    const place = all.findIndex((entry) => entry.contains(here));
    const next = beside ?? all[place + 1]?.querySelector<HTMLElement>(CONTROLS_TYPED);
    if (!next) return here.blur();
    next.focus({ preventScroll: true });
    next.closest(".entry, .mix-row, .mixes")?.scrollIntoView({ block: "nearest" });
}

/** What Enter goes to: not the steppers and helps before it, and no choice that another Enter would make. */
const CONTROLS_TYPED = "input, .mixes button, select";
