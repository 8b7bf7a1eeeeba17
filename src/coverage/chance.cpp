#include "coverage/chance.hpp"

#include "earshot/terrain/ground_cover.hpp"
#include "link/quality.hpp"
#include "propagation/clutter.hpp"
#include "propagation/p1812.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// What hangs on the cover at a place and on the sea.
class Around {
public:
    explicit Around(const Job& job) : job_(job) {}

    /// Deviation of the loss among places around a receiver.
    [[nodiscard]] double place_deviation_db(geo::LatLon position) const {
        const terrain::CellPosition here = job_.ground->georeference.cell_of(position);
        const bool at_sea =
            job_.layers.zones != nullptr &&
            job_.layers.zones->at(here).code == static_cast<int>(propagation::Zone::sea);
        return link::place_deviation_db(
            job_.conditions, job_.receiver_height_m,
            job_.layers.cover != nullptr ? job_.layers.cover->at(here).height_m : 0.0, at_sea);
    }

    /// Loss below the roofs around an antenna.
    [[nodiscard]] double houses_db(geo::LatLon position, double antenna_m,
                                   double distance_m) const {
        const terrain::CoverClass& cover =
            job_.layers.cover->at(job_.ground->georeference.cell_of(position));
        return propagation::houses_db(job_.conditions,
                                      {antenna_m, cover.woodland ? 0.0 : cover.height_m},
                                      distance_m / 1000.0);
    }

private:
    const Job& job_;
};

} // namespace

std::vector<float> chance_values(const Job& job, const MapGrid& map, const link::Station& site,
                                 double margin_without_path_db,
                                 const std::vector<float>& median_loss_db,
                                 const std::vector<float>& seldom_loss_db) {
    const Around around(job);
    const bool bare = job.layers.cover == nullptr && job.layers.zones == nullptr;
    const double bare_place_db =
        link::place_deviation_db(job.conditions, job.receiver_height_m, 0.0, false);
    std::vector<float> values(median_loss_db.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < values.size(); ++i) {
        link::Doubt doubt;
        doubt.median_loss_db = static_cast<double>(median_loss_db[i]);
        doubt.seldom_loss_db = static_cast<double>(seldom_loss_db[i]);
        if (!std::isnan(doubt.median_loss_db) && !std::isnan(doubt.seldom_loss_db)) {
            const geo::LatLon here = map.centre_of(i);
            doubt.distance_m = std::max(geo::geodesic_between(site.position, here).distance_m,
                                        link::least_distance_m);
            doubt.place_db = bare ? bare_place_db : around.place_deviation_db(here);
            if (job.layers.cover != nullptr) {
                doubt.houses_db = link::houses_deviation_db(
                    around.houses_db(site.position, site.antenna_height_m, doubt.distance_m),
                    around.houses_db(here, job.receiver_height_m, doubt.distance_m));
            }
            values[i] = static_cast<float>(link::chance_percent(
                margin_without_path_db - doubt.median_loss_db,
                link::deviation_db(job.conditions_between(site.position, here), doubt)));
        }
    }
    return values;
}

} // namespace earshot::coverage
