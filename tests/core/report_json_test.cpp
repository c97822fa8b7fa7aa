// Does the JSON say of each figure of the report what the report says, under its own key? A report
// made by hand: no figure twice, each flag both ways, each key listed here.
#include <limits>
#include <map>
#include <set>

#include "near.hpp"
#include "report/to_json.hpp"
#include "setup/json.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

using Leaves = std::map<std::string, Json>;

/// Fills a report: every call gives a number of its own, flags take turns.
class Pen {
 public:
    Pen(bool first_flag, bool told) : flag_(!first_flag), told_(told) {}

    double x() { return 0.5 + ++last_; }
    int whole() { return ++last_; }
    bool flag() { return flag_ = !flag_; }
    std::string text() { return "text " + std::to_string(++last_); }
    Band band() { return {x(), x(), x()}; }
    /// What may be left out.
    std::optional<double> maybe() { return told_ ? std::optional(x()) : std::nullopt; }
    Band open_band() { return {maybe(), x(), maybe()}; }
    bool told() const { return told_; }

 private:
    int last_ = 1;  // the version's
    bool flag_;
    bool told_;
};

WhyParts parts_by(Pen& pen) {
    return {pen.x(), pen.x(), pen.x(), pen.x(), pen.x(), pen.x(), pen.x(), pen.x(), pen.x()};
}

HoldReport hold_by(Pen& pen, EndedBy end) {
    HoldReport h;
    for (double* member :
         {&h.throttle_pct, &h.duty, &h.pack_A, &h.motor_A, &h.rpm, &h.esc_efficiency,
          &h.motor_efficiency, &h.system_efficiency, &h.hold_s, &h.hold_mean_C, &h.air_speed_mps}) {
        *member = pen.x();
    }
    for (const LossTerm& term : loss_terms) {
        h.losses.*term.watts = pen.x();
    }
    h.steady_C = pen.maybe();
    h.ended_by = end;
    h.hold_peak_C = pen.open_band();
    h.motor_C = pen.open_band();
    h.pack_A_band = pen.open_band();
    h.rpm_band = pen.open_band();
    h.share_reached = pen.maybe();
    h.seconds_to_limit = pen.maybe();
    h.saturated = pen.flag();
    h.runaway = pen.flag();
    h.why = {pen.x(), pen.x(), parts_by(pen), pen.text()};
    return h;
}

CheckGroup group_by(Pen& pen) {
    CheckGroup g;
    g.ok = pen.flag();
    for (const Side side : {Side::at_most, Side::at_least, Side::outside}) {
        CheckItem i;
        i.key = pen.text();
        i.label = pen.text();
        i.value = pen.x();
        i.bound = pen.x();
        i.bound_high = pen.maybe();
        i.side = side;
        i.unit = pen.text();
        i.ok = pen.flag();
        i.serious = pen.flag();
        i.basis = pen.text();
        g.items.push_back(i);
    }
    return g;
}

PwmChoice choice_by(Pen& pen) {
    PwmChoice c;
    for (double* member :
         {&c.pwm_Hz, &c.esc_peak_C, &c.motor_ripple_pct, &c.esc_loss_W, &c.motor_ripple_loss_W,
          &c.total_loss_W, &c.capacitor_rms_A, &c.resonance_ratio, &c.flight_s}) {
        *member = pen.x();
    }
    c.runaway = pen.flag();
    c.chance_best = pen.maybe();
    if (pen.told()) {
        c.esc_peak_band_C = pen.band();
    }
    return c;
}

Change change_by(Pen& pen, const Setup& changed) {
    Change c;
    c.id = pen.text();
    c.text = pen.text();
    c.esc_peak_change_K = pen.maybe();
    c.flight_change_s = pen.x();
    c.cost = pen.text();
    c.chance_helps = pen.maybe();
    if (pen.told()) {
        c.esc_peak_change_band_K = pen.band();
        c.keeps_limit = pen.flag();
        c.ids = {pen.text(), pen.text()};
    }
    c.changed = changed;
    return c;
}

Learned learned_by(Pen& pen) {
    Learned l;
    l.rows = pen.whole();
    l.text = pen.text();
    for (int i = 0; i < 2; ++i) {
        l.fit.push_back({pen.whole(), pen.x(), pen.x(), pen.maybe(), pen.maybe(), pen.x(), pen.x(),
                         pen.x(), pen.maybe()});
        l.misfit.push_back({pen.whole(), -pen.x(), pen.text()});
        l.parameters.push_back({pen.text(), {pen.x(), pen.x()}, {pen.x(), pen.x()}});
    }
    l.widened = pen.x();
    l.apart = pen.x();
    l.chance_active = pen.maybe();
    if (pen.told()) {
        l.next_run = {pen.x(), pen.x(), pen.x(), pen.x(), pen.text()};
    }
    return l;
}

/// A report of which nothing is left as it begins.
Report report_by(Pen pen, const Setup& changed) {
    Report r;
    r.samples = pen.whole();
    r.verdict = {Level::stop, pen.text(), {}};
    for (const Level level : {Level::stop, Level::watch, Level::fine}) {
        r.verdict.reasons.push_back({pen.text(), level, pen.text()});
    }
    r.esc = {pen.open_band(), pen.x(), pen.x(), pen.x(), pen.maybe(), pen.flag()};
    r.flight.seconds = pen.x();
    r.flight.ended_by = EndedBy::sag;
    r.flight.cool_down_s = pen.maybe();
    r.flight.governor_saturates = pen.flag();
    r.flight.rotor_speed_reached = pen.flag();
    r.flight.limit_after_s = pen.maybe();
    for (int i = 0; i < 2; ++i) {
        r.flight.longest_holds.push_back({pen.x(), pen.x(), pen.x()});
        r.flight.series.push_back({pen.x(), pen.x(), pen.open_band(), pen.x(), pen.x(), pen.x(),
                                   pen.x(), pen.x(), pen.x()});
    }
    for (const EndedBy end :
         {EndedBy::reserve, EndedBy::sag, EndedBy::runaway, EndedBy::time, EndedBy::steps}) {
        r.holds.push_back(hold_by(pen, end));
    }
    if (pen.told()) {
        r.asked_holds = {hold_by(pen, EndedBy::runaway), hold_by(pen, EndedBy::time)};
    }
    for (const Level level : {Level::watch, Level::fine}) {
        r.bands.push_back({pen.maybe(), pen.x(), pen.x(), pen.x(), level, pen.text()});
    }
    r.pwm = {{choice_by(pen), choice_by(pen)}, pen.x(), pen.text()};
    r.changes = {change_by(pen, changed), change_by(pen, changed)};
    r.why = {pen.x(), pen.x(), parts_by(pen), pen.text()};
    r.why_over_air = {pen.x(), pen.x(), parts_by(pen), pen.text()};
    if (pen.told()) {
        r.hover = {pen.x(), pen.x(), HoverEnd::limit, pen.text()};
        r.limits = {pen.x(), pen.x(), pen.x(), pen.x(), pen.x(), pen.text()};
        r.untold_current = {pen.text(), pen.band(), pen.x(), pen.x(), pen.text()};
    }
    r.checks = {group_by(pen), group_by(pen), group_by(pen), group_by(pen)};
    r.learned = learned_by(pen);
    for (int i = 0; i < 2; ++i) {
        r.assumptions.push_back({pen.text(), pen.x(), pen.x(), pen.x(), pen.text(), pen.flag()});
    }
    r.cautions = {pen.text(), pen.text()};
    return r;
}

/// What the JSON must hold: each key with its member, no key beside these.
class Expected {
 public:
    void add(const std::string& key, double x) { leaves_[key] = Json(x); }
    void add(const std::string& key, int x) { leaves_[key] = Json(static_cast<double>(x)); }
    void add(const std::string& key, bool x) { leaves_[key] = Json(x); }
    void add(const std::string& key, const std::string& x) { leaves_[key] = Json(x); }
    void add(const std::string& key, const char* x) { leaves_[key] = Json(std::string(x)); }
    void add(const std::string& key, const std::optional<double>& x) {
        leaves_[key] = x ? Json(*x) : Json();
    }
    void add(const std::string& key, const Band& b) {
        add(key + ".p10", b.p10);
        add(key + ".p50", b.p50);
        add(key + ".p90", b.p90);
    }
    void add(const std::string& key, const WhyParts& k) {
        add(key + ".conduction", k.conduction);
        add(key + ".freewheel", k.freewheel);
        add(key + ".switching", k.switching);
        add(key + ".commutation", k.commutation);
        add(key + ".capacitor", k.capacitor);
        add(key + ".supply", k.supply);
        add(key + ".air", k.air);
        add(key + ".run_time", k.run_time);
        add(key + ".other", k.other);
    }
    void add(const std::string& key, const Losses& l) {
        add(key + ".conduction", l.conduction);
        add(key + ".freewheel", l.freewheel);
        add(key + ".switching", l.switching);
        add(key + ".charge", l.charge);
        add(key + ".dead_time", l.dead_time);
        add(key + ".commutation", l.commutation);
        add(key + ".capacitor", l.capacitor);
        add(key + ".board", l.board);
        add(key + ".supply", l.supply);
    }
    void add(const std::string& key, const Why& y) {
        add(key + ".throttle_pct", y.throttle_pct);
        add(key + ".rise_over_full_K", y.rise_over_full_K);
        add(key + ".text", y.text);
        add(key + ".parts_K", y.parts);
    }
    void add(const std::string& key, Level level) {
        add(key, level == Level::fine ? "fine" : level == Level::watch ? "watch" : "stop");
    }
    void add(const std::string& key, EndedBy end) {
        static const std::map<EndedBy, const char*> words = {{EndedBy::reserve, "reserve"},
                                                             {EndedBy::sag, "sag"},
                                                             {EndedBy::runaway, "runaway"},
                                                             {EndedBy::time, "time"},
                                                             {EndedBy::steps, "steps"}};
        add(key, words.at(end));
    }
    void add(const std::string& key, Side side) {
        add(key, side == Side::at_most    ? "at_most"
                 : side == Side::at_least ? "at_least"
                                          : "outside");
    }
    void add(const std::string& key, const HoldReport& h, bool asked) {
        add(key + ".throttle_pct", h.throttle_pct);
        add(key + ".duty", h.duty);
        add(key + ".pack_A", h.pack_A);
        add(key + ".motor_A", h.motor_A);
        add(key + ".rpm", h.rpm);
        add(key + ".losses_W", h.losses);
        add(key + ".esc_efficiency", h.esc_efficiency);
        add(key + ".motor_efficiency", h.motor_efficiency);
        add(key + ".system_efficiency", h.system_efficiency);
        add(key + ".steady_C", h.steady_C);
        add(key + ".runaway", h.runaway);
        add(key + ".hold_s", h.hold_s);
        add(key + ".ended_by", h.ended_by);
        add(key + ".hold_mean_C", h.hold_mean_C);
        add(key + ".hold_peak_C", h.hold_peak_C);
        add(key + ".motor_C", h.motor_C);
        if (asked) {
            add(key + ".pack_A_band", h.pack_A_band);
            add(key + ".rpm_band", h.rpm_band);
        }
        add(key + ".share_reached", h.share_reached);
        add(key + ".seconds_to_limit", h.seconds_to_limit);
        add(key + ".air_speed_mps", h.air_speed_mps);
        add(key + ".saturated", h.saturated);
        add(key + ".why", h.why);
    }
    void add(const std::string& key, const CheckGroup& g) {
        add(key + ".ok", g.ok);
        each(key + ".items", g.items, [&](const std::string& at, const CheckItem& i) {
            add(at + ".key", i.key);
            add(at + ".label", i.label);
            add(at + ".value", i.value);
            add(at + ".bound", i.bound);
            add_where_told(at + ".bound_high", i.bound_high);
            add(at + ".side", i.side);
            add(at + ".unit", i.unit);
            add(at + ".ok", i.ok);
            add(at + ".serious", i.serious);
            add(at + ".basis", i.basis);
        });
    }
    /// A key that is left out with its value.
    template <class T>
    void add_where_told(const std::string& key, const std::optional<T>& x) {
        if (x) {
            add(key, *x);
        }
    }
    template <class T, class F>
    void each(const std::string& key, const std::vector<T>& list, F&& one) {
        for (size_t i = 0; i < list.size(); ++i) {
            one(path_join(key, i), list[i]);
        }
    }
    const Leaves& leaves() const { return leaves_; }

 private:
    Leaves leaves_;
};

void expect_flight(Expected& e, const FlightReport& f) {
    e.add("flight.seconds", f.seconds);
    e.add("flight.ended_by", f.ended_by);
    e.add("flight.cool_down_s", f.cool_down_s);
    e.add("flight.governor_saturates", f.governor_saturates);
    e.add("flight.rotor_speed_reached", f.rotor_speed_reached);
    e.add("flight.limit_after_s", f.limit_after_s);
    e.each("flight.longest_holds", f.longest_holds, [&](const std::string& at, const auto& h) {
        e.add(at + ".throttle_pct", h.throttle_pct);
        e.add(at + ".seconds", h.seconds);
        e.add(at + ".peak_C", h.peak_C);
    });
    e.each("flight.series", f.series, [&](const std::string& at, const SeriesRow& row) {
        e.add(at + ".t_s", row.t_s);
        e.add(at + ".throttle_pct", row.throttle_pct);
        e.add(at + ".board_C", row.board_C);
        e.add(at + ".junction_C", row.junction_C);
        e.add(at + ".pack_V", row.pack_V);
        e.add(at + ".pack_A", row.pack_A);
        e.add(at + ".motor_A", row.motor_A);
        e.add(at + ".motor_C", row.motor_C);
        e.add(at + ".charge_pct", row.charge_pct);
    });
}

void expect_pwm(Expected& e, const PwmReport& p) {
    e.each("pwm.choices", p.choices, [&](const std::string& at, const PwmChoice& c) {
        e.add(at + ".pwm_Hz", c.pwm_Hz);
        e.add(at + ".esc_peak_C", c.esc_peak_C);
        e.add(at + ".runaway", c.runaway);
        e.add(at + ".motor_ripple_pct", c.motor_ripple_pct);
        e.add(at + ".esc_loss_W", c.esc_loss_W);
        e.add(at + ".motor_ripple_loss_W", c.motor_ripple_loss_W);
        e.add(at + ".total_loss_W", c.total_loss_W);
        e.add(at + ".capacitor_rms_A", c.capacitor_rms_A);
        e.add(at + ".resonance_ratio", c.resonance_ratio);
        e.add(at + ".flight_s", c.flight_s);
        e.add(at + ".chance_best", c.chance_best);
        e.add_where_told(at + ".esc_peak_band_C", c.esc_peak_band_C);
    });
    e.add("pwm.recommended_Hz", p.recommended_Hz);
    e.add("pwm.text", p.text);
}

void expect_changes(Expected& e, const std::vector<Change>& changes) {
    e.each("changes", changes, [&](const std::string& at, const Change& c) {
        e.add(at + ".id", c.id);
        e.add(at + ".text", c.text);
        e.add(at + ".esc_peak_change_K", c.esc_peak_change_K);
        e.add(at + ".flight_change_s", c.flight_change_s);
        e.add(at + ".cost", c.cost);
        e.add(at + ".chance_helps", c.chance_helps);
        e.add_where_told(at + ".esc_peak_change_band_K", c.esc_peak_change_band_K);
        e.add_where_told(at + ".keeps_limit", c.keeps_limit);
        e.each(at + ".ids", c.ids,
               [&](const std::string& id_at, const std::string& id) { e.add(id_at, id); });
        e.add(at + ".patch.esc.rating_A", c.changed.esc.rating_A);
        e.add(at + ".patch.esc.limit_C", std::optional<double>());
    });
}

void expect_learned(Expected& e, const Learned& l) {
    e.add("learned.rows", l.rows);
    e.add("learned.text", l.text);
    e.each("learned.fit", l.fit, [&](const std::string& at, const RowFit& f) {
        e.add(at + ".row", f.row);
        e.add(at + ".hold_mean_C", f.hold_mean_C);
        e.add(at + ".hold_peak_C", f.hold_peak_C);
        e.add(at + ".steady_C", f.steady_C);
        e.add(at + ".share_reached", f.share_reached);
        e.add(at + ".hold_s", f.hold_s);
        e.add(at + ".air_speed_mps", f.air_speed_mps);
        e.add(at + ".motor_A", f.motor_A);
        e.add(at + ".trace_rms_K", f.trace_rms_K);
    });
    e.each("learned.misfit", l.misfit, [&](const std::string& at, const Misfit& m) {
        e.add(at + ".row", m.row);
        e.add(at + ".off_K", m.off_K);
        e.add(at + ".text", m.text);
    });
    e.add("learned.widened", l.widened);
    e.add("learned.apart", l.apart);
    e.add("learned.chance_active", l.chance_active);
    e.each("learned.parameters", l.parameters, [&](const std::string& at, const auto& p) {
        e.add(at + ".key", p.key);
        e.add(at + ".prior[0]", p.prior[0]);
        e.add(at + ".prior[1]", p.prior[1]);
        e.add(at + ".posterior[0]", p.posterior[0]);
        e.add(at + ".posterior[1]", p.posterior[1]);
    });
    if (!l.next_run) {
        e.add("learned.next_run", std::optional<double>());
        return;
    }
    e.add("learned.next_run.throttle_pct", l.next_run->throttle_pct);
    e.add("learned.next_run.pwm_Hz", l.next_run->pwm_Hz);
    e.add("learned.next_run.band_before_K", l.next_run->band_before_K);
    e.add("learned.next_run.band_after_K", l.next_run->band_after_K);
    e.add("learned.next_run.text", l.next_run->text);
}

void expect_reach(Expected& e, const Report& r) {
    if (!r.hover) {
        e.add("hover", std::optional<double>());
        e.add("limits", std::optional<double>());
        return;
    }
    e.add("hover.seconds", r.hover->seconds);
    e.add("hover.land_by_s", r.hover->land_by_s);
    e.add("hover.ended_by", "limit");
    e.add("hover.text", r.hover->text);
    e.add("limits.warmest_air_C", r.limits->warmest_air_C);
    e.add("limits.highest_field_m", r.limits->highest_field_m);
    e.add("limits.longest_flight_s", r.limits->longest_flight_s);
    e.add("limits.most_full_throttle_A", r.limits->most_full_throttle_A);
    e.add("limits.smallest_esc_A", r.limits->smallest_esc_A);
    e.add("limits.text", r.limits->text);
    e.add("untold_current.key", r.untold_current->key);
    e.add("untold_current.pack_A", r.untold_current->pack_A);
    e.add("untold_current.band_before_K", r.untold_current->band_before_K);
    e.add("untold_current.band_after_K", r.untold_current->band_after_K);
    e.add("untold_current.text", r.untold_current->text);
}

Leaves expected_of(const Report& r) {
    Expected e;
    e.add("hotband", 1);
    e.add("samples", r.samples);
    e.add("verdict.level", r.verdict.level);
    e.add("verdict.headline", r.verdict.headline);
    e.each("verdict.reasons", r.verdict.reasons, [&](const std::string& at, const Reason& reason) {
        e.add(at + ".key", reason.key);
        e.add(at + ".level", reason.level);
        e.add(at + ".text", reason.text);
    });
    e.add("esc.peak_C", r.esc.peak_C);
    e.add("esc.junction_peak_C", r.esc.junction_peak_C);
    e.add("esc.limit_C", r.esc.limit_C);
    e.add("esc.margin_K", r.esc.margin_K);
    e.add("esc.chance_over_limit", r.esc.chance_over_limit);
    e.add("esc.runaway", r.esc.runaway);
    expect_flight(e, r.flight);
    e.each("holds", r.holds,
           [&](const std::string& at, const HoldReport& h) { e.add(at, h, false); });
    e.each("asked_holds", r.asked_holds,
           [&](const std::string& at, const HoldReport& h) { e.add(at, h, true); });
    e.each("bands", r.bands, [&](const std::string& at, const ThrottleBand& b) {
        e.add(at + ".from_pct", b.from_pct);
        e.add(at + ".to_pct", b.to_pct);
        e.add(at + ".hottest_pct", b.hottest_pct);
        e.add(at + ".level", b.level);
        e.add(at + ".runaway_from_pct", b.runaway_from_pct);
        e.add(at + ".text", b.text);
    });
    expect_pwm(e, r.pwm);
    expect_changes(e, r.changes);
    e.add("why", r.why);
    e.add("why_over_air.throttle_pct", r.why_over_air.throttle_pct);
    e.add("why_over_air.rise_K", r.why_over_air.rise_K);
    e.add("why_over_air.text", r.why_over_air.text);
    e.add("why_over_air.parts_K", r.why_over_air.parts);
    expect_reach(e, r);
    e.add("checks.rating", r.checks.rating);
    e.add("checks.pack", r.checks.pack);
    e.add("checks.capacitor", r.checks.capacitor);
    e.add("checks.supply", r.checks.supply);
    expect_learned(e, r.learned);
    e.each("assumptions", r.assumptions, [&](const std::string& at, const Assumption& a) {
        e.add(at + ".key", a.key);
        e.add(at + ".value", a.value);
        e.add(at + ".low", a.low);
        e.add(at + ".high", a.high);
        e.add(at + ".told", a.told);
        e.add(at + ".basis", a.basis);
    });
    e.each("cautions", r.cautions,
           [&](const std::string& at, const std::string& c) { e.add(at, c); });
    return e.leaves();
}

/// Every value of a tree that holds no other, by its path.
void gather(const Json& json, const std::string& path, Leaves& out) {
    if (const auto* object = json.as<JsonObject>()) {
        for (const JsonMember& m : *object) {
            gather(m.value, path_join(path, m.key), out);
        }
    } else if (const auto* list = json.as<JsonList>()) {
        for (size_t i = 0; i < list->size(); ++i) {
            gather((*list)[i], path_join(path, i), out);
        }
    } else {
        out[path] = json;
    }
}

/// Two setups: the second's ESC is another and its limit, told in the first, no longer told.
std::pair<Setup, Setup> before_and_after() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 5000;
    s.esc.rating_A = 60;
    s.esc.pwm_Hz = 16000;
    s.esc.limit_C = 90;
    s.load.full_throttle_A = 50;
    Setup changed = s;
    changed.esc.rating_A = 80;
    changed.esc.limit_C = 100;
    return {s, changed};
}

}  // namespace

TEST_CASE("report json: each key holds its own member, and there is none beside these") {
    const auto [before, after] = before_and_after();
    // Everything told and nothing that need not be; each flag both ways.
    for (const bool told : {true, false}) {
        for (const bool first_flag : {true, false}) {
            const Report r = report_by(Pen(first_flag, told), after);
            Problems problems;
            const std::optional<Json> json = parse_json(report_to_json(r, before), problems);
            REQUIRE(json);
            CHECK(problems.empty());
            Leaves there;
            gather(*json, "", there);
            const Leaves expected = expected_of(r);
            for (const auto& [key, value] : expected) {
                INFO(key << ": " << write_json(value));
                REQUIRE(there.count(key) == 1);
                CHECK(write_json(there.at(key)) == write_json(value));
            }
            for (const auto& [key, value] : there) {
                INFO(key << " is not listed");
                CHECK(expected.count(key) == 1);
            }
            // Else two exchanged members would not show.
            std::set<double> numbers;
            for (const auto& [key, value] : expected) {
                const bool of_a_patch = key.find(".patch.") != std::string::npos;
                if (const double* x = value.as<double>(); x != nullptr && !of_a_patch) {
                    INFO(key);
                    CHECK(numbers.insert(*x).second);
                }
            }
        }
    }
}

TEST_CASE("report json: a hover's end by its name") {
    using Named = std::pair<HoverEnd, const char*>;
    for (const auto& [end, word] :
         {Named{HoverEnd::reserve, "reserve"}, Named{HoverEnd::sag, "sag"},
          Named{HoverEnd::limit, "limit"}, Named{HoverEnd::runaway, "runaway"}}) {
        Report r;
        r.hover = {300, 240, end, ""};
        Problems problems;
        const std::optional<Json> json = parse_json(report_to_json(r, Setup{}), problems);
        REQUIRE(json);
        const Json* said = find(*json, "hover.ended_by");
        REQUIRE(said != nullptr);
        CHECK(*said == Json(std::string(word)));
    }
}

TEST_CASE("report json: a middle that runs away is null, and open at both ends") {
    Report r;
    r.esc.peak_C = {{}, std::numeric_limits<double>::quiet_NaN(), {}};
    Problems problems;
    const std::optional<Json> json = parse_json(report_to_json(r, Setup{}), problems);
    REQUIRE(json);
    for (const char* key : {"esc.peak_C.p10", "esc.peak_C.p50", "esc.peak_C.p90"}) {
        const Json* there = find(*json, key);
        REQUIRE(there != nullptr);
        CHECK(there->is_null());
    }
}
