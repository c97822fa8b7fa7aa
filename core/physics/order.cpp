// Insertion by halves; see order.hpp.
#include "physics/order.hpp"

#include <algorithm>

namespace hotband {

std::vector<size_t> in_order(size_t count, const std::function<bool(size_t, size_t)>& before) {
    std::vector<size_t> order;
    order.reserve(count);
    for (size_t i = 0; i < count; ++i) {
        order.insert(std::upper_bound(order.begin(), order.end(), i, before), i);
    }
    return order;
}

}  // namespace hotband
