// How does another phone get the setup without a signal? A QR code of the link, drawn as one path.

import { generate } from "lean-qr";

/** Modules of quiet zone that a reader needs around the code (ISO/IEC 18004). */
const QUIET = 4;

export function Qr({ text, label }: { text: string; label: string }) {
    const code = made(text);
    if (!code) return <p class="problem">▲ This setup is too long for a QR code.</p>;
    let path = "";
    for (let y = 0; y < code.size; y++) {
        for (let x = 0; x < code.size; x++) if (code.get(x, y)) path += `M${x} ${y}h1v1h-1z`;
    }
    const side = code.size + 2 * QUIET;
    return (
        <svg
            class="qr"
            role="img"
            aria-label={label}
            viewBox={`${-QUIET} ${-QUIET} ${side} ${side}`}
            shape-rendering="crispEdges"
        >
            <rect x={-QUIET} y={-QUIET} width={side} height={side} class="qr-paper" />
            <path d={path} class="qr-ink" />
        </svg>
    );
}

function made(text: string): ReturnType<typeof generate> | undefined {
    try {
        return generate(text);
    } catch {
        return undefined;
    }
}
