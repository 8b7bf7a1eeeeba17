#include "earshot/link/path.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of link/path.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const propagation::Conditions conditions;
    const link::Station ridge{"ridge", examples::ridge, 10.0, {}};
    const link::Station camp{"camp", examples::camp, 1.5, {}};
    const link::Setting setting{&ground, {}, conditions};
    const link::TwoWayPath path = link::two_way_path(setting, ridge, camp);
    const double margin_db = path.outward.budget.margin_db;
    const double chance_percent = path.outward.chance_percent;
    CHECK((margin_db > 0.0) == (chance_percent > 50.0));
    // The promise: the cheaper ways give the same numbers.
    link::PathPredictor predictor(setting);
    CHECK(predictor.margins(ridge, camp).out_db == margin_db);
    CHECK(predictor.margins(ridge, camp).back_db ==
          Approx(path.backward.budget.margin_db).margin(1e-6));
}
