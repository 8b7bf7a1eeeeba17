// Writes the pages for a browser that the tests look at.
//   make_page SCENARIO.toml MAP.tif OUT.html   of a scenario and a finished map of its stations
//   make_page GROUND.tif MAP.tif OUT.html      of a finished map of one station alone

#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "report/files/browser_page.hpp"
#include "report/say/briefing.hpp"
#include "scenario/scenario.hpp"
#include "setting.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <filesystem>
#include <string>
#include <utility>

using namespace earshot;

namespace {

plan::HearingRequest request_of(const scenario::Scenario& scenario,
                                const terrain::HeightGrid& ground) {
    plan::HearingRequest request;
    request.conditions = scenario.conditions;
    request.wanted_margin_db = scenario.wanted_margin_db;
    request.step_m = terrain::natural_step_m(ground, scenario.stations.front().position);
    return request;
}

std::vector<report::BriefedPath> paths_of(const scenario::Scenario& scenario,
                                          const terrain::HeightGrid& ground, double step_m) {
    std::vector<report::BriefedPath> paths;
    for (const auto& [from, to] : scenario.briefing.paths) {
        paths.push_back({fmt::format("{} to {}", from, to),
                         link::two_way_path({&ground, {}, scenario.conditions, step_m},
                                            scenario::station_named(scenario, from),
                                            scenario::station_named(scenario, to))});
    }
    return paths;
}

plan::LadderAnswer ladder_of(const scenario::Scenario& scenario, const terrain::HeightGrid& ground,
                             double step_m) {
    const link::Station there = scenario::station_named(scenario, scenario.briefing.ladder.back());
    plan::LadderQuestion question;
    question.here = scenario::station_named(scenario, scenario.briefing.ladder.front());
    question.there.push_back({there, 1.0});
    question.person = scenario.listener;
    question.conditions = scenario.conditions;
    question.step_m = step_m;
    return plan::climb_ladder(test::on(ground, question));
}

report::Briefing briefing_of(const std::filesystem::path& scenario_file,
                             const std::filesystem::path& map_file) {
    report::Briefing briefing;
    scenario::Scenario scenario = scenario::read_scenario(scenario_file);
    briefing.title = scenario.briefing.title;
    briefing.date = scenario.briefing.date;
    briefing.prepared_by = scenario.briefing.prepared_by;
    briefing.map = report::read_coverage_geotiff(map_file);
    briefing.ground = scenario::open_elevation(scenario.ground).load_all();
    briefing.stations = scenario.stations;
    briefing.places = scenario.places;
    const plan::HearingRequest request = request_of(scenario, briefing.ground);
    briefing.pairs = plan::hear_net(scenario, test::on(briefing.ground, request));
    briefing.net = plan::net_structure(scenario.stations.size(), briefing.pairs);
    briefing.paths = paths_of(scenario, briefing.ground, request.step_m);
    briefing.ladder = ladder_of(scenario, briefing.ground, request.step_m);
    briefing.ladder_title =
        fmt::format("{} to {}", scenario.briefing.ladder.front(), scenario.briefing.ladder.back());
    briefing.declination_deg = scenario.briefing.declination_deg;
    briefing.notes = scenario.notes;
    briefing.remarks = scenario.briefing.remarks;
    briefing.scenario = std::move(scenario);
    return briefing;
}

report::Briefing briefing_of_map(const std::filesystem::path& ground_file,
                                 const std::filesystem::path& map_file) {
    report::Briefing briefing;
    briefing.map = report::read_coverage_geotiff(map_file);
    briefing.ground = terrain::TerrainSource::open({ground_file}).load_all();
    const auto said = [&briefing](std::string_view key) {
        return report::map_metadata(briefing.map, key);
    };
    link::Station station;
    station.name = said("STATION_NAME");
    station.position = {std::stod(said("STATION_LATITUDE")), std::stod(said("STATION_LONGITUDE"))};
    station.antenna_height_m = std::stod(said("STATION_ANTENNA_HEIGHT_M"));
    briefing.title = fmt::format("Where {} is heard", station.name);
    briefing.stations.push_back(station);
    return briefing;
}

} // namespace

int main(int count, char** words) {
    try {
        if (count != 4) {
            throw_usage("make_page SCENARIO.toml|GROUND.tif MAP.tif OUT.html");
        }
        const std::filesystem::path source = words[1];
        report::write_browser_page(words[3], source.extension() == ".toml"
                                                 ? briefing_of(source, words[2])
                                                 : briefing_of_map(source, words[2]));
    } catch (const std::exception& error) {
        std::fprintf(stderr, "make_page: %s\n", error.what());
        return 1;
    }
    return 0;
}
