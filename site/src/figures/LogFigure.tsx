// Does the prediction go with the log? ESC temperature logged and predicted against time, the sessions
// of the logger one after the other.

import { useRef, useState } from "preact/hooks";
import type uPlot from "uplot";
import type { LogAnswer, LogHistory } from "../log/log";
import type { Look } from "../look/theme";
import { clock } from "../words/numbers";
import { useWords } from "../words/scale";
import { Figure, nearest, NumbersBelow, Pick, Readings, Table } from "./Figure";
import { Plot, readingLine, timeAxis, valueAxis, type PlotOptions } from "./Plot";

type Point = LogHistory["series"][number];

interface Props {
    history: LogHistory;
    sessions: LogAnswer["sessions"];
}

/** Rows of the table: about this many, evenly taken. */
const TABLE_ROWS = 25;

/** Between two sessions, as a share of all of them: their lines stand apart. */
const GAP = 0.02;

export function LogFigure({ history, sessions }: Props) {
    const { text, series } = history;
    const words = useWords();
    const [wish, setWish] = useState<number>();

    const placeOf = placing(sessions);
    const places = series.map((point) => placeOf(point.session, point.t_s));
    const picked = wish ?? nearest(places, placeOf(history.worst_session, history.worst_t_s));
    const point = series[picked];
    const nameOfTime = ({ session, t_s }: Point): string => {
        const time = clock(t_s - beginOf(sessions, session));
        return sessions.length > 1 ? `session ${session + 1}, ${time}` : time;
    };
    return (
        <Figure
            number={7}
            title={words.sentence(text)}
            picture={<Picture {...{ series, places, picked }} onPick={setWish} />}
            caption={
                <>
                    ESC temperature, {words.degree}: full line logged, dashed predicted by the setup
                    as it was when the file was read
                    {sessions.length > 1 && "; the logger's sessions one after the other"}.
                </>
            }
        >
            {point && (
                <>
                    <Pick
                        label="Read at"
                        places={places}
                        picked={picked}
                        text={nameOfTime(point)}
                        start={0}
                        onPick={setWish}
                    />
                    <Readings
                        pairs={[
                            ["Logged", words.quantity(point.logged_C, "deg C")],
                            ["Predicted", words.quantity(point.predicted_C, "deg C")],
                        ]}
                    />
                </>
            )}
            <NumbersBelow>
                {() => (
                    <Table
                        caption={`The log in numbers, ${words.degree}`}
                        head={["Time", "Logged", "Predicted"]}
                        rows={series
                            .filter((_p, i) => i % Math.ceil(series.length / TABLE_ROWS) === 0)
                            .map((p) => [
                                nameOfTime(p),
                                words.temperature(p.logged_C, 1),
                                words.temperature(p.predicted_C, 1),
                            ])}
                    />
                )}
            </NumbersBelow>
        </Figure>
    );
}

const beginOf = (sessions: LogAnswer["sessions"], session: number): number =>
    sessions[session]?.start_s ?? 0;

/** Where a moment of a session lies along the axis: they follow each other, a gap between them. */
function placing(sessions: LogAnswer["sessions"]): (session: number, t_s: number) => number {
    const lengths = sessions.map((session) => session.end_s - session.start_s);
    const gap = GAP * lengths.reduce((sum, length) => sum + length, 0);
    const begins: number[] = [];
    let begin = 0;
    for (const length of lengths) {
        begins.push(begin);
        begin += length + gap;
    }
    return (session, t_s) => (begins[session] ?? 0) + t_s - beginOf(sessions, session);
}

interface PictureProps {
    series: Point[];
    places: number[];
    picked: number;
    onPick: (index: number) => void;
}

function Picture({ series, places, picked, onPick }: PictureProps) {
    const words = useWords();
    // sessions take turns at two pairs of lines: none runs on from one into the next
    const line = (turn: number, celsius: (point: Point) => number): (number | null)[] =>
        series.map((point) => (point.session % 2 === turn ? words.toShown(celsius(point)) : null));
    const lines = [0, 1].flatMap((turn) => [
        line(turn, (point) => point.logged_C),
        line(turn, (point) => point.predicted_C),
    ]);
    const data: uPlot.AlignedData = [places, ...lines];
    const now = useRef(0);
    now.current = places[picked] ?? 0;

    const options = (look: Look): PlotOptions => ({
        scales: { x: { time: false } },
        series: [
            {},
            ...[0, 1].flatMap(() => [
                { stroke: look.ink, width: 2.5, points: { show: false } },
                { stroke: look.ink, width: 2, dash: [7, 4], points: { show: false } },
            ]),
        ],
        axes: [timeAxis(look), valueAxis(look)],
        hooks: { draw: [(u) => readingLine(u, now.current, look)] },
    });
    return (
        <Plot
            data={data}
            options={options}
            shape={words.scale}
            height={12}
            picked={picked}
            onPick={onPick}
        />
    );
}
