// In which language are numbers written? The browser's own, unless it reports one that Intl refuses ("C",
// or nothing): then English, put right in the browser itself, because libraries ask it too. Imported
// before anything else.

function repaired(): string {
    try {
        return new Intl.NumberFormat(navigator.language).resolvedOptions().locale;
    } catch {
        Object.defineProperty(navigator, "language", { value: "en", configurable: true });
        return "en";
    }
}

export const speech = repaired();
