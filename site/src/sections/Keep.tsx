// How is a setup kept, and how does it get to another phone? Saved here, as a link, a QR code, a file or
// on paper. Nothing is sent anywhere by this page.

import { useState } from "preact/hooks";
import type { Door } from "../core/door";
import { saveFile } from "../keep/files";
import { keep, kept, type Saved } from "../keep/phone";
import { Qr } from "../keep/qr";
import type { JsonObject } from "../setup/json";
import { Compare } from "./Compare";
import { Section } from "./Section";

interface Props {
    door: Door;
    /** the page itself is kept: it works without a signal */
    offline: boolean;
    setup: JsonObject;
    /** the address that opens this setup, when there is one yet */
    link: string | undefined;
    headline: string;
    onReplace: (setup: JsonObject, from: string) => void;
    onLink: (text: string) => void;
    onImport: (text: string) => void;
}

export function Keep({ door, offline, setup, link, headline, onReplace, onLink, onImport }: Props) {
    const [saved, setSaved] = useState<Saved[]>(() => kept("saved") ?? []);
    const [said, setSaid] = useState("");
    const [pasted, setPasted] = useState("");
    const [shownQr, setShownQr] = useState(false);
    const name = typeof setup.name === "string" && setup.name ? setup.name : "Setup without a name";

    function store(next: Saved[], words: string): void {
        setSaved(next);
        setSaid(keep("saved", next) ? words : "This browser does not let the page keep anything.");
    }
    const copy = (text: string): Promise<void> =>
        navigator.clipboard.writeText(text).then(
            () => setSaid("The link is copied."),
            () => setSaid("This browser does not copy: mark the link and copy it yourself."),
        );

    return (
        <Section id="keep">
            <h3>On this phone</h3>
            {offline && <p>The page itself is kept here: it works without a signal.</p>}
            <button
                type="button"
                class="main"
                onClick={() =>
                    store(
                        [
                            { id: crypto.randomUUID?.() ?? String(Date.now()), name, setup },
                            ...saved,
                        ],
                        `Kept: ${name}.`,
                    )
                }
            >
                Keep this setup
            </button>
            <ul class="saved">
                {saved.map((one) => (
                    <li key={one.id}>
                        <span>{one.name}</span>
                        <button
                            type="button"
                            aria-label={`Open ${one.name}`}
                            onClick={() => onReplace(one.setup, one.name)}
                        >
                            Open
                        </button>
                        <button
                            type="button"
                            aria-label={`Delete ${one.name}`}
                            onClick={() =>
                                confirm(`Delete “${one.name}” from this phone?`) &&
                                store(
                                    saved.filter(({ id }) => id !== one.id),
                                    `Deleted: ${one.name}.`,
                                )
                            }
                        >
                            Delete
                        </button>
                    </li>
                ))}
            </ul>
            {saved.length > 0 && <Compare door={door} now={setup} saved={saved} />}

            <h3>To another phone</h3>
            {link && (
                <>
                    <label class="link">
                        Link
                        <input
                            type="text"
                            readOnly
                            value={link}
                            onFocus={(event) => event.currentTarget.select()}
                        />
                    </label>
                    <div class="buttons">
                        {"share" in navigator && (
                            <button
                                type="button"
                                onClick={() =>
                                    void navigator
                                        .share({ title: name, text: headline, url: link })
                                        .catch(() => undefined)
                                }
                            >
                                Share
                            </button>
                        )}
                        <button type="button" onClick={() => void copy(link)}>
                            Copy the link
                        </button>
                        <button
                            type="button"
                            aria-expanded={shownQr}
                            onClick={() => setShownQr(!shownQr)}
                        >
                            QR code
                        </button>
                    </div>
                    {shownQr && <Qr text={link} label={`QR code of the link to ${name}`} />}
                </>
            )}
            <form
                class="paste"
                onSubmit={(event) => {
                    event.preventDefault();
                    onLink(pasted);
                    setPasted("");
                }}
            >
                <label>
                    Open a link
                    <input
                        type="text"
                        autocomplete="off"
                        value={pasted}
                        onInput={(event) => setPasted(event.currentTarget.value)}
                    />
                </label>
                <button type="submit">Open</button>
            </form>

            <h3>As a file, on paper</h3>
            <div class="buttons">
                <button type="button" onClick={() => saveFile(setup, name)}>
                    Save as a file
                </button>
                <label class="file">
                    <input
                        type="file"
                        accept=".json,application/json"
                        onChange={(event) => {
                            const input = event.currentTarget;
                            void input.files?.[0]?.text().then(onImport);
                            input.value = "";
                        }}
                    />
                    <span>Open a file</span>
                </label>
                <button type="button" onClick={() => print()}>
                    Print the field card
                </button>
            </div>
            <p role="status" class="said">
                {said}
            </p>
        </Section>
    );
}
