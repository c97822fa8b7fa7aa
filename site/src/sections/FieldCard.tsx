// What goes on paper? One card for the flight box: verdict, throttle strip, what was told, holds, the
// first changes, cautions and the QR code. Seen only in print.

import type { Good } from "../core/answer";
import { useAxis } from "../figures/axis";
import { Table } from "../figures/Figure";
import { HeatStrip, LevelMark } from "../figures/marks";
import { useEditing } from "../form/editing";
import { shown } from "../keep/names";
import { Qr } from "../keep/qr";
import { isObject, valueAt } from "../setup/json";
import { clock, day, written } from "../words/numbers";
import { spelled, useWords } from "../words/scale";
import { CautionList } from "./Cautions";
import { titleOf } from "./Section";

const EVERY_PCT = 10;
const FIRST_CHANGES = 3;

interface Props {
    good: Good;
    example: string | undefined;
    link: string | undefined;
}

export function FieldCard({ good, example, link }: Props) {
    const axis = useAxis();
    const { table } = useEditing();
    const words = useWords();
    const { report, setup } = good;
    const { esc, verdict, flight, bands, pwm, hover } = report;
    const { level } = verdict;
    const told = table.all
        .map((field) => ({ field, value: valueAt(setup, field.key) }))
        .filter(({ field, value }) => value !== undefined && field.key !== "name")
        .flatMap(({ field, value }): [string, string][] => {
            const name = field.label;
            const unit = words.unit(field.unit);
            if (typeof value === "number") {
                return [[name, `${written(words.shown(field, value), 5)} ${unit}`]];
            }
            if (typeof value === "string") return [[name, spelled(value)]];
            if (typeof value === "boolean") return [[name, value ? "yes" : "no"]];
            return [];
        });
    const parts = valueAt(setup, "flight.parts");
    const mix = (Array.isArray(parts) ? parts.filter(isObject) : [])
        .map((part) =>
            part.seconds === undefined
                ? `${written(Number(part.share_pct))} % of the time at ${written(Number(part.throttle_pct))} %`
                : `${written(Number(part.throttle_pct))} % for ${written(Number(part.seconds))} s`,
        )
        .join(", ");
    const { rows, parameters } = report.learned;
    // what readings have moved does not come from estimates alone
    const readings = parameters.length > 0 ? ` and ${rows} reading${rows > 1 ? "s" : ""}` : "";
    const holds = report.holds.filter((hold) => hold.throttle_pct % EVERY_PCT === 0);
    return (
        <article class="card" aria-hidden="true">
            <header>
                <h2>{typeof setup.name === "string" ? shown(setup.name) : ""}</h2>
                <p>
                    {example !== undefined && "Example. "}Hotband, {day(Date.now())}
                </p>
            </header>
            <p class="card-verdict">{words.sentence(verdict.headline)}</p>
            <p>
                <LevelMark level={level} /> <b>{level}</b>: peak {words.peak(esc.peak_C.p50)} (
                {words.range(esc.peak_C)}), limit {words.temperature(esc.limit_C)} {words.degree},
                margin {words.difference(esc.margin_K)} {words.kelvin}, flight{" "}
                {clock(flight.seconds)}.
            </p>
            <HeatStrip report={report} dark={false} id="strip-card" />
            {bands.map((band) => (
                <p key={band.from_pct}>{words.sentence(band.text)}</p>
            ))}
            {hover && <p>{words.sentence(hover.text)}</p>}
            <p>{words.sentence(pwm.text)}</p>
            <div class="card-columns">
                <Table
                    caption="Hold temperatures"
                    head={[axis.title, "Peak", "10–90 %", "Hold"]}
                    rows={holds.map((hold) => [
                        written(hold.throttle_pct),
                        words.peak(hold.hold_peak_C.p50),
                        words.range(hold.hold_peak_C),
                        clock(hold.hold_s),
                    ])}
                />
                <dl>
                    {told.map(([name, value]) => (
                        <div key={name}>
                            <dt>{name}</dt>
                            <dd>{value}</dd>
                        </div>
                    ))}
                </dl>
                <div>
                    {link && <Qr text={link} label="" />}
                    <p>{mix}</p>
                    <b>{titleOf("changes")}</b>
                    <ul>
                        {report.changes.slice(0, FIRST_CHANGES).map((change) => (
                            <li key={change.id}>
                                {words.sentence(change.text)}:{" "}
                                {words.difference(change.esc_peak_change_K)} {words.kelvin}
                            </li>
                        ))}
                    </ul>
                </div>
            </div>
            <CautionList
                cautions={report.cautions.map((caution) =>
                    caution.replace("from estimates", `$&${readings}`),
                )}
            />
        </article>
    );
}
