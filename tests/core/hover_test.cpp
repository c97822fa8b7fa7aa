// How long a hover lasts and what ends it, from hand-made draws.
#include <limits>

#include "advice.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double never = std::numeric_limits<double>::infinity();

Outcome ends(double seconds, EndedBy by, double limit_s = never) {
    Outcome o;
    o.seconds = seconds;
    o.ended_by = by;
    o.limit_s = limit_s;
    return o;
}

std::optional<Hover> hover_of(const std::vector<Outcome>& outcomes,
                              LoadKind kind = LoadKind::governed) {
    Setup s;
    s.load.kind = kind;
    Draws draws;
    draws.plants.resize(outcomes.size());
    draws.holds = {std::vector<Outcome>(outcomes.size()), outcomes};
    return find_hover(s, {hold_at(95, 50), hold_at(100, 60)}, draws);
}

}  // namespace

TEST_CASE("hover: nine draws in ten last until it is time to land, half until the middle") {
    std::vector<Outcome> outcomes;
    for (int i = 1; i <= 20; ++i) {
        outcomes.push_back(ends(100 + i, EndedBy::reserve));
    }
    const auto h = hover_of(outcomes);
    REQUIRE(h);
    CHECK(h->land_by_s == 103);  // eighteen of twenty last so long
    CHECK(h->seconds == 110.5);
    CHECK(h->ended_by == HoverEnd::reserve);
    CHECK(numbers_in(h->text) == std::vector<double>{103, 90, 111});
}

TEST_CASE("hover: what ends it is what ends most draws") {
    const Outcome reserve = ends(300, EndedBy::reserve);
    const Outcome sag = ends(250, EndedBy::sag);
    const Outcome runaway = ends(200, EndedBy::runaway);
    const Outcome hot = ends(300, EndedBy::reserve, 150);
    CHECK(hover_of({reserve, sag, sag})->ended_by == HoverEnd::sag);
    CHECK(hover_of({reserve, runaway, runaway})->ended_by == HoverEnd::runaway);
    CHECK(hover_of({hot, reserve, hot})->ended_by == HoverEnd::limit);
    CHECK(has(hover_of({sag})->text, "sag"));
    CHECK(has(hover_of({hot})->text, "limit"));
    CHECK(has(hover_of({runaway})->text, "running away"));
}

TEST_CASE("hover: what ends the shortest is told where it is not what ends most") {
    const Outcome reserve = ends(300, EndedBy::reserve);
    const Outcome hot = ends(400, EndedBy::reserve, 150);
    std::vector<Outcome> outcomes(9, reserve);
    outcomes.push_back(hot);
    // two of ten are the shortest fifth: the one that is hot, and one that is not
    CHECK_FALSE(has(hover_of(outcomes)->text, "sooner"));
    outcomes[3] = hot;
    const auto h = hover_of(outcomes);
    CHECK(h->ended_by == HoverEnd::reserve);
    CHECK(has(h->text, "with 90 % chance; sooner the ESC's limit ends it. "));
    CHECK(has(h->text, "in the middle; the pack's reserve ends it."));
}

TEST_CASE("hover: the limit ends it where it is passed before the pack or the runaway does") {
    CHECK(hover_of({ends(300, EndedBy::reserve, 299)})->seconds == 299);
    CHECK(hover_of({ends(300, EndedBy::reserve, 300)})->ended_by == HoverEnd::reserve);
    CHECK(hover_of({ends(300, EndedBy::runaway, 299)})->ended_by == HoverEnd::limit);
    CHECK(hover_of({ends(300, EndedBy::runaway, 300)})->ended_by == HoverEnd::runaway);
}

TEST_CASE("hover: none without draws, and none for a propeller") {
    CHECK_FALSE(hover_of({}));
    CHECK_FALSE(hover_of({ends(300, EndedBy::reserve)}, LoadKind::propeller));
    CHECK_FALSE(hover_of({ends(300, EndedBy::reserve)}, LoadKind::fan));
}
