// With which small marks does the page speak? The shape of each level, and the strip of throttle
// coloured by how hot a hold on it gets.

import type { Level, Report } from "../core/report";
import { heat, warmth } from "../look/ramp";

/** Ring, triangle, octagon: told apart without colour. The word stands beside it. */
export function LevelMark({ level }: { level: Level }) {
    return (
        <svg class={`mark mark-${level}`} viewBox="0 0 24 24" aria-hidden="true">
            {level === "fine" && <circle cx="12" cy="12" r="8.5" class="open" />}
            {level === "watch" && <path d="M12 2.5 22.5 21.5H1.5Z" />}
            {level === "stop" && <path d="M7.4 1.5h9.2l5.9 5.9v9.2l-5.9 5.9H7.4L1.5 16.6V7.4Z" />}
        </svg>
    );
}

/** Throttle from left to right, each stretch as warm as its hold; bands to avoid are bracketed below,
 *  the flight's own throttles pointed at from above. */
export function HeatStrip({ report, dark, id }: { report: Report; dark: boolean; id: string }) {
    const { holds, bands, esc, flight } = report;
    const peaks = holds.map((hold) => hold.hold_peak_C.p50 ?? Infinity);
    const coolest = Math.min(...peaks);
    const own = [...new Set(flight.series.map((moment) => moment.throttle_pct))];
    return (
        <svg class="strip" aria-hidden="true">
            <defs>
                <linearGradient id={id}>
                    {holds.map((hold, i) => (
                        <stop
                            key={hold.throttle_pct}
                            offset={`${hold.throttle_pct}%`}
                            stop-color={heat(
                                warmth(peaks[i] ?? Infinity, coolest, esc.limit_C),
                                dark,
                            )}
                        />
                    ))}
                </linearGradient>
            </defs>
            <rect y="26%" width="100%" height="46%" fill={`url(#${id})`} />
            {bands.map((band) => (
                <svg
                    key={band.from_pct}
                    class="strip-band"
                    x={`${band.from_pct}%`}
                    y="80%"
                    width={`${band.to_pct - band.from_pct}%`}
                    height="20%"
                >
                    <rect width="2" height="100%" />
                    <rect width="100%" y="60%" height="40%" />
                    <rect x="100%" width="2" height="100%" transform="translate(-2)" />
                </svg>
            ))}
            {own.map((throttle) => (
                <svg key={throttle} class="strip-own" x={`${throttle}%`}>
                    <path d="M-4 0H4L0 6Z" />
                </svg>
            ))}
        </svg>
    );
}
