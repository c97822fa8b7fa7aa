// What is believed of a current that nobody told; see untold.hpp.
#include "advise/untold.hpp"

#include <algorithm>
#include <cmath>

#include "advise/text.hpp"
#include "learn/sampling.hpp"

namespace hotband {

double fresh_current(const Plant& p) {
    const Source fresh = source_at(p, 1, p.pack.start_C, 50, 50);
    return operate(p, {.throttle = 1}, fresh).i_pack * p.pack.share;
}

bool is_current_untold(const Setup& s) {
    const LoadTold told = load_told(s);
    return told == LoadTold::size || told == LoadTold::nothing;
}

double fresh_current_spread(const Setup& s, const Plant& p, const Belief& belief) {
    const double middle = std::log(fresh_current(p));
    double variance = 0;
    for (size_t i = 0; i < belief.priors.size(); ++i) {
        const double sigma = belief.spread(i);
        if (belief.priors[i].spread == 0) {
            continue;
        }
        std::vector<double> z = belief.middle;
        z[i] += sigma;
        const double moved = std::log(fresh_current(fitted_plant(s, belief.priors, z))) - middle;
        variance += std::isfinite(moved) ? moved * moved : 0;
    }
    return std::sqrt(variance);
}

std::optional<UntoldCurrent> report_untold_current(const Setup& s, const Plant& p,
                                                   const Belief& belief, const Draws& draws,
                                                   Scale in) {
    if (!is_current_untold(s)) {
        return {};
    }
    const LoadTold told = load_told(s);
    const bool governed = s.load.kind == LoadKind::governed;
    UntoldCurrent out;
    out.key = governed ? "load.hover_A" : "load.full_throttle_A";
    out.pack_A.p50 = fresh_current(p);
    const double spread = fresh_current_spread(s, p, belief);
    out.pack_A.p10 = out.pack_A.p50 * std::exp(-z90 * spread);
    out.pack_A.p90 = out.pack_A.p50 * std::exp(z90 * spread);
    const char* from = told == LoadTold::size ? (governed ? "the mass and the rotor" : "the size")
                       : governed             ? "the ESC's rating"
                                              : "the ESC's rating and what pilots choose";
    const char* where = governed ? "in hover" : "at full throttle";
    if (draws.full_A.empty()) {
        out.text =
            say("About %.0f A %s by %s: the current is not told.", out.pack_A.p50, where, from);
        return out;
    }
    std::vector<double> amperes = draws.full_A;
    out.pack_A = {quantile(amperes, 1 - sure), quantile(amperes, 0.5), quantile(amperes, sure)};
    out.text = say("%.0f A %s by %s, anything from %.0f to %.0f: the current is not told.",
                   out.pack_A.p50, where, from, *out.pack_A.p10, *out.pack_A.p90);
    std::vector<double> peaks = peaks_of(draws.flight);
    const bool finite =
        std::all_of(peaks.begin(), peaks.end(), [](double peak) { return std::isfinite(peak); });
    if (!finite) {
        return out;
    }
    out.band_before_K = quantile(peaks, sure) - quantile(peaks, 1 - sure);
    out.band_after_K =
        *out.band_before_K * std::sqrt(unexplained_share(draws.full_A, peaks_of(draws.flight)));
    constexpr double useful_K = 1;
    if (*out.band_before_K - *out.band_after_K > useful_K) {
        out.text += say(" A reading of it would narrow the range of the peak from %s to about %s.",
                        difference(*out.band_before_K, in).c_str(),
                        difference(*out.band_after_K, in).c_str());
    }
    return out;
}

}  // namespace hotband
