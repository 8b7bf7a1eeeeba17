#include "coverage/chance.hpp"

#include "earshot/terrain/ground_cover.hpp"
#include "link/quality.hpp"
#include "propagation/p1812.hpp"

#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// Deviation of the loss among places around a receiver: it hangs on the cover there.
class PlaceDeviations {
public:
    explicit PlaceDeviations(const Job& job) : job_(job), bare_db_(deviation_db(0.0, false)) {}

    [[nodiscard]] double at_db(geo::LatLon position) const {
        if (job_.layers.cover == nullptr && job_.layers.zones == nullptr) {
            return bare_db_;
        }
        const terrain::CellPosition here = job_.ground->georeference.cell_of(position);
        const bool at_sea =
            job_.layers.zones != nullptr &&
            job_.layers.zones->at(here).code == static_cast<int>(propagation::Zone::sea);
        return deviation_db(
            job_.layers.cover != nullptr ? job_.layers.cover->at(here).height_m : 0.0, at_sea);
    }

private:
    [[nodiscard]] double deviation_db(double cover_m, bool at_sea) const {
        return link::place_deviation_db(job_.conditions, job_.receiver_height_m, cover_m, at_sea);
    }

    const Job& job_;
    double bare_db_;
};

} // namespace

std::vector<float> chance_values(const Job& job, const MapGrid& map, geo::LatLon site,
                                 double margin_without_path_db,
                                 const std::vector<float>& median_loss_db,
                                 const std::vector<float>& seldom_loss_db) {
    const PlaceDeviations places(job);
    const auto columns = static_cast<std::size_t>(map.columns);
    std::vector<float> values(median_loss_db.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < values.size(); ++i) {
        link::Doubt doubt;
        doubt.median_loss_db = static_cast<double>(median_loss_db[i]);
        doubt.seldom_loss_db = static_cast<double>(seldom_loss_db[i]);
        if (!std::isnan(doubt.median_loss_db) && !std::isnan(doubt.seldom_loss_db)) {
            const geo::LatLon here = map.georeference.position_of(
                {static_cast<double>(i % columns), static_cast<double>(i / columns)});
            doubt.place_db = places.at_db(here);
            doubt.distance_m = geo::geodesic_between(site, here).distance_m;
            values[i] = static_cast<float>(
                link::chance_percent(margin_without_path_db - doubt.median_loss_db,
                                     link::deviation_db(job.conditions, doubt)));
        }
    }
    return values;
}

} // namespace earshot::coverage
