#include "earshot/coverage/coverage.hpp"
#include "propagation/clutter.hpp"
#include "propagation/second_opinion.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace earshot::coverage {

std::string_view name_of(Engine engine) {
    return engine == Engine::exact ? "exact" : "carried";
}

std::vector<std::pair<std::string, std::string>> metadata_of(const Job& job, Engine engine,
                                                             const InputLabels& labels) {
    using link::Station;
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    // Several stations stand in one value, in order, parted by semicolons.
    const auto per_station = [&job](auto value) {
        std::vector<std::string> list;
        for (const Station& station : job.stations) {
            list.push_back(value(station));
        }
        return fmt::format("{}", fmt::join(list, "; "));
    };
    const auto numbers = [&](auto value) {
        return per_station([&](const Station& station) { return number(value(station)); });
    };
    const auto degrees = [&](double geo::LatLon::*axis) {
        return per_station(
            [axis](const Station& s) { return fmt::format("{:.8f}", s.position.*axis); });
    };
    const auto none_if_empty = [](const std::string& text) {
        return text.empty() ? std::string("none") : text;
    };
    const propagation::Conditions& conditions = job.conditions;
    const propagation::MethodInfo& method = propagation::method_info(conditions.method);
    std::vector<std::pair<std::string, std::string>> list = {
        {"STATION_NAME", per_station([](const Station& s) { return s.name; })},
        {"STATION_LATITUDE", degrees(&geo::LatLon::lat_deg)},
        {"STATION_LONGITUDE", degrees(&geo::LatLon::lon_deg)},
        {"STATION_ANTENNA_HEIGHT_M", numbers([](const Station& s) { return s.antenna_height_m; })},
        {"STATION_POWER_DBM", numbers([](const Station& s) { return s.radio.power_dbm; })},
        {"STATION_FEEDER_LOSS_DB",
         numbers([](const Station& s) { return s.radio.feeder_loss_db; })},
        {"STATION_ANTENNA_GAIN_DBI",
         numbers([](const Station& s) { return s.radio.antenna_gain_dbi; })},
        {"STATION_BODY_LOSS_DB", numbers([](const Station& s) { return s.radio.body_loss_db; })},
        {"RECEIVER_ANTENNA_HEIGHT_M", number(job.receiver_height_m)},
        {"RECEIVER_ANTENNA_GAIN_DBI", number(job.receiver.antenna_gain_dbi)},
        {"RECEIVER_FEEDER_LOSS_DB", number(job.receiver.feeder_loss_db)},
        {"RECEIVER_BODY_LOSS_DB", number(job.receiver.body_loss_db)},
        {"RECEIVER_THRESHOLD_DBM", number(job.receiver.threshold_dbm)},
        {"FREQUENCY_MHZ", number(conditions.frequency_mhz)},
        {"METHOD", std::string(method.name)},
        {"METHOD_SOURCE", std::string(method.source)},
        {"KNIFE_EDGE",
         conditions.knife_edge == propagation::KnifeEdgeForm::exact ? "exact" : "itu"},
        {"EFFECTIVE_RADIUS_KM", number(propagation::radius_km(conditions))},
        {"TIME_PERCENT", number(conditions.time_percent)},
        {"PLACES_PERCENT", number(conditions.location_percent)},
        {"POLARIZATION", conditions.polarization == propagation::Polarization::vertical
                             ? "vertical"
                             : "horizontal"},
        {"INDOORS", conditions.building_entry ? "yes" : "no"},
        {"DELTA_N", number(conditions.refractivity.delta_n)},
        {"N0", number(conditions.refractivity.n0)},
        {"RANGE_M", number(job.range_m)},
        {"PROFILE_STEP_M", number(job.step_m)},
        {"ENGINE", std::string(name_of(engine))},
        {"TERRAIN", labels.terrain},
        {"GROUND_KIND", std::string(terrain::name_of(job.ground->kind))},
        {"GROUND_COVER", labels.cover},
        {"HOUSES", std::string(propagation::name_of(conditions.houses))},
        {"WARNINGS",
         none_if_empty(fmt::format(
             "{}", fmt::join(propagation::validity_warnings(
                                 conditions, {job.first().antenna_height_m, job.receiver_height_m}),
                             "; ")))},
        {"FIELD_CORRECTION", none_if_empty(labels.correction)},
    };
    if (std::find(job.bands.begin(), job.bands.end(), BandKind::doubt) != job.bands.end()) {
        const auto second = propagation::second_method(conditions.method);
        list.emplace_back("SECOND_METHOD", propagation::method_info(second.value()).name);
    }
    return list;
}

} // namespace earshot::coverage
