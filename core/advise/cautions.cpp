// The cautions that go with every answer.
#include <algorithm>

#include "advise/rooms.hpp"

namespace hotband {

std::vector<std::string> list_cautions(const Report& r, Scale in) {
    constexpr double burning_C = 60;  // metal that hurts at a touch
    std::vector<std::string> out;
    const auto caution = [&](std::string text) { out.push_back(std::move(text)); };
    caution(
        "A prediction from estimates, not a measurement: check with a thermometer after a short "
        "first flight.");
    caution(
        "The ESC maker's limits, the pack maker's instructions and local rules come before "
        "anything said here.");
    caution("Hot metal burns: above about " + degrees(burning_C, in) +
            " do not touch ESC, motor or heatsink after landing.");
    caution(
        "Bench work: propeller off where it can be, model held fast, stay out of the disc's plane, "
        "connect the pack last.");
    caution(
        "Lithium packs: no swollen or damaged packs, charge attended on a surface that does not "
        "burn, stop at the sag floor.");
    double motor_C = 0;
    for (const SeriesRow& row : r.flight.series) {
        motor_C = std::max(motor_C, row.motor_C);
    }
    // Enamel of the usual kind and magnets of the usual grades (common practice, no source).
    constexpr double hot_winding_C = 120;
    if (motor_C > hot_winding_C) {
        caution("The motor's windings may reach about " + degrees(motor_C, in) +
                ", by a coarse model of an unknown motor: check with a thermometer after a short "
                "flight; its maker's limit counts.");
    }
    return out;
}

}  // namespace hotband
