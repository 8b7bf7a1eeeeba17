#include "coverage/engine/exact_cell.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::coverage {

ExactCell::ExactCell(const MapGrid& map, const SweepRequest& request)
    : request_(request), columns_(map.columns), map_georeference_(map.georeference),
      predictor_(request) {}

void ExactCell::predict(int column, int row, double range_m, SweepResult& result) {
    const geo::LatLon position =
        map_georeference_.position_of({static_cast<double>(column), static_cast<double>(row)});
    if (!(geo::geodesic_between(request_.site, position).distance_m <= range_m)) {
        return;
    }
    const propagation::PathLoss loss = predictor_.loss(
        request_.site, position, {request_.site_antenna_m, request_.receiver_antenna_m});
    if (std::isnan(predictor_.profile().ground_m.back())) {
        ++off_terrain_;
        return;
    }
    if (std::isnan(loss.basic_loss_db)) {
        ++behind_void_;
        return;
    }
    ++predicted_;
    const std::size_t cell = static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) +
                             static_cast<std::size_t>(column);
    if (!result.loss_db.empty()) {
        result.loss_db[cell] = static_cast<float>(loss.total_db());
    }
    if (!result.sight.empty()) {
        const SightClass sight = sight_class(loss.sight);
        // Without losses the Fresnel zone does not count.
        result.sight[cell] =
            result.loss_db.empty() && sight == SightClass::grazing ? SightClass::clear : sight;
    }
}

void ExactCell::add_counts_to(SweepResult& result) const {
    result.cells_predicted += predicted_;
    result.cells_off_terrain += off_terrain_;
    result.cells_behind_void += behind_void_;
}

} // namespace earshot::coverage
