#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>

namespace earshot::link {
namespace {

// Our choice: docs/correction.md.
constexpr double length_m = 10000.0;

std::array<double, 3> on_unit_sphere(geo::LatLon place) {
    constexpr double rad = std::numbers::pi / 180.0;
    const double across = std::cos(rad * place.lat_deg);
    return {across * std::cos(rad * place.lon_deg), across * std::sin(rad * place.lon_deg),
            std::sin(rad * place.lat_deg)};
}

} // namespace

FieldReach::FieldReach(const std::vector<geo::LatLon>& places, double spread_m,
                       std::optional<double> standard_deviation_db)
    : spread_m_(spread_m), standard_deviation_db_(standard_deviation_db) {
    if (places.empty()) {
        throw_usage("a field correction needs a place where calls were made");
    }
    std::transform(places.begin(), places.end(), std::back_inserter(places_), on_unit_sphere);
}

double FieldReach::away_m(geo::LatLon place) const {
    constexpr double mean_radius_m = 6371008.8;
    const std::array<double, 3> here = on_unit_sphere(place);
    double nearest = 4.0; // square of the chord
    for (const std::array<double, 3>& call : places_) {
        double square = 0.0;
        for (std::size_t k = 0; k < here.size(); ++k) {
            square += (here[k] - call[k]) * (here[k] - call[k]);
        }
        nearest = std::min(nearest, square);
    }
    return std::max(0.0, 2.0 * mean_radius_m * std::asin(0.5 * std::sqrt(nearest)) - spread_m_);
}

double FieldReach::share(geo::LatLon a, geo::LatLon b) const {
    const double lengths = std::max(away_m(a), away_m(b)) / length_m;
    return std::exp(-lengths * lengths);
}

propagation::Conditions FieldReach::faded(propagation::Conditions whole, double share) const {
    whole.field_offset_db *= share;
    whole.woodland_factor = 1.0 + share * (whole.woodland_factor - 1.0);
    whole.deviation_share = share;
    if (whole.prediction_deviation_db && standard_deviation_db_) {
        whole.prediction_deviation_db =
            std::sqrt(share * *whole.prediction_deviation_db * *whole.prediction_deviation_db +
                      (1.0 - share) * *standard_deviation_db_ * *standard_deviation_db_);
        whole.deviation_share = 1.0;
    }
    return whole;
}

propagation::Conditions Setting::conditions_between(geo::LatLon a, geo::LatLon b) const {
    return field_reach ? field_reach->faded(conditions, field_reach->share(a, b)) : conditions;
}

} // namespace earshot::link
