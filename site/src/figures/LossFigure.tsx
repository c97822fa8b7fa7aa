// Where does the heat go? Losses stacked by cause against throttle; at a throttle the causes stand
// beside those at full throttle, and below them why the hottest hold is hotter.

import { useMemo, useRef } from "preact/hooks";
import type uPlot from "uplot";
import type { Report } from "../core/report";
import { heat } from "../look/ramp";
import { useDark, type Look } from "../look/theme";
import { tenths, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { useAxis } from "./axis";
import { Figure, NumbersBelow, Table } from "./Figure";
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
    const full = holds.at(-1);
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
            <Why report={report} hold={hold} />
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
    return (
        <Table
            name="causes"
            caption="Heat by cause, W"
            head={[
                "Cause",
                `${written(hold.throttle_pct)} %`,
                `${written(full.throttle_pct)} %`,
                "Difference",
            ]}
            rows={[
                ...[...causes.entries()].reverse().map(([index, cause]) => [
                    <>
                        <Swatch index={index} count={causes.length} dark={dark} />
                        {spelled(cause)}
                    </>,
                    tenths(hold.losses_W[cause]),
                    tenths(full.losses_W[cause]),
                    difference(hold.losses_W[cause], full.losses_W[cause]),
                ]),
                [
                    <b>all together</b>,
                    tenths(total(hold.losses_W)),
                    tenths(total(full.losses_W)),
                    difference(total(hold.losses_W), total(full.losses_W)),
                ],
            ]}
        />
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

/** Why a hold is hotter than full throttle, or than the air: kelvin by cause, as bars. */
function Why({ report, hold }: { report: Report; hold: Hold | undefined }) {
    const words = useWords();
    const axis = useAxis();
    // a hover has no full throttle to compare with: it is compared with the air
    const overAir = report.hover ? report.why_over_air : undefined;
    const why = overAir ?? hold?.why ?? report.why;
    const heading = why.text
        ? words.sentence(why.text)
        : overAir
          ? `At ${written(overAir.throttle_pct)} ${axis.of} it is ${words.difference(overAir.rise_K)} ${words.kelvin} over the air, by cause:`
          : "";
    // none where the hold runs away: the text says so
    const parts = Object.entries(why.parts_K).flatMap(([cause, kelvin]): [string, number][] =>
        kelvin === null || Math.abs(kelvin) < LEAST_K ? [] : [[cause, kelvin]],
    );
    const widest = Math.max(...parts.map(([, kelvin]) => Math.abs(kelvin)), 0.1);

    return (
        <div class="why">
            <h3>{heading}</h3>
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
function difference(a = 0, b = 0): string {
    const ten = Math.round(10 * a) - Math.round(10 * b);
    return ten > 0 ? `+${tenths(ten / 10)}` : tenths(ten / 10);
}
