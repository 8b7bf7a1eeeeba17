#include "coverage/compose.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using earshot::coverage::Composition;

TEST_CASE("sites on one map: best margin, number heard, best server", "[compose]") {
    // Worked by hand. Cells: only the first site known; both heard; neither heard; none known;
    // a tie.
    const float unknown = std::nanf("");
    Composition composition;
    composition.add(std::vector<float>{4.0F, 3.0F, -9.0F, unknown, 2.0F});
    composition.add(std::vector<float>{unknown, 8.0F, -5.0F, unknown, 2.0F});
    CHECK(composition.best_margin_db[0] == 4.0F);
    CHECK(composition.best_margin_db[1] == 8.0F);
    CHECK(composition.best_margin_db[2] == -5.0F);
    CHECK(std::isnan(composition.best_margin_db[3]));
    CHECK(composition.sites_heard[0] == 1.0F);
    CHECK(composition.sites_heard[1] == 2.0F);
    CHECK(composition.sites_heard[2] == 0.0F);
    CHECK(std::isnan(composition.sites_heard[3]));
    const std::vector<float>& serving = composition.serving_site;
    CHECK(serving[0] == 1.0F);
    CHECK(serving[1] == 2.0F);
    CHECK(serving[2] == 0.0F);
    CHECK(std::isnan(serving[3]));
    CHECK(serving[4] == 1.0F);
}
