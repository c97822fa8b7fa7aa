// In which language are numbers written? The browser's own, unless it reports one that Intl refuses ("C",
// or nothing): then English, put right in the browser itself, because libraries ask it too. Imported
// before anything else.

function repaired(): string {
    try {
        // asks for the name alone: a formatter would cost a phone a quarter of a second before anything is drawn
        const [locale] = Intl.getCanonicalLocales(navigator.language);
        if (locale !== undefined) return locale;
    } catch {
        // put right below
    }
    Object.defineProperty(navigator, "language", { value: "en", configurable: true });
    return "en";
}

export const speech = repaired();

/** Where the sign is kept from visit to visit, with the language it is of. */
const KEY = "hotband.sign";

let sign: string | undefined;

/** The reader's decimal sign, asked for once: what stands in a number of one decimal that is no digit. */
export function decimalSign(): string {
    if (sign !== undefined) return sign;
    try {
        const [of, kept] = (localStorage.getItem(KEY) ?? "").split(" ");
        if (of === speech && kept) return (sign = kept);
    } catch {
        // a browser that keeps nothing asks anew
    }
    sign = new Intl.NumberFormat(speech, { numberingSystem: "latn", minimumFractionDigits: 1 })
        .format(1)
        .replace(/\d/g, "");
    try {
        localStorage.setItem(KEY, `${speech} ${sign}`);
    } catch {
        // as above
    }
    return sign;
}
