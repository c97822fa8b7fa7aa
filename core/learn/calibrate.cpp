// Levenberg-Marquardt on the priors' z; see calibrate.hpp.
#include "learn/calibrate.hpp"

#include <algorithm>
#include <cmath>

namespace hotband {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// A board sensor reads to 2 K and sits somewhere on the board; an infrared reading after landing is
// of the case and some seconds late (common practice, no source).
constexpr double board_sensor_K = 2.5;
constexpr double after_landing_K = 4;
// Neighbouring trace points err together: a whole trace weighs as much as this many readings.
constexpr double trace_weight = 6;
constexpr size_t most_trace_points = 24;

double interpolate_board(const March& m, double t) {
    const auto& all = m.moments;
    const auto next = std::lower_bound(all.begin(), all.end(), t,
                                       [](const Moment& a, double at) { return a.t < at; });
    if (next == all.begin()) {
        return all.front().heat.board;
    }
    if (next == all.end()) {
        return all.back().heat.board;
    }
    const Moment& b = *next;
    const Moment& a = *(next - 1);
    const double share = b.t > a.t ? (t - a.t) / (b.t - a.t) : 1;
    return a.heat.board + share * (b.heat.board - a.heat.board);
}

double read_off(const March& m, const Reading& r) {
    switch (r.kind) {
        case ReadingKind::mean:
            return m.mean_board;
        case ReadingKind::peak:
            return m.peak_board;
        case ReadingKind::after:
            return m.moments.back().heat.board;
        case ReadingKind::trace:
            return interpolate_board(m, r.t);
    }
    return m.peak_board;
}

void add_row_readings(std::vector<Reading>& out, int index, const MeasuredRow& row) {
    const double sigma = row.sensor_K.value_or(board_sensor_K);
    if (!row.trace.empty()) {
        const size_t n = row.trace.size();
        const size_t take = std::min(n, most_trace_points);
        const double each =
            sigma * std::sqrt(std::max(1.0, static_cast<double>(take) / trace_weight));
        for (size_t i = 0; i < take; ++i) {
            const auto& [t, C] = row.trace[take == 1 ? 0 : i * (n - 1) / (take - 1)];
            out.push_back({index, ReadingKind::trace, t, C, each});
        }
        return;
    }
    if (row.esc_mean_C) {
        out.push_back({index, ReadingKind::mean, 0, *row.esc_mean_C, sigma});
    }
    if (row.esc_peak_C) {
        out.push_back({index, ReadingKind::peak, 0, *row.esc_peak_C, sigma});
    }
    if (row.esc_after_C) {
        out.push_back({index, ReadingKind::after, 0, *row.esc_after_C,
                       row.sensor_K.value_or(after_landing_K)});
    }
}

// One least-squares state: residuals stacked readings first, then the prior's.
struct Problem {
    const Setup& setup;
    const std::vector<Prior>& priors;
    const std::vector<Reading>& readings;
    double widened;

    VectorXd standardised(const VectorXd& z) const {
        const std::vector<double> p =
            predict(setup, priors, readings, {z.data(), static_cast<size_t>(z.size())});
        VectorXd r(static_cast<Index>(readings.size()));
        for (Index i = 0; i < r.size(); ++i) {
            const Reading& reading = readings[static_cast<size_t>(i)];
            r(i) = (p[static_cast<size_t>(i)] - reading.measured) / (reading.sigma * widened);
        }
        return r;
    }

    MatrixXd jacobian(const VectorXd& z, const VectorXd& at) const {
        constexpr double step = 1e-3;  // of a prior's spread; the model is smooth to 1e-9
        MatrixXd J(at.size(), z.size());
        for (Index j = 0; j < z.size(); ++j) {
            if (priors[static_cast<size_t>(j)].spread == 0) {
                J.col(j).setZero();
                continue;
            }
            VectorXd moved = z;
            moved(j) += step;
            J.col(j) = (standardised(moved) - at) / step;
        }
        return J;
    }
};

double huber_cost(double u) {
    const double a = std::abs(u);
    return a <= huber_sigmas ? u * u : huber_sigmas * (2 * a - huber_sigmas);
}

double cost(const VectorXd& r, const VectorXd& z) {
    double sum = z.squaredNorm();
    for (const double u : r) {
        sum += huber_cost(u);
    }
    return sum;
}

struct Fit {
    VectorXd z, r;
    MatrixXd curvature;
    int iterations = 0;
    bool converged = false;
};

Fit minimise(const Problem& problem, VectorXd z) {
    constexpr int most_iterations = 30;
    constexpr double settled = 1e-7;  // relative fall of the cost
    Fit fit;
    VectorXd r = problem.standardised(z);
    double now = cost(r, z);
    double damping = 1e-3;
    const auto n = z.size();
    for (; fit.iterations < most_iterations && !fit.converged; ++fit.iterations) {
        const MatrixXd J = problem.jacobian(z, r);
        VectorXd w(r.size());
        std::transform(r.begin(), r.end(), w.begin(), huber_weight);
        fit.curvature = J.transpose() * w.asDiagonal() * J + MatrixXd::Identity(n, n);
        const VectorXd gradient = J.transpose() * w.cwiseProduct(r) + z;
        bool better = false;
        for (int tries = 0; tries < 8 && !better; ++tries) {
            MatrixXd damped = fit.curvature;
            damped.diagonal() *= 1 + damping;
            const VectorXd next = z - damped.ldlt().solve(gradient);
            const VectorXd next_r = problem.standardised(next);
            const double next_cost = cost(next_r, next);
            if (std::isfinite(next_cost) && next_cost <= now) {
                better = true;
                fit.converged = now - next_cost <= settled * (1 + now);
                z = next;
                r = next_r;
                now = next_cost;
                damping = std::max(1e-9, damping / 9);
            } else {
                damping *= 7;
            }
        }
        if (!better) {
            // No step falls any more: the minimum, to rounding.
            fit.converged = std::isfinite(now);
            break;
        }
    }
    // Curvature where the search ended, for the posterior.
    const MatrixXd J = problem.jacobian(z, r);
    VectorXd w(r.size());
    std::transform(r.begin(), r.end(), w.begin(), huber_weight);
    fit.curvature = J.transpose() * w.asDiagonal() * J + MatrixXd::Identity(n, n);
    fit.z = z;
    fit.r = r;
    return fit;
}

}  // namespace

double huber_weight(double standardised) {
    const double a = std::abs(standardised);
    return a <= huber_sigmas ? 1 : huber_sigmas / a;
}

BenchRun bench_of(const MeasuredRow& r) {
    return {.throttle = r.throttle_pct / 100,
            .pack_A = r.pack_A,
            .seconds = r.hold_s,
            .start_C = r.start_C,
            .air_C = r.air_C,
            .pwm_Hz = r.pwm_Hz,
            .speed_mps = r.flight_speed_mps};
}

std::vector<Reading> readings_of(const Setup& setup) {
    std::vector<Reading> out;
    for (size_t i = 0; i < setup.measured.size(); ++i) {
        add_row_readings(out, static_cast<int>(i), setup.measured[i]);
    }
    return out;
}

std::vector<double> predict(const Setup& setup, const std::vector<Prior>& priors,
                            const std::vector<Reading>& readings, std::span<const double> z) {
    const Plant p = fitted_plant(setup, priors, z);
    std::vector<double> out;
    int flown = -1;
    March march;
    for (const Reading& reading : readings) {
        if (reading.row != flown) {
            const MeasuredRow& row = setup.measured[static_cast<size_t>(reading.row)];
            if (row.kind == RowKind::flight) {
                Plant day = p;
                day.esc_start_C = row.start_C.value_or(p.esc_start_C);
                day.air.celsius = row.air_C.value_or(p.air.celsius);
                day.pwm = row.pwm_Hz.value_or(p.pwm);
                march = fly(day, plan_flight(day, setup.flight));
            } else {
                const BenchCase bench = bench_case(p, bench_of(row));
                march = fly_hold(bench.plant, bench.ask);
            }
            flown = reading.row;
        }
        out.push_back(read_off(march, reading));
    }
    return out;
}

Calibration calibrate(const Setup& setup) {
    Calibration out;
    out.belief = prior_belief(setup);
    out.readings = readings_of(setup);
    if (out.readings.empty()) {
        out.converged = true;
        return out;
    }
    const auto n = static_cast<Index>(out.belief.priors.size());
    Fit fit = minimise({setup, out.belief.priors, out.readings, 1}, VectorXd::Zero(n));
    out.iterations = fit.iterations;
    // Scatter beyond the sensors' own: every reading is taken as that much worse.
    const double scatter = std::sqrt(fit.r.squaredNorm() / static_cast<double>(fit.r.size()));
    constexpr double tolerated = 1.2;
    if (scatter > tolerated) {
        out.widened = scatter;
        fit = minimise({setup, out.belief.priors, out.readings, out.widened}, fit.z);
        out.iterations += fit.iterations;
    }
    out.converged = fit.converged;
    out.belief.middle.assign(fit.z.begin(), fit.z.end());
    const MatrixXd covariance = fit.curvature.ldlt().solve(MatrixXd::Identity(n, n));
    out.belief.factor = covariance.llt().matrixL();
    for (Index i = 0; i < fit.r.size(); ++i) {
        const Reading& reading = out.readings[static_cast<size_t>(i)];
        out.predicted.push_back(reading.measured + fit.r(i) * reading.sigma * out.widened);
    }
    return out;
}

}  // namespace hotband
