// What need not be drawn again? A part of the page whose properties are the same as before.

import { createElement, type FunctionComponent } from "preact";
import { useMemo } from "preact/hooks";

export function memo<Props extends object>(
    part: FunctionComponent<Props>,
): FunctionComponent<Props> {
    return function Remembered(props: Props) {
        // the same element again is passed over by the renderer
        return useMemo(() => createElement(part, props), Object.values(props));
    };
}
