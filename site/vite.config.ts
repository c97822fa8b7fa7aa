// How is the page built? Hashed files that work from any folder, and a service worker that keeps them.

import { defineConfig } from "vite";
import { VitePWA } from "vite-plugin-pwa";
import { preloadCore } from "./tools/preload.ts";
import { strictCsp } from "./tools/csp.ts";

export default defineConfig({
    base: "./",
    // the core's page.wasm lies in public/ but is imported, so that its name carries its hash
    publicDir: "static",
    build: { target: "es2022", modulePreload: { polyfill: false }, assetsInlineLimit: 0 },
    worker: { format: "es" },
    plugins: [
        preloadCore(),
        strictCsp(),
        VitePWA({
            registerType: "prompt",
            injectRegister: null,
            manifest: {
                name: "Hotband",
                short_name: "Hotband",
                description: "How hot the speed controller gets, and what to change",
                start_url: "./",
                scope: "./",
                display: "standalone",
                background_color: "#fdfcf8",
                theme_color: "#fdfcf8",
                icons: [
                    { src: "icon-192.png", sizes: "192x192", type: "image/png" },
                    { src: "icon-512.png", sizes: "512x512", type: "image/png" },
                    { src: "icon.svg", sizes: "any", type: "image/svg+xml" },
                    {
                        src: "icon-512.png",
                        sizes: "512x512",
                        type: "image/png",
                        purpose: "maskable",
                    },
                ],
            },
            workbox: {
                globPatterns: ["**/*.{html,js,css,wasm,svg}"],
                dontCacheBustURLsMatching: /^assets\//,
                cleanupOutdatedCaches: true,
                sourcemap: false,
            },
        }),
    ],
});
