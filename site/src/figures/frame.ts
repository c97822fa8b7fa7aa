// How much does a picture of temperatures show, above and below what is drawn?

/** How far above the limit a picture goes, as a share of what lies below: what is hotter leaves the frame. */
const OVER_LIMIT = 0.6;
/** Where all is over the limit, the picture still shows so much below it. */
const UNDER_LIMIT = 20;
const ROOM = 0.08;

/** Lower and upper edge for values from `low` to `high`: the limit is within, and a point not to be lost. */
export function frame(low: number, high: number, limit: number, point = limit): [number, number] {
    const bottom = Math.min(low, limit - UNDER_LIMIT);
    const most = limit + OVER_LIMIT * (limit - bottom);
    const top = Math.max(Math.min(high, most), limit, point);
    const room = ROOM * (top - bottom);
    return [bottom - room, top + room];
}
