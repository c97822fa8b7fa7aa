// With which small marks does the page speak? The shape of each level, and the strip of throttle
// coloured by how hot a hold on it gets.

import type { Band, Level, Report } from "../core/report";
import { heat, warmth } from "../look/ramp";
import { useAxis } from "./axis";

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

/** What a bracketed band is, in short: the core says it at length in the band's text. */
export const BAND_IS: Record<Level, string> = {
    fine: "hottest",
    watch: "near limit",
    stop: "over limit",
};

/** Throttle from left to right, each stretch as warm as its hold; the core's bands are bracketed below,
 *  the flight's own throttles pointed at from above. */
export function HeatStrip({ report, dark, id }: { report: Report; dark: boolean; id: string }) {
    const { holds, bands, esc, flight } = report;
    const axis = useAxis();
    const most = axis.most(report);
    const place = (pct: number): number => Math.min((100 * pct) / most, 100);
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
                            offset={`${place(hold.throttle_pct)}%`}
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
                    x={`${place(band.from_pct)}%`}
                    y="80%"
                    width={`${place(band.to_pct) - place(band.from_pct)}%`}
                    height="20%"
                >
                    <rect width="2" height="100%" />
                    <rect width="100%" y="60%" height="40%" />
                    <rect x="100%" width="2" height="100%" transform="translate(-2)" />
                </svg>
            ))}
            {own.map((throttle) => (
                <svg key={throttle} class="strip-own" x={`${place(throttle)}%`}>
                    <path d="M-4 0H4L0 6Z" />
                </svg>
            ))}
        </svg>
    );
}

/** What the marks of the strip mean. */
export function StripKey({ bands, dark }: { bands: Band[]; dark: boolean }) {
    return (
        <p class="strip-key">
            <span>
                <svg viewBox="-5 0 10 8" class="strip-own" aria-hidden="true">
                    <path d="M-4 1H4L0 7Z" />
                </svg>
                flown
            </span>
            <span>
                <svg viewBox="0 0 16 8" class="strip-band" aria-hidden="true">
                    <path d="M0 1H2V5H14V1H16V8H0Z" />
                </svg>
                {[...new Set(bands.map(({ level }) => BAND_IS[level]))].join(", ")}
            </span>
            <span>
                <svg viewBox="0 0 30 8" class="strip-ramp" aria-hidden="true">
                    {[0, 0.25, 0.5, 0.75, 1].map((at, i) => (
                        <rect key={at} x={6 * i} width="6" height="8" fill={heat(at, dark)} />
                    ))}
                </svg>
                cool to hot
            </span>
        </p>
    );
}
