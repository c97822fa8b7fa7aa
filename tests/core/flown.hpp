// A setup at its middle with its flight, and what is checked of it.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "advise/rooms.hpp"
#include "advise/trial.hpp"
#include "near.hpp"

namespace hotband::test {

struct Flown {
    Setup setup;
    Plant plant;
    FlightRun flight;

    explicit Flown(const Setup& s)
        : setup(s), plant(median_plant(s)), flight(run_flight(plant, s.flight)) {}
    Source fresh() const { return source_at(plant, 1, plant.pack.start_C, 50, 50); }
    Source spent() const {
        const Moment& last = flight.march.moments.back();
        return source_at(plant, last.charge, last.pack_C, 60, 60);
    }
    CheckItem item(CheckGroup Checks::*group, const std::string& key) const {
        const Checks all = run_checks(setup, plant, flight);
        const std::vector<CheckItem>& items = (all.*group).items;
        const auto found = std::find_if(items.begin(), items.end(),
                                        [&](const CheckItem& i) { return i.key == key; });
        INFO(key);
        REQUIRE(found != items.end());
        return *found;
    }
};

}  // namespace hotband::test
