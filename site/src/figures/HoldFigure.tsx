// Which throttle must not be held? Peak of a hold against throttle with its spread, the limit, the bands
// that the core names and the flight's own throttles.

import { useRef } from "preact/hooks";
import type uPlot from "uplot";
import type { Band, Report, Spread } from "../core/report";
import type { Look } from "../look/theme";
import { clock, reached, written } from "../words/numbers";
import { endsWhen, useWords, type Wording } from "../words/scale";
import { useAxis } from "./axis";
import { BAND_IS } from "./marks";
import { memo } from "./memo";
import { Figure, nearest, NumbersBelow, Pick, Readings, Table } from "./Figure";
import {
    dot,
    drawLimit,
    hatchRunaway,
    nameRunaway,
    Plot,
    pointAt,
    rangeWith,
    readingLine,
    sayOut,
    spreadLines,
    throttleAxis,
    valueAxis,
    withRunaway,
    write,
    type PlotOptions,
} from "./Plot";

interface Props {
    report: Report;
    /** the throttle that the reader picked */
    wish: number | undefined;
    onWish: (throttle_pct: number) => void;
}

type Hold = Report["holds"][number];

export const HoldFigure = memo(function HoldFigure({ report, wish, onWish }: Props) {
    const words = useWords();
    const { holds, bands } = report;
    const picked = pickedHold(report, wish);
    const onPick = (index: number): void => onWish(holds[index]?.throttle_pct ?? 0);
    const hold = holds[picked];
    return (
        <Figure
            number={1}
            title={
                <>
                    {bands.map((band) => (
                        <span key={band.from_pct}>{words.sentence(band.text)} </span>
                    ))}
                </>
            }
            picture={<Picture report={report} picked={picked} onPick={onPick} />}
            caption={
                <>
                    Peak of a hold, {words.degree}. Hatched: where 8 of 10 fall; triangles: what is
                    flown.
                </>
            }
        >
            {hold && (
                <>
                    <HoldPick report={report} picked={picked} onPick={onPick} />
                    <HoldReadings hold={hold} />
                </>
            )}
            <NumbersBelow>{() => <HoldTable report={report} picked={picked} />}</NumbersBelow>
        </Figure>
    );
});

interface PictureProps {
    report: Report;
    picked: number;
    onPick: (index: number) => void;
}

function Picture({ report, picked, onPick }: PictureProps) {
    const words = useWords();
    const axis = useAxis();
    const { holds } = report;
    const most = axis.most(report);
    const lines = withRunaway(
        holds.map((hold) => hold.hold_peak_C),
        (celsius) => words.toShown(celsius),
    );
    const data: uPlot.AlignedData = [
        holds.map((hold) => hold.throttle_pct),
        lines.low,
        lines.high,
        lines.middle,
    ];
    const now = useRef({ report, picked, words });
    now.current = { report, picked, words };

    const limit = (): number => now.current.words.toShown(now.current.report.esc.limit_C);

    function options(look: Look): PlotOptions {
        return {
            scales: {
                x: { time: false, range: [0, most] },
                y: { range: rangeWith(limit) },
            },
            ...spreadLines(look),
            axes: [throttleAxis(look, axis.title), valueAxis(look)],
            hooks: {
                drawClear: [
                    (u) => shadeBands(u, now.current.report.bands, look),
                    (u) => hatchRunaway(u, 3, look),
                ],
                draw: [
                    (u) => {
                        const { report: r, picked: p, words: w } = now.current;
                        drawLimit(u, limit(), look);
                        drawOwn(u, r, look);
                        nameBands(u, r.bands, look);
                        if (!nameRunaway(u, 3, look)) sayOut(u, 2, look);
                        const hold = r.holds[p];
                        if (hold) {
                            readingLine(u, hold.throttle_pct, look);
                            const peak = hold.hold_peak_C.p50;
                            if (peak !== null) dot(u, hold.throttle_pct, w.toShown(peak), look);
                        }
                    },
                ],
            },
        };
    }

    return (
        <Plot
            data={data}
            options={options}
            shape={`${words.scale} ${axis.title} ${most}`}
            height={15}
            picked={picked}
            onPick={onPick}
        />
    );
}

/** The slider under a picture of the holds. */
export function HoldPick({ report, picked, onPick }: PictureProps) {
    const axis = useAxis();
    const { holds } = report;
    const most = axis.most(report);
    return (
        <Pick
            label="Read at"
            places={holds.map((h) => h.throttle_pct)}
            picked={picked}
            text={`${written(holds[picked]?.throttle_pct)} ${axis.of}`}
            start={(holds[0]?.throttle_pct ?? 0) / most}
            stop={(holds.at(-1)?.throttle_pct ?? most) / most}
            onPick={onPick}
        />
    );
}

function HoldReadings({ hold }: { hold: Hold }) {
    const words = useWords();
    return (
        <Readings
            pairs={[
                [
                    "Peak of the hold",
                    <>
                        <b>{words.peak(hold.hold_peak_C.p50)}</b> {words.range(hold.hold_peak_C)}
                    </>,
                ],
                ["Mean of the hold", `${words.temperature(hold.hold_mean_C)} ${words.degree}`],
                [
                    "Would settle at",
                    hold.steady_C === null
                        ? "never settles"
                        : `${words.temperature(hold.steady_C)} ${words.degree}`,
                ],
                [
                    "Length of the hold",
                    `${clock(hold.hold_s)}${hold.ended_by ? `, until ${endsWhen(hold.ended_by)}` : ""}`,
                ],
                ["Limit reached after", reached(hold.seconds_to_limit)],
                ["Pack current", `${written(hold.pack_A)} A`],
                ["Motor current", `${written(hold.motor_A)} A`],
                ["Duty", written(hold.duty, 2)],
                ["Motor speed", `${written(hold.rpm)} rpm`],
                ["ESC efficiency", `${written(100 * hold.esc_efficiency)} %`],
                ["Air over the ESC", `${written(hold.air_speed_mps)} m/s`],
                ["Motor efficiency", `${written(100 * hold.motor_efficiency)} %`],
                ...(hold.motor_C
                    ? [["Motor windings", spreadOf(hold.motor_C, words)] as [string, string]]
                    : []),
            ]}
        />
    );
}

function HoldTable({ report: { holds, esc }, picked }: { report: Report; picked: number }) {
    const words = useWords();
    const axis = useAxis();
    return (
        <Table
            caption={`Hold temperatures, limit ${words.temperature(esc.limit_C)} ${words.degree}`}
            head={[
                axis.title,
                "Peak",
                "10–90 %",
                `Settles, ${words.degree}`,
                "Hold",
                "Pack, A",
                "Motor, A",
            ]}
            mark={picked}
            rows={holds.map((h) => [
                written(h.throttle_pct),
                words.peak(h.hold_peak_C.p50),
                words.range(h.hold_peak_C),
                words.temperature(h.steady_C),
                clock(h.hold_s),
                written(h.pack_A),
                written(h.motor_A),
            ])}
        />
    );
}

/** The hold that is read: the picked one, or the hottest against full throttle. */
export const pickedHold = (report: Report, wish: number | undefined): number =>
    nearest(
        report.holds.map((hold) => hold.throttle_pct),
        wish ?? report.why.throttle_pct,
    );

const spreadOf = (spread: Spread, words: Wording): string =>
    `${words.peak(spread.p50)} ${words.range(spread)}`;

/** The bar at the foot of a band, px. */
const BAND_FOOT = 6;

const colourOf = (band: Band, look: Look): string =>
    band.level === "fine" ? look.soft : look.stop;

function shadeBands(u: uPlot, bands: Band[], look: Look): void {
    const { top, height } = u.bbox;
    const foot = BAND_FOOT * devicePixelRatio;
    for (const band of bands) {
        const from = u.valToPos(band.from_pct, "x", true);
        const width = u.valToPos(band.to_pct, "x", true) - from;
        u.ctx.save();
        u.ctx.globalAlpha = look.dark ? 0.3 : 0.14;
        u.ctx.fillStyle = colourOf(band, look);
        u.ctx.fillRect(from, top, width, height);
        u.ctx.globalAlpha = 1;
        u.ctx.fillRect(from, top + height - foot, width, foot);
        u.ctx.restore();
    }
}

function nameBands(u: uPlot, bands: Band[], look: Look): void {
    const y = u.bbox.top + u.bbox.height - 1.5 * BAND_FOOT * devicePixelRatio;
    for (const band of bands) {
        const x = u.valToPos(band.to_pct, "x", true) - 4 * devicePixelRatio;
        write(u, look, BAND_IS[band.level], colourOf(band, look), x, y, "right");
    }
}

function drawOwn(u: uPlot, report: Report, look: Look): void {
    const own = new Set(report.flight.series.map((moment) => moment.throttle_pct));
    for (const throttle of own) pointAt(u, throttle, look);
}
