// With what can a pilot look around? The example setups of presets/setups, bundled with the page.

import type { JsonObject } from "./json";

const files = import.meta.glob<JsonObject>("../../../presets/setups/*.json", {
    eager: true,
    import: "default",
});

export interface Example {
    name: string;
    setup: JsonObject;
}

export const examples: Example[] = Object.entries(files)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([path, setup]) => ({
        name: typeof setup.name === "string" ? setup.name : path.replace(/.*\/|\.json$/g, ""),
        setup,
    }));
