// What does the answer look like? Its sections in order, each drawn when it is seen or the phone is at rest.

import { useCallback, useState } from "preact/hooks";
import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import { AirFigure } from "../figures/AirFigure";
import { FlightFigure } from "../figures/FlightFigure";
import { HoldFigure } from "../figures/HoldFigure";
import { LossFigure } from "../figures/LossFigure";
import { PwmFigure } from "../figures/PwmFigure";
import { PwmMap } from "../figures/PwmMap";
import { useEditing } from "../form/editing";
import { PWM_KEY, pwmChosen } from "../form/PwmEntry";
import type { Tried } from "../keep/phone";
import type { Moves } from "../moves";
import { valueAt } from "../setup/json";
import { Assumed } from "./Assumed";
import { Cautions } from "./Cautions";
import { Changes } from "./Changes";
import { Checks } from "./Checks";
import { hasLimits, LimitList } from "./Limits";
import { Later } from "./later";
import { Section } from "./Section";

interface Props extends Pick<Moves, "attempt" | "takeBack"> {
    door: Door;
    good: Good;
    tried: Tried[];
}

export function Answer({ door, good, tried, attempt, takeBack }: Props) {
    const { report } = good;
    const { setup, problems, edit } = useEditing();
    const pwm_Hz = valueAt(setup, PWM_KEY);
    const choosePwm = useCallback(
        (hertz: number) => edit(PWM_KEY, hertz, pwmChosen(setup, problems, hertz)),
        [edit, setup.esc, setup.measured, problems.length],
    );
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
                            onChoose={choosePwm}
                        />
                    )}
                </Later>
                <Later value={good} room={22}>
                    {(drawn) => <PwmMap door={door} good={drawn} wish={wish} onWish={pick} />}
                </Later>
            </Section>
            <Section id="flight">
                <Later value={report} room={50}>
                    {(drawn) => <FlightFigure report={drawn} />}
                </Later>
            </Section>
            {hasLimits(report) && (
                <Section id="limits">
                    <Later value={good} room={16}>
                        {(drawn) => <LimitList good={drawn} />}
                    </Later>
                    <Later value={good} room={26}>
                        {(drawn) => <AirFigure door={door} good={drawn} />}
                    </Later>
                </Section>
            )}
            <Section id="changes">
                <Later value={report} room={30}>
                    {(drawn) => (
                        <Changes report={drawn} tried={tried} onTry={attempt} onUndo={takeBack} />
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
