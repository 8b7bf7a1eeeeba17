#include "app/relay_map.hpp"

#include "app/map_arguments.hpp"
#include "earshot/geo/position.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace earshot::app {
namespace {

std::vector<std::pair<std::string, std::string>>
metadata_of(const std::vector<plan::RelaySite>& sites, const link::Station& person,
            const plan::RelayQuestion& question, const coverage::InputLabels& labels) {
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    std::vector<std::string> names;
    std::vector<std::string> positions;
    for (const plan::RelaySite& site : sites) {
        names.push_back(site.station.name);
        positions.push_back(geo::format_decimal(site.station.position, 8));
    }
    const link::Station& relay = question.relay;
    const propagation::MethodInfo& method = propagation::method_info(question.conditions.method);
    return {{"RELAY_NAME", fmt::format("{}", fmt::join(names, "; "))},
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
            {"FIELD_CORRECTION", labels.correction.empty() ? "none" : labels.correction}};
}

} // namespace

coverage::CoverageRaster relay_map(const std::vector<plan::RelaySite>& sites,
                                   const link::Station& person, const plan::RelayQuestion& question,
                                   const coverage::InputLabels& labels, Task& task) {
    using enum coverage::BandKind;
    auto job = link::made_in<coverage::Job>(question);
    for (const plan::RelaySite& site : sites) {
        job.stations.push_back(site.station);
    }
    job.receiver = person.radio;
    job.receiver_height_m = person.antenna_height_m;
    job.range_m = question.range_m;
    job.bands = {margin_with_each, best_margin, relays_heard, best_relay};
    job.wanted_margin_db = question.wanted_margin_db;
    job.both_ways = true;
    coverage::CoverageRaster map = coverage::run(job, task).raster;
    put_metadata(map, metadata_of(sites, person, question, labels));
    return map;
}

} // namespace earshot::app
