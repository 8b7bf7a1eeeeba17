#include "coverage/chance.hpp"

#include "earshot/terrain/ground_cover.hpp"
#include "link/quality.hpp"
#include "propagation/p1812.hpp"

#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// Deviation of the loss among places around a receiver in each cell: it hangs on the cover there.
class PlaceDeviations {
public:
    PlaceDeviations(const Job& job, const MapGrid& map)
        : job_(job), map_(map), bare_db_(deviation_db(0.0, false)) {}

    [[nodiscard]] double at_db(std::size_t cell) const {
        if (job_.layers.cover == nullptr && job_.layers.zones == nullptr) {
            return bare_db_;
        }
        const auto columns = static_cast<std::size_t>(map_.columns);
        const std::size_t row = cell / columns;
        const terrain::CellPosition here =
            job_.ground->georeference.cell_of(map_.georeference.position_of(
                {static_cast<double>(cell % columns), static_cast<double>(row)}));
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
    const MapGrid& map_;
    double bare_db_;
};

} // namespace

std::vector<float> chance_values(const Job& job, const MapGrid& map, double margin_without_path_db,
                                 const std::vector<float>& median_loss_db,
                                 const std::vector<float>& seldom_loss_db) {
    const PlaceDeviations places(job, map);
    std::vector<float> values(median_loss_db.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const auto loss_db = static_cast<double>(median_loss_db[i]);
        const auto seldom_db = static_cast<double>(seldom_loss_db[i]);
        if (!std::isnan(loss_db) && !std::isnan(seldom_db)) {
            values[i] = static_cast<float>(link::chance_percent(
                margin_without_path_db - loss_db,
                link::deviation_db(job.conditions, places.at_db(i), loss_db, seldom_db)));
        }
    }
    return values;
}

} // namespace earshot::coverage
