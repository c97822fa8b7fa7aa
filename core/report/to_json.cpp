// Report -> JSON; see to_json.hpp. Keys as the contract names them.
#include "report/to_json.hpp"

#include "report/writer.hpp"
#include "setup/setup_json.hpp"

namespace hotband {
namespace {

const char* name(Level level) {
    switch (level) {
        case Level::fine:
            return "fine";
        case Level::watch:
            return "watch";
        case Level::stop:
            return "stop";
    }
    return "stop";
}

const char* name(EndedBy end) {
    switch (end) {
        case EndedBy::reserve:
            return "reserve";
        case EndedBy::sag:
            return "sag";
        case EndedBy::runaway:
            return "runaway";
        case EndedBy::time:
            return "time";
        case EndedBy::steps:
            return "steps";
    }
    return "steps";
}

const char* name(HoverEnd end) {
    switch (end) {
        case HoverEnd::reserve:
            return "reserve";
        case HoverEnd::sag:
            return "sag";
        case HoverEnd::limit:
            return "limit";
        case HoverEnd::runaway:
            return "runaway";
    }
    return "reserve";
}

const char* name(Side side) {
    switch (side) {
        case Side::at_most:
            return "at_most";
        case Side::at_least:
            return "at_least";
        case Side::outside:
            return "outside";
    }
    return "at_most";
}

void write(Writer& w, const Band& b) {
    w.begin('{').pair("p10", b.p10).pair("p50", b.p50).pair("p90", b.p90).end('}');
}

template <class T, class F>
void write_list(Writer& w, std::string_view key, const std::vector<T>& list, F&& each) {
    w.key(key).begin('[');
    for (const T& item : list) {
        each(item);
    }
    w.end(']');
}

void write(Writer& w, const WhyParts& k) {
    w.key("parts_K")
        .begin('{')
        .pair("conduction", k.conduction)
        .pair("freewheel", k.freewheel)
        .pair("switching", k.switching)
        .pair("commutation", k.commutation)
        .pair("capacitor", k.capacitor)
        .pair("supply", k.supply)
        .pair("air", k.air)
        .pair("run_time", k.run_time)
        .pair("other", k.other)
        .end('}');
}

void write(Writer& w, const Why& y) {
    w.begin('{')
        .pair("throttle_pct", y.throttle_pct)
        .pair("rise_over_full_K", y.rise_over_full_K)
        .pair("text", y.text);
    write(w, y.parts);
    w.end('}');
}

void write(Writer& w, const WhyOverAir& y) {
    w.begin('{').pair("throttle_pct", y.throttle_pct).pair("rise_K", y.rise_K).pair("text", y.text);
    write(w, y.parts);
    w.end('}');
}

void write(Writer& w, const Losses& l) {
    w.begin('{');
    for (const LossTerm& term : loss_terms) {
        w.pair(term.name, l.*term.watts);
    }
    w.end('}');
}

void write(Writer& w, const HoldReport& h, bool asked) {
    w.begin('{')
        .pair("throttle_pct", h.throttle_pct)
        .pair("duty", h.duty)
        .pair("pack_A", h.pack_A)
        .pair("motor_A", h.motor_A)
        .pair("rpm", h.rpm);
    w.key("losses_W");
    write(w, h.losses);
    w.pair("esc_efficiency", h.esc_efficiency)
        .pair("motor_efficiency", h.motor_efficiency)
        .pair("system_efficiency", h.system_efficiency)
        .pair("steady_C", h.steady_C)
        .pair("runaway", h.runaway)
        .pair("hold_s", h.hold_s)
        .pair("ended_by", name(h.ended_by))
        .pair("hold_mean_C", h.hold_mean_C);
    w.key("hold_peak_C");
    write(w, h.hold_peak_C);
    w.key("motor_C");
    write(w, h.motor_C);
    if (asked) {
        w.key("pack_A_band");
        write(w, h.pack_A_band);
        w.key("rpm_band");
        write(w, h.rpm_band);
    }
    w.pair("share_reached", h.share_reached)
        .pair("seconds_to_limit", h.seconds_to_limit)
        .pair("air_speed_mps", h.air_speed_mps)
        .pair("saturated", h.saturated);
    w.key("why");
    write(w, h.why);
    w.end('}');
}

void write_flight(Writer& w, const FlightReport& f) {
    w.key("flight")
        .begin('{')
        .pair("seconds", f.seconds)
        .pair("ended_by", name(f.ended_by))
        .pair("cool_down_s", f.cool_down_s)
        .pair("governor_saturates", f.governor_saturates)
        .pair("rotor_speed_reached", f.rotor_speed_reached)
        .pair("limit_after_s", f.limit_after_s);
    write_list(w, "longest_holds", f.longest_holds, [&](const LongestHold& h) {
        w.begin('{')
            .pair("throttle_pct", h.throttle_pct)
            .pair("seconds", h.seconds)
            .pair("peak_C", h.peak_C)
            .end('}');
    });
    write_list(w, "series", f.series, [&](const SeriesRow& r) {
        w.begin('{').pair("t_s", r.t_s).pair("throttle_pct", r.throttle_pct);
        w.key("board_C");
        write(w, r.board_C);
        w.pair("junction_C", r.junction_C)
            .pair("pack_V", r.pack_V)
            .pair("pack_A", r.pack_A)
            .pair("motor_A", r.motor_A)
            .pair("motor_C", r.motor_C)
            .pair("charge_pct", r.charge_pct)
            .end('}');
    });
    w.end('}');
}

void write_pwm(Writer& w, const PwmReport& p) {
    w.key("pwm").begin('{');
    write_list(w, "choices", p.choices, [&](const PwmChoice& c) {
        w.begin('{')
            .pair("pwm_Hz", c.pwm_Hz)
            .pair("esc_peak_C", c.esc_peak_C)
            .pair("runaway", c.runaway)
            .pair("motor_ripple_pct", c.motor_ripple_pct)
            .pair("esc_loss_W", c.esc_loss_W)
            .pair("motor_ripple_loss_W", c.motor_ripple_loss_W)
            .pair("total_loss_W", c.total_loss_W)
            .pair("capacitor_rms_A", c.capacitor_rms_A)
            .pair("resonance_ratio", c.resonance_ratio)
            .pair("flight_s", c.flight_s)
            .pair("chance_best", c.chance_best);
        if (c.esc_peak_band_C) {
            write(w.key("esc_peak_band_C"), *c.esc_peak_band_C);
        }
        w.end('}');
    });
    w.pair("recommended_Hz", p.recommended_Hz).pair("text", p.text).end('}');
}

// RFC 7396: what must be merged into `from` to make `to`. Lists are replaced whole.
Json merge_patch(const Json& from, const Json& to) {
    const auto* a = from.as<JsonObject>();
    const auto* b = to.as<JsonObject>();
    if (a == nullptr || b == nullptr) {
        return to;
    }
    JsonObject patch;
    for (const JsonMember& m : *b) {
        const Json* old = find(from, m.key);
        if (old == nullptr) {
            patch.push_back({m.key, m.value});
        } else if (!(*old == m.value)) {
            patch.push_back({m.key, merge_patch(*old, m.value)});
        }
    }
    for (const JsonMember& m : *a) {
        if (find(to, m.key) == nullptr) {
            patch.push_back({m.key, Json()});
        }
    }
    return Json(std::move(patch));
}

void write_changes(Writer& w, const std::vector<Change>& changes, const Setup& setup) {
    const Json before = write_setup(setup);
    write_list(w, "changes", changes, [&](const Change& c) {
        w.begin('{')
            .pair("id", c.id)
            .pair("text", c.text)
            .pair("esc_peak_change_K", c.esc_peak_change_K)
            .pair("flight_change_s", c.flight_change_s)
            .pair("cost", c.cost)
            .pair("chance_helps", c.chance_helps);
        if (c.esc_peak_change_band_K) {
            write(w.key("esc_peak_change_band_K"), *c.esc_peak_change_band_K);
        }
        if (c.keeps_limit) {
            w.pair("keeps_limit", *c.keeps_limit);
        }
        if (!c.ids.empty()) {
            write_list(w, "ids", c.ids, [&](const std::string& id) { w.value(id); });
        }
        w.key("patch").raw(write_json(merge_patch(before, write_setup(c.changed))));
        w.end('}');
    });
}

void write_group(Writer& w, std::string_view key, const CheckGroup& g) {
    w.key(key).begin('{').pair("ok", g.ok);
    write_list(w, "items", g.items, [&](const CheckItem& i) {
        w.begin('{')
            .pair("key", i.key)
            .pair("label", i.label)
            .pair("value", i.value)
            .pair("bound", i.bound);
        if (i.bound_high) {
            w.pair("bound_high", *i.bound_high);
        }
        w.pair("side", name(i.side))
            .pair("unit", i.unit)
            .pair("ok", i.ok)
            .pair("serious", i.serious)
            .pair("basis", i.basis)
            .end('}');
    });
    w.end('}');
}

void write_verdict(Writer& w, const Verdict& v) {
    w.key("verdict").begin('{').pair("level", name(v.level)).pair("headline", v.headline);
    write_list(w, "reasons", v.reasons, [&](const Reason& reason) {
        w.begin('{')
            .pair("key", reason.key)
            .pair("level", name(reason.level))
            .pair("text", reason.text)
            .end('}');
    });
    w.end('}');
}

void write_hover(Writer& w, const std::optional<Hover>& h) {
    w.key("hover");
    if (!h) {
        w.raw("null");
        return;
    }
    w.begin('{')
        .pair("seconds", h->seconds)
        .pair("land_by_s", h->land_by_s)
        .pair("ended_by", name(h->ended_by))
        .pair("text", h->text)
        .end('}');
}

void write_limits(Writer& w, const std::optional<Limits>& l) {
    w.key("limits");
    if (!l) {
        w.raw("null");
        return;
    }
    w.begin('{')
        .pair("warmest_air_C", l->warmest_air_C)
        .pair("highest_field_m", l->highest_field_m)
        .pair("longest_flight_s", l->longest_flight_s)
        .pair("most_full_throttle_A", l->most_full_throttle_A)
        .pair("smallest_esc_A", l->smallest_esc_A)
        .pair("text", l->text)
        .end('}');
}

void write_learned(Writer& w, const Learned& l) {
    w.key("learned").begin('{').pair("rows", static_cast<double>(l.rows)).pair("text", l.text);
    write_list(w, "fit", l.fit, [&](const RowFit& f) {
        w.begin('{')
            .pair("row", static_cast<double>(f.row))
            .pair("hold_mean_C", f.hold_mean_C)
            .pair("hold_peak_C", f.hold_peak_C)
            .pair("steady_C", f.steady_C)
            .pair("share_reached", f.share_reached)
            .pair("hold_s", f.hold_s)
            .pair("air_speed_mps", f.air_speed_mps)
            .pair("motor_A", f.motor_A)
            .pair("trace_rms_K", f.trace_rms_K)
            .end('}');
    });
    write_list(w, "misfit", l.misfit, [&](const Misfit& m) {
        w.begin('{')
            .pair("row", static_cast<double>(m.row))
            .pair("off_K", m.off_K)
            .pair("text", m.text)
            .end('}');
    });
    w.pair("widened", l.widened).pair("apart", l.apart).pair("chance_active", l.chance_active);
    write_list(w, "parameters", l.parameters, [&](const LearnedParameter& p) {
        w.begin('{').pair("key", p.key);
        w.key("prior").begin('[').value(p.prior[0]).value(p.prior[1]).end(']');
        w.key("posterior").begin('[').value(p.posterior[0]).value(p.posterior[1]).end(']');
        w.end('}');
    });
    w.key("next_run");
    if (l.next_run) {
        const NextRun& n = *l.next_run;
        w.begin('{')
            .pair("throttle_pct", n.throttle_pct)
            .pair("pwm_Hz", n.pwm_Hz)
            .pair("band_before_K", n.band_before_K)
            .pair("band_after_K", n.band_after_K)
            .pair("text", n.text)
            .end('}');
    } else {
        w.raw("null");
    }
    w.end('}');
}

}  // namespace

std::string report_to_json(const Report& r, const Setup& setup) {
    Writer w;
    w.begin('{').pair("hotband", 1.0).pair("samples", static_cast<double>(r.samples));
    write_verdict(w, r.verdict);
    w.key("esc").begin('{').key("peak_C");
    write(w, r.esc.peak_C);
    w.pair("junction_peak_C", r.esc.junction_peak_C)
        .pair("limit_C", r.esc.limit_C)
        .pair("margin_K", r.esc.margin_K)
        .pair("chance_over_limit", r.esc.chance_over_limit)
        .pair("runaway", r.esc.runaway)
        .end('}');
    write_flight(w, r.flight);
    write_list(w, "holds", r.holds, [&](const HoldReport& h) { write(w, h, false); });
    if (!r.asked_holds.empty()) {
        write_list(w, "asked_holds", r.asked_holds,
                   [&](const HoldReport& h) { write(w, h, true); });
    }
    write_list(w, "bands", r.bands, [&](const ThrottleBand& b) {
        w.begin('{')
            .pair("from_pct", b.from_pct)
            .pair("to_pct", b.to_pct)
            .pair("hottest_pct", b.hottest_pct)
            .pair("level", name(b.level))
            .pair("runaway_from_pct", b.runaway_from_pct)
            .pair("text", b.text)
            .end('}');
    });
    write_pwm(w, r.pwm);
    write_changes(w, r.changes, setup);
    w.key("why");
    write(w, r.why);
    w.key("why_over_air");
    write(w, r.why_over_air);
    write_hover(w, r.hover);
    write_limits(w, r.limits);
    w.key("checks").begin('{');
    write_group(w, "rating", r.checks.rating);
    write_group(w, "pack", r.checks.pack);
    write_group(w, "capacitor", r.checks.capacitor);
    write_group(w, "supply", r.checks.supply);
    w.end('}');
    write_learned(w, r.learned);
    write_list(w, "assumptions", r.assumptions, [&](const Assumption& a) {
        w.begin('{')
            .pair("key", a.key)
            .pair("value", a.value)
            .pair("low", a.low)
            .pair("high", a.high)
            .pair("told", a.told)
            .pair("basis", a.basis)
            .end('}');
    });
    if (r.untold_current) {
        const UntoldCurrent& u = *r.untold_current;
        w.key("untold_current").begin('{').pair("key", u.key);
        w.key("pack_A");
        write(w, u.pack_A);
        w.pair("band_before_K", u.band_before_K)
            .pair("band_after_K", u.band_after_K)
            .pair("text", u.text)
            .end('}');
    }
    write_list(w, "cautions", r.cautions, [&](const std::string& c) { w.value(c); });
    w.end('}');
    return w.take();
}

}  // namespace hotband
