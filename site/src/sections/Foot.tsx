// What is always within reach of the thumb? Contents, units, cautions: a running foot.

import { useRef } from "preact/hooks";
import { useWords, type Scale } from "../words/scale";
import { CautionList } from "./Cautions";
import { SECTIONS } from "./Section";

interface Props {
    cautions: string[];
    onScale: (scale: Scale) => void;
}

export function Foot({ cautions, onScale }: Props) {
    const words = useWords();
    const contents = useRef<HTMLDialogElement>(null);
    const careful = useRef<HTMLDialogElement>(null);
    return (
        <nav class="foot" aria-label="Always here">
            <button type="button" onClick={() => contents.current?.showModal()}>
                Contents
            </button>
            <span class="choice" role="radiogroup" aria-label="Temperatures in">
                {(["C", "F"] as const).map((scale) => (
                    <label key={scale}>
                        <input
                            type="radio"
                            name="scale"
                            checked={words.scale === scale}
                            onChange={() => onScale(scale)}
                        />
                        <span>°{scale}</span>
                    </label>
                ))}
            </span>
            <button type="button" onClick={() => careful.current?.showModal()}>
                Cautions
            </button>
            <dialog ref={contents} aria-labelledby="contents-title">
                <h2 id="contents-title">Contents</h2>
                <ul>
                    {SECTIONS.map(([id, title]) => (
                        <li key={id}>
                            <a
                                href={`#${id}`}
                                onClick={(event) => {
                                    event.preventDefault();
                                    contents.current?.close();
                                    document.getElementById(id)?.scrollIntoView();
                                    document.getElementById(`${id}-title`)?.focus({
                                        preventScroll: true,
                                    });
                                }}
                            >
                                {title}
                            </a>
                        </li>
                    ))}
                </ul>
                <button type="button" onClick={() => contents.current?.close()}>
                    Close
                </button>
            </dialog>
            <dialog ref={careful} aria-labelledby="careful-title">
                <h2 id="careful-title">Cautions</h2>
                <CautionList cautions={cautions} />
                <button type="button" onClick={() => careful.current?.close()}>
                    Close
                </button>
            </dialog>
        </nav>
    );
}
