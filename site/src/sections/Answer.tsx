// What does the answer look like? Its sections in order, each drawn when it is seen or the phone is at rest.

import { useCallback, useState } from "preact/hooks";
import type { Change, Report } from "../core/report";
import { FlightFigure } from "../figures/FlightFigure";
import { HoldFigure } from "../figures/HoldFigure";
import { LossFigure } from "../figures/LossFigure";
import { PwmFigure } from "../figures/PwmFigure";
import type { Tried } from "../keep/phone";
import { Assumed } from "./Assumed";
import { Cautions } from "./Cautions";
import { Changes } from "./Changes";
import { Checks } from "./Checks";
import { hasLimits, LimitList } from "./Limits";
import { Later } from "./later";
import { Section } from "./Section";

interface Props {
    report: Report;
    /** as entered */
    pwm_Hz: unknown;
    tried: Tried[];
    onPwm: (pwm_Hz: number) => void;
    onTry: (change: Change) => void;
    onUndo: (tried: Tried) => void;
}

export function Answer({ report, pwm_Hz, tried, onPwm, onTry, onUndo }: Props) {
    const [wish, setWish] = useState<number>();
    const pick = useCallback((throttle_pct: number) => setWish(throttle_pct), []);
    return (
        <>
            <Section id="throttle">
                <Later value={report} room={46}>
                    {(drawn) => <HoldFigure report={drawn} wish={wish} onWish={pick} />}
                </Later>
            </Section>
            <Section id="causes">
                <Later value={report} room={50}>
                    {(drawn) => <LossFigure report={drawn} wish={wish} onWish={pick} />}
                </Later>
            </Section>
            <Section id="pwm">
                <Later value={report} room={34}>
                    {(drawn) => (
                        <PwmFigure
                            report={drawn}
                            chosen_Hz={typeof pwm_Hz === "number" ? pwm_Hz : undefined}
                            onChoose={onPwm}
                        />
                    )}
                </Later>
            </Section>
            <Section id="flight">
                <Later value={report} room={50}>
                    {(drawn) => <FlightFigure report={drawn} />}
                </Later>
            </Section>
            {hasLimits(report) && (
                <Section id="limits">
                    <Later value={report} room={16}>
                        {(drawn) => <LimitList report={drawn} />}
                    </Later>
                </Section>
            )}
            <Section id="changes">
                <Later value={report} room={30}>
                    {(drawn) => (
                        <Changes report={drawn} tried={tried} onTry={onTry} onUndo={onUndo} />
                    )}
                </Later>
            </Section>
            <Section id="checks">
                <Later value={report} room={40}>
                    {(drawn) => <Checks report={drawn} />}
                </Later>
            </Section>
            <Section id="assumed">
                <Later value={report} room={20}>
                    {(drawn) => <Assumed report={drawn} />}
                </Later>
            </Section>
            <Section id="cautions">
                <Later value={report} room={20}>
                    {(drawn) => <Cautions cautions={drawn.cautions} />}
                </Later>
            </Section>
        </>
    );
}
