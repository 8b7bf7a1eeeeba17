#include "earshot/link/budget.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of link/budget.hpp") {
    link::Radio handheld;
    handheld.power_dbm = 37.0;
    handheld.antenna_gain_dbi = -3.0;
    const link::LinkBudget budget = link::link_budget(handheld, handheld, 140.0);
    CHECK(budget.received_dbm == Approx(37.0 - 3.0 - 140.0 - 3.0));
    CHECK(budget.margin_db == Approx(budget.received_dbm + 116.0));
}
