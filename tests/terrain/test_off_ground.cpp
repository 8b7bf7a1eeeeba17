#include "earshot/geo/position.hpp"
#include "terrain/off_ground.hpp"

#include <catch2/catch.hpp>

namespace earshot::terrain {
namespace {

/// A raster of one degree square from 47 N 15 E south-eastward.
std::string words_for(geo::LatLon position) {
    return off_ground_words(Georeference("EPSG:4326", 15.005, 46.995, 0.01, -0.01), 100, 100,
                            position);
}

} // namespace

TEST_CASE("a position off the elevation is told where that runs and what may have been meant") {
    using Catch::Contains;
    CHECK_THAT(words_for({40.0, 3.0}),
               Contains("runs from 47.00000, 15.00000 to 46.00000, 16.00000") &&
                   Contains("check the position") && !Contains("did you mean"));
    CHECK_THAT(words_for({46.5, -15.5}),
               Contains("did you mean 46.50000, 15.50000") && Contains("sign of the longitude"));
    CHECK_THAT(words_for({-46.5, 15.5}), Contains("sign of the latitude"));
    CHECK_THAT(words_for({15.5, 46.5}),
               Contains("did you mean 46.50000, 15.50000") && Contains("other way round"));
    CHECK_THAT(words_for({15.5, -46.5}), Contains("other way round, with a minus"));
    // 33 T is the zone of 15 to 21 E; the same numbers in 32 lie six degrees west.
    CHECK_THAT(words_for({46.5, 9.5}), Contains("UTM zone 33 north"));
    CHECK_THAT(words_for(geo::parse_position("32T 540000 5150000")),
               Contains("UTM zone 33 north") && Contains("give elevation that covers it"));
}

} // namespace earshot::terrain
