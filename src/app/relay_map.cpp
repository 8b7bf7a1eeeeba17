#include "app/relay_map.hpp"

#include "coverage/compose.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/geo/position.hpp"
#include "report/say/phrases.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <ctime>

namespace earshot::app {
namespace {

std::vector<std::pair<std::string, std::string>>
metadata_of(const std::vector<plan::RelaySite>& sites, const link::Station& person,
            const plan::RelayQuestion& question, const RelayMapLabels& labels) {
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    std::vector<std::string> names;
    std::vector<std::string> positions;
    for (const plan::RelaySite& site : sites) {
        names.push_back(site.station.name);
        positions.push_back(geo::format_decimal(site.station.position, 8));
    }
    const link::Station& relay = question.relay;
    const propagation::MethodInfo& method = propagation::method_info(question.conditions.method);
    return {{"PROGRAM", "earshot " + labels.version},
            {"CREATED", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))},
            {"RELAY_NAME", fmt::format("{}", fmt::join(names, "; "))},
            {"RELAY_POSITION", fmt::format("{}", fmt::join(positions, "; "))},
            {"RELAY_ANTENNA_HEIGHT_M", number(relay.antenna_height_m)},
            {"RELAY_POWER_DBM", number(relay.radio.power_dbm)},
            {"RELAY_ANTENNA_GAIN_DBI", number(relay.radio.antenna_gain_dbi)},
            {"RELAY_THRESHOLD_DBM", number(relay.radio.threshold_dbm)},
            {"PERSON_ANTENNA_HEIGHT_M", number(person.antenna_height_m)},
            {"PERSON_POWER_DBM", number(person.radio.power_dbm)},
            {"PERSON_ANTENNA_GAIN_DBI", number(person.radio.antenna_gain_dbi)},
            {"PERSON_BODY_LOSS_DB", number(person.radio.body_loss_db)},
            {"PERSON_THRESHOLD_DBM", number(person.radio.threshold_dbm)},
            {"WANTED_MARGIN_DB", number(question.wanted_margin_db)},
            {"FREQUENCY_MHZ", number(question.conditions.frequency_mhz)},
            {"METHOD", std::string(method.name)},
            {"METHOD_SOURCE", std::string(method.source)},
            {"TIME_PERCENT", number(question.conditions.time_percent)},
            {"PLACES_PERCENT", number(question.conditions.location_percent)},
            {"RANGE_M", number(question.range_m)},
            {"PROFILE_STEP_M", number(question.step_m)},
            {"TERRAIN", labels.terrain},
            {"GROUND_COVER", labels.cover},
            {"FIELD_CORRECTION", labels.correction.empty() ? "none" : labels.correction},
            {"CAUTION", report::cautions()}};
}

} // namespace

coverage::CoverageRaster relay_map(const std::vector<plan::RelaySite>& sites,
                                   const link::Station& person, const plan::RelayQuestion& question,
                                   const RelayMapLabels& labels, Task& task) {
    std::vector<geo::LatLon> positions;
    positions.reserve(sites.size());
    for (const plan::RelaySite& site : sites) {
        positions.push_back(site.station.position);
    }
    const coverage::MapGrid map =
        coverage::terrain_map_grid(*question.ground, positions, question.range_m);
    const std::size_t cells =
        static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows);
    auto request = link::made_in<coverage::SweepRequest>(question);
    request.receiver_antenna_m = person.antenna_height_m;
    request.range_m = question.range_m;
    request.with_sight = false;
    coverage::CoverageRaster raster;
    coverage::Composition composition(cells);
    const auto wanted_db = static_cast<float>(question.wanted_margin_db);
    for (const plan::RelaySite& site : sites) {
        request.site = site.station.position;
        request.site_antenna_m = site.station.antenna_height_m;
        const auto without_path_db =
            static_cast<float>(plan::margin_without_path_db(site.station.radio, person.radio));
        std::vector<float> margin_db = std::move(coverage::sweep(map, request, task).loss_db);
        std::vector<float> spare_db(cells);
        for (std::size_t cell = 0; cell < cells; ++cell) {
            margin_db[cell] = without_path_db - margin_db[cell];
            spare_db[cell] = margin_db[cell] - wanted_db;
        }
        composition.add(spare_db);
        raster.bands.push_back(
            {fmt::format("margin with {}", site.station.name), "dB", std::move(margin_db)});
    }
    std::vector<float> best_db = composition.best_margin_db();
    for (float& value : best_db) {
        value += wanted_db;
    }
    raster.bands.push_back({"best margin", "dB", std::move(best_db)});
    raster.bands.push_back(
        {"number of relays with the wanted margin", "1", composition.sites_heard()});
    raster.bands.push_back(
        {"relay that serves best (number in order, 0 none)", "1", composition.serving_site()});
    raster.columns = map.columns;
    raster.rows = map.rows;
    raster.georeference = map.georeference;
    raster.metadata = metadata_of(sites, person, question, labels);
    return raster;
}

} // namespace earshot::app
