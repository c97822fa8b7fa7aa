// Where does the heat go? Losses stacked by cause against throttle; at a throttle the causes stand
// beside those at full throttle or in hover, and below them why it is hotter.

import { useMemo, useRef } from "preact/hooks";
import type uPlot from "uplot";
import type { Report } from "../core/report";
import { heat } from "../look/ramp";
import { useDark, type Look } from "../look/theme";
import { tenths, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { useAxis } from "./axis";
import { Figure, NumbersBelow, Table, type Cell } from "./Figure";
import { HoldPick, pickedHold } from "./HoldFigure";
import { memo } from "./memo";
import { hatch, Plot, readingLine, throttleAxis, valueAxis, type PlotOptions } from "./Plot";

interface Props {
    report: Report;
    /** the throttle that the reader picked */
    wish: number | undefined;
    onWish: (throttle_pct: number) => void;
}

/** A part that is written as 0 is none. */
const LEAST_K = 0.05;

/** Causes that heat this ESC anywhere, in the report's order. */
function causesOf(report: Report): string[] {
    const names = Object.keys(report.holds[0]?.losses_W ?? {});
    return names.filter((name) => report.holds.some((hold) => (hold.losses_W[name] ?? 0) > 0.005));
}

/** Plain and hatched in turn, so that neighbours differ without colour. */
function fillOf(index: number, count: number, dark: boolean, paper: string): string {
    const colour = heat(0.95 - (0.8 * index) / Math.max(count - 1, 1), dark);
    return (index % 2 ? hatch(paper, colour, 6) : colour) as string;
}

type Hold = Report["holds"][number];

export const LossFigure = memo(function LossFigure({ report, wish, onWish }: Props) {
    const axis = useAxis();
    const { holds } = report;
    const most = axis.most(report);
    const picked = pickedHold(report, wish);
    const onPick = (index: number): void => onWish(holds[index]?.throttle_pct ?? 0);
    const causes = useMemo(() => causesOf(report), [report]);
    const hold = holds[picked];
    // a hover is no little heat itself: the hottest hold is compared with the air as well
    const over = report.why_over_air;
    const overAir = report.hover && hold?.throttle_pct === over?.throttle_pct && over;
    const full = holds.find(({ throttle_pct }) => throttle_pct === 100);
    return (
        <Figure
            number={2}
            picture={
                <Picture
                    holds={holds}
                    causes={causes}
                    most={most}
                    picked={picked}
                    onPick={onPick}
                />
            }
            caption={`Heat made in the ESC, W, stacked by cause, against ${axis.name.toLowerCase()}.`}
        >
            {hold && full && (
                <>
                    <HoldPick report={report} picked={picked} onPick={onPick} />
                    <CauseTable causes={causes} hold={hold} full={full} />
                </>
            )}
            <Why why={hold?.why ?? report.why} />
            {overAir && <Why why={overAir} />}
            <NumbersBelow>
                {() => <LossTable holds={holds} causes={causes} picked={picked} />}
            </NumbersBelow>
        </Figure>
    );
});

interface PictureProps {
    holds: Hold[];
    causes: string[];
    /** end of the axis, % */
    most: number;
    picked: number;
    onPick: (index: number) => void;
}

function Picture({ holds, causes, most, picked, onPick }: PictureProps) {
    const axis = useAxis();
    const data = useMemo<uPlot.AlignedData>(() => {
        const sums = holds.map(() => 0);
        const stacked = causes.map((cause) =>
            holds.map((hold, i) => (sums[i] = (sums[i] ?? 0) + (hold.losses_W[cause] ?? 0))),
        );
        return [holds.map((hold) => hold.throttle_pct), ...stacked];
    }, [holds, causes]);
    const now = useRef({ holds, picked });
    now.current = { holds, picked };

    function options(look: Look): PlotOptions {
        const fill = (index: number) => {
            const made = fillOf(index, causes.length, look.dark, look.paper);
            return () => made;
        };
        return {
            scales: {
                x: { time: false, range: [0, most] },
                y: { range: (_u, _low, high) => [0, 1.05 * (high || 1)] },
            },
            series: [
                {},
                ...causes.map((_cause, index) => ({
                    stroke: look.paper,
                    width: 1,
                    points: { show: false },
                    ...(index === 0 ? { fill: fill(0) } : {}),
                })),
            ],
            bands: causes.slice(1).map((_cause, i) => ({
                series: [i + 2, i + 1] as [number, number],
                fill: fill(i + 1),
            })),
            axes: [throttleAxis(look, axis.title), valueAxis(look)],
            hooks: {
                draw: [
                    (u) => {
                        const hold = now.current.holds[now.current.picked];
                        if (hold) readingLine(u, hold.throttle_pct, look, true);
                    },
                ],
            },
        };
    }

    return (
        <Plot
            data={data}
            options={options}
            shape={`${causes.join()} ${axis.title} ${most}`}
            height={13}
            picked={picked}
            onPick={onPick}
        />
    );
}

const total = (losses: Record<string, number>): number =>
    Object.values(losses).reduce((sum, watts) => sum + watts, 0);

function CauseTable({ causes, hold, full }: { causes: string[]; hold: Hold; full: Hold }) {
    const dark = useDark();
    const { whole } = useAxis();
    const alone = hold === full;
    const cells = (all: Cell[]): Cell[] => (alone ? [all[0], all[2]] : all);
    const row = (name: Cell, here = 0, there = 0): Cell[] =>
        cells([name, tenths(here), tenths(there), difference(here, there)]);
    return (
        <>
            <Table
                name="causes"
                caption="Heat by cause, W"
                head={cells(["Cause", `${written(hold.throttle_pct)} %`, whole, "Difference"])}
                rows={[
                    ...[...causes.entries()].reverse().map(([index, cause]) =>
                        row(
                            <>
                                <Swatch index={index} count={causes.length} dark={dark} />
                                {spelled(cause)}
                            </>,
                            hold.losses_W[cause],
                            full.losses_W[cause],
                        ),
                    ),
                    row(<b>all together</b>, total(hold.losses_W), total(full.losses_W)),
                ]}
            />
            {alone && <p>The other holds are compared with this one.</p>}
        </>
    );
}

function LossTable({ holds, causes, picked }: { holds: Hold[]; causes: string[]; picked: number }) {
    const axis = useAxis();
    return (
        <Table
            caption="Losses by cause against throttle, W"
            head={[axis.title, ...causes.map(spelled), "all"]}
            mark={picked}
            rows={holds.map((h) => [
                written(h.throttle_pct),
                ...causes.map((cause) => tenths(h.losses_W[cause])),
                tenths(total(h.losses_W)),
            ])}
        />
    );
}

/** Why a hold is hotter than what it is compared with, or than the air: kelvin by cause, as bars. */
function Why({ why }: { why: Pick<Hold["why"], "text" | "parts_K"> }) {
    const words = useWords();
    // none where the hold runs away: the text says so
    const parts = Object.entries(why.parts_K).flatMap(([cause, kelvin]): [string, number][] =>
        kelvin === null || Math.abs(kelvin) < LEAST_K ? [] : [[cause, kelvin]],
    );
    const widest = Math.max(...parts.map(([, kelvin]) => Math.abs(kelvin)), 0.1);

    return (
        <div class="why">
            <h3>{words.sentence(why.text)}</h3>
            <ul>
                {parts.map(([cause, kelvin]) => (
                    <li key={cause}>
                        <span>{spelled(cause)}</span>
                        <svg viewBox="-50 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                            <rect
                                class={kelvin < 0 ? "cooler" : "hotter"}
                                x={Math.min(0, (50 * kelvin) / widest)}
                                y="1"
                                width={Math.abs((50 * kelvin) / widest)}
                                height="8"
                            />
                            <path d="M0 0V10" />
                        </svg>
                        <span class="figure">
                            {words.difference(kelvin)} {words.kelvin}
                        </span>
                    </li>
                ))}
            </ul>
        </div>
    );
}

function Swatch({ index, count, dark }: { index: number; count: number; dark: boolean }) {
    const paint = (canvas: HTMLCanvasElement | null): void => {
        const ctx = canvas?.getContext("2d");
        if (!canvas || !ctx) return;
        const paper = getComputedStyle(canvas).getPropertyValue("--paper").trim();
        ctx.fillStyle = fillOf(index, count, dark, paper);
        ctx.fillRect(0, 0, canvas.width, canvas.height);
    };
    return (
        <canvas
            key={`${index}-${count}-${dark}`}
            class="swatch"
            width={20 * devicePixelRatio}
            height={14 * devicePixelRatio}
            ref={paint}
            aria-hidden="true"
        />
    );
}

/** What the two figures as they are written differ by, with its sign. */
function difference(a: number, b: number): string {
    const ten = Math.round(10 * a) - Math.round(10 * b);
    return ten > 0 ? `+${tenths(ten / 10)}` : tenths(ten / 10);
}
