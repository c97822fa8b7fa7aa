// Setups as a practitioner would put them together, one of each usual class, and some that burn:
// what the checks and the verdict must tell apart. Sizes, currents and frequencies: common
// practice, no source; each is a model that flies at any club field.
#pragma once

#include <algorithm>
#include <array>
#include <string>
#include <string_view>

#include "setup/parse.hpp"

namespace hotband::test {

/// A setup told in few words: what hangs on the pack, the ESC and the load, and how it is flown.
struct Sketch {
    std::string_view name, pack, esc, motor, load, air, parts;
};

inline std::string text_of(const Sketch& k) {
    const auto group = [](std::string_view key, std::string_view inside) {
        return inside.empty() ? std::string()
                              : ",\"" + std::string(key) + "\":{" + std::string(inside) + "}";
    };
    std::string parts;
    for (size_t at = 0; at < k.parts.size();) {
        const size_t colon = k.parts.find(':', at);
        const size_t end = std::min(k.parts.find(' ', at), k.parts.size());
        parts += std::string(parts.empty() ? "" : ",") +
                 "{\"throttle_pct\":" + std::string(k.parts.substr(at, colon - at)) +
                 ",\"seconds\":" + std::string(k.parts.substr(colon + 1, end - colon - 1)) + "}";
        at = end + 1;
    }
    return "{\"hotband\":1,\"name\":\"" + std::string(k.name) + "\"" + group("pack", k.pack) +
           group("esc", k.esc) + group("motor", k.motor) + group("load", k.load) +
           group("air", k.air) + ",\"flight\":{\"parts\":[" + parts + "]}}";
}

inline Setup setup_of(const Sketch& k) { return std::get<Setup>(parse_setup(text_of(k))); }

#define PACK(cells, mAh) "\"cells\":" #cells ",\"capacity_mAh\":" #mAh
#define LIION(cells, mAh, cell_mOhm) \
    PACK(cells, mAh) ",\"chemistry\":\"liion\",\"cell_resistance_mOhm\":" #cell_mOhm
#define ESC(rating, pwm) "\"rating_A\":" #rating ",\"pwm_Hz\":" #pwm
#define ACTIVE ",\"freewheel\":\"active\""
#define DIODE ",\"freewheel\":\"diode\""
#define KV(kv, poles) "\"kv_rpm_per_V\":" #kv ",\"poles\":" #poles
#define PROP(full_A) "\"kind\":\"propeller\",\"full_throttle_A\":" #full_A
#define FAN(full_A) "\"kind\":\"fan\",\"full_throttle_A\":" #full_A
#define HELI(hover_A, rpm, gear) \
    "\"kind\":\"governed\",\"hover_A\":" #hover_A ",\"rotor_rpm\":" #rpm ",\"gear_ratio\":" #gear
#define MULTI(kg, m, rotors) \
    "\"kind\":\"governed\",\"mass_kg\":" #kg ",\"rotor_diameter_m\":" #m ",\"rotors\":" #rotors
#define AIR(celsius, cooling) "\"temperature_C\":" #celsius ",\"cooling\":\"" #cooling "\""

inline constexpr std::array<Sketch, 60> sane_setups = {{
    {"park flyer 2S", PACK(2, 800), ESC(12, 8000), KV(1500, 14), PROP(7), AIR(20, open),
     "60:30 100:5"},
    {"indoor 2S", PACK(2, 350), ESC(10, 8000), KV(1800, 12), PROP(6), AIR(20, open), "45:20 100:3"},
    {"foam trainer 3S", PACK(3, 2200), ESC(30, 8000), KV(1000, 14), PROP(22), AIR(25, vented),
     "60:40 100:8"},
    {"foam warbird 3S", PACK(3, 2200), ESC(40, 8000), KV(900, 14), PROP(32), AIR(22, vented),
     "65:40 100:8"},
    {"foam warbird 4S", PACK(4, 3000), ESC(60, 8000), KV(620, 14), PROP(46), AIR(25, vented),
     "60:40 100:10"},
    {"sport aerobat 4S", PACK(4, 3300), ESC(60, 16000), KV(770, 14), PROP(48), AIR(25, vented),
     "55:30 80:10 100:5"},
    {"profile 3D 3S", PACK(3, 2200), ESC(40, 16000), KV(1050, 14), PROP(28), AIR(25, open),
     "50:30 100:4"},
    {"3D aerobat 6S", PACK(6, 3300), ESC(80, 16000) ACTIVE, KV(525, 14), PROP(62), AIR(25, vented),
     "50:30 100:5"},
    {"precision aerobat 10S", PACK(10, 5000), ESC(100, 8000), KV(260, 28), PROP(72),
     AIR(22, vented), "55:40 100:8"},
    {"giant aerobat 12S", PACK(12, 5000), ESC(160, 8000), KV(195, 24), PROP(110), AIR(25, vented),
     "50:40 100:6"},
    {"giant scale 12S", PACK(12, 6000) ",\"lead_length_cm\":30", ESC(120, 8000), KV(190, 28),
     PROP(75), AIR(22, vented), "60:60 100:8"},
    {"tow plane 8S", PACK(8, 5000), ESC(120, 8000), KV(320, 14), PROP(80), AIR(24, vented),
     "100:60 20:60"},
    {"tow plane 12S", PACK(12, 8000), ESC(160, 8000), KV(170, 28), PROP(105), AIR(20, open),
     "100:70 15:70"},
    {"electric glider 3S", PACK(3, 2200), ESC(40, 8000), KV(1100, 14), PROP(30), AIR(20, closed),
     "100:20 2:180"},
    {"hotliner 4S", PACK(4, 2200), ESC(80, 8000), KV(1700, 4), PROP(60), AIR(20, closed),
     "100:6 2:90"},
    {"big glider 6S", PACK(6, 3300), ESC(100, 8000), KV(400, 14), PROP(70), AIR(22, vented),
     "100:25 2:240"},
    {"discus glider 2S", PACK(2, 450), ESC(20, 8000), KV(2000, 14), PROP(12), AIR(18, closed),
     "100:10 2:120"},
    {"pylon 4S", PACK(4, 1800), ESC(60, 16000), KV(2000, 4), PROP(45), AIR(25, vented),
     "80:20 100:10"},
    {"speed wing 4S", PACK(4, 2200), ESC(60, 16000), KV(1800, 14), PROP(48), AIR(22, vented),
     "70:20 100:8"},
    {"flying wing 3S", PACK(3, 2200), ESC(40, 16000), KV(1400, 14), PROP(28), AIR(25, open),
     "50:60 100:5"},
    {"long-range wing Li-ion", LIION(4, 14000, 8), ESC(40, 24000) ACTIVE, KV(900, 14), PROP(26),
     AIR(18, vented), "38:120 100:4"},
    {"camera plane 4S", PACK(4, 10000), ESC(60, 16000), KV(500, 14), PROP(36), AIR(20, vented),
     "45:120 100:6"},
    {"camera plane Li-ion 6S", LIION(6, 15000, 8), ESC(60, 16000) ACTIVE, KV(400, 14), PROP(30),
     AIR(25, vented), "50:120 90:10"},
    {"twin 4S", PACK(4, 4000), ESC(40, 8000), KV(900, 14) ",\"count\":2", PROP(56), AIR(22, vented),
     "55:60 100:8"},
    {"twin warbird 6S", PACK(6, 5000), ESC(60, 8000), KV(480, 14) ",\"count\":2", PROP(90),
     AIR(25, vented), "55:50 100:6"},
    {"four-engine transport 4S", PACK(4, 5000) ",\"lead_length_cm\":35", ESC(20, 8000),
     KV(1000, 14) ",\"count\":4", PROP(56), AIR(20, vented), "55:60 100:6"},
    {"seaplane 4S", PACK(4, 3300), ESC(60, 8000), KV(700, 14), PROP(42), AIR(20, closed),
     "55:40 100:8"},
    {"biplane 6S", PACK(6, 4000), ESC(80, 8000), KV(420, 14), PROP(55), AIR(23, vented),
     "55:40 100:6"},
    {"old-timer 3S", PACK(3, 3300), ESC(40, 8000), KV(750, 14), PROP(24), AIR(20, vented),
     "45:60 80:10"},
    {"fan jet 64 mm 4S", PACK(4, 2200), ESC(60, 16000), KV(3300, 6), FAN(44), AIR(22, vented),
     "75:30 100:6"},
    {"fan jet 70 mm 6S", PACK(6, 3300), ESC(80, 16000), KV(2100, 6), FAN(58), AIR(22, vented),
     "75:30 100:8"},
    {"fan jet 90 mm 6S", PACK(6, 5000), ESC(120, 16000), KV(1700, 6), FAN(92), AIR(22, vented),
     "70:30 100:8"},
    {"fan jet 90 mm 8S", PACK(8, 5000), ESC(130, 16000), KV(1450, 6), FAN(95), AIR(22, vented),
     "70:30 100:8"},
    {"fan jet 120 mm 12S", PACK(12, 5800), ESC(160, 16000), KV(750, 8), FAN(115), AIR(20, vented),
     "65:30 100:8"},
    {"heli 450 class 3S", PACK(3, 2200), ESC(40, 16000) ACTIVE, KV(3500, 6), HELI(13, 2300, 11.3),
     AIR(22, open), "100:60 150:5"},
    {"heli 450 class 6S", PACK(6, 1800), ESC(60, 16000) ACTIVE, KV(1800, 6), HELI(7, 2400, 13),
     AIR(22, open), "100:60 150:6"},
    {"heli 500 class 6S", PACK(6, 3300), ESC(80, 16000) ACTIVE, KV(1600, 10), HELI(14, 2200, 12.5),
     AIR(24, open), "100:60 160:6"},
    {"heli 600 class 6S", PACK(6, 5000), ESC(120, 16000) ACTIVE, KV(1100, 10), HELI(19, 1800, 10.5),
     AIR(24, open), "100:60 150:8"},
    {"heli 600 class 12S", PACK(12, 4000), ESC(100, 16000) ACTIVE, KV(600, 10), HELI(11, 1900, 11),
     AIR(24, open), "100:60 170:6"},
    {"heli 700 class 12S", PACK(12, 5000), ESC(130, 16000) ACTIVE, KV(530, 10), HELI(14, 1900, 9.5),
     AIR(24, open), "100:60 180:6"},
    {"scale heli 6S", PACK(6, 5000), ESC(80, 8000) ACTIVE, KV(1000, 10), HELI(16, 1300, 12.5),
     AIR(20, closed), "100:120 120:10"},
    {"racing quad 4S", PACK(4, 1500), ESC(35, 24000) ACTIVE, KV(2400, 14) ",\"count\":4",
     MULTI(0.55, 0.127, 4), AIR(20, open), "100:20 180:10"},
    {"racing quad 6S", PACK(6, 1300), ESC(45, 24000) ACTIVE, KV(1750, 14) ",\"count\":4",
     MULTI(0.65, 0.127, 4), AIR(20, open), "100:20 180:10"},
    {"camera quad 4S", PACK(4, 5000), ESC(30, 24000) ACTIVE, KV(900, 14) ",\"count\":4",
     MULTI(1.6, 0.254, 4), AIR(22, open), "100:120 140:10"},
    {"long-range quad Li-ion", LIION(6, 8400, 10), ESC(35, 24000) ACTIVE,
     KV(1300, 14) ",\"count\":4", MULTI(1.0, 0.178, 4), AIR(18, open), "100:120 130:10"},
    {"survey hexa 6S", PACK(6, 16000), ESC(40, 24000) ACTIVE, KV(380, 28) ",\"count\":6",
     MULTI(6.5, 0.381, 6), AIR(22, open), "100:120 130:10"},
    {"lift octo 12S", PACK(12, 22000) ",\"lead_length_cm\":40", ESC(60, 16000) ACTIVE,
     KV(150, 36) ",\"count\":8", MULTI(20, 0.61, 8), AIR(22, open), "100:120 120:10"},
    {"pusher jet foam 4S", PACK(4, 2600), ESC(60, 16000), KV(1500, 14), PROP(44), AIR(30, vented),
     "65:30 100:6"},
    {"summer field trainer", PACK(4, 4000), ESC(60, 8000), KV(600, 14), PROP(42), AIR(34, vented),
     "55:60 100:6"},
    {"winter field trainer", PACK(4, 4000) ",\"temperature_C\":20", ESC(60, 8000), KV(600, 14),
     PROP(42), AIR(0, vented), "60:60 100:6"},
    {"mountain glider", PACK(4, 3300), ESC(60, 8000), KV(850, 14), PROP(44),
     AIR(15, vented) ",\"altitude_m\":1800", "100:20 2:200"},
    {"hard 3D 4S", PACK(4, 2200), ESC(80, 16000) ACTIVE, KV(850, 14), PROP(75), AIR(25, vented),
     "55:20 100:6"},
    {"hard 3D 6S", PACK(6, 3000), ESC(120, 16000) ",\"capacitor_uF\":660", KV(550, 14), PROP(105),
     AIR(28, vented), "55:20 100:5"},
    {"speed model 6S", PACK(6, 2600), ESC(100, 8000) ",\"capacitor_uF\":990", KV(1000, 6), PROP(90),
     AIR(22, vented), "60:20 100:8"},
    {"ESC just large enough", PACK(4, 3300), ESC(50, 8000) ",\"capacitor_uF\":330", KV(750, 14),
     PROP(48), AIR(22, open), "60:30 100:5"},
    {"ESC behind long leads", PACK(6, 5000) ",\"lead_length_cm\":35",
     ESC(80, 8000) ",\"capacitor_uF\":820", KV(480, 14), PROP(55), AIR(20, vented), "55:40 100:6"},
    {"good pack told", PACK(6, 5000) ",\"cell_resistance_mOhm\":1.6", ESC(100, 8000), KV(450, 14),
     PROP(85), AIR(22, vented), "60:30 100:8"},
    {"sinusoidal quad", PACK(6, 10000), ESC(40, 24000) ",\"drive\":\"sinusoidal\"" ACTIVE,
     KV(400, 24) ",\"count\":4", MULTI(4.2, 0.43, 4), AIR(22, open), "100:120 125:10"},
    {"boat-tail pusher 3S", PACK(3, 1300), ESC(30, 8000) ",\"capacitor_uF\":220", KV(2200, 12),
     PROP(26), AIR(24, vented), "60:20 100:6"},
    {"LiFePO4 trainer", PACK(5, 4200) ",\"chemistry\":\"lifepo4\"", ESC(60, 8000), KV(700, 14),
     PROP(38), AIR(22, vented), "55:60 100:6"},
}};

/// Setups that no careful pilot flies. What makes each burn stands in its name.
inline constexpr std::array<Sketch, 12> burning_setups = {{
    {"twice its rating at full throttle", PACK(6, 5000), ESC(50, 16000), KV(500, 14), PROP(100),
     AIR(30, closed), "80:60 100:20"},
    {"twelve cells on a six-cell ESC", PACK(12, 5000), ESC(120, 8000) ",\"cells_max\":6",
     KV(190, 28), PROP(70), AIR(20, vented), "60:60 100:8"},
    {"held at 85 % in a closed bay", PACK(6, 8000), ESC(60, 24000) DIODE, KV(500, 14), PROP(60),
     AIR(35, closed), "85:400"},
    {"servos overload the linear supply", PACK(6, 3300),
     ESC(60, 8000) ",\"bec_kind\":\"linear\",\"bec_V\":5,\"bec_A\":1.8,\"bec_max_A\":2",
     KV(500, 14), PROP(45), AIR(25, vented), "55:40 100:8"},
    {"average servo current over the supply's rating", PACK(6, 3300),
     ESC(60, 8000) ",\"bec_kind\":\"switching\",\"bec_V\":6,\"bec_A\":6,\"bec_max_A\":5",
     KV(500, 14), PROP(45), AIR(25, vented), "55:40 100:8"},
    {"sixty times its capacity from a small pack", PACK(4, 1000) ",\"cell_resistance_mOhm\":12",
     ESC(80, 16000), KV(1500, 14), PROP(60), AIR(20, open), "70:20 100:10"},
    {"old pack, four times the resistance", PACK(6, 3300) ",\"cell_resistance_mOhm\":20",
     ESC(80, 8000), KV(480, 14), PROP(60), AIR(10, vented), "70:30 100:10"},
    {"a tenth of the usual capacitance", PACK(12, 5000) ",\"lead_length_cm\":60",
     ESC(160, 8000) ",\"capacitor_uF\":47", KV(190, 28), PROP(110), AIR(20, vented), "60:60 100:8"},
    {"rotor speed beyond the pack's voltage", PACK(3, 5000), ESC(120, 16000) ACTIVE, KV(500, 10),
     HELI(19, 1800, 10.5), AIR(24, open), "100:60 150:8"},
    {"second flight on a hot ESC in the sun", PACK(4, 5000), ESC(40, 16000) DIODE, KV(700, 14),
     PROP(40), AIR(38, closed) ",\"sun\":true", "80:120 100:20"},
    {"fan jet in a sealed bay on its rating", PACK(6, 5000), ESC(60, 24000) DIODE, KV(2100, 6),
     FAN(60), AIR(32, closed), "85:60 100:20"},
    {"hover far over the ESC", PACK(6, 8000), ESC(30, 24000) ACTIVE, KV(1100, 10),
     HELI(34, 1800, 10.5), AIR(30, closed), "100:200"},
}};

#undef PACK
#undef LIION
#undef ESC
#undef ACTIVE
#undef DIODE
#undef KV
#undef PROP
#undef FAN
#undef HELI
#undef MULTI
#undef AIR

}  // namespace hotband::test
