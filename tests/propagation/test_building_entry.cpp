#include "earshot/base/error.hpp"
#include "propagation/building_entry.hpp"
#include "propagation/normal_quantile.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;
using namespace earshot::propagation;

TEST_CASE("building entry: medians of ITU-R P.2109-2") {
    // Worked by hand from table 1 of P.2109-2 at 1 GHz, where the logarithms vanish: power sums of
    // 12.64, 9.1 and -3 dB, and of 28.19, 27.8 and -3 dB.
    CHECK(building_entry_loss_db(BuildingType::traditional, 1000.0, 0.5) ==
          Approx(14.31).margin(0.01));
    CHECK(building_entry_loss_db(BuildingType::thermally_efficient, 1000.0, 0.5) ==
          Approx(31.01).margin(0.01));
    // 100 MHz, traditional: 12.64 - 3.72 + 0.96 = 9.88 and 9.1 + 3 = 12.1 dB, with -3 dB.
    CHECK(building_entry_loss_db(BuildingType::traditional, 100.0, 0.5) ==
          Approx(14.22).margin(0.01));
    // 30 degrees of elevation add 6.36 dB to the first of the three: 19.00, 9.1 and -3 dB.
    CHECK(building_entry_loss_db(BuildingType::traditional, 1000.0, 0.5, -30.0) ==
          Approx(19.45).margin(0.01));
}

TEST_CASE("building entry: the normal form meets P.2109 at the median and one deviation around") {
    for (const BuildingType type : {BuildingType::traditional, BuildingType::thermally_efficient}) {
        const BuildingEntry entry = building_entry(type, 440.0);
        CHECK(entry.median_db == building_entry_loss_db(type, 440.0, 0.5));
        CHECK(2.0 * entry.deviation_db == Approx(building_entry_loss_db(type, 440.0, 0.8413447) -
                                                 building_entry_loss_db(type, 440.0, 0.1586553))
                                              .epsilon(1e-4));
    }
}

TEST_CASE("building entry: what cannot be used is refused") {
    CHECK_THROWS_AS(building_entry_loss_db(BuildingType::traditional, 10.0, 0.5), Error);
    CHECK_THROWS_AS(building_entry_loss_db(BuildingType::traditional, 100.0, 0.0), Error);
    CHECK_THROWS_AS(building_entry_loss_db(BuildingType::traditional, 100.0, NAN), Error);
    CHECK_THROWS_AS(building_entry_loss_db(BuildingType::traditional, 100.0, 0.5, 91.0), Error);
}

TEST_CASE("normal deviate: table of the normal distribution") {
    // Abramowitz and Stegun, table 26.5; the approximation is good to 4.5e-4 (26.2.23).
    CHECK(normal_exceedance_deviate(0.5) == Approx(0.0).margin(1e-8));
    CHECK(normal_exceedance_deviate(0.1) == Approx(1.28155).margin(4.5e-4));
    CHECK(normal_exceedance_deviate(0.01) == Approx(2.32635).margin(4.5e-4));
    CHECK(normal_exceedance_deviate(0.95) == Approx(-1.64485).margin(4.5e-4));
    CHECK(normal_exceedance_deviate(0.0) == normal_exceedance_deviate(1e-6));
}
