// Which PWM frequency? ESC heat, motor ripple heat and their sum for each choice, the recommended one
// named, and one touch to try another.

import type { Report } from "../core/report";
import { clock, percent, tenths, written } from "../words/numbers";
import { useWords } from "../words/scale";
import { memo } from "./memo";
import { Figure, NumbersBelow, Table } from "./Figure";

interface Props {
    report: Report;
    chosen_Hz: number | undefined;
    onChoose: (pwm_Hz: number) => void;
}

export const kilo = (hertz: number): string => `${written(hertz / 1000, 4)} kHz`;

/** None where the heat runs away at every choice, or where another one is more likely the best. */
function recommendedIn({ pwm: { choices, recommended_Hz } }: Report): number | undefined {
    const one = choices.find(({ pwm_Hz }) => pwm_Hz === recommended_Hz);
    const likelier = choices.some((other) => (other.chance_best ?? 0) > (one?.chance_best ?? 0));
    return likelier || one?.runaway ? undefined : recommended_Hz;
}

export const PwmFigure = memo(function PwmFigure({ report, chosen_Hz, onChoose }: Props) {
    const words = useWords();
    const { choices, text } = report.pwm;
    const recommended_Hz = recommendedIn(report);
    return (
        <Figure
            number={3}
            title={words.sentence(text)}
            picture={<Choices {...{ report, chosen_Hz, onChoose }} />}
            caption={
                <>
                    Heat wasted: <span class="key key-esc">in the ESC</span>,{" "}
                    <span class="key key-ripple">as ripple in the motor</span>.
                </>
            }
        >
            <NumbersBelow>
                {() => (
                    <Table
                        caption="PWM choices"
                        head={[
                            "PWM",
                            "ESC peak",
                            "ESC, W",
                            "Motor ripple, W",
                            "Together, W",
                            "Ripple, %",
                            "Capacitor, A rms",
                            "Against resonance",
                            "Flight",
                        ]}
                        mark={choices.findIndex((choice) => choice.pwm_Hz === recommended_Hz)}
                        rows={choices.map((choice) => [
                            kilo(choice.pwm_Hz),
                            words.peak(choice.esc_peak_C),
                            tenths(choice.esc_loss_W),
                            tenths(choice.motor_ripple_loss_W),
                            tenths(choice.total_loss_W),
                            written(choice.motor_ripple_pct, 2),
                            written(choice.capacitor_rms_A),
                            written(choice.resonance_ratio),
                            clock(choice.flight_s),
                        ])}
                    />
                )}
            </NumbersBelow>
        </Figure>
    );
});

function Choices({ report, chosen_Hz, onChoose }: Props) {
    const words = useWords();
    const { choices } = report.pwm;
    const recommended_Hz = recommendedIn(report);
    const widest = Math.max(...choices.map((choice) => choice.total_loss_W), 0.1);
    return (
        <ul class="pwm">
            {choices.map((choice) => (
                <li
                    key={choice.pwm_Hz}
                    class={choice.pwm_Hz === recommended_Hz ? "recommended" : ""}
                >
                    <div class="pwm-name">
                        <b>{kilo(choice.pwm_Hz)}</b>
                        {choice.pwm_Hz === recommended_Hz && <span>◆ recommended</span>}
                        {choice.pwm_Hz === chosen_Hz ? (
                            <span>in use</span>
                        ) : (
                            <button
                                type="button"
                                aria-label={`Use ${kilo(choice.pwm_Hz)}`}
                                onClick={() => onChoose(choice.pwm_Hz)}
                            >
                                Use
                            </button>
                        )}
                    </div>
                    <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
                        <rect
                            class="bar-esc"
                            width={(100 * choice.esc_loss_W) / widest}
                            height="10"
                        />
                        <rect
                            class="bar-ripple"
                            x={(100 * choice.esc_loss_W) / widest}
                            width={(100 * choice.motor_ripple_loss_W) / widest}
                            height="10"
                        />
                    </svg>
                    <p class="pwm-figures">
                        <span>
                            {tenths(choice.esc_loss_W)} + {tenths(choice.motor_ripple_loss_W)} ={" "}
                            <b>{tenths(choice.total_loss_W)} W</b>
                        </span>
                        <span>
                            ESC {choice.esc_peak_C !== null && "peak "}
                            <b>{words.peak(choice.esc_peak_C)}</b>{" "}
                            {choice.esc_peak_band_C && words.range(choice.esc_peak_band_C)}
                        </span>
                        {choice.chance_best !== undefined && choice.chance_best !== null && (
                            <span>best with {percent(choice.chance_best)} chance</span>
                        )}
                    </p>
                </li>
            ))}
        </ul>
    );
}
