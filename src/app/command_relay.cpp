#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/base/parallel.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/plan/relay_search.hpp"
#include "earshot/report/path_report.hpp"
#include "place_arguments.hpp"
#include "terminal_progress.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <cstdio>
#include <memory>
#include <optional>

namespace earshot::app {
namespace {

struct RelayCommand {
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments at_places, at_relay;
    PlaceArguments places;
    std::string area, people, list, above, slope, step, output;
    std::vector<std::string> near, inside, outside, bases;
    std::string around = "10km", range = "30km", margin = "0dB", link_margin = "0dB";
    std::size_t sites = 1, most_candidates = 2000;
    int cells = 4;
    double seconds = 20.0;
    bool fewest = false, linked = false, json = false;
    unsigned threads = default_thread_count();

    void run() const;

private:
    [[nodiscard]] std::vector<plan::Constraint> constraints() const;
    [[nodiscard]] std::vector<std::string> inputs(const std::vector<std::string>& elevation) const;
    [[nodiscard]] plan::CandidateSet candidates(const terrain::HeightGrid& ground,
                                                Progress& progress) const;
};

/// "300m:roads.gpx".
plan::Constraint parse_near(const std::string& text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string::npos) {
        throw_usage(fmt::format("--near '{}' has no distance; write it like 300m:roads.gpx", text));
    }
    const double distance_m = geo::parse_length_m(text.substr(0, colon), "--near");
    return plan::within_distance(plan::read_shapes(text.substr(colon + 1)), distance_m);
}

std::vector<plan::Constraint> RelayCommand::constraints() const {
    std::vector<plan::Constraint> rules;
    for (const std::string& text : near) {
        rules.push_back(parse_near(text));
    }
    for (const std::string& file : inside) {
        rules.push_back(plan::inside_of(plan::read_shapes(file)));
    }
    for (const std::string& file : outside) {
        rules.push_back(plan::outside_of(plan::read_shapes(file)));
    }
    if (!above.empty()) {
        rules.push_back(plan::above_height(geo::parse_length_m(above, "--above")));
    }
    if (!slope.empty()) {
        rules.push_back(plan::gentler_than(geo::parse_number(slope, "--slope", 0.0, 90.0)));
    }
    return rules;
}

/// All files that are read.
std::vector<std::string> RelayCommand::inputs(const std::vector<std::string>& elevation) const {
    std::vector<std::string> files = cover.files_with(elevation);
    for (const std::string& file : {places.file, area, people, list}) {
        if (!file.empty()) {
            files.push_back(file);
        }
    }
    for (const std::string& text : near) {
        files.push_back(text.substr(text.find(':') + 1));
    }
    files.insert(files.end(), inside.begin(), inside.end());
    files.insert(files.end(), outside.begin(), outside.end());
    return files;
}

plan::CandidateSet RelayCommand::candidates(const terrain::HeightGrid& ground,
                                            Progress& progress) const {
    const std::vector<plan::Constraint> rules = constraints();
    if (!list.empty()) {
        return plan::listed_candidates(ground, plan::read_places(list).places, rules);
    }
    plan::CandidateOptions options;
    options.most = most_candidates;
    options.threads = threads;
    return plan::find_candidates(ground, rules, options, &progress);
}

nlohmann::ordered_json site_properties(const plan::RelaySite& site, std::size_t rank) {
    return {{"name", site.station.name},
            {"rank", rank},
            {"ground_m", site.candidate.ground_m},
            {"antenna_height_m", site.station.antenna_height_m},
            {"serves", site.alone},
            {"adds", site.added},
            {"reason", site.reason}};
}

std::string sites_geojson(const plan::RelayAnswer& answer) {
    nlohmann::ordered_json features = nlohmann::ordered_json::array();
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const plan::RelaySite& site = answer.sites[k];
        features.push_back(
            {{"type", "Feature"},
             {"properties", site_properties(site, k + 1)},
             {"geometry",
              {{"type", "Point"},
               {"coordinates", {site.station.position.lon_deg, site.station.position.lat_deg}}}}});
    }
    const nlohmann::ordered_json document = {{"type", "FeatureCollection"}, {"features", features}};
    return document.dump(2) + "\n";
}

nlohmann::ordered_json json_of(const plan::RelayAnswer& answer, const plan::CandidateSet& set,
                               const std::vector<plan::ServedPlace>& places) {
    nlohmann::ordered_json sites = nlohmann::ordered_json::array();
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const plan::RelaySite& site = answer.sites[k];
        nlohmann::ordered_json json = site_properties(site, k + 1);
        json["latitude"] = site.station.position.lat_deg;
        json["longitude"] = site.station.position.lon_deg;
        json["places"] = nlohmann::ordered_json::array();
        for (const plan::PlaceService& service : site.services) {
            json["places"].push_back({{"name", places[service.place].station.name},
                                      {"served", service.served},
                                      {"to_place_db", service.margins.out_db},
                                      {"to_relay_db", service.margins.back_db},
                                      {"distance_m", service.margins.distance_m},
                                      {"why", service.why}});
        }
        json["links"] = nlohmann::ordered_json::array();
        for (const plan::BackboneLink& link : site.links) {
            json["links"].push_back({{"with", link.with}, {"margin_db", link.margins.least_db()}});
        }
        sites.push_back(std::move(json));
    }
    nlohmann::ordered_json ranking = nlohmann::ordered_json::array();
    for (const plan::RankedCandidate& ranked : answer.ranking) {
        const plan::Candidate& candidate = set.candidates[ranked.candidate];
        ranking.push_back({{"name", candidate.name},
                           {"latitude", candidate.position.lat_deg},
                           {"longitude", candidate.position.lon_deg},
                           {"ground_m", candidate.ground_m},
                           {"serves", ranked.weight}});
    }
    return {{"sites", sites},
            {"served", answer.served},
            {"total", answer.total},
            {"bound", answer.cover.bound},
            {"proven", answer.cover.proven},
            {"method", answer.cover.method == plan::CoverMethod::exact ? "exact" : "greedy"},
            {"how", answer.words},
            {"stopped", answer.stopped},
            {"candidates", answer.candidates},
            {"candidates_evaluated", answer.evaluated},
            {"constraints", plan::removal_words(set)},
            {"single_sites", ranking},
            {"cautions", report::cautions()}};
}

void print_text(const plan::RelayAnswer& answer, const plan::CandidateSet& set, bool of_area) {
    for (const std::string& words : plan::removal_words(set)) {
        fmt::print("Constraint {}.\n", words);
    }
    if (answer.sites.empty()) {
        fmt::print("No candidate serves anything{}.\n",
                   answer.cover.coverable > 0.0 ? " and is linked as asked" : "");
    } else if (of_area) {
        fmt::print("{} serve {:.0f} % of the area's weight ({:.1f} of {:.1f}).\n",
                   answer.sites.size() == 1 ? "One relay would" : "Together the relays",
                   100.0 * answer.served / answer.total, answer.served, answer.total);
    } else {
        fmt::print("{} of {} places are served.\n", answer.places_served, answer.places);
    }
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const plan::RelaySite& site = answer.sites[k];
        fmt::print("{}. {} at {} ({}), ground {:.0f} m: {}.\n", k + 1, site.station.name,
                   geo::format_decimal(site.station.position),
                   geo::format_mgrs(site.station.position), site.candidate.ground_m, site.reason);
    }
    if (answer.ranking.size() > 1) {
        fmt::print("Single sites that serve the most:\n");
        for (const plan::RankedCandidate& ranked : answer.ranking) {
            const plan::Candidate& candidate = set.candidates[ranked.candidate];
            fmt::print("  {}{}  ground {:5.0f} m  serves {:.1f}\n",
                       candidate.name.empty() ? "" : candidate.name + " at ",
                       geo::format_decimal(candidate.position), candidate.ground_m, ranked.weight);
        }
    }
    fmt::print("Chosen by {}.\n", answer.words);
}

void RelayCommand::run() const {
    const std::vector<plan::Place> wanted = places.read();
    if (wanted.empty() == area.empty()) {
        throw_usage(
            "name what to serve: either places (--place, --places-file) or an area (--area)");
    }
    if (!people.empty() && area.empty()) {
        throw_usage("--people goes with --area");
    }
    std::vector<geo::LatLon> positions;
    positions.reserve(wanted.size());
    for (const plan::Place& place : wanted) {
        positions.push_back(place.position);
    }
    plan::Shapes polygon;
    if (!area.empty()) {
        polygon = plan::read_shapes(area);
        for (const auto& rings : polygon.polygons) {
            for (const plan::Shapes::Line& ring : rings) {
                positions.insert(positions.end(), ring.begin(), ring.end());
            }
        }
        if (positions.empty()) {
            throw_input(fmt::format("{} holds no polygon; --area needs one", area));
        }
    }
    plan::RelayQuestion question;
    std::vector<plan::Place> base_places;
    for (const std::string& text : bases) {
        base_places.push_back(parse_named_place(text, "--base"));
        positions.push_back(base_places.back().position);
    }
    const plan::Circle circle = circle_around_places(positions);
    question.settings = propagation.settings(circle.centre);
    const double frequency_mhz = question.settings.frequency_mhz;
    link::Station person{
        "", {}, at_places.height_m(default_antenna_height_m), at_places.radio({}, frequency_mhz)};
    question.relay = {"",
                      {},
                      at_relay.height_m(person.antenna_height_m),
                      at_relay.radio(person.radio, frequency_mhz)};
    noise.apply(person.radio, frequency_mhz);
    noise.apply(question.relay.radio, frequency_mhz);
    std::vector<plan::ServedPlace> served;
    for (const plan::Place& place : wanted) {
        link::Station station = person;
        station.name = place.name;
        station.position = place.position;
        served.push_back({station, place.people});
    }
    for (const plan::Place& place : base_places) {
        link::Station station = question.relay;
        station.name = place.name;
        station.position = place.position;
        question.bases.push_back(station);
    }
    question.connected = linked || !bases.empty();
    question.wanted_margin_db = geo::parse_loss_db(margin, "--margin");
    question.backbone_margin_db = geo::parse_loss_db(link_margin, "--link-margin");
    question.sites = sites;
    question.fewest = fewest;
    question.range_m = geo::parse_length_m(range, "--range");
    question.threads = threads;
    question.limits.seconds = seconds;

    const double around_m = geo::parse_length_m(around, "--around");
    if (around_m < 0.0) {
        throw_usage(fmt::format("--around '{}' must be 0 m or more", around));
    }

    TerminalProgress progress;
    const terrain::TerrainSource source = terrain.open();
    check_outputs({output}, inputs(source.info().files));
    const terrain::HeightGrid ground =
        source.load_around(circle.centre, circle.radius_m + geo::parse_length_m(around, "--around"),
                           nullptr, &progress);
    const Layers layers(cover, ground, &progress);
    question.layers = layers.view();
    question.step_m =
        profile_step_m(step, ground, circle.centre,
                       area.empty() ? 2.0 * (circle.radius_m + around_m) : question.range_m);
    const plan::CandidateSet set = candidates(ground, progress);
    plan::RelayAnswer answer;
    if (area.empty()) {
        answer = plan::search_relays(ground, set.candidates, served, question, &progress);
    } else {
        std::optional<terrain::HeightGrid> counts;
        if (!people.empty()) {
            counts = terrain::TerrainSource::open({people}).load_all(nullptr, &progress);
        }
        const plan::ServiceArea service =
            plan::service_area(ground, polygon, cells, counts ? &*counts : nullptr, person);
        answer = plan::search_relays(ground, set.candidates, service, question, &progress);
    }
    progress.end();
    if (!output.empty()) {
        write_text_file(output, sites_geojson(answer));
    }
    if (json) {
        nlohmann::ordered_json document = json_of(answer, set, served);
        document["notes"] = layers.notes();
        fmt::print("{}\n", document.dump(2));
    } else {
        print_text(answer, set, !area.empty());
        for (const std::string& note : layers.notes()) {
            fmt::print("Note: {}.\n", note);
        }
        if (!output.empty()) {
            fmt::print("Wrote {}.\n", output);
        }
        fmt::print("{}\n", report::cautions());
    }
    if (answer.stopped) {
        std::fflush(stdout);
        throw Error(ExitCode::interrupted, "stopped; what is printed is the best so far");
    }
}

} // namespace

void add_relay_command(CLI::App& app) {
    auto command = std::make_shared<RelayCommand>();
    CLI::App* sub = app.add_subcommand(
        "relay", "Find the best sites for relays that serve places or an area, both ways");
    command->places.add_to(*sub, "place", "Place to serve");
    sub->add_option("--area", command->area, "Serve the polygons of this file, cell by cell")
        ->type_name("FILE");
    sub->add_option("--people", command->people,
                    "With --area: raster of people per cell, to count them instead of km2")
        ->type_name("FILE");
    sub->add_option("--cells", command->cells,
                    "With --area: cells of the elevation along a side of a served cell")
        ->check(CLI::Range(1, 1000))
        ->capture_default_str()
        ->type_name("N");
    sub->add_option("--sites", command->sites, "How many relays at most")
        ->capture_default_str()
        ->type_name("N");
    sub->add_flag("--fewest", command->fewest,
                  "Serve all that can be served, with the fewest relays");
    sub->add_option("--margin", command->margin, "Margin wanted between relay and place, both ways")
        ->capture_default_str()
        ->type_name("DB");
    sub->add_flag("--linked", command->linked, "The relays must be linked with one another");
    sub->add_option("--base", command->bases,
                    "A base that the relays must be linked with, through others or directly, "
                    "with the relays' radio; may be given several times")
        ->type_name("NAME=POSITION")
        ->take_all();
    sub->add_option("--link-margin", command->link_margin, "Margin wanted of such links, both ways")
        ->capture_default_str()
        ->type_name("DB");
    const std::string where = "Where a relay may stand";
    sub->add_option("--around", command->around,
                    "How far beyond the circle around all places to look")
        ->capture_default_str()
        ->type_name("LENGTH")
        ->group(where);
    sub->add_option("--near", command->near,
                    "Only this near to a point, line or area of a file, for example "
                    "300m:roads.gpx; may be given several times")
        ->type_name("LENGTH:FILE")
        ->take_all()
        ->group(where);
    sub->add_option("--inside", command->inside, "Only inside the polygons of this file")
        ->type_name("FILE")
        ->take_all()
        ->group(where);
    sub->add_option("--outside", command->outside, "Not inside the polygons of this file")
        ->type_name("FILE")
        ->take_all()
        ->group(where);
    sub->add_option("--above", command->above, "Only on ground at least this high above sea level")
        ->type_name("LENGTH")
        ->group(where);
    sub->add_option("--slope", command->slope, "Only on ground no steeper than this, in degrees")
        ->type_name("DEGREES")
        ->group(where);
    sub->add_option("--candidates", command->list,
                    "Only the places of this file, as for --places-file")
        ->type_name("FILE")
        ->group(where);
    sub->add_option("--most-candidates", command->most_candidates,
                    "How many prominent places to try at most")
        ->check(CLI::Range(std::size_t{1}, std::size_t{1000000}))
        ->capture_default_str()
        ->type_name("N")
        ->group(where);
    command->terrain.add_to(*sub, true);
    command->cover.add_to(*sub);
    command->propagation.add_to(*sub);
    command->noise.add_to(*sub);
    sub->add_option("--step", command->step,
                    "Spacing of profile points; left out, the size of a cell of the elevation")
        ->type_name("LENGTH")
        ->group("Prediction");
    sub->add_option("--range", command->range, "With --area: how far a relay is looked at")
        ->capture_default_str()
        ->type_name("LENGTH")
        ->group("Prediction");
    command->at_places.add_to(*sub, "", "each place's", "Radios at the places", true);
    command->at_relay.add_to(*sub, "relay-", "the relay's",
                             "Relays, where they differ from the places", true);
    sub->add_option("--seconds", command->seconds,
                    "Time limit for choosing the best combination exactly")
        ->check(CLI::Range(0.0, 86400.0))
        ->capture_default_str()
        ->type_name("S");
    sub->add_option("--out", command->output, "Write the chosen sites as well")
        ->type_name("FILE.geojson");
    sub->add_option("--threads", command->threads, "Processors to use")
        ->check(CLI::Range(1U, 1024U))
        ->capture_default_str()
        ->type_name("N");
    sub->add_flag("--json", command->json, "Print JSON for programs");
    sub->footer(
        "Stopped with Ctrl-C, the command prints and writes the best so far.\n\nExample:\n  "
        "earshot relay --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz "
        "\\\n    --place Mill=36.60,-84.20 --place Camp=36.68,-84.10 --place "
        "Ford=36.52,-84.30 \\\n    --relay-antenna-height 20ft --margin 10dB --sites 2\n\n" +
        report::cautions());
    sub->callback([command] { command->run(); });
}

} // namespace earshot::app
