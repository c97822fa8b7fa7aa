// What is always within reach of the thumb? Contents, a step back, units, cautions: a running foot.

import { useRef } from "preact/hooks";
import type { ComponentChildren } from "preact";
import { Ways } from "../form/Ways";
import { opened } from "../keep/back";
import { useWords, type Scale } from "../words/scale";
import { CautionList } from "./Cautions";
import { goToSection, SECTIONS } from "./Section";

interface Props {
    cautions: string[];
    /** what a step back takes back; undefined: there is none */
    back: string | undefined;
    onBack: () => void;
    onScale: (scale: Scale) => void;
}

const SCALES: [Scale, string][] = [
    ["C", "°C"],
    ["F", "°F"],
];

export function Foot({ cautions, back, onBack, onScale }: Props) {
    const words = useWords();
    return (
        <nav class="foot" aria-label="Always here">
            <Sheet name="Contents">
                {(close) => (
                    <ul>
                        {SECTIONS.filter(([id]) => document.getElementById(id)).map(
                            ([id, title]) => (
                                <li key={id}>
                                    <a
                                        href={`#${id}`}
                                        onClick={(event) => {
                                            event.preventDefault();
                                            close();
                                            goToSection(id);
                                        }}
                                    >
                                        {title}
                                    </a>
                                </li>
                            ),
                        )}
                    </ul>
                )}
            </Sheet>
            <button
                type="button"
                disabled={back === undefined}
                aria-label={back === undefined ? "Undo" : `Undo: ${back}`}
                onClick={onBack}
            >
                Undo
            </button>
            <Ways
                name="scale"
                aria-label="Temperatures in"
                ways={SCALES}
                chosen={words.scale}
                onChoose={onScale}
            />
            <Sheet name="Cautions">{() => <CautionList cautions={cautions} />}</Sheet>
        </nav>
    );
}

/** A sheet over the page, and the button that opens it. Back closes it. */
function Sheet(props: { name: string; children: (close: () => void) => ComponentChildren }) {
    const sheet = useRef<HTMLDialogElement>(null);
    const closed = useRef<(() => void) | undefined>(undefined);
    const id = `sheet-${props.name}`;
    const close = (): void => sheet.current?.close();
    return (
        <>
            <button
                type="button"
                onClick={() => {
                    sheet.current?.showModal();
                    closed.current = opened(close);
                }}
            >
                {props.name}
            </button>
            <dialog
                ref={sheet}
                aria-labelledby={id}
                onClose={() => {
                    closed.current?.();
                    closed.current = undefined;
                }}
            >
                <h2 id={id}>{props.name}</h2>
                {props.children(close)}
                <button type="button" onClick={close}>
                    Close
                </button>
            </dialog>
        </>
    );
}
