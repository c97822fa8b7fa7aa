// How does the core reach the page? As a file beside it, compiled while it arrives; in the one-file
// build as text inside the page.

import wasmUrl from "../../public/page.wasm?url";

/** Which core this is: its file's name carries its hash. The one-file build has none. */
export const coreName = wasmUrl.startsWith("data:") ? undefined : wasmUrl.split("/").at(-1);

function bytesOf(dataUrl: string): Uint8Array<ArrayBuffer> {
    return Uint8Array.from(atob(dataUrl.slice(dataUrl.indexOf(",") + 1)), (c) => c.charCodeAt(0));
}

export async function wasmModule(): Promise<WebAssembly.Module> {
    if (wasmUrl.startsWith("data:")) return WebAssembly.compile(bytesOf(wasmUrl));
    const response = await fetch(wasmUrl);
    if (!response.ok) throw new Error(`page.wasm did not arrive: ${response.status}`);
    // compiled while it arrives; a plain web server may not know the type that this insists on
    return response.headers.get("content-type") === "application/wasm"
        ? WebAssembly.compileStreaming(response)
        : WebAssembly.compile(await response.arrayBuffer());
}
