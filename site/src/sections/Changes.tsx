// What would help? The report's changes with their kelvin, their seconds and their cost; one touch tries
// one, one touch takes it back.

import type { Change, Report } from "../core/report";
import type { Tried } from "../keep/phone";
import { clock } from "../words/numbers";
import { useWords } from "../words/scale";
import { Section } from "./Section";

interface Props {
    report: Report;
    tried: Tried[];
    onTry: (change: Change) => void;
    onUndo: (tried: Tried) => void;
}

export function Changes({ report, tried, onTry, onUndo }: Props) {
    const words = useWords();
    return (
        <Section id="changes">
            {tried.length > 0 && (
                <ul class="tried" aria-label="Tried">
                    {tried.map((one) => (
                        <li key={one.id}>
                            <span>
                                Tried: <b>{words.sentence(one.text)}</b>
                            </span>
                            <button type="button" onClick={() => onUndo(one)}>
                                Undo
                            </button>
                        </li>
                    ))}
                </ul>
            )}
            <ol class="changes">
                {report.changes.map((change) => (
                    <li key={change.id}>
                        <p class="change-figures">
                            <b>
                                {words.difference(change.esc_peak_change_K)} {words.kelvin}
                            </b>
                            <span>{signedClock(change.flight_change_s)}</span>
                        </p>
                        <p class="change-text">
                            {words.sentence(change.text)}
                            {change.cost && <small>{words.sentence(change.cost)}</small>}
                        </p>
                        <button
                            type="button"
                            aria-label={`Try: ${words.sentence(change.text)}`}
                            onClick={() => onTry(change)}
                        >
                            Try
                        </button>
                    </li>
                ))}
            </ol>
            {report.changes.length === 0 && <p>No change was found that would help.</p>}
        </Section>
    );
}

const signedClock = (seconds: number): string =>
    seconds > 0.5 ? `+${clock(seconds)}` : seconds < -0.5 ? clock(seconds) : "±0:00";
