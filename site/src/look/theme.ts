// Is it dark? Follows the phone's setting, for what is drawn on a canvas and cannot follow a style.

import { useEffect, useState } from "preact/hooks";

const query = matchMedia("(prefers-color-scheme: dark)");

export function useDark(): boolean {
    const [dark, setDark] = useState(query.matches);
    useEffect(() => {
        const follow = (): void => setDark(query.matches);
        query.addEventListener("change", follow);
        return () => query.removeEventListener("change", follow);
    }, []);
    return dark;
}

/** Colours and letters for a canvas, read from the style sheet. */
export interface Look {
    dark: boolean;
    paper: string;
    ink: string;
    soft: string;
    line: string;
    stop: string;
    touch: string;
    /** CSS pixels of one rem */
    rem: number;
    font: string;
}

export function lookOf(element: Element, dark: boolean): Look {
    const style = getComputedStyle(element);
    const colour = (name: string): string => style.getPropertyValue(`--${name}`).trim();
    const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
    return {
        dark,
        paper: colour("paper"),
        ink: colour("ink"),
        soft: colour("soft"),
        line: colour("line"),
        stop: colour("stop"),
        touch: colour("touch"),
        rem,
        font: `${0.8125 * rem}px ${style.fontFamily}`,
    };
}
