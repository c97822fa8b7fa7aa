// The cautions that go with every answer.
#include "advise/rooms.hpp"

namespace hotband {

std::vector<std::string> list_cautions(Scale in) {
    constexpr double burning_C = 60;  // metal that hurts at a touch
    return {
        "A prediction from estimates, not a measurement: check with a thermometer after a short "
        "first flight.",
        "The ESC maker's limits, the pack maker's instructions and local rules come before "
        "anything said here.",
        "Hot metal burns: above about " + degrees(burning_C, in) +
            " do not touch ESC, motor or heatsink after landing.",
        "Bench work: propeller off where it can be, model held fast, stay out of the disc's plane, "
        "connect the pack last.",
        "Lithium packs: no swollen or damaged packs, charge attended on a surface that does not "
        "burn, stop at the sag floor.",
    };
}

}  // namespace hotband
