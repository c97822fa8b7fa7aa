// Do few things come in their order, and equal ones as they were?
#include "physics/order.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include "near.hpp"
#include "random.hpp"

using namespace hotband;
using namespace hotband::test;

TEST_CASE("order: as the library sorts stably, whatever the lists") {
    Random r{7};
    for (int tries = 0; tries < 200; ++tries) {
        std::vector<int> values(static_cast<size_t>(tries));
        for (int& v : values) {
            v = static_cast<int>(r.uniform(0, 9));
        }
        std::vector<size_t> expected(values.size());
        for (size_t i = 0; i < expected.size(); ++i) {
            expected[i] = i;
        }
        const auto before = [&](size_t a, size_t b) { return values[a] < values[b]; };
        std::stable_sort(expected.begin(), expected.end(), before);
        CHECK(in_order(values.size(), before) == expected);
    }
    CHECK(in_order(0, [](size_t, size_t) { return true; }).empty());
}

TEST_CASE("order: what is not a number loses nothing") {
    const std::vector<double> values = {2, std::nan(""), 1, std::nan(""), 0};
    std::vector<size_t> order =
        in_order(5, [&](size_t a, size_t b) { return values[a] < values[b]; });
    std::sort(order.begin(), order.end());
    CHECK(order == std::vector<size_t>{0, 1, 2, 3, 4});
}

TEST_CASE("order: things are taken to their places") {
    std::vector<std::unique_ptr<int>> things;
    for (const int value : {10, 11, 12}) {
        things.push_back(std::make_unique<int>(value));
    }
    const auto out = taken(std::move(things), {2, 0, 1});
    REQUIRE(out.size() == 3);
    CHECK(*out[0] == 12);
    CHECK(*out[1] == 10);
    CHECK(*out[2] == 11);
}
