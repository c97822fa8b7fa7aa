// Does a setup survive a share link whole, and is every damage to the link noticed?
#if __has_include(<catch2/catch.hpp>)
#include <catch2/catch.hpp>
#else
#include <catch2/catch_all.hpp>
#endif

#include <algorithm>
#include <array>
#include <cstdint>

#include "setup/link.hpp"
#include "setup_maker.hpp"

using namespace hotband;

namespace {

const std::string least_setup =
    R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":8000},)"
    R"("load":{"full_throttle_A":100},"flight":{"parts":[{"throttle_pct":60,"seconds":40}]}})";

Setup must_parse(std::string_view json_text) {
    const Result<Setup> result = parse_setup(json_text);
    REQUIRE(std::holds_alternative<Setup>(result));
    return std::get<Setup>(result);
}

std::string must_read(std::string_view link) {
    const Result<Setup> result = from_link(link);
    CAPTURE(link);
    REQUIRE(std::holds_alternative<Setup>(result));
    return setup_to_json(std::get<Setup>(result));
}

std::string line(std::string_view link) {
    const Result<Setup> result = from_link(link);
    REQUIRE(std::holds_alternative<Problems>(result));
    const Problems& problems = std::get<Problems>(result);
    REQUIRE(problems.size() == 1);
    return problems[0].path + ": " + problems[0].text;
}

const std::string damaged =
    "link: is damaged or cut off: its check sum does not fit; copy it again";
const std::string malformed = "link: is not in the form of a share link";

/// CRC-32 of ISO 3309 by long division, written here a second time so that links can be forged.
std::string sealed(std::string text) {
    text += '/';
    std::uint32_t remainder = 0xFFFFFFFF;
    for (const char c : text) {
        for (int bit = 0; bit < 8; ++bit) {
            const auto in = static_cast<std::uint32_t>(static_cast<unsigned char>(c) >> bit) & 1U;
            const std::uint32_t out = (remainder & 1U) ^ in;
            remainder = (remainder >> 1U) ^ (out * 0xEDB88320U);
        }
    }
    const char* const digits = "0123456789ABCDEF";
    for (int shift = 28; shift >= 0; shift -= 4) {
        text += digits[(~remainder >> shift) & 0xFU];
    }
    return text;
}

std::string body(const std::string& link) { return link.substr(0, link.size() - 9); }

}  // namespace

TEST_CASE("a link in full") {
    // The format is permanent: this text must open for ever. Its check sum is that of Python's
    // zlib.crc32.
    const std::string link = "HB3/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$/F6ADA14F";
    CHECK(to_link(must_parse(least_setup)) == link);
    CHECK(must_read(link) == least_setup);
    CHECK(sealed(body(link)) == link);
}

TEST_CASE("links of the first version mean what they meant") {
    // Made by the program as it was then (version 0.1.0 before the freewheel could be unknown).
    struct Old {
        const char* link;
        Freewheel freewheel;
        Drive drive;
    };
    const std::array<Old, 4> links = {{
        {"HB1/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$/093E9669", Freewheel::diode,
         Drive::six_step},
        {"HB1/NA4861797269636B2C207361696C706C616E65207769746820666F6C64696E672070726F70656C6C6572/"
         "PC3/PQ2200/PL12/PA3.3/ER40/EN4/EP8000/BK1/BA0.4/BM3/MK1050/MR32/MI1.1/LI34/LD27.9/AT24/"
         "AH180/AC2/AV10/FP:TH100/SE30/VF9:TH1/SE240$/CFFFFBFA",
         Freewheel::diode, Drive::six_step},
        {"HB1/NA4C6F6E67667572726F772C206C6F6E672D72616E67652077696E67/PC4/PQ3500/PP3/PK2/PR22/"
         "PE15/"
         "PL15/PA2.1/ER40/EN6/EP24000/EH:16000:24000:48000$/EF1/MK900/MR48/MI0.9/LI26/LD25.4/AT18/"
         "AH180/AC2/AV16/FK1/FP:TH100/SH2/VF12:TH75/SH13:TH58/SH85$/1E6D9C1E",
         Freewheel::active, Drive::six_step},
        {"HB1/NA53697870656E63652C207375727665792068657861636F70746572/PC6/PQ10000/PP2/PE25/PL45/"
         "PA2.1/ER40/EN6/EP24000/EH:16000:24000:32000$/EF1/ED1/MK270/MR95/MI0.5/MP28/MN6/LK2/LM6.8/"
         "LO0.41/LN6/LF0.65/AT28/AH180/AV6/AS1/FP:TH125/SE25/VF4:TH105/SE600/VF8:TH85/SE40/VF3$/"
         "B1251CCF",
         Freewheel::active, Drive::sinusoidal},
    }};
    for (const Old& old : links) {
        CAPTURE(old.link);
        const Result<Setup> read = from_link(old.link);
        REQUIRE(std::holds_alternative<Setup>(read));
        const Setup& s = std::get<Setup>(read);
        CHECK(s.esc.freewheel == old.freewheel);
        CHECK(s.esc.drive == old.drive);
        // Shared again it is a link of today, and still the same setup.
        const Result<Setup> again = from_link(to_link(s));
        REQUIRE(std::holds_alternative<Setup>(again));
        CHECK(setup_to_json(std::get<Setup>(again)) == setup_to_json(s));
        CHECK(to_link(s).rfind("HB3/", 0) == 0);
    }
    // A choice told then stands, and today's links leave out what nobody knows.
    CHECK(must_parse(least_setup).esc.freewheel == Freewheel::unknown);
    CHECK(to_link(must_parse(least_setup)).find("/EF") == std::string::npos);
}

TEST_CASE("links of the first two versions had fourteen poles and turned rotors directly") {
    const auto read = [](const std::string& text) {
        const Result<Setup> result = from_link(text);
        REQUIRE(std::holds_alternative<Setup>(result));
        return std::get<Setup>(result);
    };
    const std::string plane = "/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$";
    const std::string rotor = "/PC6/PQ5000/ER100/EP8000/LK2/LH30/LR2000/FP:TH100/SE40$";
    for (const char* version : {"HB1", "HB2"}) {
        CAPTURE(version);
        CHECK(read(sealed(version + plane)).motor.poles == 14);
        CHECK_FALSE(read(sealed(version + plane)).load.gear_ratio);
        CHECK(read(sealed(version + rotor)).load.gear_ratio == 1);
        CHECK(read(sealed(version + rotor + "/LG9/MP10")).load.gear_ratio == 9);
    }
    CHECK_FALSE(read(sealed("HB3" + plane)).motor.poles);
    CHECK_FALSE(read(sealed("HB3" + rotor)).load.gear_ratio);
    CHECK(read("HB2/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$/89643ADC").motor.poles == 14);
}

TEST_CASE("a link is taken as it comes: with its address, in lower case, with white space") {
    const std::string link = to_link(must_parse(least_setup));
    std::string lower = link;
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    CHECK(must_read("#" + link) == least_setup);
    CHECK(must_read("https://example.org/page/?a=b#" + link) == least_setup);
    CHECK(must_read(" \n\t" + link + "\r\n") == least_setup);
    CHECK(must_read(lower) == least_setup);
    CHECK(must_read(link.substr(0, 20) + "\r\n " + link.substr(20)) == least_setup);
}

TEST_CASE("a link holds only characters that a QR code packs and a fragment takes") {
    test::SetupMaker maker(7);
    for (int i = 0; i < 300; ++i) {
        const std::string link = to_link(must_parse(write_json(maker.make())));
        // ISO/IEC 18004 alphanumeric mode without space, `%` and the characters some readers of
        // addresses change; RFC 3986 section 3.5.
        CHECK(link.find_first_not_of("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ$-./:") == link.npos);
        CHECK(link.find_last_of("0123456789ABCDEF") == link.size() - 1);
    }
}

TEST_CASE("there and back by link, a setup is the same") {
    constexpr std::uint64_t seed = 20231105;
    test::SetupMaker maker(seed);
    for (int i = 0; i < test::tries(2000); ++i) {
        const std::string made = write_json(maker.make());
        CAPTURE(made);
        const Setup setup = must_parse(made);
        const std::string link = to_link(setup);
        REQUIRE(must_read(link) == setup_to_json(setup));
    }
}

TEST_CASE("any one character changed, lost, added or swapped is noticed") {
    test::SetupMaker maker(11);
    const std::string alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ$*+-./:";
    for (int round = 0; round < test::tries(5); ++round) {
        const std::string link = to_link(must_parse(write_json(maker.make())));
        for (size_t i = 0; i < link.size(); ++i) {
            std::string bad = link;
            bad.erase(i, 1);
            REQUIRE(std::holds_alternative<Problems>(from_link(bad)));
            for (const char c : alphabet) {
                bad = link;
                bad[i] = c;
                if (bad != link) {
                    REQUIRE(std::holds_alternative<Problems>(from_link(bad)));
                }
                bad = link;
                bad.insert(i, 1, c);
                REQUIRE(std::holds_alternative<Problems>(from_link(bad)));
            }
            bad = link;
            if (i > 0) {
                std::swap(bad[i], bad[i - 1]);
            }
            if (bad != link) {
                REQUIRE(std::holds_alternative<Problems>(from_link(bad)));
            }
        }
    }
}

TEST_CASE("no part of a link is a setup, and one line says so") {
    const std::string link = to_link(must_parse(least_setup));
    for (size_t length = 0; length < link.size(); ++length) {
        const std::string said = line(link.substr(0, length));
        CHECK(said == (length < 2 ? "link: is not a share link: one begins with HB" : damaged));
    }
}

TEST_CASE("a foreign text, a newer link and a forged one each have their line") {
    CHECK(line("") == "link: is not a share link: one begins with HB");
    CHECK(line("https://example.org/") == "link: is not a share link: one begins with HB");
    CHECK(line("HB1") == damaged);
    CHECK(line("HB1/PC6/PQ5000/00000000") == damaged);
    CHECK(line(sealed("HB4/AAA")) == "link: is of version \"4\", newer than this one reads, 3");
    CHECK(line(sealed("HB1/ZZ5/PC6")) ==
          "link: holds \"ZZ\", which this version does not know: it was made by a newer one");
    CHECK(line(sealed("HB1/PC6/PK9")) ==
          "link: holds a choice of pack.chemistry this version does not know: it was made by a "
          "newer one");
    for (const char* text :
         {"HB1/PC",     "HB1/PC6/PC6", "HB1/PC6X",   "HB1/PCNAN",    "HB1/PC[]", "HB1/PC6$",
          "HB1/PC6:",   "HB1/FP:TH5",  "HB1/FPTH5$", "HB1/FP:TH5$$", "HB1/NA4",  "HB1/NAGG",
          "HB1/NAC3",   "HB1/AS2",     "HB1/AS",     "HB1/PK",       "HB1/PK.5", "HB1/EH:8000",
          "HB1/EH8000", "HB1/PC6:5$",  "HB1/PC1E999"}) {
        CAPTURE(text);
        CHECK(line(sealed(text)) == malformed);
    }
}

TEST_CASE("a link passes the same checks as JSON") {
    const auto lines = [](const std::string& link) {
        std::vector<std::string> out;
        const Result<Setup> result = from_link(link);
        if (const Problems* problems = std::get_if<Problems>(&result)) {
            for (const Problem& p : *problems) {
                out.push_back(p.path + ": " + p.text);
            }
        }
        return out;
    };
    CHECK(lines(sealed("HB1/PC6/PQ5000/ER4000/EP8000/LI100/FP:TH60/SE40:TH120/SE1$")) ==
          std::vector<std::string>{
              "esc.rating_A: 4000 is above the most accepted, 600 A",
              "flight.parts[1].throttle_pct: 120 is above the most accepted, 100 % (more goes only "
              "with load.kind governed)"});
    CHECK(lines(sealed("HB1")).size() == 5);  // nothing told: what is required is missing
    CHECK(lines(sealed("HB1/")).size() == 5);
    CHECK(lines(sealed("HB1/PC6/PQ5000/ER100/EP8000/LI100/FP$")).size() == 1);
    CHECK(lines(sealed("HB1/PC6/PQ5000/ER100/EP8000/LI100/FP:$")).size() == 2);
    CHECK(
        lines(sealed("HB1/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$/ME:TR:1/2:3/4/5$$")).size() ==
        1);
    CHECK(lines(sealed("HB1/PC6/PQ5000/ER100/EP8000/LI100/FP:TH60/SE40$/NA410A42")).size() == 1);
}
