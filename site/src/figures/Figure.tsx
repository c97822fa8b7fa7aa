// How does a figure stand on the page? As in print: the picture, a numbered caption below it, a slider
// to read it at one place, and its numbers as a table for whoever cannot see it.

import type { ComponentChildren } from "preact";
import { Fold } from "./Fold";
import { AXIS_REM, END_REM } from "./axis";

export function Figure(props: {
    number: number;
    /** what the figure says, from the report */
    title?: ComponentChildren;
    picture: ComponentChildren;
    caption: ComponentChildren;
    children: ComponentChildren;
}) {
    return (
        <>
            {props.title && <p class="figure-title">{props.title}</p>}
            <figure>
                {props.picture}
                <figcaption>
                    <b>Fig. {props.number}</b> {props.caption}
                </figcaption>
            </figure>
            {props.children}
        </>
    );
}

/** Picks one of the readings with thumb or arrow keys; `places` are theirs along the axis. */
export function Pick(props: {
    label: string;
    places: number[];
    picked: number;
    text: string;
    /** where the first reading lies along the axis, 0..1 */
    start: number;
    /** where the last one lies, 0..1 */
    stop?: number;
    /** left of the axis and right of its end, rem, when not as usual */
    axis?: number;
    end?: number;
    /** for a screen reader, when it is more than what is written */
    spoken?: string;
    onPick: (index: number) => void;
}) {
    const { places, picked, onPick } = props;
    const last = places.length - 1;
    return (
        <label
            class="pick"
            style={{
                "--start": props.start,
                "--stop": props.stop ?? 1,
                "--axis": `${props.axis ?? AXIS_REM}rem`,
                "--end": `${props.end ?? END_REM}rem`,
            }}
        >
            <span>
                {props.label}: <output>{props.text}</output>
            </span>
            <input
                type="range"
                min={places[0]}
                max={places[last]}
                step="any"
                value={places[picked]}
                aria-valuetext={props.spoken ?? props.text}
                onInput={(event) => onPick(nearest(places, Number(event.currentTarget.value)))}
                onKeyDown={(event) => {
                    const step = STEPS[event.key];
                    if (step === undefined) return;
                    event.preventDefault();
                    onPick(Math.min(Math.max(picked + step, 0), last));
                }}
            />
        </label>
    );
}

const STEPS: Record<string, number> = {
    ArrowLeft: -1,
    ArrowDown: -1,
    ArrowRight: 1,
    ArrowUp: 1,
    PageDown: -4,
    PageUp: 4,
};

/** Index of the place nearest to a value. */
export function nearest(places: number[], value: number): number {
    const far = (i: number): number => Math.abs((places[i] ?? Infinity) - value);
    return places.reduce((best, _place, i) => (far(i) < far(best) ? i : best), 0);
}

export type Cell = ComponentChildren;

export function Table(props: {
    caption: string;
    head: Cell[];
    rows: Cell[][];
    mark?: number;
    name?: string;
}) {
    return (
        <div
            class={`table-box ${props.name ?? ""}`}
            tabIndex={0}
            role="region"
            aria-label={props.caption}
        >
            <table>
                <caption>{props.caption}</caption>
                <thead>
                    <tr>
                        {props.head.map((cell, i) =>
                            // a corner without words heads nothing
                            cell === "" ? (
                                <td key={i} />
                            ) : (
                                <th key={i} scope="col">
                                    {cell}
                                </th>
                            ),
                        )}
                    </tr>
                </thead>
                <tbody>
                    {props.rows.map((row, r) => (
                        <tr key={r} class={r === props.mark ? "marked" : ""}>
                            {row.map((cell, i) =>
                                i === 0 ? (
                                    <th key={i} scope="row">
                                        {cell}
                                    </th>
                                ) : (
                                    <td key={i}>{cell}</td>
                                ),
                            )}
                        </tr>
                    ))}
                </tbody>
            </table>
        </div>
    );
}

export function NumbersBelow({ children }: { children: () => ComponentChildren }) {
    return (
        <Fold class="numbers-below" summary="The numbers as a table">
            {children}
        </Fold>
    );
}

/** Name and figure in pairs, as a data sheet sets them. */
export function Readings({ pairs }: { pairs: [string, ComponentChildren][] }) {
    return (
        <dl class="readings">
            {pairs.map(([name, value]) => (
                <div key={name}>
                    <dt>{name}</dt>
                    <dd>{value}</dd>
                </div>
            ))}
        </dl>
    );
}
