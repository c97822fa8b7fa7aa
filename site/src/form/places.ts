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

/** Unfolds what the entry is folded into and puts the cursor there. */
export function goTo(event: Event, path: string): void {
    event.preventDefault();
    const entry = document.getElementById(entryId(path)) ?? document.getElementById(PROBLEMS_ID);
    for (
        let fold = entry?.closest("details");
        fold;
        fold = fold.parentElement?.closest("details")
    ) {
        fold.open = true;
    }
    entry?.scrollIntoView({ block: "center" });
    const control = entry?.matches("input") ? entry : entry?.querySelector("input");
    control?.focus({ preventScroll: true });
}
