// How is a value of the core called that is no field of the table? The pilot cannot tell it, but reads what was
// assumed and learned of it.

import type { FieldTable } from "../core/fields";
import { plainWord, UNIT_SUFFIX, type Quantity } from "./scale.ts";

/** By the key's last part; one that is not here is named by its own words. */
const NAMES: Record<string, string> = {
    junction_path_K_per_W: "path from switches to board",
    case_path_K_per_W: "path from board to case",
    convection_factor: "surface’s cooling, factor",
    air_factor: "air over the ESC, factor",
    air_offset_K: "air warmer than told",
};

/** The field, or else words and unit of the key; before them whose it is, where no part of the model is. */
export function quantityOf({ find, groups }: FieldTable, key: string): Quantity {
    const [place = "", last = ""] = key.split(".");
    const name = last.replace(/^heat_(.*)_pct/, "heat near $1\u00a0% duty, factor");
    const whose = groups.some((group) => group.key === place) ? "" : `${place}: `;
    const text = whose + (NAMES[name] ?? plainWord(name));
    const unit = UNIT_SUFFIX.exec(name)?.[1] ?? "";
    return (
        find(key) ?? {
            label: text.charAt(0).toUpperCase() + text.slice(1),
            unit: unit.replace("_per_", "/").replace("pct", "%"),
        }
    );
}
