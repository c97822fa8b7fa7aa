// What would help? The report's changes with their kelvin, their seconds and their cost; one touch tries
// one, one touch takes it back.

import type { Change, Report } from "../core/report";
import type { Tried } from "../keep/phone";
import { clock, percent } from "../words/numbers";
import { useWords, type Wording } from "../words/scale";

interface Props {
    report: Report;
    tried: Tried[];
    onTry: (change: Change) => void;
    onUndo: (tried: Tried) => void;
}

export function Changes({ report, tried, onTry, onUndo }: Props) {
    const words = useWords();
    return (
        <>
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
                            {change.esc_peak_change_K !== null && (
                                <b>
                                    {words.difference(change.esc_peak_change_K)} {words.kelvin}
                                </b>
                            )}
                            <span>{spreadOf(change, words)}</span>
                            {Math.abs(change.flight_change_s) >= NOTICED_S && (
                                <span>{signedClock(change.flight_change_s)} flight</span>
                            )}
                        </p>
                        <p class="change-text">
                            {words.sentence(change.text)}
                            {change.cost && <small>{words.sentence(change.cost)}</small>}
                            {sureness(change) && <small>{words.sentence(sureness(change))}</small>}
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
        </>
    );
}

/** `−9 to −4`: where 8 of 10 fall. */
function spreadOf({ esc_peak_change_band_K: band }: Change, words: Wording): string {
    if (!band || band.p10 === null || band.p90 === null) return "";
    return `${words.difference(band.p10)} to ${words.difference(band.p90)}`;
}

function sureness({ chance_helps, keeps_limit }: Change): string {
    return [
        chance_helps === undefined || chance_helps === null
            ? ""
            : `0.5 K cooler or more with ${percent(chance_helps)} chance`,
        keeps_limit === undefined || keeps_limit === null
            ? ""
            : keeps_limit
              ? "○ then within the limit"
              : "▲ not enough alone",
    ]
        .filter((part) => part !== "")
        .join("; ");
}

/** A flight longer or shorter by less is not worth a line. */
const NOTICED_S = 0.5;

const signedClock = (seconds: number): string =>
    seconds > 0 ? `+${clock(seconds)}` : clock(seconds);
