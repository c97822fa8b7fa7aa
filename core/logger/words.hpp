// Which words of a heading are understood? Units as they are written, and names of columns in
// several languages. The page has the same (site/src/log/units.ts and roles.ts);
// tests/logs/words.json holds both to one list.
#pragma once

#include <array>
#include <string_view>

namespace hotband::logger {

/// A unit as it is written, in small letters, and ours.
struct Spelling {
    std::string_view word, unit;
};
inline constexpr Spelling spellings[] = {
    {"sec", "s"},      {"secs", "s"},          {"second", "s"},    {"seconds", "s"},
    {"sek", "s"},      {"sekunden", "s"},      {"ms", "ms"},       {"msec", "ms"},
    {"millis", "ms"},  {"milliseconds", "ms"}, {"us", "us"},       {"millisekunden", "ms"},
    {"\u00b5s", "us"}, {"\u03bcs", "us"},      {"usec", "us"},     {"microseconds", "us"},
    {"min", "min"},    {"mins", "min"},        {"minutes", "min"}, {"minuten", "min"},
    {"%", "pct"},      {"pct", "pct"},         {"percent", "pct"}, {"prozent", "pct"},
    {"\u00b0c", "C"},  {"\u00bac", "C"},       {"degc", "C"},      {"deg c", "C"},
    {"\u00b0", "C"},   {"celsius", "C"},       {"grad", "C"},      {"\u00b0f", "F"},
    {"\u00baf", "F"},  {"degf", "F"},          {"deg f", "F"},     {"fahrenheit", "F"},
    {"amp", "A"},      {"amps", "A"},          {"ampere", "A"},    {"amperes", "A"},
    {"ma", "mA"},      {"milliamps", "mA"},    {"volt", "V"},      {"volts", "V"},
    {"mv", "mV"},      {"millivolts", "mV"},   {"watt", "W"},      {"watts", "W"},
    {"mah", "mAh"},    {"rpm", "rpm"},         {"1/min", "rpm"},   {"u/min", "rpm"},
    {"hz", "Hz"},      {"khz", "Hz"},          {"m/s", "m/s"},     {"mps", "m/s"},
    {"km/h", "m/s"},   {"kph", "m/s"},         {"mph", "m/s"},     {"meter", "m"},
    {"metres", "m"},   {"meters", "m"}};

/// One letter is a unit only as it is written by the rules.
inline constexpr std::string_view unit_letters[] = {"s", "C", "F", "A", "V", "W", "m", "K", "g"};

/// Words parted by spaces, so that a table of them is constant data.
using WordList = std::string_view;

/// What tells that a column is of a role.
struct Sign {
    WordList words;  // of a name, in several languages, accents left out
    WordList units;
    WordList never;  // words that make it something else
};

/// Names of an ESC.
inline constexpr WordList esc_words =
    "esc regler controller speedcontroller steller fahrtregler fet fets mosfet board variateur "
    "controleur variador regolatore regelaar";

/// What tells each role, in the order of the roles.
inline constexpr std::array<Sign, 6> signs = {{
    {"time timestamp elapsed clock zeit uhrzeit temps tiempo tempo tijd tid seconds sekunden t "
     "date datum fecha",
     "s ms us min", "flight total remaining rest on air delay step delta"},
    {"throttle thr thro gas gaz acelerador manetta gashebel drossel gasknuppel acceleratore",
     "pct us", "rpm limit curve"},
    {"current curr amp amps ampere strom courant corriente i", "A mA",
     "bec servo rx charge limit phase max cell time"},
    {"voltage volt volts spannung tension voltaje tensione u", "V mV",
     "bec servo rx receiver cell zelle min lowest sensor"},
    {"temp tmp temperature temperatur temperatura templ", "C F",
     "motor moteur motore batt battery batterie bateria pack akku accu cell zelle rx receiver "
     "empfanger gps ambient air luft outside aussen cpu mcu baro bec servo sensor2"},
    {"rpm drehzahl revs revolutions motorspeed motordrehzahl regime toeren giri revoluciones",
     "rpm", "rotor head kopf electrical erpm max limit fan gps"},
}};

}  // namespace hotband::logger
