// When is what lies below the screen drawn? Once it is seen, or when the phone has nothing else to do, one
// section at a time: typing and the verdict never wait for pictures.

import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";

const waiting: (() => void)[] = [];
let running = false;

const atRest: (run: () => void) => void =
    "requestIdleCallback" in globalThis
        ? (run) => requestIdleCallback(run, { timeout: 1500 })
        : (run) => void setTimeout(run, 60);

function next(): void {
    const run = waiting.shift();
    running = run !== undefined;
    if (!run) return;
    run();
    atRest(next);
}

/** Runs when nothing else is to be done; returns how to call it off. */
export function whenIdle(run: () => void): () => void {
    waiting.push(run);
    if (!running) {
        running = true;
        atRest(next);
    }
    return () => {
        const place = waiting.indexOf(run);
        if (place >= 0) waiting.splice(place, 1);
    };
}

/** Runs one paint later. */
export function afterPaint(run: () => void): () => void {
    let timer: ReturnType<typeof setTimeout> | undefined;
    const frame = requestAnimationFrame(() => {
        timer = setTimeout(run);
    });
    return () => {
        cancelAnimationFrame(frame);
        clearTimeout(timer);
    };
}

/** Draws one paint after what stands around it: no task of a slow phone holds both. */
export function Soon({ children }: { children: () => ComponentChildren }) {
    const [drawn, setDrawn] = useState(false);
    useEffect(() => afterPaint(() => setDrawn(true)), []);
    return <>{drawn && children()}</>;
}

/** Whether a part of the page is seen, or nearly. */
export function useSeen(box: { readonly current: Element | null }): boolean {
    const [seen, setSeen] = useState(false);
    useEffect(() => {
        const element = box.current;
        if (!element || !("IntersectionObserver" in globalThis)) return setSeen(true);
        const watch = new IntersectionObserver(
            ([entry]) => setSeen(entry?.isIntersecting ?? false),
            { rootMargin: "200px 0px" },
        );
        watch.observe(element);
        return () => watch.disconnect();
    }, []);
    return seen;
}

interface Props<T> {
    value: T;
    /** height kept free until it is drawn, rem */
    room: number;
    children: (value: T) => ComponentChildren;
}

export function Later<T>({ value, room, children }: Props<T>) {
    const box = useRef<HTMLDivElement>(null);
    const [drawn, setDrawn] = useState<{ value: T }>();
    const seen = useSeen(box);

    useEffect(() => {
        if (drawn && drawn.value === value) return;
        const draw = (): void => setDrawn({ value });
        return seen ? afterPaint(draw) : whenIdle(draw);
    }, [value, seen, drawn]);

    return (
        <div
            class="later"
            data-behind={drawn && drawn.value === value ? undefined : ""}
            ref={box}
            style={drawn ? undefined : { minHeight: `${room}rem` }}
        >
            {drawn && children(drawn.value)}
        </div>
    );
}
