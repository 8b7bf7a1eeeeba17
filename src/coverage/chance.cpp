#include "coverage/chance.hpp"

#include "base/parallel.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "link/quality.hpp"
#include "propagation/clutter.hpp"
#include "propagation/p1812.hpp"

#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// One thread's look at places: what hangs on the cover there and on the sea.
class Around {
public:
    Around(const Job& job, const MapGrid& map)
        : job_(job), map_(map), ground_(job.ground->georeference) {}

    [[nodiscard]] geo::LatLon centre_of(std::size_t cell) const { return map_.centre_of(cell); }

    /// Deviation of the loss among places around a receiver.
    [[nodiscard]] double place_deviation_db(geo::LatLon position) const {
        const terrain::CellPosition here = ground_.cell_of(position);
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
        const double roofs_m = job_.layers.cover->at(ground_.cell_of(position)).roofs_m();
        return propagation::houses_db(job_.conditions, {antenna_m, roofs_m}, distance_m / 1000.0);
    }

private:
    const Job& job_;
    MapGrid map_; // with a georeference of its own, as the ground's is
    terrain::Georeference ground_;
};

} // namespace

std::vector<float> chance_values(const Job& job, const MapGrid& map, const link::Station& site,
                                 double margin_without_path_db,
                                 const std::vector<float>& median_loss_db,
                                 const std::vector<float>& seldom_loss_db,
                                 const std::vector<float>& apart_db, Task& task) {
    const std::vector<Around> workers(task.threads(), Around(job, map));
    const bool bare = job.layers.cover == nullptr && job.layers.zones == nullptr;
    const double bare_place_db =
        link::place_deviation_db(job.conditions, job.receiver_height_m, 0.0, false);
    std::vector<float> values(median_loss_db.size(), std::numeric_limits<float>::quiet_NaN());
    const auto predict = [&](std::size_t cell, const Around& around) {
        link::Doubt doubt;
        doubt.median_loss_db = static_cast<double>(median_loss_db[cell]);
        doubt.seldom_loss_db = static_cast<double>(seldom_loss_db[cell]);
        if (!apart_db.empty()) {
            doubt.apart_db = static_cast<double>(apart_db[cell]);
        }
        if (std::isnan(doubt.median_loss_db) || std::isnan(doubt.seldom_loss_db)) {
            return;
        }
        const geo::LatLon here = around.centre_of(cell);
        doubt.distance_m = link::path_distance_m(site.position, here);
        doubt.place_db = bare ? bare_place_db : around.place_deviation_db(here);
        if (job.layers.cover != nullptr) {
            doubt.houses_db = link::houses_deviation_db(
                around.houses_db(site.position, site.antenna_height_m, doubt.distance_m),
                around.houses_db(here, job.receiver_height_m, doubt.distance_m));
        }
        values[cell] = static_cast<float>(link::chance_percent(
            margin_without_path_db - doubt.median_loss_db,
            link::deviation_db(job.conditions_between(site.position, here), doubt)));
    };
    const auto columns = static_cast<std::size_t>(map.columns);
    parallel_for(static_cast<std::size_t>(map.rows), task.threads(),
                 [&](std::size_t row, unsigned worker) {
                     task.throw_if_stopped();
                     for (std::size_t column = 0; column < columns; ++column) {
                         predict(row * columns + column, workers[worker]);
                     }
                 });
    return values;
}

} // namespace earshot::coverage
