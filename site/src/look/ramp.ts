// How warm does a temperature look? One ramp from straw to deep red on paper, from ember to white heat
// in the dark; lightness alone tells the order, so that it survives sunlight and grey print.

type Rgb = [number, number, number];

const ON_PAPER: Rgb[] = [
    [248, 240, 214],
    [245, 211, 134],
    [230, 150, 56],
    [193, 81, 28],
    [116, 18, 14],
];
const IN_THE_DARK: Rgb[] = [
    [44, 38, 32],
    [104, 52, 20],
    [186, 86, 24],
    [240, 160, 60],
    [255, 228, 176],
];

/** `warmth` 0..1 along the ramp; beyond either end the end stands. */
export function heat(warmth: number, dark: boolean): string {
    const ramp = dark ? IN_THE_DARK : ON_PAPER;
    const at = Math.min(Math.max(warmth, 0), 1) * (ramp.length - 1);
    const low = Math.min(Math.floor(at), ramp.length - 2);
    const share = at - low;
    const a = ramp[low] as Rgb;
    const b = ramp[low + 1] as Rgb;
    const mix = a.map((channel, i) => Math.round(channel + ((b[i] ?? 0) - channel) * share));
    return `rgb(${mix.join(" ")})`;
}

/** Where the limit lies on the ramp: what passes it still has somewhere to go. */
const LIMIT_WARMTH = 0.8;

/** Warmth of a temperature between the coolest one drawn and the ESC's limit (deg C); infinite where the
 *  heat runs away. */
export function warmth(celsius: number, coolest: number, limit: number): number {
    if (!Number.isFinite(celsius)) return 1;
    return (LIMIT_WARMTH * (celsius - coolest)) / Math.max(limit - coolest, 1);
}
