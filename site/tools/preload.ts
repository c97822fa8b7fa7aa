// What may the browser fetch before a script asks for it? The core, the heaviest part of the page: it then
// arrives beside the script instead of after it.

import type { Plugin } from "vite";

export const preloadCore = (): Plugin => ({
    name: "preload-core",
    apply: "build",
    transformIndexHtml: {
        order: "post",
        handler: (_html, { bundle }) =>
            Object.keys(bundle ?? {})
                .filter((file) => file.endsWith(".wasm"))
                .map((file) => ({
                    tag: "link",
                    attrs: { rel: "preload", as: "fetch", href: `./${file}`, crossorigin: true },
                    injectTo: "head" as const,
                })),
    },
});
