// How warm may the air be? The flight's peak against the air's temperature with its spread, the limit, and the
// warmest air in which it is still kept.

import { useRef, useState } from "preact/hooks";
import type uPlot from "uplot";
import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import { overAir, type AirPeak } from "../core/survey";
import type { Look } from "../look/theme";
import { useWords } from "../words/scale";
import { Figure, NumbersBelow, Pick, Readings, Table } from "./Figure";
import { memo } from "./memo";
import {
    dot,
    drawLimit,
    hatchRunaway,
    nameRunaway,
    Plot,
    pointAt,
    rangeWith,
    readingLine,
    rule,
    sayOut,
    spreadLines,
    throttleAxis,
    valueAxis,
    withRunaway,
    write,
    type PlotOptions,
} from "./Plot";
import { useSurvey, type Surveyed } from "./survey";

export const AirFigure = memo(function AirFigure({ door, good }: { door: Door; good: Good }) {
    const { box, made, behind } = useSurvey(door, good, overAir);
    return (
        <div
            ref={box}
            class="later survey-air"
            data-behind={behind ? "" : undefined}
            style={made ? undefined : { minHeight: "24rem" }}
        >
            {made && <Drawn made={made} />}
        </div>
    );
});

function Drawn({ made }: { made: Surveyed<AirPeak[]> }) {
    const words = useWords();
    const { value: peaks, good, air_C } = made;
    const { limit_C } = good.report.esc;
    const [wish, setWish] = useState<number>();
    const told = peaks.findIndex((one) => one.air_C === air_C);
    const picked = Math.min(wish ?? told, peaks.length - 1);
    const places = peaks.map((one) => words.toShown(one.air_C));
    const one = peaks[picked];
    return (
        <Figure
            number={6}
            picture={<Picture {...{ made, places, picked }} onPick={setWish} />}
            caption={
                <>
                    Peak in other air, {words.degree}. Hatched: where 8 of 10 fall; triangle: as
                    told.
                </>
            }
        >
            {one && (
                <>
                    <Pick
                        label="Air at"
                        places={places}
                        picked={picked}
                        text={words.quantity(one.air_C, "deg C")}
                        start={0}
                        onPick={setWish}
                    />
                    <Readings
                        pairs={[
                            [
                                "ESC peak",
                                <>
                                    <b>{words.peak(one.peak_C.p50)}</b> {words.range(one.peak_C)}
                                </>,
                            ],
                            ["Limit", words.quantity(limit_C, "deg C")],
                        ]}
                    />
                </>
            )}
            <NumbersBelow>
                {() => (
                    <Table
                        caption={`Peak in other air, limit ${words.temperature(limit_C)} ${words.degree}`}
                        head={[`Air, ${words.degree}`, "ESC peak", "10–90 %"]}
                        mark={picked}
                        rows={peaks.map((row) => [
                            words.temperature(row.air_C),
                            words.peak(row.peak_C.p50),
                            words.range(row.peak_C),
                        ])}
                    />
                )}
            </NumbersBelow>
        </Figure>
    );
}

interface PictureProps {
    made: Surveyed<AirPeak[]>;
    places: number[];
    picked: number;
    onPick: (index: number) => void;
}

function Picture({ made, places, picked, onPick }: PictureProps) {
    const words = useWords();
    const lines = withRunaway(
        made.value.map((one) => one.peak_C),
        (celsius) => words.toShown(celsius),
    );
    const data: uPlot.AlignedData = [places, lines.low, lines.high, lines.middle];
    const now = useRef({ made, picked, words });
    now.current = { made, picked, words };
    const shown = (celsius: number): number => now.current.words.toShown(celsius);
    const limit = (): number => shown(now.current.made.good.report.esc.limit_C);

    const toldPeak = (): number => {
        const { value: peaks, air_C } = now.current.made;
        const p50 = peaks.find((one) => one.air_C === air_C)?.peak_C.p50 ?? null;
        return p50 === null ? limit() : shown(p50);
    };

    function draw(u: uPlot, look: Look): void {
        const { made: m, picked: i } = now.current;
        const warmest = m.good.report.limits?.warmest_air_C ?? null;
        drawLimit(u, limit(), look);
        if (warmest !== null) drawWarmest(u, shown(warmest), look);
        pointAt(u, shown(m.air_C), look);
        if (!nameRunaway(u, 3, look)) sayOut(u, 2, look);
        const one = m.value[i];
        if (!one) return;
        const at = shown(one.air_C);
        readingLine(u, at, look);
        const { p50 } = one.peak_C;
        if (p50 !== null) dot(u, at, shown(p50), look);
    }
    const options = (look: Look): PlotOptions => ({
        scales: { x: { time: false }, y: { range: rangeWith(limit, toldPeak) } },
        ...spreadLines(look),
        axes: [throttleAxis(look, `Air, ${words.degree}`), valueAxis(look)],
        hooks: {
            drawClear: [(u) => hatchRunaway(u, 3, look)],
            draw: [(u) => draw(u, look)],
        },
    });
    return (
        <Plot
            data={data}
            options={options}
            shape={`${words.scale} ${places[0]} ${places.at(-1)}`}
            height={13}
            picked={picked}
            onPick={onPick}
        />
    );
}

/** The warmest air in which nine of ten keep the limit, as a line with its name. */
function drawWarmest(u: uPlot, at: number, look: Look): void {
    const { min = at, max = at } = u.scales.x ?? {};
    if (at <= min || at >= max) return;
    const x = rule(u, "x", at, look.stop, 1.5);
    const side = at > (min + max) / 2 ? "right" : "left";
    const y = u.bbox.top + u.bbox.height - 4 * devicePixelRatio;
    const gap = (side === "right" ? -5 : 5) * devicePixelRatio;
    write(u, look, `keeps it to ${Math.round(at)}`, look.stop, x + gap, y, side);
}
