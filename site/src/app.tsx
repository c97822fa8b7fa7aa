// How does the page hang together? One setup, the answer that follows it, and the sections that show
// both. Every change of the setup comes through here.

import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import { useAnswer } from "./core/answer";
import type { Door } from "./core/door";
import type { FieldTable } from "./core/fields";
import type { Change } from "./core/report";
import { nearest } from "./figures/Figure";
import { FlightFigure } from "./figures/FlightFigure";
import { HoldFigure } from "./figures/HoldFigure";
import { LossFigure } from "./figures/LossFigure";
import { PwmFigure } from "./figures/PwmFigure";
import { EditingContext, type Editing } from "./form/editing";
import { openFile } from "./keep/files";
import { addressOf, openLink, showLink, type Start } from "./keep/link";
import { keep, kept, type Tried } from "./keep/phone";
import { watchUpdates } from "./keep/update";
import { UpdateNotice } from "./keep/UpdateNotice";
import { Assumed } from "./sections/Assumed";
import { Cautions } from "./sections/Cautions";
import { Changes } from "./sections/Changes";
import { Checks } from "./sections/Checks";
import { FieldCard } from "./sections/FieldCard";
import { Foot } from "./sections/Foot";
import { Keep } from "./sections/Keep";
import { Learn } from "./sections/Learn";
import { Model } from "./sections/Model";
import { Section } from "./sections/Section";
import { Figures, Headline } from "./sections/Verdict";
import { inverse, isObject, merged, valueAt, withValue, type JsonObject } from "./setup/json";
import { Wording, Words, type Scale } from "./words/scale";

interface Props {
    door: Door;
    table: FieldTable;
    start: Start;
}

interface Notice {
    text: string;
    /** the setup that one touch brings back */
    back?: JsonObject | undefined;
}

const PWM_KEY = "esc.pwm_Hz";

export function App({ door, table, start }: Props) {
    const [setup, setSetup] = useState(start.setup);
    const [tried, setTried] = useState<Tried[]>(start.tried);
    const [notice, setNotice] = useState<Notice | undefined>(start.notice);
    const [scale, setScale] = useState<Scale>(() => kept("scale") ?? "C");
    const [link, setLink] = useState<string | undefined>(start.link);
    const [wish, setWish] = useState<number>();
    const [offline, setOffline] = useState(false);
    const [newer, setNewer] = useState<() => void>();
    const touched = useRef(false);
    const words = useMemo(() => new Wording(scale), [scale]);

    const { good, problems, failure } = useAnswer(door, setup, start.good);
    // the figures of the verdict are painted before the rest is drawn
    const report = useAfterPaint(good?.report);
    const busy = problems.length === 0 && !(good?.settled && good.setup === setup);

    function change(next: JsonObject | ((before: JsonObject) => JsonObject)): void {
        touched.current = true;
        setSetup(next);
    }
    function replace(next: JsonObject, from: string): void {
        setNotice({ text: `Opened: ${from}.`, back: setup });
        keep("before", setup);
        setTried([]);
        change(next);
    }
    function attempt({ id, text, patch }: Change): void {
        const back = inverse(setup, patch as JsonObject);
        setTried((list) => [...list, { id: `${id}-${list.length}`, text, back }]);
        change((before) => asSetup(merged(before, patch as JsonObject)));
    }
    function takeBack(one: Tried): void {
        setTried((list) => list.filter(({ id }) => id !== one.id));
        change((before) => asSetup(merged(before, one.back)));
    }
    async function take(text: string): Promise<void> {
        const answer = await openLink(door, text);
        if (answer.setup) replace(answer.setup, "the link");
        else setNotice({ text: answer.text });
    }
    async function takeFile(text: string): Promise<void> {
        const answer = await openFile(door, text);
        if (answer.setup) replace(answer.setup, "the file");
        else setNotice({ text: answer.text });
    }

    useEffect(
        () =>
            watchUpdates({
                onKept: () => setOffline(true),
                onNewer: (use) => setNewer(() => use),
            }),
        [],
    );

    // written at once: a reload, asked for or not, never loses an entry
    useLayoutEffect(() => {
        keep("now", { setup, good: good?.setup, link, tried });
    }, [setup, good, link, tried]);

    useEffect(() => {
        if (!good?.settled) return;
        let live = true;
        void door.link(good.setup).then((answer) => {
            if (!live || "problems" in answer) return;
            setLink(answer.ok);
            if (touched.current) showLink(answer.ok);
        });
        return () => void (live = false);
    }, [door, good]);

    useEffect(() => {
        const follow = (): void => void take(location.hash);
        addEventListener("hashchange", follow);
        return () => removeEventListener("hashchange", follow);
    });

    const editing = useMemo<Editing>(
        () => ({
            table,
            setup,
            report,
            problems,
            edit: (path, value) => change((before) => withValue(before, path, value)),
        }),
        [table, setup, report, problems],
    );

    const picked = report
        ? nearest(
              report.holds.map((hold) => hold.throttle_pct),
              wish ?? report.why.throttle_pct,
          )
        : 0;
    const pick = (index: number): void => setWish(report?.holds[index]?.throttle_pct);
    const pwm = valueAt(setup, PWM_KEY);
    const address = link === undefined ? undefined : addressOf(link);

    return (
        <Words.Provider value={words}>
            <EditingContext.Provider value={editing}>
                <header class="mast">
                    <h1>Hotband</h1>
                    <p>{typeof setup.name === "string" ? setup.name : ""}</p>
                </header>
                <main>
                    <div class="notices">
                        {notice && (
                            <div class="notice" role="status">
                                <p>{notice.text}</p>
                                {notice.back && (
                                    <button
                                        type="button"
                                        onClick={() => {
                                            if (notice.back)
                                                replace(notice.back, "what was here before");
                                        }}
                                    >
                                        Back to what was here
                                    </button>
                                )}
                                <button type="button" onClick={() => setNotice(undefined)}>
                                    Close
                                </button>
                            </div>
                        )}
                        {failure && (
                            <div class="notice" role="alert">
                                <p>
                                    ▲ The core stopped: {failure}. The next change starts it anew.
                                </p>
                            </div>
                        )}
                    </div>
                    <Headline
                        good={good}
                        waiting={
                            problems.length > 0 ? "Answer the questions below." : "Working it out …"
                        }
                    />
                    {good && <Figures good={good} problem={problems[0]} busy={busy} />}
                    <div class="columns">
                        <div class="column-form">
                            <Model onReplace={replace} />
                        </div>
                        <div class="column-answer">
                            {report && (
                                <>
                                    <Section id="throttle">
                                        <HoldFigure report={report} picked={picked} onPick={pick} />
                                    </Section>
                                    <Section id="causes">
                                        <LossFigure report={report} picked={picked} onPick={pick} />
                                    </Section>
                                    <Section id="pwm">
                                        <PwmFigure
                                            report={report}
                                            chosen_Hz={typeof pwm === "number" ? pwm : undefined}
                                            onChoose={(hertz) => editing.edit(PWM_KEY, hertz)}
                                        />
                                    </Section>
                                    <Section id="flight">
                                        <FlightFigure report={report} />
                                    </Section>
                                    <Changes
                                        report={report}
                                        tried={tried}
                                        onTry={attempt}
                                        onUndo={takeBack}
                                    />
                                    <Checks report={report} />
                                </>
                            )}
                            <Learn door={door} report={report} answered={good?.setup} />
                            {report && <Assumed report={report} />}
                            <Keep
                                door={door}
                                offline={offline}
                                setup={good?.setup ?? setup}
                                link={address}
                                headline={good ? words.sentence(good.report.verdict.headline) : ""}
                                onReplace={replace}
                                onLink={(text) => void take(text)}
                                onImport={(text) => void takeFile(text)}
                            />
                            {report && <Cautions cautions={report.cautions} />}
                        </div>
                    </div>
                </main>
                {newer && <UpdateNotice use={newer} />}
                <Foot
                    cautions={report?.cautions ?? []}
                    onScale={(next) => {
                        setScale(next);
                        keep("scale", next);
                    }}
                />
                {good && <FieldCard good={good} link={address} />}
            </EditingContext.Provider>
        </Words.Provider>
    );
}

const asSetup = (value: unknown): JsonObject => (isObject(value) ? value : {});

/** The value, one paint later. */
function useAfterPaint<T>(value: T | undefined): T | undefined {
    const [painted, setPainted] = useState<T>();
    useEffect(() => {
        let timer: ReturnType<typeof setTimeout> | undefined;
        const frame = requestAnimationFrame(() => {
            timer = setTimeout(() => setPainted(value));
        });
        return () => {
            cancelAnimationFrame(frame);
            clearTimeout(timer);
        };
    }, [value]);
    return painted;
}
