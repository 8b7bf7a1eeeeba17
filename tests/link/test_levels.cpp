#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "link/levels.hpp"

#include <catch2/catch.hpp>

#include <array>

namespace earshot::link {

TEST_CASE("S-units are those of the recommendation", "[levels]") {
    // IARU Region 1, VHF Managers' Handbook section 8.6.1 (Technical Recommendation R.1): above
    // 144 MHz S9 is -93 dBm, and one S-point 6 dB.
    constexpr std::array table{-141.0, -135.0, -129.0, -123.0, -117.0,
                               -111.0, -105.0, -99.0,  -93.0};
    for (std::size_t k = 0; k < table.size(); ++k) {
        CHECK(level_of_s_units_dbm(static_cast<double>(k + 1)) == table[k]);
    }
    CHECK(level_of_s_units_dbm(9.0, 20.0) == -73.0);
    // The same handbook gives S9 as 5 microvolts across 50 ohms.
    CHECK(geo::dbm_from_microvolts(5.0) == Approx(s9_dbm).margin(0.02));
}

TEST_CASE("S-units off the scale are refused", "[levels]") {
    CHECK_THROWS_AS(level_of_s_units_dbm(10.0), Error);
    CHECK_THROWS_AS(level_of_s_units_dbm(-1.0), Error);
    CHECK_THROWS_AS(level_of_s_units_dbm(8.0, 10.0), Error);
    CHECK_THROWS_AS(level_of_s_units_dbm(9.0, 200.0), Error);
}

TEST_CASE("levels are read as people write them", "[levels]") {
    const auto read = [](const char* text) { return parse_level_reading_dbm(text, "the level"); };
    CHECK(read("-97") == -97.0);
    CHECK(read("-97 dBm") == -97.0);
    CHECK(read("S9") == -93.0);
    CHECK(read("s7") == -105.0);
    CHECK(read("S 5.5") == -114.0);
    CHECK(read("S9+10") == -83.0);
    CHECK(read("S9 + 10 dB") == -83.0);
    // 0.5 uV across 50 ohms: 10 log10(0.5e-6^2 / 50 / 1e-3) = -113.01 dBm.
    CHECK(read("0.5 uV") == Approx(-113.01).margin(0.005));
    for (const char* nonsense :
         {"", "S", "S11", "S7+10", "loud", "97", "-300", "S9+", "nan", "-"}) {
        INFO(nonsense);
        CHECK_THROWS_AS(read(nonsense), Error);
    }
}

} // namespace earshot::link
