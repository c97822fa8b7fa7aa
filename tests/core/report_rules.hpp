// What must hold of the report on any accepted setup, each rule by its name. None of them knows how
// a figure came about: they are the contract's, and what no drive on earth can do.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <map>
#include <numeric>
#include <string>
#include <string_view>
#include <vector>

#include "advise/advise.hpp"
#include "advise/rooms.hpp"
#include "physics/motor.hpp"
#include "plant/plant.hpp"
#include "report/to_json.hpp"
#include "setup/json.hpp"

namespace hotband::test {

struct BrokenRule {
    std::string rule, what;
};

class ReportRules {
 public:
    ReportRules(const Setup& s, const Report& r) : s_(s), r_(r) {
        check_json();
        check_bands();
        check_temperatures();
        check_flight();
        check_holds();
        check_energy();
        check_why();
        check_verdict();
        check_choices();
        check_chances();
    }

    const std::vector<BrokenRule>& broken() const { return broken_; }

 private:
    void require(bool holds, const char* rule, const std::string& where,
                 std::initializer_list<double> figures = {}) {
        if (holds) {
            return;
        }
        std::string what = where;
        for (const double x : figures) {
            what += ' ' + (std::isfinite(x) ? number_text(x) : std::string("none"));
        }
        broken_.push_back({rule, what});
    }

    static std::string at(const char* list, size_t i) {
        return std::string(list) + "[" + std::to_string(i) + "]";
    }

    bool drawn() const { return r_.samples > 0; }
    bool learned() const {
        return !s_.measured.empty() ||
               std::any_of(s_.load.points.begin(), s_.load.points.end(),
                           [](const ThrottlePoint& point) { return point.rpm.has_value(); });
    }
    bool some_run_away() const {
        return r_.esc.runaway || r_.esc.chance_over_limit.value_or(0) > 0;
    }

    // Every number is one, but where the contract has a null; every sentence speaks of numbers.
    void check_json() {
        const std::string text = report_to_json(r_, s_);
        Problems problems;
        const auto json = parse_json(text, problems);
        require(json && problems.empty(), "the report is strict JSON", "");
        if (json) {
            walk(*json, "");
        }
    }

    bool may_be_null(std::string_view path) const {
        static const std::vector<std::string_view> always = {
            "flight.cool_down_s", "flight.limit_after_s", "holds[].steady_C",
            "holds[].share_reached", "holds[].seconds_to_limit", "asked_holds[].steady_C",
            "asked_holds[].share_reached", "asked_holds[].seconds_to_limit",
            "bands[].runaway_from_pct", "changes[].esc_peak_change_K", "hover", "limits",
            "limits.warmest_air_C", "limits.highest_field_m", "limits.longest_flight_s",
            "limits.most_full_throttle_A", "limits.smallest_esc_A", "learned.chance_active",
            "learned.next_run", "learned.fit[].steady_C", "learned.fit[].share_reached",
            "learned.fit[].trace_rms_K",
            // of what runs away, which their own rules look at
            "holds[].hold_peak_C.p10", "holds[].hold_peak_C.p50", "holds[].hold_peak_C.p90",
            "asked_holds[].hold_peak_C.p10", "asked_holds[].hold_peak_C.p50",
            "asked_holds[].hold_peak_C.p90", "pwm.choices[].esc_peak_C",
            "pwm.choices[].esc_peak_band_C.p10", "pwm.choices[].esc_peak_band_C.p50",
            "pwm.choices[].esc_peak_band_C.p90", "changes[].esc_peak_change_band_K.p10",
            "changes[].esc_peak_change_band_K.p50", "changes[].esc_peak_change_band_K.p90",
            "flight.longest_holds[].peak_C", "untold_current.band_before_K",
            "untold_current.band_after_K", "learned.fit[].hold_mean_C",
            "learned.fit[].hold_peak_C"};
        static const std::vector<std::string_view> undrawn = {"esc.chance_over_limit",
                                                              "holds[].motor_C.p10",
                                                              "holds[].motor_C.p90",
                                                              "asked_holds[].motor_C.p10",
                                                              "asked_holds[].motor_C.p90",
                                                              "asked_holds[].pack_A_band.p10",
                                                              "asked_holds[].pack_A_band.p90",
                                                              "asked_holds[].rpm_band.p10",
                                                              "asked_holds[].rpm_band.p90",
                                                              "esc.peak_C.p10",
                                                              "esc.peak_C.p90",
                                                              "flight.series[].board_C.p10",
                                                              "flight.series[].board_C.p90",
                                                              "pwm.choices[].chance_best",
                                                              "changes[].chance_helps",
                                                              "untold_current.pack_A.p10",
                                                              "untold_current.pack_A.p90"};
        static const std::vector<std::string_view> run_away = {"esc.peak_C.p10",
                                                               "esc.peak_C.p90",
                                                               "flight.series[].board_C.p10",
                                                               "flight.series[].board_C.p50",
                                                               "flight.series[].board_C.p90",
                                                               "flight.series[].junction_C"};
        static const std::vector<std::string_view> ran_away = {
            "esc.peak_C.p50", "esc.junction_peak_C", "esc.margin_K"};
        const auto in = [&](const std::vector<std::string_view>& list) {
            return std::find(list.begin(), list.end(), path) != list.end();
        };
        const bool why = path.find("why.parts_K.") != path.npos ||
                         path.find("why.rise_over_full_K") != path.npos;
        return in(always) || (!drawn() && in(undrawn)) ||
               (drawn() && some_run_away() && in(run_away)) || (r_.esc.runaway && in(ran_away)) ||
               why || path.find(".patch.") != path.npos;
    }

    void walk(const Json& json, const std::string& path) {
        if (json.is_null()) {
            require(may_be_null(path), "null stands only where it says something", path);
        } else if (const auto* list = json.as<JsonList>()) {
            for (const Json& item : *list) {
                walk(item, path + "[]");
            }
        } else if (const auto* object = json.as<JsonObject>()) {
            for (const JsonMember& member : *object) {
                walk(member.value, path.empty() ? member.key : path + "." + member.key);
            }
        } else if (const auto* text = json.as<std::string>()) {
            if (path.find(".patch.") == path.npos) {
                check_sentence(*text, path);
            }
        }
    }

    void check_sentence(const std::string& text, const std::string& path) {
        std::string word;
        bool number = true;
        for (const char c : text + " ") {
            if (std::isalpha(static_cast<unsigned char>(c)) != 0) {
                word += c;
                continue;
            }
            number = number && word != "nan" && word != "inf";
            word.clear();
        }
        require(number, "sentences name numbers", path + ": " + text);
        // An ESC's figures have no more than six digits before the point.
        size_t digits = 0;
        size_t most = 0;
        bool fraction = false;
        for (const char c : text) {
            const bool digit = std::isdigit(static_cast<unsigned char>(c)) != 0;
            digits = digit ? digits + 1 : 0;
            fraction = c == '.' || (digit && fraction);
            most = std::max(most, fraction ? 0 : digits);
        }
        require(most <= 9, "sentences name numbers one can read", path + ": " + text);
    }

    void band(const Band& b, const std::string& where) {
        constexpr double none = 1e-9;
        const double low = b.p10.value_or(b.p50);
        const double high = b.p90.value_or(b.p50);
        const bool ordered = !std::isfinite(b.p50) || (low <= b.p50 + none && b.p50 <= high + none);
        require(ordered && !(low > high + none), "bands are ordered", where, {low, b.p50, high});
    }

    void check_bands() {
        band(r_.esc.peak_C, "esc.peak_C");
        for (size_t i = 0; i < r_.flight.series.size(); ++i) {
            band(r_.flight.series[i].board_C, at("flight.series", i));
        }
        for (const auto* holds : {&r_.holds, &r_.asked_holds}) {
            for (size_t i = 0; i < holds->size(); ++i) {
                const HoldReport& h = (*holds)[i];
                const std::string where = at(holds == &r_.holds ? "holds" : "asked_holds", i);
                band(h.hold_peak_C, where + ".hold_peak_C");
                band(h.motor_C, where + ".motor_C");
                band(h.pack_A_band, where + ".pack_A_band");
                band(h.rpm_band, where + ".rpm_band");
            }
        }
        for (size_t i = 0; i < r_.pwm.choices.size(); ++i) {
            band(r_.pwm.choices[i].esc_peak_band_C.value_or(Band{}), at("pwm.choices", i));
        }
        for (size_t i = 0; i < r_.changes.size(); ++i) {
            band(r_.changes[i].esc_peak_change_band_K.value_or(Band{}), at("changes", i));
        }
        if (r_.untold_current) {
            band(r_.untold_current->pack_A, "untold_current.pack_A");
        }
    }

    // The air is what was told within its spread.
    double coldest(double start_C) const {
        const double air_K = drawn() || learned() ? 3 : 1e-6;
        return std::min(s_.air.temperature_C, start_C) - air_K;
    }

    void temperature(double celsius, double least, const std::string& where) {
        if (!std::isfinite(celsius)) {
            return;  // whether it may be none is another rule's
        }
        require(celsius >= least, "nothing is colder than the air and the start", where,
                {celsius, least});
        require(celsius <= runaway_junction_C + 1e-6, "what is beyond silicon's end has run away",
                where, {celsius});
    }
    void temperatures(const Band& b, double least, const std::string& where) {
        temperature(b.p10.value_or(b.p50), least, where + ".p10");
        temperature(b.p50, least, where + ".p50");
        temperature(b.p90.value_or(b.p50), least, where + ".p90");
    }

    // Only a board that its own traces and capacitors heat by thousands of watts is ahead of its
    // junctions, by what they lag: half a second's rise.
    void no_colder(double junction_C, double board_C, double start_C, const std::string& where) {
        const double lag = std::clamp(0.5 / r_.flight.seconds, 0.2, 1.0);
        require(!(junction_C < board_C - 0.1 - lag * std::max(0.0, board_C - start_C)),
                "junctions are no colder than the board", where, {junction_C, board_C});
    }

    void check_temperatures() {
        const double esc = coldest(s_.flight.start_C.value_or(s_.air.temperature_C));
        const double air = coldest(s_.air.temperature_C);
        temperatures(r_.esc.peak_C, esc, "esc.peak_C");
        temperature(r_.esc.junction_peak_C, esc, "esc.junction_peak_C");
        double coldest_board = std::numeric_limits<double>::infinity();
        for (const SeriesRow& row : r_.flight.series) {
            coldest_board = std::min(coldest_board, row.board_C.p50);
        }
        for (size_t i = 0; i < r_.flight.series.size(); ++i) {
            const SeriesRow& row = r_.flight.series[i];
            // A junction gives its heat to the board alone: a board with heat of its own may be
            // ahead of it, but is somewhere as cold, be it between two rows of a long flight.
            constexpr double rounding_K = 0.1;
            require(!(row.junction_C < coldest_board - rounding_K),
                    "junctions are no colder than the board ever is", at("flight.series", i),
                    {row.junction_C, coldest_board});
            temperatures(row.board_C, esc, at("flight.series", i) + ".board_C");
            temperature(row.junction_C, esc, at("flight.series", i) + ".junction_C");
            temperature(row.motor_C, air, at("flight.series", i) + ".motor_C");
        }
        no_colder(r_.esc.junction_peak_C, r_.esc.peak_C.p50, esc, "esc");
        for (size_t i = 0; i < r_.flight.longest_holds.size(); ++i) {
            temperature(r_.flight.longest_holds[i].peak_C, esc, at("flight.longest_holds", i));
        }
        for (const auto* holds : {&r_.holds, &r_.asked_holds}) {
            for (size_t i = 0; i < holds->size(); ++i) {
                const HoldReport& h = (*holds)[i];
                const bool asked = holds == &r_.asked_holds;
                const std::string where = at(asked ? "asked_holds" : "holds", i);
                const double start = asked ? s_.ask_holds[i].start_C.value_or(s_.air.temperature_C)
                                           : s_.flight.start_C.value_or(s_.air.temperature_C);
                temperatures(h.hold_peak_C, coldest(start), where + ".hold_peak_C");
                temperature(h.hold_mean_C, coldest(start), where + ".hold_mean_C");
                temperature(h.steady_C.value_or(air), air, where + ".steady_C");
                temperatures(h.motor_C, air, where + ".motor_C");
                require(std::isfinite(h.hold_peak_C.p50) != h.runaway,
                        "a hold has a peak or runs away", where);
            }
        }
        for (size_t i = 0; i < r_.pwm.choices.size(); ++i) {
            const PwmChoice& c = r_.pwm.choices[i];
            temperature(c.esc_peak_C, esc, at("pwm.choices", i));
            temperatures(c.esc_peak_band_C.value_or(Band{{}, esc, {}}), esc,
                         at("pwm.choices", i) + ".band");
            require(std::isfinite(c.esc_peak_C) != c.runaway, "a frequency has a peak or runs away",
                    at("pwm.choices", i));
        }
        require(std::isfinite(r_.esc.peak_C.p50) != r_.esc.runaway,
                "a flight has a peak or runs away", "");
    }

    void not_negative(double x, const std::string& where) {
        constexpr double rounding = 1e-9;
        require(x >= -rounding && std::isfinite(x), "currents, powers and times are not negative",
                where, {x});
    }
    void share(double x, const std::string& where) {
        require(x >= 0 && x <= 1 + 1e-9, "shares lie between 0 and 1", where, {x});
    }

    void check_flight() {
        const FlightReport& f = r_.flight;
        not_negative(f.seconds, "flight.seconds");
        require(!f.series.empty(), "a flight has a series", "");
        const double full_V =
            s_.pack.cells * cell_type(s_.pack.chemistry).open_circuit_V.at(1) * 1.01;
        double before = 0;
        for (size_t i = 0; i < f.series.size(); ++i) {
            const SeriesRow& row = f.series[i];
            const std::string where = at("flight.series", i);
            require(row.t_s >= before && std::isfinite(row.t_s), "the series' times rise", where,
                    {before, row.t_s});
            before = row.t_s;
            not_negative(row.pack_A, where + ".pack_A");
            not_negative(row.motor_A, where + ".motor_A");
            require(row.throttle_pct >= 0 && row.throttle_pct <= 250, "throttles are in range",
                    where, {row.throttle_pct});
            require(row.charge_pct >= s_.pack.reserve_pct - 1e-3 &&
                        row.charge_pct <= s_.pack.start_pct + 1e-6,
                    "charge stays between start and reserve", where, {row.charge_pct});
            require(row.pack_V > 0 && row.pack_V <= full_V, "the pack's voltage is a pack's", where,
                    {row.pack_V});
        }
        require(std::abs(before - f.seconds) <= 1e-6 * (1 + f.seconds),
                "the series ends the flight", "", {before, f.seconds});
        const bool over = r_.esc.runaway || r_.esc.peak_C.p50 >= r_.esc.limit_C;
        require(f.limit_after_s.has_value() == over, "a limit that is passed is passed at a time",
                "flight.limit_after_s", {f.limit_after_s.value_or(-1), r_.esc.peak_C.p50});
        if (f.limit_after_s) {
            not_negative(*f.limit_after_s, "flight.limit_after_s");
        }
        if (f.cool_down_s) {
            not_negative(*f.cool_down_s, "flight.cool_down_s");
        }
        for (const LongestHold& h : f.longest_holds) {
            not_negative(h.seconds, "flight.longest_holds.seconds");
        }
        require(r_.esc.runaway == (f.ended_by == EndedBy::runaway), "a runaway ends the flight",
                "");
    }

    void check_holds() {
        double before = 0;
        bool full = false;
        for (size_t i = 0; i < r_.holds.size(); ++i) {
            const double pct = r_.holds[i].throttle_pct;
            require(pct > before && (before >= 100 || pct - before <= 5 + 1e-9),
                    "holds rise in steps of five at most", at("holds", i), {before, pct});
            full = full || pct == 100;
            before = pct;
        }
        require(full, "there is always a hold at 100 %", "");
        for (const auto* holds : {&r_.holds, &r_.asked_holds}) {
            for (size_t i = 0; i < holds->size(); ++i) {
                hold((*holds)[i], at(holds == &r_.holds ? "holds" : "asked_holds", i));
            }
        }
    }

    void hold(const HoldReport& h, const std::string& where) {
        share(h.duty, where + ".duty");
        share(h.esc_efficiency, where + ".esc_efficiency");
        share(h.motor_efficiency, where + ".motor_efficiency");
        share(h.system_efficiency, where + ".system_efficiency");
        not_negative(h.pack_A, where + ".pack_A");
        not_negative(h.motor_A, where + ".motor_A");
        not_negative(h.rpm, where + ".rpm");
        not_negative(h.hold_s, where + ".hold_s");
        not_negative(h.air_speed_mps, where + ".air_speed_mps");
        for (const auto& [name, watts] : losses_of(h.losses)) {
            not_negative(watts, where + ".losses_W." + name);
        }
        const bool over = h.runaway || h.hold_peak_C.p50 >= r_.esc.limit_C;
        require(h.seconds_to_limit.has_value() == over,
                "a limit that is passed is passed at a time", where,
                {h.seconds_to_limit.value_or(-1), h.hold_peak_C.p50});
        if (h.seconds_to_limit) {
            require(*h.seconds_to_limit >= 0 && *h.seconds_to_limit <= h.hold_s * (1 + 1e-9),
                    "a hold passes the limit while it lasts", where,
                    {*h.seconds_to_limit, h.hold_s});
        }
    }

    static std::vector<std::pair<const char*, double>> losses_of(const Losses& l) {
        std::vector<std::pair<const char*, double>> out;
        for (const LossTerm& term : loss_terms) {
            out.emplace_back(term.name, l.*term.watts);
        }
        return out;
    }

    // What leaves the pack goes into shaft, motor, ESC, receiver and leads: of a hold's figures,
    // system = ESC x motor, less what leads and receiver take.
    void check_energy() {
        for (const auto* holds : {&r_.holds, &r_.asked_holds}) {
            for (size_t i = 0; i < holds->size(); ++i) {
                const HoldReport& h = (*holds)[i];
                const double through = h.esc_efficiency * h.motor_efficiency;
                // The model's own error on the ESC's heat is none of the pack's.
                const double error =
                    s_.measured.empty() && !drawn() ? 1e-6 : 0.5 * (1 - h.esc_efficiency);
                require(h.system_efficiency <= through + error, "energy is not made",
                        at(holds == &r_.holds ? "holds" : "asked_holds", i),
                        {h.system_efficiency, h.esc_efficiency, h.motor_efficiency});
                require(h.esc_efficiency > 0 || h.losses.total() == 0 || h.system_efficiency < 1e-6,
                        "the ESC loses no more than it draws",
                        at(holds == &r_.holds ? "holds" : "asked_holds", i),
                        {h.losses.total(), h.pack_A, h.system_efficiency});
            }
        }
    }

    static std::array<double, 9> parts_of(const WhyParts& w) {
        return {w.conduction, w.freewheel, w.switching, w.commutation, w.capacitor,
                w.supply,     w.air,       w.run_time,  w.other};
    }

    void parts(const WhyParts& w, double rise, double size, const std::string& where) {
        const auto all = parts_of(w);
        const double sum = std::accumulate(all.begin(), all.end(), 0.0);
        require(std::abs(sum - rise) <= 1e-6 * (1 + size), "why's parts add up", where,
                {sum, rise});
        for (const double part : all) {
            // Air that one has and the other has not may be worth more than the two holds' rises.
            require(std::abs(part) <= 3 * size + 10, "why's parts are of the rise's size", where,
                    {part, rise, size});
        }
    }

    void check_why() {
        const auto full = std::find_if(r_.holds.begin(), r_.holds.end(),
                                       [](const HoldReport& h) { return h.throttle_pct == 100; });
        // how far it moves from the air, its start included
        const auto way = [&](const HoldReport& h, std::optional<double> start_C) {
            const double air = s_.air.temperature_C;
            return std::abs(h.hold_peak_C.p50 - air) + std::abs(start_C.value_or(air) - air);
        };
        for (const auto* holds : {&r_.holds, &r_.asked_holds}) {
            for (size_t i = 0; i < holds->size(); ++i) {
                const HoldReport& h = (*holds)[i];
                const std::string where =
                    at(holds == &r_.holds ? "holds" : "asked_holds", i) + ".why";
                if (std::isfinite(h.why.rise_over_full_K)) {
                    const std::optional<double> start_C =
                        holds == &r_.holds ? s_.flight.start_C : s_.ask_holds[i].start_C;
                    parts(h.why.parts, h.why.rise_over_full_K,
                          way(h, start_C) + way(*full, s_.flight.start_C), where);
                } else {
                    const auto all = parts_of(h.why.parts);
                    require(std::none_of(all.begin(), all.end(),
                                         [](double x) { return std::isfinite(x); }),
                            "a rise without a number has no parts", where);
                }
            }
        }
        // a start that is not the air's stands in `other`
        const double start_K =
            std::abs(s_.flight.start_C.value_or(s_.air.temperature_C) - s_.air.temperature_C);
        parts(r_.why_over_air.parts, r_.why_over_air.rise_K,
              std::abs(r_.why_over_air.rise_K) + start_K, "why_over_air");
    }

    void check_verdict() {
        bool failed = false;
        for (const CheckGroup* g :
             {&r_.checks.rating, &r_.checks.pack, &r_.checks.capacitor, &r_.checks.supply}) {
            for (const CheckItem& item : g->items) {
                failed = failed || !item.ok;
                require(std::isfinite(item.value) && std::isfinite(item.bound),
                        "checks have figures", item.key, {item.value, item.bound});
                require(g->ok || std::any_of(g->items.begin(), g->items.end(),
                                             [](const CheckItem& each) { return !each.ok; }),
                        "a group fails by one of its own", item.key);
            }
        }
        bool not_hold = false;
        for (const ThrottleBand& b : r_.bands) {
            not_hold = not_hold || b.text.find("do not hold") != b.text.npos;
            require(b.from_pct <= b.hottest_pct + 1e-9 && b.hottest_pct <= b.to_pct + 1e-9,
                    "a band holds its hottest throttle", "bands",
                    {b.from_pct, b.hottest_pct, b.to_pct});
        }
        const bool fine = r_.verdict.level == Level::fine;
        require(!fine || !failed, "fine never stands beside a failed check", r_.verdict.headline);
        require(!fine || !not_hold, "fine never stands beside do-not-hold", r_.verdict.headline);
        require(!fine || r_.esc.peak_C.p50 <= r_.esc.limit_C,
                "fine never stands beside a passed limit", r_.verdict.headline);
        require(fine == r_.verdict.reasons.empty(), "what is not fine has a reason", "");
        require(!r_.verdict.headline.empty(), "there is always a headline", "");
        require(!r_.esc.runaway || r_.verdict.level == Level::stop, "a runaway stops", "");
    }

    void check_choices() {
        double sum = 0;
        bool recommended = false;
        for (size_t i = 0; i < r_.pwm.choices.size(); ++i) {
            const PwmChoice& c = r_.pwm.choices[i];
            const std::string where = at("pwm.choices", i);
            for (const double x :
                 {c.motor_ripple_pct, c.esc_loss_W, c.motor_ripple_loss_W, c.total_loss_W,
                  c.capacitor_rms_A, c.resonance_ratio, c.flight_s}) {
                not_negative(x, where);
            }
            recommended = recommended || c.pwm_Hz == r_.pwm.recommended_Hz;
            sum += c.chance_best.value_or(0);
            share(c.chance_best.value_or(0), where + ".chance_best");
        }
        require(recommended || r_.pwm.choices.empty(), "what is recommended is a choice", "pwm");
        require(!drawn() || r_.pwm.choices.empty() || std::abs(sum - 1) < 1e-9,
                "the chances to be best add up to one", "pwm", {sum});
    }

    void check_chances() {
        share(r_.esc.chance_over_limit.value_or(0), "esc.chance_over_limit");
        for (size_t i = 0; i < r_.changes.size(); ++i) {
            share(r_.changes[i].chance_helps.value_or(0), at("changes", i));
        }
        share(r_.learned.chance_active.value_or(0), "learned.chance_active");
        if (r_.hover) {
            not_negative(r_.hover->land_by_s, "hover.land_by_s");
            require(r_.hover->land_by_s <= r_.hover->seconds + 1e-9,
                    "a hover is landed before it ends", "",
                    {r_.hover->land_by_s, r_.hover->seconds});
        }
    }

    const Setup& s_;
    const Report& r_;
    std::vector<BrokenRule> broken_;
};

inline std::vector<BrokenRule> broken_rules(const Setup& s, const Report& r) {
    return ReportRules(s, r).broken();
}

}  // namespace hotband::test
