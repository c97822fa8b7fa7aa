// Which throttle mixes does one touch give? One round each of a usual way to fly, as club pilots would
// describe it (common practice, no source): a start to edit from, not advice. Rotors are told in shares of
// hover power and have mixes of their own.

import type { JsonObject } from "./json";

export interface Mix {
    name: string;
    parts: JsonObject[];
}

const round = (...parts: [number, number][]): JsonObject[] =>
    parts.map(([throttle_pct, seconds]) => ({ throttle_pct, seconds }));

const OF_WINGS: Mix[] = [
    { name: "cruise", parts: round([100, 8], [55, 120]) },
    { name: "aerobatics", parts: round([100, 6], [70, 15], [40, 20], [85, 8], [15, 8]) },
    { name: "climb and glide", parts: round([100, 20], [0, 90]) },
    { name: "race", parts: round([100, 25], [80, 6]) },
    { name: "hover", parts: round([65, 30], [90, 3]) },
];

const OF_ROTORS: Mix[] = [
    { name: "hover", parts: round([100, 60]) },
    { name: "cruise", parts: round([120, 5], [90, 60], [100, 15]) },
    { name: "aerobatics", parts: round([110, 15], [180, 4], [70, 6], [140, 6]) },
    { name: "climb and glide", parts: round([150, 15], [80, 45]) },
    { name: "race", parts: round([190, 12], [130, 8]) },
];

export const mixesFor = (loadKind: unknown): Mix[] =>
    loadKind === "governed" ? OF_ROTORS : OF_WINGS;
