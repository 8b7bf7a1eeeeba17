#include "app/briefing_gather.hpp"

#include "app/shared_arguments.hpp"
#include "base/named.hpp"
#include "base/number.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/geodesic.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "report/say/briefing.hpp"
#include "report/say/coverage_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>

namespace earshot::app {
namespace {

using report::Briefing;

/// How far around the station of the ladder high ground is looked at for a relay.
constexpr double relay_within_m = 5000.0;

coverage::Job job_of(const scenario::Scenario& scenario, const BriefingWishes& wishes) {
    coverage::Job job;
    job.stations = scenario.stations;
    job.receiver = scenario.listener.radio;
    job.receiver_height_m = scenario.listener.antenna_height_m;
    job.conditions = scenario.conditions;
    constexpr double usual_range_m = 20000.0;
    job.range_m = wishes.range_m.value_or(scenario.briefing.range_m.value_or(usual_range_m));
    job.grid = wishes.grid.choice(job.range_m);
    using enum coverage::BandKind;
    job.bands = {margin, chance};
    if (job.stations.size() > 1) {
        job.bands.insert(job.bands.end(), {heard, serving});
    }
    job.bands.push_back(both_ways);
    if (job.stations.size() > 1) {
        job.bands.push_back(margin_with_each);
    }
    return job;
}

/// Counted from 1.
float number_in(const std::vector<link::Station>& stations, const std::string& name) {
    return static_cast<float>(named(stations, name) - stations.data() + 1);
}

/// A circle of this radius around the first station holds all ground that the briefing looks at.
double reach_of(const scenario::Scenario& scenario, const coverage::Job& job) {
    double reach_m = job.reach_m();
    std::vector<std::string> ends = scenario.briefing.ladder;
    for (const auto& [a, b] : scenario.briefing.paths) {
        ends.insert(ends.end(), {a, b});
    }
    for (const link::Station& station : scenario.stations) {
        ends.push_back(station.name);
    }
    for (const std::string& name : ends) {
        const geo::LatLon end = scenario::station_named(scenario, name).position;
        reach_m = std::max(reach_m, geo::geodesic_between(job.first().position, end).distance_m);
    }
    return reach_m;
}

/// The work on a scenario, once its ground is there.
class Gathering {
public:
    Gathering(const scenario::Scenario& scenario, coverage::Job& job, Briefing& briefing,
              Task& task)
        : scenario_(scenario), job_(job), briefing_(briefing), task_(task) {}

    void predict_net() const {
        if (scenario_.stations.size() < 2) {
            return;
        }
        auto request = link::made_in<plan::HearingRequest>(job_);
        request.wanted_margin_db = scenario_.wanted_margin_db;
        briefing_.pairs = plan::hear_net(scenario_, request, task_);
        briefing_.net = plan::net_structure(scenario_.stations.size(), briefing_.pairs);
        briefing_.helps = plan::help_stations(scenario_, briefing_.pairs, request, task_);
        plan::FallbackRequest fallback;
        fallback.hearing = request;
        briefing_.fallbacks = plan::find_fallbacks(scenario_, briefing_.pairs, fallback, task_);
    }

    void predict_paths() const {
        const auto& paths = scenario_.briefing.paths;
        task_.begin("predicting paths", paths.size());
        for (const auto& [a, b] : paths) {
            const std::size_t channel = channel_for(a, b);
            const link::Setting setting =
                scenario::setting_on(scenario_, job_, scenario_.air.heard[channel].frequency_mhz);
            briefing_.paths.push_back(
                {fmt::format("{} to {}", a, b),
                 link::two_way_path(setting, on_channel(a, channel), on_channel(b, channel)),
                 scenario_.wanted_margin_db});
            task_.advance(1);
        }
    }

    /// A round of calls from every place and station to the first, to be scored as it is heard.
    void plan_calls() const {
        const link::Station& base = scenario_.stations.front();
        field::WalkPlan walk;
        walk.title = fmt::format("Calls to {}", base.name);
        walk.base = base.name;
        walk.base_position = base.position;
        walk.frequency_mhz = scenario_.conditions.frequency_mhz;
        walk.set_ups.emplace_back().name = "as carried";
        const auto add = [&](const std::string& name, geo::LatLon position) {
            const geo::GeodesicPath line = geo::geodesic_between(base.position, position);
            field::PlannedStop stop;
            stop.name = name;
            stop.position = position;
            stop.distance_m = line.distance_m;
            stop.bearing_deg = line.bearing_deg;
            stop.calls.resize(2);
            stop.calls.back().direction = field::CallDirection::to_mover;
            walk.stops.push_back(std::move(stop));
        };
        for (const link::Station& station : std::span(scenario_.stations).subspan(1)) {
            add(station.name, station.position);
        }
        for (const scenario::Place& place : scenario_.places) {
            add(place.name, place.position);
        }
        walk.way_points = walk.stops.size();
        if (!walk.stops.empty()) {
            briefing_.walk = std::move(walk);
        }
    }

    void climb_ladder() const {
        if (scenario_.briefing.ladder.empty()) {
            return;
        }
        const std::string& from = scenario_.briefing.ladder.front();
        const std::string& to = scenario_.briefing.ladder.back();
        const std::size_t channel = channel_for(from, to);
        auto question = link::made_in<plan::LadderQuestion>(
            scenario::setting_on(scenario_, job_, scenario_.air.heard[channel].frequency_mhz));
        question.here = on_channel(from, channel);
        question.there = wanted(question.here, channel);
        std::vector<std::string> names;
        for (const plan::ServedPlace& place : question.there) {
            names.push_back(place.station.name);
        }
        question.repeater = plan::repeater_for(scenario_, briefing_.pairs, from, names);
        question.person = scenario_.listener;
        question.wanted_margin_db = scenario_.wanted_margin_db;
        question.range_m = job_.range_m;
        question.antennas = plan::antennas_of(scenario_, channel);
        question.relay = question.here;
        question.relay.name = "relay";
        plan::raise_antenna(question.relay, question.raised_m, question.antennas);
        question.relay.antenna_height_m = question.raised_m;
        question.relay_candidates =
            plan::relay_ground_near(briefing_.ground, question.here, relay_within_m, task_);
        briefing_.ladder_title = ladder_title(question);
        briefing_.ladder = plan::climb_ladder(question, task_);
    }

private:
    /// A station as it is on a channel, or the listener at a place.
    [[nodiscard]] link::Station on_channel(const std::string& name, std::size_t channel) const {
        const scenario::Tuned& tuned = scenario_.air.heard[channel];
        if (const link::Station* station = named(tuned.stations, name)) {
            return *station;
        }
        return scenario::station_named(scenario_, name);
    }

    /// The one that two have in common and hear each other best on, or that in use with a place.
    [[nodiscard]] std::size_t channel_for(const std::string& a, const std::string& b) const {
        for (const plan::Pair& pair : briefing_.pairs) {
            const std::string& one = scenario_.stations[pair.a].name;
            const std::string& other = scenario_.stations[pair.b].name;
            if ((one == a && other == b) || (one == b && other == a)) {
                if (pair.channel == plan::no_channel) {
                    throw_usage(
                        fmt::format("{} and {} have no channel on which they hear each "
                                    "other; leave them out of paths and ladder of [briefing]",
                                    a, b));
                }
                return pair.channel;
            }
        }
        return scenario_.channel;
    }

    /// Whom the ladder is to reach: the one that is named, else all places, else nobody.
    [[nodiscard]] std::vector<plan::ServedPlace> wanted(const link::Station& here,
                                                        std::size_t channel) const {
        std::vector<plan::ServedPlace> there;
        if (scenario_.briefing.ladder.size() > 1) {
            there.push_back({on_channel(scenario_.briefing.ladder.back(), channel), 1.0});
            return there;
        }
        there = everybody(scenario_, Served::places);
        std::erase_if(there, [&](const plan::ServedPlace& place) {
            return place.weight <= 0.0 || place.station.name == here.name;
        });
        return there;
    }

    [[nodiscard]] static std::string ladder_title(const plan::LadderQuestion& question) {
        if (question.there.empty()) {
            return fmt::format("{}: how far on foot", question.here.name);
        }
        return question.there.size() == 1
                   ? fmt::format("{} to {}", question.here.name,
                                 question.there.front().station.name)
                   : fmt::format("{} to {} places", question.here.name, question.there.size());
    }

    const scenario::Scenario& scenario_;
    coverage::Job& job_;
    Briefing& briefing_;
    Task& task_;
};

void add_words(Briefing& briefing, const scenario::Scenario& scenario,
               const BriefingWishes& wishes) {
    const scenario::BriefingPlan& plan = scenario.briefing;
    briefing.title = wishes.title.value_or(plan.title.empty() ? scenario.net_name : plan.title);
    briefing.date = wishes.date.value_or(plan.date);
    briefing.prepared_by = plan.prepared_by;
    briefing.remarks = plan.remarks;
    briefing.declination_deg =
        wishes.declination_deg ? wishes.declination_deg : plan.declination_deg;
    if (scenario.correction) {
        briefing.correction = scenario::correction_words(*scenario.correction);
    }
    briefing.scenario = scenario;
    briefing.stations = scenario.stations;
    briefing.places = scenario.places;
    briefing.places.insert(briefing.places.end(), wishes.places.begin(), wishes.places.end());
}

/// The stations that a map names. Empty if it names none, or not where they stand.
std::vector<link::Station> stations_of(const coverage::CoverageRaster& map) {
    const std::vector<std::string> names = report::station_metadata(map, "STATION_NAME");
    const std::size_t count = report::station_metadata(map, "STATION_LATITUDE").size();
    std::vector<link::Station> stations;
    for (std::size_t k = 0; k < count; ++k) {
        const auto number = [&](const char* key) {
            const std::vector<std::string> values = report::station_metadata(map, key);
            return k < values.size() ? finite_number_in(values[k]) : std::nullopt;
        };
        const auto lat_deg = number("STATION_LATITUDE");
        const auto lon_deg = number("STATION_LONGITUDE");
        if (!lat_deg || !lon_deg || std::abs(*lat_deg) > 90.0 || std::abs(*lon_deg) > 360.0) {
            return {};
        }
        link::Station station;
        station.position = {*lat_deg, *lon_deg};
        // A name with a semicolon in it cannot be told from two.
        station.name = names.size() == count ? names[k] : fmt::format("station {}", k + 1);
        const auto take = [&](const char* key, double& value) {
            value = number(key).value_or(value);
        };
        take("STATION_ANTENNA_HEIGHT_M", station.antenna_height_m);
        take("STATION_POWER_DBM", station.radio.power_dbm);
        take("STATION_FEEDER_LOSS_DB", station.radio.feeder_loss_db);
        take("STATION_ANTENNA_GAIN_DBI", station.radio.antenna_gain_dbi);
        take("STATION_BODY_LOSS_DB", station.radio.body_loss_db);
        take("RECEIVER_THRESHOLD_DBM", station.radio.threshold_dbm);
        stations.push_back(std::move(station));
    }
    return stations;
}

void check_map(const coverage::CoverageRaster& map, const std::filesystem::path& file) {
    const coverage::Band& first = map.bands.front();
    if (!report::map_metadata(map, "PROGRAM").starts_with("earshot ") || stations_of(map).empty()) {
        throw_input(fmt::format("{}: the map does not say which stations it is of; give one that "
                                "earshot map wrote, unchanged",
                                file.string()));
    }
    if (first.name != coverage::band_info(coverage::BandKind::margin).title || first.unit != "dB") {
        throw_input(fmt::format("{}: its first band is '{}' in {}, but a briefing shows the margin "
                                "in dB; make the map with margin first in --bands",
                                file.string(), first.name,
                                first.unit.empty() ? "no unit" : first.unit));
    }
    if (std::ranges::all_of(first.values, [](float value) { return std::isnan(value); })) {
        throw_input(fmt::format("{}: nothing is known in any cell of the map; make it over "
                                "elevation that covers the range",
                                file.string()));
    }
}

/// A circle on the ground that holds a map.
plan::Circle circle_around(const coverage::CoverageRaster& map) {
    plan::Circle circle;
    const auto at = [&](double column, double row) {
        return map.georeference.position_of({column, row});
    };
    circle.centre = report::middle_of(map);
    for (const double column : {-0.5, map.columns - 0.5}) {
        for (const double row : {-0.5, map.rows - 0.5}) {
            const geo::LatLon corner = at(column, row);
            if (std::isfinite(corner.lat_deg)) {
                circle.radius_m = std::max(circle.radius_m,
                                           geo::geodesic_between(circle.centre, corner).distance_m);
            }
        }
    }
    return circle;
}

} // namespace

void StageClock::begin(const std::string& stage) {
    end();
    stages_.emplace_back(stage, 0.0);
    started_ = std::chrono::steady_clock::now();
    running_ = true;
}

void StageClock::end() {
    if (running_) {
        const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started_;
        stages_.back().second = took.count();
        running_ = false;
    }
}

Briefing briefing_of(const scenario::Scenario& scenario, const terrain::TerrainSource& source,
                     const BriefingWishes& wishes, StageClock& clock, Task& task) {
    Briefing briefing;
    add_words(briefing, scenario, wishes);
    // The map is of the channel in use, and of the stations that are heard on it.
    scenario::Scenario in_use = scenario;
    scenario::use_channel(in_use, "");
    coverage::Job job = job_of(in_use, wishes);
    clock.begin("ground");
    terrain::HeightSummary heights;
    briefing.ground =
        source.load_around(job.first().position, reach_of(scenario, job), &heights, task);
    const scenario::Layers layers = scenario::load_layers(scenario.ground, briefing.ground, task);
    job.ground = &briefing.ground;
    job.layers = layers.view();
    job.step_m = scenario.step_m.value_or(0.0);
    job.field_reach = scenario::field_reach(scenario);

    clock.begin("map");
    coverage::Result result = coverage::run(job, task);
    briefing.notes = report::coverage_notes(job, result, heights);
    if (!in_use.elsewhere.empty()) {
        briefing.notes.push_back(in_use.notes.back());
    }
    const std::vector<std::string> of_unit = report::height_unit_notes(source.info());
    std::vector<std::string>& said = briefing.scenario->notes; // no matter for the pages
    said.insert(said.end(), of_unit.begin(), of_unit.end());
    if (scenario.correction) {
        const std::vector<std::string> notes = scenario::reach_notes(
            *scenario.correction, points_of({job.first().position, job.reach_m()}),
            scenario::ground_facts(briefing.ground, job.layers));
        briefing.notes.insert(briefing.notes.end(), notes.begin(), notes.end());
    }
    // The map counts the stations that it has; everybody else counts all.
    for (coverage::Band& band : result.raster.bands) {
        if (band.name == coverage::band_info(coverage::BandKind::serving).title) {
            for (float& number : band.values) {
                number = number > 0.0F
                             ? number_in(scenario.stations,
                                         job.stations[static_cast<std::size_t>(number) - 1].name)
                             : number;
            }
        }
    }
    briefing.map = std::move(result.raster);
    put_metadata(briefing.map,
                 coverage::metadata_of(job, result.engine,
                                       {report::terrain_words(source.info()),
                                        layers.cover ? "as the scenario says" : "none",
                                        briefing.correction}));
    const Gathering gathering(scenario, job, briefing, task);
    clock.begin("net");
    gathering.predict_net();
    clock.begin("paths");
    gathering.predict_paths();
    clock.begin("ladder");
    gathering.climb_ladder();
    clock.end();
    gathering.plan_calls();
    task.end();
    return briefing;
}

Briefing briefing_of(coverage::CoverageRaster map, const std::filesystem::path& file,
                     const terrain::TerrainSource& source, const BriefingWishes& wishes,
                     StageClock& clock, Task& task) {
    check_map(map, file);
    Briefing briefing;
    briefing.stations = stations_of(map);
    briefing.places = wishes.places;
    briefing.title = wishes.title.value_or(report::map_title(briefing.stations));
    briefing.date = wishes.date.value_or("");
    briefing.declination_deg = wishes.declination_deg;
    if (const std::string correction = report::map_metadata(map, "FIELD_CORRECTION");
        correction != "none") {
        briefing.correction = correction;
    }
    clock.begin("ground");
    const plan::Circle circle = circle_around(map);
    briefing.ground = source.load_around(circle.centre, circle.radius_m, nullptr, task);
    clock.end();
    task.end();
    if (const std::string warnings = report::map_metadata(map, "WARNINGS");
        !warnings.empty() && warnings != "none") {
        briefing.notes.push_back(warnings);
    }
    briefing.map = std::move(map);
    return briefing;
}

} // namespace earshot::app
