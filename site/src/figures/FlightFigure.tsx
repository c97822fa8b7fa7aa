// What happens over the flight? Board and junction temperature, pack voltage and charge against time.

import { useRef, useState } from "preact/hooks";
import type uPlot from "uplot";
import type { Report } from "../core/report";
import type { Look } from "../look/theme";
import { clock, reached, written } from "../words/numbers";
import { endsWhen, useWords } from "../words/scale";
import { AXIS_REM, useAxis } from "./axis";
import { memo } from "./memo";
import { Figure, NumbersBelow, Pick, Readings, Table } from "./Figure";
import {
    drawLimit,
    Plot,
    rangeWith,
    readingLine,
    sayOut,
    spreadLines,
    timeAxis,
    valueAxis,
    withRunaway,
    type PlotOptions,
} from "./Plot";

/** Rows of the table: about this many, evenly taken. */
const TABLE_ROWS = 25;

interface PicturesProps {
    report: Report;
    /** index of the moment that is read */
    picked: number;
    onPick: (index: number) => void;
}

export const FlightFigure = memo(function FlightFigure({ report }: { report: Report }) {
    const axis = useAxis();
    const words = useWords();
    const { series, seconds, ended_by, longest_holds } = report.flight;
    const [wish, setWish] = useState<number>();
    const picked = Math.min(wish ?? hottestOf(series), series.length - 1);
    const moment = series[picked];
    return (
        <Figure
            number={5}
            title={
                <>
                    The flight lasts {clock(seconds)}, until {endsWhen(ended_by)}.{" "}
                    {report.hover && words.sentence(report.hover.text)}
                </>
            }
            picture={<Pictures report={report} picked={picked} onPick={setWish} />}
            caption={
                <>ESC, {words.degree}; dotted: its switches. Below: pack, V; dashed: charge, %.</>
            }
        >
            {moment && (
                <>
                    <Pick
                        label="Read at"
                        places={series.map(({ t_s }) => t_s)}
                        picked={picked}
                        text={clock(moment.t_s)}
                        start={0}
                        end={AXIS_REM}
                        onPick={setWish}
                    />
                    <MomentReadings report={report} moment={moment} />
                </>
            )}
            {longest_holds.length > 0 && (
                <Table
                    caption="Each share flown in one go"
                    head={[axis.title, "Time", "ESC peak"]}
                    rows={longest_holds.map((one) => [
                        written(one.throttle_pct),
                        clock(one.seconds),
                        words.peak(one.peak_C),
                    ])}
                />
            )}
            <NumbersBelow>{() => <FlightTable series={series} />}</NumbersBelow>
        </Figure>
    );
});

type Series = Report["flight"]["series"];

const hottestOf = (series: Series): number =>
    series.reduce(
        (best, moment, i) =>
            (moment.board_C.p50 ?? Infinity) > (series[best]?.board_C.p50 ?? Infinity) ? i : best,
        0,
    );

/** Heat above, and below it what the pack gives, against the same time. */
function Pictures({ report, picked, onPick }: PicturesProps) {
    const words = useWords();
    const { series } = report.flight;
    const times = series.map((moment) => moment.t_s);
    const lines = withRunaway(
        series.map((moment) => moment.board_C),
        (celsius) => words.toShown(celsius),
    );
    const heatData: uPlot.AlignedData = [
        times,
        lines.low,
        lines.high,
        lines.middle,
        series.map(({ junction_C }) => (junction_C === null ? null : words.toShown(junction_C))),
    ];
    const packData: uPlot.AlignedData = [
        times,
        series.map((moment) => moment.pack_V),
        series.map((moment) => moment.charge_pct),
    ];
    const now = useRef({ report, picked, words });
    now.current = { report, picked, words };

    const cursor = (look: Look) => (u: uPlot) => {
        const moment = now.current.report.flight.series[now.current.picked];
        if (moment) readingLine(u, moment.t_s, look);
    };
    const limit = (): number => now.current.words.toShown(now.current.report.esc.limit_C);

    function heatOptions(look: Look): PlotOptions {
        const spread = spreadLines(look);
        return {
            scales: {
                x: { time: false },
                y: { range: rangeWith(limit) },
            },
            series: [
                ...spread.series,
                { stroke: look.ink, width: 1.5, dash: [2, 3], points: { show: false } },
            ],
            bands: spread.bands,
            axes: [timeAxis(look), valueAxis(look)],
            padding: [0.5 * look.rem, AXIS_REM * look.rem, 0, 0],
            hooks: {
                draw: [(u) => drawLimit(u, limit(), look), (u) => sayOut(u, 2, look), cursor(look)],
            },
        };
    }

    function packOptions(look: Look): PlotOptions {
        return {
            scales: { x: { time: false }, charge: { range: [0, 100] } },
            series: [
                {},
                { stroke: look.ink, width: 2, points: { show: false } },
                {
                    scale: "charge",
                    stroke: look.ink,
                    width: 2,
                    dash: [7, 4],
                    points: { show: false },
                },
            ],
            axes: [
                timeAxis(look),
                valueAxis(look),
                valueAxis(look, { scale: "charge", side: 1, grid: { show: false } }),
            ],
            padding: [0.5 * look.rem, 0, 0, 0],
            hooks: { draw: [cursor(look)] },
        };
    }

    return (
        <>
            <Plot
                data={heatData}
                options={heatOptions}
                shape={words.scale}
                height={12}
                picked={picked}
                onPick={onPick}
            />
            <Plot
                data={packData}
                options={packOptions}
                shape=""
                height={8}
                picked={picked}
                onPick={onPick}
            />
        </>
    );
}

function MomentReadings({ report, moment }: { report: Report; moment: Series[number] }) {
    const words = useWords();
    const axis = useAxis();
    return (
        <Readings
            pairs={[
                [
                    "ESC",
                    <>
                        <b>{words.peak(moment.board_C.p50)}</b> {words.range(moment.board_C)}
                    </>,
                ],
                ["Inside its switches", `${words.temperature(moment.junction_C)} ${words.degree}`],
                ...(typeof moment.motor_C === "number"
                    ? [
                          ["Motor windings", words.quantity(moment.motor_C, "deg C")] as [
                              string,
                              string,
                          ],
                      ]
                    : []),
                [axis.name, `${written(moment.throttle_pct)} ${axis.of}`],
                ["Pack voltage", `${written(moment.pack_V)} V`],
                ["Pack current", `${written(moment.pack_A)} A`],
                ["Charge left", `${written(moment.charge_pct)} %`],
                ["Cooled down in", clock(report.flight.cool_down_s)],
                ["Limit reached after", reached(report.flight.limit_after_s)],
                ...(report.hover
                    ? ([
                          ["Hover lasts", clock(report.hover.seconds)],
                          ["Land from hover by", clock(report.hover.land_by_s)],
                      ] as [string, string][])
                    : []),
            ]}
        />
    );
}

function FlightTable({ series }: { series: Series }) {
    const words = useWords();
    const axis = useAxis();
    const every = Math.ceil(series.length / TABLE_ROWS);
    // both sides of an instant, as they can be read above, and the end
    const times = new Set(
        series.filter((m, i) => i % every === 0 || m === series.at(-1)).map(({ t_s }) => t_s),
    );
    return (
        <Table
            caption="The flight in numbers"
            head={[
                "Time",
                axis.title,
                `ESC, ${words.degree}`,
                "10–90 %",
                `Switches, ${words.degree}`,
                "Pack, V",
                "Pack, A",
                "Charge, %",
            ]}
            rows={series
                .filter(({ t_s }) => times.has(t_s))
                .map((m) => [
                    clock(m.t_s),
                    written(m.throttle_pct),
                    words.temperature(m.board_C.p50),
                    words.range(m.board_C),
                    words.temperature(m.junction_C),
                    written(m.pack_V),
                    written(m.pack_A),
                    written(m.charge_pct),
                ])}
        />
    );
}
