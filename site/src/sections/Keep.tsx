// How is a setup kept? Saved here, as a file or on paper, always as it stands; how it gets to another
// phone is ToOthers.tsx. Nothing is sent anywhere by this page.

import { useEffect, useState } from "preact/hooks";
import type { Door } from "../core/door";
import { Fold } from "../figures/Fold";
import { LevelMark } from "../figures/marks";
import { FileEntry } from "../form/FileEntry";
import { listIn, saveAll, saveFile } from "../keep/files";
import { freshId, nameOfSetup, shown } from "../keep/names";
import { keep, kept as keptUnder, keptList, type Brief, type Saved } from "../keep/phone";
import type { Moves } from "../moves";
import type { JsonObject } from "../setup/json";
import { isEmpty } from "../setup/model";
import { day } from "../words/numbers";
import { useWords } from "../words/scale";
import { Compare } from "./Compare";
import { Licences } from "./Licences";
import { Section } from "./Section";
import { ToOthers } from "./ToOthers";

interface Props extends Pick<Moves, "replace" | "take" | "takeFile"> {
    door: Door;
    /** the page itself is kept: it works without a signal */
    offline: boolean;
    setup: JsonObject;
    /** the verdict over the setup; null while it has none */
    verdict: Brief | null;
    /** the address that opens this setup, when there is one */
    link: string | undefined;
    /** an answer waits for entries */
    waits: boolean;
    headline: string;
}

export function Keep(props: Props) {
    const { door, offline, setup, verdict, link, waits, headline, replace } = props;
    const kept = useKept();
    const before = keptList("before");
    const unread = keptUnder("aside") ?? [];
    const name = nameOfSetup(setup);

    function keepNow(): void {
        const said = verdict
            ? `Kept: ${name}.`
            : `Kept as it stands, without an answer yet: ${name}.`;
        kept.add([{ id: freshId(), name, setup, date: Date.now(), verdict }], said);
    }
    function take(text: string): void {
        const list = listIn(text);
        if (!list) {
            kept.unsay();
            return props.takeFile(text);
        }
        kept.add(list, list.length > 0 ? `Kept from the file: ${list.length}.` : NOT_READ);
    }

    return (
        <Section id="keep">
            <h3>On this phone</h3>
            {offline && <p>The page itself is kept here: it works without a signal.</p>}
            {!isEmpty(setup) && (
                <button type="button" class="main" onClick={keepNow}>
                    Keep this setup
                </button>
            )}
            <div role="status" class="said">
                {kept.said && <p>{kept.said}</p>}
                {kept.undo && (
                    <button type="button" onClick={kept.undo}>
                        Undo the deletion
                    </button>
                )}
            </div>
            <SavedList list={kept.saved} onOpen={replace} onDelete={kept.remove} />
            {kept.saved.length > 0 && (
                <>
                    <div class="buttons">
                        <button type="button" onClick={() => saveAll(kept.saved)}>
                            Save all in one file
                        </button>
                    </div>
                    <Fold class="part" summary="Two side by side">
                        {() => <Compare door={door} now={setup} saved={kept.saved} />}
                    </Fold>
                </>
            )}
            {before.length > 0 && (
                <Fold class="part" summary="What was here before">
                    {() => <SavedList list={before} onOpen={replace} />}
                </Fold>
            )}
            {unread.length > 0 && (
                <Fold class="part" summary="What could not be read here">
                    {() => (
                        <>
                            <p>
                                Another version of this page left it. It stays on this phone; in a
                                file, a newer version may open it.
                            </p>
                            <div class="buttons">
                                <button
                                    type="button"
                                    onClick={() => saveAll(unread, "hotband-unread")}
                                >
                                    Save it in one file
                                </button>
                            </div>
                        </>
                    )}
                </Fold>
            )}

            <h3>To another phone</h3>
            <ToOthers
                name={name}
                link={link}
                waits={waits}
                headline={headline}
                onLink={props.take}
            />

            <h3>As a file, on paper</h3>
            <div class="buttons">
                <button type="button" onClick={() => saveFile(setup, name)}>
                    Save as a file
                </button>
                <FileEntry
                    accept=".json,application/json"
                    label="Open a file"
                    onFile={(file) => void file.text().then(take, () => kept.add([], NOT_READ))}
                />
                {verdict && (
                    <button type="button" onClick={() => print()}>
                        Print the field card
                    </button>
                )}
            </div>
            <Fold class="part" summary="Licences">
                {() => <Licences />}
            </Fold>
        </Section>
    );
}

interface Kept {
    saved: Saved[];
    /** of the last change: what it did, or that nothing was kept */
    said: string;
    unsay: () => void;
    /** adds those that are not there yet */
    add: (list: Saved[], words: string) => void;
    remove: (one: Saved) => void;
    /** after a deletion, until the next change */
    undo: (() => void) | undefined;
}

const NOT_READ = "▲ The file was not opened: nothing in it can be read here.";

const REFUSED =
    "▲ Not kept: this browser has no room left, or keeps nothing. Save it as a file instead.";

/** The setups that this browser keeps. */
function useKept(): Kept {
    const [saved, setSaved] = useState<Saved[]>(() => keptList("saved"));
    const [gone, setGone] = useState<Saved[]>();
    const [said, setSaid] = useState("");

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
    return {
        saved,
        said,
        unsay: () => setSaid(""),
        add(list, words) {
            setGone(undefined);
            const ids = new Set(list.map(({ id }) => id));
            void store((all) => [...list, ...all.filter(({ id }) => !ids.has(id))], words);
        },
        remove(one) {
            setGone(saved);
            void store(
                (all) => all.filter(({ id }) => id !== one.id),
                `Deleted: ${shown(one.name)}.`,
            );
        },
        undo:
            gone &&
            (() => {
                void store(() => gone, "Back again.");
                setGone(undefined);
            }),
    };
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
                        {shown(one.name)}
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
                        aria-label={`Open ${shown(one.name)}`}
                        onClick={() => onOpen(one.setup, `Opened: ${shown(one.name)}`)}
                    >
                        Open
                    </button>
                    {onDelete && (
                        <button
                            type="button"
                            aria-label={`Delete ${shown(one.name)}`}
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
