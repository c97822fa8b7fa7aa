// Medians and trimmed means; see robust.hpp.
#include "learn/robust.hpp"

#include <algorithm>

#include "physics/none.hpp"

namespace hotband {
double median_of(std::vector<double>& values) {
    if (values.empty()) {
        return none;
    }
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) {
        return *middle;
    }
    return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

double trimmed_mean(std::vector<double> values) {
    if (values.empty()) {
        return none;
    }
    std::sort(values.begin(), values.end());
    const size_t cut = values.size() / 20;
    double sum = 0;
    for (size_t i = cut; i < values.size() - cut; ++i) {
        sum += values[i];
    }
    return sum / static_cast<double>(values.size() - 2 * cut);
}

}  // namespace hotband
