// How is a setup kept, and how does it get to another phone? Saved here, as a link, a QR code, a file or
// on paper, always as it stands. Nothing is sent anywhere by this page.

import { useEffect, useState } from "preact/hooks";
import type { Door } from "../core/door";
import { Fold } from "../figures/Fold";
import { LevelMark } from "../figures/marks";
import { listIn, saveAll, saveFile } from "../keep/files";
import { hasAddress } from "../keep/link";
import { freshId, keep, keptList, nameOfSetup, type Brief, type Saved } from "../keep/phone";
import { Qr } from "../keep/qr";
import type { JsonObject } from "../setup/json";
import { isEmpty } from "../setup/model";
import { day } from "../words/numbers";
import { useWords } from "../words/scale";
import { Compare } from "./Compare";
import { Section } from "./Section";

interface Props {
    door: Door;
    /** the page itself is kept: it works without a signal */
    offline: boolean;
    setup: JsonObject;
    /** the verdict over the setup; null while it has none */
    verdict: Brief | null;
    /** the address that opens this setup, when there is one */
    link: string | undefined;
    /** how many entries an answer waits for */
    waits: number;
    headline: string;
    onReplace: (setup: JsonObject, from: string) => void;
    onLink: (text: string) => void;
    onImport: (text: string) => void;
}

const REFUSED =
    "▲ Not kept: this browser has no room left, or keeps nothing. Save it as a file instead.";

export function Keep(props: Props) {
    const { door, offline, setup, verdict, onReplace } = props;
    const [saved, setSaved] = useState<Saved[]>(() => keptList("saved"));
    const [gone, setGone] = useState<Saved[]>();
    const [said, setSaid] = useState("");
    const before = keptList("before");
    const name = nameOfSetup(setup);

    // another tab may have kept something meanwhile
    useEffect(() => {
        const follow = (): void => setSaved(keptList("saved"));
        addEventListener("storage", follow);
        return () => removeEventListener("storage", follow);
    }, []);

    async function store(change: (list: Saved[]) => Saved[], words: string): Promise<void> {
        const was = keptList("saved");
        const next = change(was);
        const done = await keep("saved", next);
        // what the browser does not keep is not shown as if it did
        if (!done) void keep("saved", was);
        setSaved(done ? next : was);
        setSaid(done ? words : REFUSED);
    }
    const add = (list: Saved[], words: string): Promise<void> => {
        setGone(undefined);
        const ids = new Set(list.map(({ id }) => id));
        return store((all) => [...list, ...all.filter(({ id }) => !ids.has(id))], words);
    };
    function remove(one: Saved): void {
        setGone(saved);
        void store((all) => all.filter(({ id }) => id !== one.id), `Deleted: ${one.name}.`);
    }
    function take(text: string): void {
        const list = listIn(text);
        if (list) void add(list, `Kept from the file: ${list.length}.`);
        else props.onImport(text);
    }

    return (
        <Section id="keep">
            <h3>On this phone</h3>
            {offline && <p>The page itself is kept here: it works without a signal.</p>}
            {!isEmpty(setup) && (
                <button
                    type="button"
                    class="main"
                    onClick={() =>
                        void add(
                            [{ id: freshId(), name, setup, date: Date.now(), verdict }],
                            verdict
                                ? `Kept: ${name}.`
                                : `Kept as it stands, without an answer yet: ${name}.`,
                        )
                    }
                >
                    Keep this setup
                </button>
            )}
            <div role="status" class="said">
                {said && <p>{said}</p>}
                {gone && (
                    <button
                        type="button"
                        onClick={() => {
                            void store(() => gone, "Back again.");
                            setGone(undefined);
                        }}
                    >
                        Undo the deletion
                    </button>
                )}
            </div>
            <SavedList list={saved} onOpen={onReplace} onDelete={remove} />
            {saved.length > 0 && (
                <>
                    <div class="buttons">
                        <button type="button" onClick={() => saveAll(saved)}>
                            Save all in one file
                        </button>
                    </div>
                    <Fold class="part" summary="Two side by side">
                        {() => <Compare door={door} now={setup} saved={saved} />}
                    </Fold>
                </>
            )}
            {before.length > 0 && (
                <Fold class="part" summary="What was here before">
                    {() => <SavedList list={before} onOpen={onReplace} />}
                </Fold>
            )}

            <h3>To another phone</h3>
            <ToOthers {...props} name={name} />

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
                            void input.files?.[0]?.text().then(take);
                            input.value = "";
                        }}
                    />
                    <span>Open a file</span>
                </label>
                {verdict && (
                    <button type="button" onClick={() => print()}>
                        Print the field card
                    </button>
                )}
            </div>
        </Section>
    );
}

interface ListProps {
    list: Saved[];
    onOpen: (setup: JsonObject, from: string) => void;
    onDelete?: (one: Saved) => void;
}

/** Name, date and verdict of each. */
function SavedList({ list, onOpen, onDelete }: ListProps) {
    const words = useWords();
    return (
        <ul class="saved">
            {list.map((one) => (
                <li key={one.id}>
                    <span>
                        {one.name}
                        <small>
                            {one.date !== undefined && day(one.date)}
                            {one.verdict ? (
                                <>
                                    {" "}
                                    <LevelMark level={one.verdict.level} /> {one.verdict.level},{" "}
                                    {words.peak(one.verdict.peak_C)}
                                </>
                            ) : (
                                one.verdict === null && " without an answer"
                            )}
                        </small>
                    </span>
                    <button
                        type="button"
                        aria-label={`Open ${one.name}`}
                        onClick={() => onOpen(one.setup, `Opened: ${one.name}`)}
                    >
                        Open
                    </button>
                    {onDelete && (
                        <button
                            type="button"
                            aria-label={`Delete ${one.name}`}
                            onClick={() => onDelete(one)}
                        >
                            Delete
                        </button>
                    )}
                </li>
            ))}
        </ul>
    );
}

/** As a link where the page has an address; else as the code that stands in a link. */
function ToOthers(props: Props & { name: string }) {
    const { name, link, waits, headline, onLink } = props;
    const [pasted, setPasted] = useState("");
    const [shownQr, setShownQr] = useState(false);
    const [said, setSaid] = useState("");
    const what = hasAddress ? "link" : "code";
    const copy = (text: string): Promise<void> =>
        (navigator.clipboard?.writeText(text) ?? Promise.reject()).then(
            () => setSaid(`The ${what} is copied.`),
            () => setSaid(`This browser does not copy: mark the ${what} and copy it yourself.`),
        );
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
                    {waits > 0
                        ? `There is no ${what} yet: ${waits === 1 ? "one entry is" : `${waits} entries are`} missing or not accepted. A file holds the setup as it stands.`
                        : `The ${what} is being made …`}
                </p>
            ) : (
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
                            Copy the {what}
                        </button>
                        <button
                            type="button"
                            aria-expanded={shownQr}
                            onClick={() => setShownQr(!shownQr)}
                        >
                            QR code
                        </button>
                    </div>
                    <p role="status" class="said">
                        {said}
                    </p>
                    {shownQr && <Qr text={link} label={`QR code of the ${what} to ${name}`} />}
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
        </>
    );
}
