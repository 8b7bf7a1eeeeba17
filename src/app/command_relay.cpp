#include "app/commands.hpp"
#include "app/shared_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/named.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "geo/units.hpp"
#include "plan/relay_search.hpp"
#include "report/files/places_files.hpp"
#include "report/say/coverage_report.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_report.hpp"
#include "terrain/shapes.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstdio>
#include <optional>

namespace earshot::app {
namespace {

/// An area in the cells asked for and in larger ones, on which many candidates are sifted first.
struct AreaToServe {
    plan::ServiceArea coarse, fine;
};

struct RelayCommand {
    SharedArguments shared;
    RadioArguments at_places, at_relay;
    PlaceArguments places;
    std::string area, people, list, above, slope, relay_like, takes_in, gives_out;
    std::string serve = "all";
    std::vector<std::string> near, inside, outside, bases, outputs;
    std::string around = "10km", range = "30km", apart = "1km", margin, link_margin;
    std::size_t sites = 1, most_candidates = 2000, shortlist = 300;
    int cells = 4;
    double seconds = 20.0;
    bool fewest = false, linked = false, apply = false, json = false;
    unsigned threads = default_thread_count();

    void add_to(const Options& options);
    void run() const;

private:
    void add_what_to_serve(const Options& options);
    void add_where_to_stand(const Options& options);
    void check() const;
    [[nodiscard]] std::vector<plan::ServedPlace> wanted(const SharedInputs& inputs) const;
    [[nodiscard]] plan::RelayQuestion question(const SharedInputs& inputs, geo::LatLon middle,
                                               std::vector<link::Station> stations_of_bases) const;
    void make_repeaters(const SharedInputs& inputs, plan::RelayQuestion& question) const;
    void equip(const SharedInputs& inputs, const plan::RelayQuestion& question,
               plan::ServedPlace& place) const;
    [[nodiscard]] std::vector<plan::ServedPlace> on_both_sides(const SharedInputs& inputs) const;
    [[nodiscard]] std::vector<plan::Constraint> constraints() const;
    [[nodiscard]] std::vector<std::string> files() const;
    [[nodiscard]] plan::CandidateSet candidates(const terrain::HeightGrid& ground,
                                                Task& task) const;
    [[nodiscard]] AreaToServe in_cells(const terrain::HeightGrid& ground,
                                       const terrain::Shapes& polygon, const link::Station& person,
                                       Task& task) const;
    void write(const std::string& file, const report::RelayResult& result,
               const link::Station& person, const plan::RelayQuestion& question,
               const coverage::InputLabels& labels, Task& task) const;
    void write_into_scenario(const report::RelayResult& result,
                             const plan::RelayQuestion& question) const;
    void search(const terrain::HeightGrid& ground, const plan::RelayQuestion& question,
                const std::optional<AreaToServe>& service, report::RelayResult& result,
                Task& task) const;
};

bool is_map(const std::string& file) {
    return file.ends_with(".tif") || file.ends_with(".tiff");
}

/// "300m:roads.gpx".
plan::Constraint parse_near(const std::string& text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string::npos) {
        throw_usage(fmt::format("--near '{}' has no distance; write it like 300m:roads.gpx", text));
    }
    const double distance_m = geo::parse_length_m(text.substr(0, colon), "--near");
    return plan::within_distance(terrain::read_shapes(text.substr(colon + 1)), distance_m);
}

void RelayCommand::check() const {
    if (!people.empty() && area.empty()) {
        throw_usage("--people goes with --area");
    }
    if (!gives_out.empty() && takes_in.empty()) {
        throw_usage("--gives-out goes with --takes-in, the channel on which the repeater hears");
    }
    if (!takes_in.empty()) {
        const bool map = std::ranges::any_of(outputs, is_map);
        if (shared.scenario.empty()) {
            throw_usage("--takes-in names a channel of a --scenario; name one");
        }
        if (!area.empty() || linked || !bases.empty() || map) {
            throw_usage("a repeater is placed for stations and places; leave out --area, --linked, "
                        "--base and maps");
        }
    }
    if (apply && shared.scenario.empty()) {
        throw_usage("--apply writes the relays into a --scenario; name one");
    }
    for (const std::string& file : outputs) {
        if (!is_map(file) && !report::is_points_file(file)) {
            throw_usage(fmt::format("--out '{}' must end in .geojson, .gpx or .kml (the sites) or "
                                    ".tif (a map)",
                                    file));
        }
    }
}

/// The places to serve; none if an area is.
std::vector<plan::ServedPlace> RelayCommand::wanted(const SharedInputs& inputs) const {
    const auto who = meaning<Served>(
        "--serve", serve,
        {{"all", Served::all}, {"stations", Served::stations}, {"places", Served::places}});
    if (!takes_in.empty()) {
        return on_both_sides(inputs);
    }
    if (places.given() && !area.empty()) {
        throw_usage("serve either places or --area, not both");
    }
    if (places.given() || !area.empty()) {
        return places.read(inputs);
    }
    if (!inputs.scenario()) {
        throw_usage("name what to serve: places (--place, --places-file), an area (--area) or a "
                    "--scenario");
    }
    std::vector<plan::ServedPlace> everyone = everybody(*inputs.scenario(), who);
    if (everyone.empty()) {
        throw_usage(fmt::format("{} has no places to serve; name some, or --serve stations",
                                inputs.scenario()->file.string()));
    }
    return everyone;
}

/// The two channels of the repeater by their numbers.
std::pair<std::size_t, std::size_t> sides_of(const scenario::Scenario& scenario,
                                             const std::string& takes_in,
                                             const std::string& gives_out) {
    const std::vector<scenario::Channel>& channels = scenario.air.channels;
    const auto number = [&](const std::string& option, const std::string& name) {
        const scenario::Channel* found = named(channels, name);
        if (found == nullptr) {
            throw_usage(fmt::format("{} '{}' is no channel of {}; it has {}", option, name,
                                    scenario.file.string(),
                                    fmt::join(earshot::names_of(channels), ", ")));
        }
        return static_cast<std::size_t>(found - channels.data());
    };
    const std::size_t in = number("--takes-in", takes_in);
    const std::size_t out = gives_out.empty() ? in : number("--gives-out", gives_out);
    if (channels[in].transmit_mhz == channels[out].receive_mhz) {
        throw_usage(fmt::format("the repeater would give out on the {:g} MHz that it takes in and "
                                "hear itself; --gives-out must be a channel with another "
                                "receive_mhz",
                                channels[in].transmit_mhz));
    }
    return {in, out};
}

/// Whom repeaters are to serve: those who talk on the one channel and listen on the other.
std::vector<plan::ServedPlace> RelayCommand::on_both_sides(const SharedInputs& inputs) const {
    const scenario::Scenario& scenario = *inputs.scenario();
    const auto sides = sides_of(scenario, takes_in, gives_out);
    const std::size_t in = sides.first;   // named anew: Clang 14 hands no bindings to
    const std::size_t out = sides.second; // lambdas
    const scenario::Tuned& talked = scenario.air.talked[in];
    const scenario::Tuned& heard = scenario.air.heard[out];
    std::vector<plan::ServedPlace> served;
    std::vector<std::string> left_out;
    const auto add_place = [&](const std::string& name, geo::LatLon position, double weight) {
        if (!talked.listener || !heard.listener) {
            left_out.push_back(name);
            return;
        }
        served.push_back({*heard.listener, weight, talked.listener->radio});
        served.back().station.name = name;
        served.back().station.position = position;
    };
    const auto add_station = [&](std::size_t station) {
        if (scenario.air.is_repeater(station)) {
            return;
        }
        if (scenario.air.has(station, in) && scenario.air.has(station, out)) {
            served.push_back({heard.stations[station], 1.0, talked.stations[station].radio});
        } else {
            left_out.push_back(heard.stations[station].name);
        }
    };
    if (places.given()) {
        for (const plan::ServedPlace& place : places.read(inputs)) {
            const link::Station* station = named(heard.stations, place.station.name);
            if (station != nullptr) {
                add_station(static_cast<std::size_t>(station - heard.stations.data()));
            } else {
                add_place(place.station.name, place.station.position, place.weight);
            }
        }
    } else {
        for (std::size_t station = 0; station < heard.stations.size() && serve != "places";
             ++station) {
            add_station(station);
        }
        for (const scenario::Place& place : scenario.places) {
            if (serve != "stations" && place.people > 0.0) {
                add_place(place.name, place.position, place.people);
            }
        }
    }
    if (!left_out.empty()) {
        inputs.tell(fmt::format("not on both channels of the repeater and left out: {}",
                                fmt::join(left_out, ", ")));
    }
    if (served.empty()) {
        throw_usage("nobody talks on the one channel and listens on the other; give a station both "
                    "with channels, or [listener] radios and antennas for both");
    }
    return served;
}

/// What the repeaters take in and give out, each with its own radio.
void RelayCommand::make_repeaters(const SharedInputs& inputs, plan::RelayQuestion& question) const {
    const scenario::Scenario& scenario = *inputs.scenario();
    const scenario::Air& air = scenario.air;
    const auto sides = sides_of(scenario, takes_in, gives_out);
    const std::size_t in = sides.first;   // named anew: Clang 14 hands no bindings to
    const std::size_t out = sides.second; // lambdas
    std::optional<link::Station> taking = air.talked[in].listener;
    std::optional<link::Station> giving = air.heard[out].listener;
    if (!relay_like.empty()) {
        const link::Station* like = named(air.heard[out].stations, relay_like);
        if (like == nullptr) {
            throw_usage(fmt::format("--relay-like: no station is named '{}'", relay_like));
        }
        const auto station = static_cast<std::size_t>(like - air.heard[out].stations.data());
        const bool repeats = std::ranges::any_of(air.repeats, [&](const scenario::Repeat& repeat) {
            return repeat.station == station && repeat.takes_in == in && repeat.gives_out == out;
        });
        taking.reset();
        if (repeats || (air.has(station, in) && air.has(station, out))) {
            taking = air.talked[in].stations[station];
            giving = air.heard[out].stations[station];
        }
    }
    if (!taking || !giving) {
        throw_usage("the repeater has no radio and antenna for both of its channels; name with "
                    "--relay-like a station that has");
    }
    const auto under = [&](double frequency_mhz) {
        return scenario::setting_on(scenario, question, frequency_mhz).conditions;
    };
    plan::TakenIn taken_in{under(air.talked[in].frequency_mhz), {}};
    question.conditions = under(air.heard[out].frequency_mhz);
    inputs.equip(*taking, at_relay, taken_in.conditions.frequency_mhz);
    inputs.equip(*giving, at_relay, question.conditions.frequency_mhz);
    taken_in.relay = taking->radio;
    question.relay = *giving;
    question.relay.name.clear();
    question.taken_in = std::move(taken_in);
    inputs.tell(fmt::format(
        "the relay is a repeater that takes in {:g} MHz and gives out {:g} MHz; each way is "
        "counted "
        "on its own. It may need a licence of its own or be forbidden: ask whoever knows the local "
        "rules before it is switched on",
        air.talked[in].frequency_mhz, air.heard[out].frequency_mhz));
}

/// A place with the radios of the options, on both frequencies of a repeater.
void RelayCommand::equip(const SharedInputs& inputs, const plan::RelayQuestion& question,
                         plan::ServedPlace& place) const {
    if (place.talking && question.taken_in) {
        link::Station talker = place.station;
        talker.radio = *place.talking;
        inputs.equip(talker, at_places, question.taken_in->conditions.frequency_mhz);
        place.talking = talker.radio;
    }
    inputs.equip(place.station, at_places, question.conditions.frequency_mhz);
}

plan::RelayQuestion RelayCommand::question(const SharedInputs& inputs, geo::LatLon middle,
                                           std::vector<link::Station> stations_of_bases) const {
    plan::RelayQuestion question;
    question.conditions = inputs.settings(middle);
    const double frequency_mhz = question.conditions.frequency_mhz;
    if (!takes_in.empty()) {
        make_repeaters(inputs, question);
    } else if (relay_like.empty()) {
        question.relay = inputs.listener();
        inputs.equip(question.relay, at_relay, frequency_mhz, at_places);
    } else {
        question.relay = inputs.named_station("--relay-like", relay_like);
        inputs.equip(question.relay, at_relay, frequency_mhz);
    }
    question.relay.name.clear();
    for (link::Station& base : stations_of_bases) {
        // A base that is no station of the scenario has the relays' radio.
        if (!inputs.scenario() || named(inputs.scenario()->stations, base.name) == nullptr) {
            base.radio = question.relay.radio;
            base.antenna_height_m = question.relay.antenna_height_m;
        }
        question.bases.push_back(std::move(base));
    }
    question.connected = linked || !bases.empty();
    question.wanted_margin_db = inputs.wanted_margin_db("--margin", margin);
    question.backbone_margin_db = inputs.wanted_margin_db("--link-margin", link_margin);
    question.sites = sites;
    question.fewest = fewest;
    question.range_m = geo::parse_length_m(range, "--range");
    question.apart_m = geo::parse_length_m(apart, "--apart");
    question.limits.seconds = seconds;
    return question;
}

std::vector<plan::Constraint> RelayCommand::constraints() const {
    std::vector<plan::Constraint> rules;
    for (const std::string& text : near) {
        rules.push_back(parse_near(text));
    }
    for (const std::string& file : inside) {
        rules.push_back(plan::inside_of(terrain::read_shapes(file)));
    }
    for (const std::string& file : outside) {
        rules.push_back(plan::outside_of(terrain::read_shapes(file)));
    }
    if (!above.empty()) {
        rules.push_back(plan::above_height(geo::parse_height_m(above, "--above")));
    }
    if (!slope.empty()) {
        rules.push_back(plan::gentler_than(geo::parse_number(slope, "--slope", 0.0, 90.0)));
    }
    return rules;
}

/// Files that are read beside those of the shared options.
std::vector<std::string> RelayCommand::files() const {
    std::vector<std::string> files;
    for (const std::string& file : {places.file(), area, people, list}) {
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

plan::CandidateSet RelayCommand::candidates(const terrain::HeightGrid& ground, Task& task) const {
    const std::vector<plan::Constraint> rules = constraints();
    if (!list.empty()) {
        return plan::listed_candidates(ground, scenario::read_places(list).places, rules);
    }
    plan::CandidateOptions options;
    options.most = most_candidates;
    return plan::find_candidates(ground, rules, options, task);
}

/// Finds candidates and asks the question of them. Stopped before one was predicted, it asks it of
/// the likeliest few, which takes a moment.
void RelayCommand::search(const terrain::HeightGrid& ground, const plan::RelayQuestion& question,
                          const std::optional<AreaToServe>& service, report::RelayResult& result,
                          Task& task) const {
    result.candidates = candidates(ground, task);
    const std::vector<plan::Candidate>& all = result.candidates.candidates;
    const auto ask = [&](std::size_t count) {
        const std::span<const plan::Candidate> asked(all.data(), count);
        return service ? plan::search_relays_in_stages(asked, service->coarse, service->fine,
                                                       question, shortlist, task)
                       : plan::search_relays(asked, result.places, question, task);
    };
    if (!result.candidates.stopped) {
        try {
            result.answer = ask(all.size());
            return;
        } catch (const Error& error) {
            if (error.fault() != Fault::stopped) {
                throw;
            }
        }
    }
    TerminalTask::forget_stop();
    constexpr std::size_t few = 8;
    result.answer = ask(std::min(few, all.size()));
    result.answer.stopped = true;
    result.answer.prominent_of = all.size();
}

/// The polygons in cells, and in cells four times as wide to sift candidates on.
AreaToServe RelayCommand::in_cells(const terrain::HeightGrid& ground,
                                   const terrain::Shapes& polygon, const link::Station& person,
                                   Task& task) const {
    std::optional<terrain::HeightGrid> counts;
    if (!people.empty()) {
        counts = terrain::TerrainSource::open({people}).load_all(nullptr, task);
    }
    const auto of_side = [&](int side) {
        return plan::service_area(ground, polygon, side, counts ? &*counts : nullptr, person, task);
    };
    AreaToServe service;
    service.fine = of_side(cells);
    try {
        constexpr int coarser = 4;
        service.coarse = of_side(cells * coarser);
    } catch (const Error&) { // too small to hold one of these
        task.throw_if_stopped();
        service.coarse = service.fine;
    }
    return service;
}

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

/// The map of chosen sites on the elevation's own cells within range of any of them: for each site
/// a band of the margin that a `person` has with it, the weaker way of both, named after the site;
/// then the best of these margins, the number of sites that give the wanted one, and which of them
/// is best. The loss of the way out is taken for the way back too. Throws as coverage::run().
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

void RelayCommand::write(const std::string& file, const report::RelayResult& result,
                         const link::Station& person, const plan::RelayQuestion& question,
                         const coverage::InputLabels& labels, Task& task) const {
    if (file.ends_with(".gpx") || file.ends_with(".kml")) {
        std::vector<report::NamedPoint> points;
        for (const plan::RelaySite& site : result.answer.sites) {
            points.push_back({site.station.name,
                              fmt::format("ground at {:.0f} m", site.candidate.ground_m),
                              site.station.position});
        }
        write_text_file(file, report::points_file(file, points));
    } else if (!is_map(file)) {
        write_text_file(file, report::relay_geojson(result));
    } else if (result.answer.sites.empty()) {
        throw_output(fmt::format("{} is not written: there is no site to map", file));
    } else {
        report::write_coverage_geotiff(
            file, relay_map(result.answer.sites, person, question, labels, task), task);
        task.end();
    }
    if (!json) {
        fmt::print("Wrote {}.\n", file);
    }
}

/// Adds the sites to the scenario as stations, if their radio is one that it has.
void RelayCommand::write_into_scenario(const report::RelayResult& result,
                                       const plan::RelayQuestion& question) const {
    std::vector<link::Station> stations;
    for (const plan::RelaySite& site : result.answer.sites) {
        stations.push_back(site.station);
    }
    const scenario::NewRepeat repeat{takes_in, gives_out.empty() ? takes_in : gives_out,
                                     question.taken_in ? question.taken_in->relay : link::Radio{}};
    const std::vector<std::string> names = scenario::add_stations(
        shared.scenario, std::move(stations), "relay", question.taken_in ? &repeat : nullptr);
    if (!json) {
        fmt::print("Wrote {} into {}; earshot net --scenario {} says who hears whom then.\n",
                   fmt::join(names, ", "), shared.scenario, shared.scenario);
    }
}

void RelayCommand::run() const {
    check();
    const SharedInputs inputs(shared);
    report::RelayResult result;
    result.places = wanted(inputs);
    const terrain::TerrainSource source = inputs.open(outputs, files());
    places.keep_on_ground(result.places, source, inputs);
    std::vector<link::Station> ends; // of all that is looked at: only their positions count
    for (const plan::ServedPlace& place : result.places) {
        ends.push_back(place.station);
    }
    terrain::Shapes polygon;
    if (!area.empty()) {
        polygon = terrain::read_shapes(area);
        terrain::require_polygons(polygon);
        for (const auto& rings : polygon.polygons) {
            for (const terrain::Shapes::Line& ring : rings) {
                for (const geo::LatLon corner : ring) {
                    ends.emplace_back().position = corner;
                }
            }
        }
    }
    std::vector<link::Station> base_stations;
    for (const std::string& text : bases) {
        base_stations.push_back(inputs.named_station("--base", text));
    }
    ends.insert(ends.end(), base_stations.begin(), base_stations.end());
    const plan::Circle circle = plan::circle_around(ends);
    plan::RelayQuestion question = this->question(inputs, circle.centre, std::move(base_stations));
    const double frequency_mhz = question.conditions.frequency_mhz;
    for (plan::ServedPlace& place : result.places) {
        equip(inputs, question, place);
    }
    link::Station person = inputs.listener();
    inputs.equip(person, at_places, frequency_mhz);
    const double around_m = geo::parse_length_m(around, "--around");

    TerminalTask task(threads);
    const double reach_m = circle.radius_m + around_m;
    const GroundRead ground(inputs, source, {circle.centre, reach_m}, task);
    ground.lay(question, area.empty() ? 2.0 * reach_m : question.range_m);
    const std::optional<AreaToServe> service =
        area.empty() ? std::nullopt
                     : std::optional(in_cells(ground.heights(), polygon, person, task));
    search(ground.heights(), question, service, result, task);
    task.end();
    // What was found is printed and written whole; the next signal stops that.
    TerminalTask::forget_stop();
    result.relay = question.relay;
    result.sites_asked = fewest ? 1 : sites;
    result.apart_m = question.apart_m;
    result.wanted_margin_db = question.wanted_margin_db;
    result.notes = ground.notes();
    fmt::print("{}", json ? report::relay_json(result) : report::relay_text(result));
    std::fflush(stdout);
    const coverage::InputLabels labels{report::terrain_words(source.info()), ground.cover_words(),
                                       inputs.correction_words()};
    try {
        for (const std::string& file : outputs) {
            write(file, result, person, question, labels, task);
        }
    } catch (const Error& error) {
        if (error.fault() == Fault::stopped) {
            publish_outputs(); // the files before it are kept
        }
        throw;
    }
    if (apply && !result.answer.stopped && !result.answer.sites.empty()) {
        write_into_scenario(result, question);
    }
    if (!json) {
        fmt::print("{}\n", report::cautions());
    }
    if (result.answer.stopped) {
        publish_outputs();
        std::fflush(stdout);
        throw Error(Fault::stopped, "stopped; what is printed is the best so far");
    }
}

void RelayCommand::add_what_to_serve(const Options& options) {
    places.add_to(options, "place", "Place to serve");
    const Options what = options.under("What to serve");
    what.add("--serve", serve,
             "With a scenario, and no place or area named: all, stations or places of it", "WHO");
    what.add("--area", area, "Serve the polygons of this file, cell by cell", "FILE");
    what.add("--people", people,
             "With --area: raster of people per cell, to count them instead of km2", "FILE");
    what.add("--cells", cells, "With --area: cells of the elevation along a side of a served cell",
             "N")
        .between(1, 1000);
    what.add("--shortlist", shortlist,
             "With --area: more candidates than these are sifted on cells four times as wide first",
             "N")
        .between(std::size_t{1}, std::size_t{1000000});
    what.add("--sites", sites, "How many relays at most", "N").between<std::size_t>(1, 1000);
    what.flag("--fewest", fewest, "Serve all that can be served, with the fewest relays");
    what.add("--margin", margin,
             "Margin wanted between relay and place, both ways; left out, the scenario's, or 0dB",
             "DB");
    what.flag("--linked", linked, "The relays must be linked with one another");
    what.add("--base", bases,
             "A base that the relays must be linked with, through others or directly: a station of "
             "the scenario, or a name and a position, with the relays' radio; may be given several "
             "times",
             "NAME[=POSITION]")
        .take_all();
    what.add("--link-margin", link_margin,
             "Margin wanted of such links, both ways; left out, the scenario's, or 0dB", "DB");
}

void RelayCommand::add_where_to_stand(const Options& options) {
    const Options where = options.under("Where a relay may stand");
    where.add("--around", around, "How far beyond the circle around all places to look", "LENGTH");
    where
        .add(
            "--near", near,
            "Only this near to a point, line or area of a file, for example 300m:roads.gpx; may be "
            "given several times",
            "LENGTH:FILE")
        .take_all();
    where.add("--inside", inside, "Only inside the polygons of this file", "FILE").take_all();
    where.add("--outside", outside, "Not inside the polygons of this file", "FILE").take_all();
    where.add("--above", above, "Only on ground at least this high above sea level", "LENGTH");
    where.add("--slope", slope, "Only on ground no steeper than this, in degrees", "DEGREES");
    where.add("--candidates", list, "Only the places of this file, as for --places-file", "FILE");
    where.add("--most-candidates", most_candidates, "How many prominent places to try at most", "N")
        .between(std::size_t{1}, std::size_t{1000000});
    where.add("--apart", apart, "Between the single sites that are listed", "LENGTH");
}

void RelayCommand::add_to(const Options& options) {
    add_what_to_serve(options);
    add_where_to_stand(options);
    shared.add_to(options);
    options.under("Prediction")
        .add("--range", range, "With --area, and for a map: how far a relay is looked at",
             "LENGTH");
    at_places.add_to(options, "", "each place's", "Radios at the places");
    const std::string relays = "Relays, where they differ from the places";
    options.under(relays).add(
        "--relay-like", relay_like,
        "The relays have radio, antenna and height of this station of the scenario", "NAME");
    options.under(relays).add(
        "--takes-in", takes_in,
        "The relays are repeaters: the channel of the scenario on which they hear", "CHANNEL");
    options.under(relays).add(
        "--gives-out", gives_out,
        "The channel on which repeaters send; left out, that of --takes-in, which has two "
        "frequencies then",
        "CHANNEL");
    at_relay.add_to(options, "relay-", "the relay's", relays);
    options.add("--seconds", seconds, "Time limit for choosing the best combination exactly", "S")
        .between(0.0, 86400.0);
    options
        .add("--out", outputs,
             "Write the chosen sites (.geojson, .gpx or .kml), or a map of the margin with each "
             "of them, the best margin and who serves best (.tif); may be given several times",
             "FILE")
        .take_all();
    options.flag("--apply", apply,
                 "Write the chosen sites into the scenario file, as stations at its end");
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options,
               "earshot relay --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz "
               "\\\n    --place Mill=36.60,-84.20 --place Camp=36.68,-84.10 --place "
               "Ford=36.52,-84.30 \\\n    --relay-antenna-height 20ft --margin 10dB --sites 2\n  "
               "earshot relay --scenario net.toml --sites 2 --out map.tif",
               "Stopped with Ctrl-C, the command prints and writes the best so far.");
}

} // namespace

void add_relay_command(Program& program) {
    program.add<RelayCommand>(
        "relay", "Find the best sites for relays that serve places or an area, both ways");
}

} // namespace earshot::app
