// What could be changed about a setup? Each candidate is the setup changed, not yet flown.
#pragma once

#include <vector>

#include "advise/rooms.hpp"

namespace hotband {

/// What a change alters: two changes of the same are no pair.
enum class Altered {
    frequency,
    freewheel,
    esc,
    supply,
    air,
    sun,
    start,
    load,
    drive,
    pack,
    capacitors,
    leads,
    flight
};

struct Candidate {
    Altered altered = Altered::frequency;
    Change change;  // id, text, cost and the changed setup
};

/// The id of a change of frequency.
std::string pwm_id(double pwm_Hz);

/// A throttle (0..1) on the pack half way through the flight's charge.
Operating at_mid_pack(const Plant& p, double throttle);

/// How much more or less power (more than 5 %) the same throttle gives with another bridge, in
/// words, of the part of the flight where that is most; empty where it is as much, and of a rotor,
/// whose throttle is power.
std::string other_power_text(const Setup& s, const Plant& before, const Plant& after);

/// What there is to change about `s`, of which `p` is the middle plant and `checks` what is wrong.
/// `choices` are the frequencies to choose from.
std::vector<Candidate> find_candidates(const Setup& s, const Plant& p, const Checks& checks,
                                       const std::vector<PwmChoice>& choices);

}  // namespace hotband
