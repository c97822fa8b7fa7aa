// How does a chart stand on the page? One canvas that follows its width, the light and the text size;
// a touch or drag picks the nearest reading. Its numbers stand in a table beside it.

import { useLayoutEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import type { Spread } from "../core/report";
import { clock } from "../words/numbers";
import { AXIS_REM, END_REM } from "./axis";
import { frame } from "./frame";
import { lookOf, useDark, type Look } from "../look/theme";

export type PlotOptions = Omit<uPlot.Options, "width" | "height">;

interface Props {
    data: uPlot.AlignedData;
    /** Called again when `shape` or the light changes; hooks may read what changes more often. */
    options: (look: Look) => PlotOptions;
    /** What the options depend on, as one text. */
    shape: string;
    /** rem */
    height: number;
    picked: number;
    onPick: (index: number) => void;
}

export function Plot({ data, options, shape, height, picked, onPick }: Props) {
    const box = useRef<HTMLDivElement>(null);
    const plot = useRef<uPlot | undefined>(undefined);
    const pick = useRef(onPick);
    pick.current = onPick;
    const latest = useRef(data);
    latest.current = data;
    const dark = useDark();

    useLayoutEffect(() => {
        const element = box.current;
        if (!element) return;
        const look = lookOf(element, dark);
        const size = () => ({ width: element.clientWidth, height: height * look.rem });
        const made = new uPlot(
            {
                ...size(),
                legend: { show: false },
                cursor: { show: false },
                padding: [0.5 * look.rem, END_REM * look.rem, 0, 0],
                select: { show: false, left: 0, top: 0, width: 0, height: 0 },
                ...options(look),
            },
            latest.current,
            element,
        );
        plot.current = made;

        const take = (event: PointerEvent): void => {
            const left = event.clientX - made.over.getBoundingClientRect().left;
            pick.current(made.posToIdx(left));
        };
        made.over.addEventListener("pointerdown", take);
        made.over.addEventListener("pointermove", (event) => {
            if (event.buttons > 0) take(event);
        });
        const watch = new ResizeObserver(() => {
            if (element.clientWidth > 0) made.setSize(size());
        });
        watch.observe(element);
        return () => {
            watch.disconnect();
            made.destroy();
            plot.current = undefined;
        };
    }, [shape, dark, height]);

    useLayoutEffect(() => plot.current?.setData(data), [data]);
    useLayoutEffect(() => plot.current?.redraw(false), [picked]);

    return <div class="plot" ref={box} aria-hidden="true" />;
}

/** Axis in the page's own letters. */
function axis(look: Look, more: uPlot.Axis = {}): uPlot.Axis {
    return {
        stroke: look.ink,
        font: look.font,
        labelFont: look.font,
        labelSize: 1.3 * look.rem,
        labelGap: 0,
        gap: 3,
        grid: { stroke: look.line, width: 1 },
        ticks: { show: false },
        ...more,
    };
}

export const throttleAxis = (look: Look, label: string): uPlot.Axis =>
    axis(look, { label, size: 1.6 * look.rem, space: 2.5 * look.rem });

/** Steps of a time axis, s. */
const TIME_STEPS = [5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];

export const timeAxis = (look: Look): uPlot.Axis =>
    axis(look, {
        values: (_u, seconds) => seconds.map(clock),
        size: 1.6 * look.rem,
        space: 3.2 * look.rem,
        incrs: TIME_STEPS,
    });

export const valueAxis = (look: Look, more: uPlot.Axis = {}): uPlot.Axis =>
    axis(look, { size: AXIS_REM * look.rem, space: 2 * look.rem, ...more });

/** A value above every frame: where the heat runs away a line goes up and out of the picture. */
const OUT_OF_FRAME = 1e5;

/** Room above and below what is drawn, the limit included, and a point that is not to be lost. */
export const rangeWith =
    (limit: () => number, point: () => number = limit): uPlot.Scale.Range =>
    (_u, low, high) =>
        frame(low, high, limit(), point());

/** Says so where a line leaves the frame. */
export function sayOut(u: uPlot, line: number, look: Look): void {
    const top = u.scales.y?.max ?? Infinity;
    const values = Array.from(u.data[line] ?? []);
    if (!values.some((value) => typeof value === "number" && value > top)) return;
    const { left, top: edge } = u.bbox;
    // below what is pointed at from above, and on the side where curves are low
    const y = edge + 1.6 * look.rem * devicePixelRatio;
    write(u, look, "goes on above ↑", look.ink, left + 4 * devicePixelRatio, y, "left");
}

/** A band and its middle with what runs away led out of the frame. */
export function withRunaway(spreads: Spread[], shown: (celsius: number) => number) {
    const value = (celsius: number | null, known: boolean): number | null =>
        celsius !== null ? shown(celsius) : known ? OUT_OF_FRAME : null;
    const middleKnown = (i: number): boolean => (spreads[i - 1]?.p50 ?? null) !== null;
    return {
        low: spreads.map(({ p10 }) => value(p10, false)),
        high: spreads.map(({ p10, p90 }) => value(p90, p10 !== null)),
        middle: spreads.map(({ p50 }, i) => value(p50, middleKnown(i))),
    };
}

/** Places of a middle line led out of the frame, where the heat runs away: there it is out or missing. */
function runaways(u: uPlot, line: number): { x: number; to: number }[] {
    const places = Array.from(u.data[0]);
    const values = Array.from(u.data[line] ?? []);
    const at = (index: number): number => u.valToPos(places[index] ?? 0, "x", true);
    return values.flatMap((value, i) =>
        (value ?? OUT_OF_FRAME) === OUT_OF_FRAME
            ? [{ x: at(i), to: at(Math.min(i + 1, places.length - 1)) }]
            : [],
    );
}

/** Where there is no peak because the heat runs away. */
export function hatchRunaway(u: uPlot, line: number, look: Look): void {
    const { top, height } = u.bbox;
    u.ctx.save();
    u.ctx.fillStyle = hatch(look.stop, undefined, 7);
    for (const { x, to } of runaways(u, line)) u.ctx.fillRect(x, top, to - x, height);
    u.ctx.restore();
}

/** Names it; false where nothing runs away. */
export function nameRunaway(u: uPlot, line: number, look: Look): boolean {
    const first = runaways(u, line)[0];
    if (!first) return false;
    const { left, top, width } = u.bbox;
    // near the right edge there is room to the left only
    const side = first.x > left + 0.7 * width ? "right" : "left";
    const x = side === "right" ? left + width : first.x;
    write(u, look, "runs away", look.stop, x, top + 2.2 * look.rem * devicePixelRatio, side);
    return true;
}

/** A word on the plot, on a ground of its own; `x` is its left or right end, `y` its foot. */
export function write(
    u: uPlot,
    look: Look,
    text: string,
    colour: string,
    x: number,
    y: number,
    align: "left" | "right",
): void {
    u.ctx.save();
    u.ctx.font = look.font.replace(/^[\d.]+/, (px) => String(Number(px) * devicePixelRatio));
    const width = u.ctx.measureText(text).width;
    const left = align === "left" ? x : x - width;
    const height = 0.9 * look.rem * devicePixelRatio;
    u.ctx.fillStyle = look.paper;
    u.ctx.globalAlpha = 0.85;
    u.ctx.fillRect(left - 2, y - height, width + 4, height);
    u.ctx.globalAlpha = 1;
    u.ctx.fillStyle = colour;
    u.ctx.textAlign = "left";
    u.ctx.textBaseline = "bottom";
    u.ctx.fillText(text, left, y);
    u.ctx.restore();
}

/** Where the readings are taken: dashed; over fills with a rim that sets it off from them. */
export function readingLine(u: uPlot, at: number, look: Look, rim = false): void {
    if (rim) rule(u, "x", at, look.paper, 4);
    rule(u, "x", at, look.touch, 1.5, [4, 3]);
}

/** The limit as a line with its name. */
export function drawLimit(u: uPlot, limit: number, look: Look): void {
    const y = rule(u, "y", limit, look.stop, 2);
    const left = u.bbox.left + 6 * devicePixelRatio;
    write(u, look, `limit ${Math.round(limit)}`, look.stop, left, y - 2, "left");
}

/** What is told, pointed at from above. */
export function pointAt(u: uPlot, at: number, look: Look): void {
    const size = 5 * devicePixelRatio;
    const x = u.valToPos(at, "x", true);
    u.ctx.save();
    u.ctx.fillStyle = look.ink;
    u.ctx.beginPath();
    u.ctx.moveTo(x - size, u.bbox.top);
    u.ctx.lineTo(x + size, u.bbox.top);
    u.ctx.lineTo(x, u.bbox.top + 1.6 * size);
    u.ctx.fill();
    u.ctx.restore();
}

/** What is read. */
export function dot(u: uPlot, x: number, y: number, look: Look): void {
    u.ctx.save();
    u.ctx.beginPath();
    u.ctx.fillStyle = look.paper;
    u.ctx.strokeStyle = look.touch;
    u.ctx.lineWidth = 2.5 * devicePixelRatio;
    u.ctx.arc(
        u.valToPos(x, "x", true),
        u.valToPos(y, "y", true),
        4.5 * devicePixelRatio,
        0,
        2 * Math.PI,
    );
    u.ctx.fill();
    u.ctx.stroke();
    u.ctx.restore();
}

/** A line from edge to edge of the plot at a value of a scale. */
export function rule(
    u: uPlot,
    scale: string,
    value: number,
    stroke: string,
    width: number,
    dash: number[] = [],
): number {
    const at = Math.round(u.valToPos(value, scale, true));
    const { left, top, width: w, height: h } = u.bbox;
    const upright = scale === "x";
    u.ctx.save();
    u.ctx.beginPath();
    u.ctx.strokeStyle = stroke;
    u.ctx.lineWidth = width * devicePixelRatio;
    u.ctx.setLineDash(dash.map((length) => length * devicePixelRatio));
    u.ctx.moveTo(upright ? at : left, upright ? top : at);
    u.ctx.lineTo(upright ? at : left + w, upright ? top + h : at);
    u.ctx.stroke();
    u.ctx.restore();
    return at;
}

/** Slanted lines of one colour, `gap` CSS pixels apart. */
export function hatch(colour: string, ground: string | undefined, gap: number): CanvasPattern {
    const size = Math.round(gap * devicePixelRatio);
    const tile = document.createElement("canvas");
    tile.width = tile.height = size;
    const ctx = tile.getContext("2d") as CanvasRenderingContext2D;
    if (ground) {
        ctx.fillStyle = ground;
        ctx.fillRect(0, 0, size, size);
    }
    ctx.strokeStyle = colour;
    ctx.lineWidth = Math.max(1, size / 5);
    ctx.beginPath();
    for (const shift of [-size, 0, size]) {
        ctx.moveTo(shift - 1, size + 1);
        ctx.lineTo(shift + size + 1, -1);
    }
    ctx.stroke();
    return ctx.createPattern(tile, "repeat") as CanvasPattern;
}

/** A spread as two thin lines with hatching between them, and its middle as a thick one: series 1 to 3. */
export function spreadLines(look: Look): { series: uPlot.Series[]; bands: uPlot.Band[] } {
    const line = (stroke: string, width: number): uPlot.Series => ({
        stroke,
        width,
        points: { show: false },
    });
    const between = hatch(look.soft, undefined, 5);
    return {
        series: [{}, line(look.soft, 1), line(look.soft, 1), line(look.ink, 2.5)],
        bands: [{ series: [2, 1], fill: () => between as unknown as string }],
    };
}
