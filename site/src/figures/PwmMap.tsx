// Which throttle is hot at which frequency? A strip of throttle for each frequency, as warm as a hold on it gets;
// what passes the limit is hatched, and all are read at one throttle.

import { useRef } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import type { Report } from "../core/report";
import { overPwm, type PwmPeaks } from "../core/survey";
import { heat, warmth } from "../look/ramp";
import { useDark } from "../look/theme";
import { valueAt } from "../setup/json";
import { written } from "../words/numbers";
import { useWords } from "../words/scale";
import { useAxis } from "./axis";
import { Figure, nearest, NumbersBelow, Pick, Table } from "./Figure";
import { pickedHold } from "./HoldFigure";
import { memo } from "./memo";
import { kilo } from "./PwmFigure";
import { useSurvey } from "./survey";

interface Props {
    door: Door;
    good: Good;
    /** the throttle that the reader picked */
    wish: number | undefined;
    onWish: (throttle_pct: number) => void;
}

export const PwmMap = memo(function PwmMap({ door, good, ...reading }: Props) {
    const { box, made, behind } = useSurvey(door, good, overPwm);
    return (
        <div
            ref={box}
            class="later survey-pwm"
            data-behind={behind ? "" : undefined}
            style={
                made ? undefined : { minHeight: `${11 + 3.25 * good.report.pwm.choices.length}rem` }
            }
        >
            {made && made.value.length > 1 && (
                <Drawn rows={made.value} good={made.good} {...reading} />
            )}
        </div>
    );
});

interface DrawnProps extends Omit<Props, "door"> {
    rows: PwmPeaks[];
}

function Drawn({ rows, good, wish, onWish }: DrawnProps) {
    const words = useWords();
    const dark = useDark();
    const axis = useAxis();
    const strips = useRef<HTMLDivElement>(null);
    const { report, setup } = good;
    const most = axis.most(report);
    const places = report.holds.map((hold) => hold.throttle_pct);
    const picked = pickedHold(report, wish);
    const throttle = places[picked] ?? 0;
    const text = `${written(throttle)} ${axis.of}`;
    const told = valueAt(setup, "esc.pwm_Hz");

    const take = (event: PointerEvent): void => {
        const strip = strips.current?.querySelector(".strip")?.getBoundingClientRect();
        if (!strip) return;
        const at = (most * (event.clientX - strip.left)) / strip.width;
        onWish(places[nearest(places, at)] ?? 0);
    };
    const peaks = rows.map(({ pwm_Hz, peaks_C }) => ({
        name: kilo(pwm_Hz),
        pwm_Hz,
        peak: words.peak(peaks_C[picked] ?? null),
    }));
    return (
        <Figure
            number={4}
            picture={
                <div
                    class="map"
                    ref={strips}
                    aria-hidden="true"
                    onPointerDown={take}
                    onPointerMove={(event) => event.buttons > 0 && take(event)}
                >
                    {rows.map(({ pwm_Hz, peaks_C }, i) => (
                        <div key={pwm_Hz} class={`map-row ${pwm_Hz === told ? "told" : ""}`}>
                            <span>{kilo(pwm_Hz)}</span>
                            <span>{peaks[i]?.peak}</span>
                            <Strip
                                id={`map-${pwm_Hz}`}
                                report={report}
                                peaks={peaks_C}
                                most={most}
                                read={throttle}
                                dark={dark}
                            />
                        </div>
                    ))}
                    <div class="map-scale">
                        <span>0</span>
                        <span>
                            {most} {axis.unit}
                        </span>
                    </div>
                </div>
            }
            caption={<>Peak of a hold at each frequency. Hatched: over the limit; bold: in use.</>}
        >
            <Pick
                label="Read at"
                places={places}
                picked={picked}
                text={text}
                spoken={`${text}: ${peaks.map(({ name, peak }) => `${name} ${peak}`).join(", ")}`}
                start={(places[0] ?? 0) / most}
                stop={(places.at(-1) ?? most) / most}
                axis={0}
                end={0}
                onPick={(index) => onWish(places[index] ?? 0)}
            />
            <NumbersBelow>
                {() => (
                    <Table
                        caption={`Peak of a hold at each frequency, limit ${words.temperature(report.esc.limit_C)} ${words.degree}`}
                        head={[axis.title, ...peaks.map(({ name }) => name)]}
                        mark={picked}
                        rows={places.map((place, i) => [
                            written(place),
                            ...rows.map(({ peaks_C }) => words.peak(peaks_C[i] ?? null)),
                        ])}
                    />
                )}
            </NumbersBelow>
        </Figure>
    );
}

interface StripProps {
    id: string;
    report: Report;
    peaks: (number | null)[];
    most: number;
    /** the throttle that is read */
    read: number;
    dark: boolean;
}

function Strip({ id, report, peaks, most, read, dark }: StripProps) {
    const { holds, esc } = report;
    const share = (pct: number): number => Math.min((100 * pct) / most, 100);
    /** between two holds too */
    const place = (at: number): number => {
        const low = holds[Math.floor(at)]?.throttle_pct ?? most;
        const high = holds[Math.ceil(at)]?.throttle_pct ?? low;
        return share(low + (at % 1) * (high - low));
    };
    // as warm as on the strip of the first screen
    const coolest = Math.min(...holds.map((hold) => hold.hold_peak_C.p50 ?? Infinity));
    return (
        <svg class="strip">
            <defs>
                <linearGradient id={id}>
                    {peaks.map((celsius, i) => (
                        <stop
                            key={i}
                            offset={`${place(i)}%`}
                            stop-color={heat(
                                warmth(celsius ?? Infinity, coolest, esc.limit_C),
                                dark,
                            )}
                        />
                    ))}
                </linearGradient>
                <pattern
                    id={`${id}-over`}
                    width="6"
                    height="6"
                    patternUnits="userSpaceOnUse"
                    patternTransform="rotate(45)"
                >
                    <rect class="map-over" width="2" height="6" />
                </pattern>
            </defs>
            <rect width="100%" height="100%" fill={`url(#${id})`} />
            {stretchesOver(peaks, esc.limit_C).map(([from, to]) => (
                <rect
                    key={from}
                    x={`${place(from)}%`}
                    width={`${place(to) - place(from)}%`}
                    height="100%"
                    fill={`url(#${id}-over)`}
                />
            ))}
            <line class="map-read" x1={`${share(read)}%`} x2={`${share(read)}%`} y2="100%" />
        </svg>
    );
}

/** Where the peaks pass the limit, as places between them: half a step to either side of a hold that does. */
function stretchesOver(peaks: (number | null)[], limit: number): [number, number][] {
    const over = (i: number): boolean => i < peaks.length && (peaks[i] ?? Infinity) > limit;
    const stretches: [number, number][] = [];
    for (let i = 0; i < peaks.length; i += 1) {
        if (!over(i)) continue;
        const from = i;
        while (over(i + 1)) i += 1;
        stretches.push([crossing(peaks, from - 1, limit), crossing(peaks, i, limit)]);
    }
    return stretches;
}

/** Where between a hold and the next the limit is passed. */
function crossing(peaks: (number | null)[], index: number, limit: number): number {
    if (index < 0) return 0;
    const a = peaks[index] ?? null;
    const b = peaks[index + 1];
    if (b === undefined) return index;
    // one of them runs away
    if (a === null || b === null) return index + 0.5;
    return index + (limit - a) / (b - a);
}
