// How is a number entered? Typed with comma or point, or stepped with a thumb; a time also as 1:30 or 2 min,
// a propeller's size as 10 in.
// What cannot be read is handed on as it stands: the core says what is accepted.

import { useRef } from "preact/hooks";
import { inInches, type Field } from "../core/fields";
import type { Json } from "../setup/json";
import { read, readSize, readTime, stepped, written } from "../words/numbers";
import { useWords } from "../words/scale";
import { goOn } from "./places";
import { useTyped } from "./typed";

interface Props {
    id: string;
    field: Field;
    value: Json | undefined;
    /** where a stepper starts, and what an empty entry shows: the assumed value or the default */
    base?: number | undefined;
    /** the unit it is shown in, as so many of the field's own: 60 for minutes */
    per?: number | undefined;
    label?: string;
    bad?: boolean;
    describedBy?: string | undefined;
    onValue: (value: Json | undefined) => void;
}

const HOLD_MS = 450;
const REPEAT_MS = 110;

export function NumberEntry(props: Props) {
    const { id, field, value, base, per = 1, onValue } = props;
    const words = useWords();
    const integer = field.type === "integer";
    const label = props.label ?? field.label;

    const latest = useRef(value);
    latest.current = value;

    const toShown = (own: number): number => words.shown(field, own) / per;
    const toOwn = (shown: number): number => words.entered(field, shown * per);
    const figure = (own: number, digits: number): string =>
        written(toShown(own), digits).replace("−", "-");
    const shown =
        typeof value === "number" ? figure(value, 6) : typeof value === "string" ? value : "";

    function reading(text: string): number | undefined {
        if (field.unit === "s") return readTime(text, per);
        const number = inInches(field) ? readSize(text) : read(text);
        return number === undefined ? undefined : toOwn(number);
    }
    const typed = useTyped(value, shown, reading, onValue);
    function step(direction: 1 | -1): void {
        typed.onBlur();
        const from = typeof latest.current === "number" ? latest.current : base;
        // nothing to step from yet: the entry is to be typed
        if (from === undefined) return document.getElementById(id)?.focus();
        const next = toOwn(stepped(toShown(from), direction, integer));
        onValue(Math.min(Math.max(next, field.least ?? -Infinity), field.most ?? Infinity));
    }

    return (
        <span class={`number${props.bad ? " bad" : ""}`}>
            <Stepper label={`${label}: less`} sign="−" onStep={() => step(-1)} />
            <input
                id={id}
                type="text"
                inputMode={
                    inInches(field) || (field.least !== null && field.least < 0)
                        ? "text"
                        : "decimal"
                }
                autocomplete="off"
                enterkeyhint="next"
                {...typed}
                placeholder={base === undefined ? "" : figure(base, 3)}
                aria-label={props.label}
                aria-invalid={props.bad ? "true" : undefined}
                aria-describedby={props.describedBy}
                onFocus={(event) => event.currentTarget.select()}
                onKeyDown={(event) => {
                    if (event.key === "Enter") return goOn(event);
                    if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
                    event.preventDefault();
                    step(event.key === "ArrowUp" ? 1 : -1);
                }}
            />
            <Stepper label={`${label}: more`} sign="+" onStep={() => step(1)} />
        </span>
    );
}

/** One step a touch; kept down, it repeats. */
function Stepper({ label, sign, onStep }: { label: string; sign: string; onStep: () => void }) {
    const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined);
    const repeated = useRef(false);
    const act = useRef(onStep);
    act.current = onStep;

    function again(wait: number): void {
        timer.current = setTimeout(() => {
            repeated.current = true;
            act.current();
            again(REPEAT_MS);
        }, wait);
    }
    const stop = (): void => clearTimeout(timer.current);

    return (
        <button
            type="button"
            aria-label={label}
            onPointerDown={() => {
                repeated.current = false;
                again(HOLD_MS);
            }}
            onPointerUp={stop}
            onPointerLeave={stop}
            onPointerCancel={stop}
            onContextMenu={(event) => event.preventDefault()}
            onClick={() => {
                if (!repeated.current) onStep();
                repeated.current = false;
            }}
        >
            {sign}
        </button>
    );
}
