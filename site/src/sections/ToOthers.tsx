// How does a setup get to another phone? As a link where the page has an address; else as the code that
// stands in a link. Shared, copied, or read from the screen as a QR code; and one from elsewhere is opened.

import { useState } from "preact/hooks";
import { hasAddress } from "../keep/link";
import { Qr } from "../keep/qr";

const WHAT = hasAddress ? "link" : "code";

interface Props {
    name: string;
    /** the address that opens this setup, when there is one */
    link: string | undefined;
    /** an answer waits for entries */
    waits: boolean;
    headline: string;
    onLink: (text: string) => void;
}

export function ToOthers({ name, link, waits, headline, onLink }: Props) {
    return (
        <>
            {!hasAddress && (
                <p>
                    This page is a file on this phone: no link leads to it. Another phone with
                    Hotband opens the code, scanned or pasted.
                </p>
            )}
            {link === undefined ? (
                <p>
                    {waits
                        ? `There is no ${WHAT} yet: something is missing or not accepted. A file holds the setup as it stands.`
                        : `The ${WHAT} is being made …`}
                </p>
            ) : (
                <LinkOut name={name} link={link} headline={headline} />
            )}
            <LinkIn onLink={onLink} />
        </>
    );
}

function LinkOut({ name, link, headline }: { name: string; link: string; headline: string }) {
    const [shownQr, setShownQr] = useState(false);
    const [said, setSaid] = useState("");
    const copy = (): Promise<void> =>
        (navigator.clipboard?.writeText(link) ?? Promise.reject()).then(
            () => setSaid(`The ${WHAT} is copied.`),
            () => setSaid(`This browser does not copy: mark the ${WHAT} and copy it yourself.`),
        );
    const share = (): Promise<void> =>
        navigator.share({ title: name, text: headline, url: link }).catch(() => undefined);
    return (
        <>
            <label class="link">
                {hasAddress ? "Link" : "Code"}
                <input
                    type="text"
                    readOnly
                    value={link}
                    onFocus={(event) => event.currentTarget.select()}
                />
            </label>
            <div class="buttons">
                {hasAddress && "share" in navigator && (
                    <button type="button" onClick={() => void share()}>
                        Share
                    </button>
                )}
                <button type="button" onClick={() => void copy()}>
                    Copy the {WHAT}
                </button>
                <button type="button" aria-expanded={shownQr} onClick={() => setShownQr(!shownQr)}>
                    QR code
                </button>
            </div>
            <p role="status" class="said">
                {said}
            </p>
            {shownQr && <Qr text={link} label={`QR code of the ${WHAT} to ${name}`} />}
        </>
    );
}

function LinkIn({ onLink }: { onLink: (text: string) => void }) {
    const [pasted, setPasted] = useState("");
    return (
        <form
            class="paste"
            onSubmit={(event) => {
                event.preventDefault();
                onLink(pasted);
                setPasted("");
            }}
        >
            <label>
                {hasAddress ? "Open a link" : "Open a link or code"}
                <input
                    type="text"
                    autocomplete="off"
                    value={pasted}
                    onInput={(event) => setPasted(event.currentTarget.value)}
                />
            </label>
            <button type="submit">Open</button>
        </form>
    );
}
