// What does a file say, line by line? Its encoding told by its first bytes, decoded piece by piece, so
// that a long log never stands in memory as a whole.

export type Encoding = "utf-8" | "utf-16le" | "utf-16be" | "windows-1252";

/** Bytes that tell the encoding and the layout. */
const HEAD_BYTES = 256 * 1024;
const PIECE_BYTES = 1024 * 1024;

/** By the byte order mark, else by zero bytes (UTF-16), else by whether it is UTF-8 at all. */
export function encodingOf(head: Uint8Array): Encoding {
    const [a, b] = head;
    if (a === 0xff && b === 0xfe) return "utf-16le";
    if (a === 0xfe && b === 0xff) return "utf-16be";
    let even = 0;
    let odd = 0;
    for (let i = 0; i < head.length; i += 1) {
        if (head[i] === 0) i % 2 === 0 ? (even += 1) : (odd += 1);
    }
    // text of a log in UTF-16 is ASCII mostly: every second byte is zero
    const many = head.length / 4;
    if (odd > many && odd > 4 * even) return "utf-16le";
    if (even > many && even > 4 * odd) return "utf-16be";
    try {
        // streaming: the head may end within a character
        new TextDecoder("utf-8", { fatal: true }).decode(head, { stream: true });
        return "utf-8";
    } catch {
        return "windows-1252";
    }
}

/** The first characters of a text, none of them cut in two. */
export const firstOf = (text: string, length: number): string =>
    text.slice(0, length).replace(/[\ud800-\udbff]$/, "");

const oneBreak = (text: string): string =>
    text.includes("\r") ? text.replace(/\r\n?/g, "\n") : text;

/** The file's first lines; the last one only if it is whole. */
export async function headOf(file: Blob): Promise<{ encoding: Encoding; lines: string[] }> {
    const bytes = new Uint8Array(await file.slice(0, HEAD_BYTES).arrayBuffer());
    const encoding = encodingOf(bytes);
    const whole = bytes.length === file.size;
    const text = new TextDecoder(encoding).decode(bytes, { stream: !whole });
    const lines = oneBreak(text).split("\n");
    if (!whole && lines.length > 1) lines.pop();
    if (lines.at(-1) === "") lines.pop();
    return { encoding, lines };
}

/** Blocks of whole lines parted by `\n`, without a break at their end, and how far the file is read. */
export async function* blocksOf(
    file: Blob,
    encoding: Encoding,
): AsyncGenerator<{ text: string; share: number }> {
    const decoder = new TextDecoder(encoding);
    let rest = "";
    for (let at = 0; at < file.size; at += PIECE_BYTES) {
        const end = Math.min(file.size, at + PIECE_BYTES);
        const bytes = await file.slice(at, end).arrayBuffer();
        let text = rest + decoder.decode(bytes, { stream: end < file.size });
        // the second half of a break may be in the next piece
        const half = end < file.size && text.endsWith("\r");
        if (half) text = text.slice(0, -1);
        text = oneBreak(text);
        const cut = end < file.size ? text.lastIndexOf("\n") : text.length;
        rest = (cut < 0 ? text : text.slice(cut + 1)) + (half ? "\r" : "");
        if (cut >= 0 && text !== "") {
            const whole = text.slice(0, cut);
            yield {
                text: end === file.size && whole.endsWith("\n") ? whole.slice(0, -1) : whole,
                share: end / file.size,
            };
        }
    }
}
