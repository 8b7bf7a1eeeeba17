#include "app/shared_arguments.hpp"

#include "base/input_file.hpp"
#include "base/named.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/refractivity.hpp"
#include "geo/units.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/building_entry.hpp"
#include "propagation/noise.hpp"
#include "report/say/coverage_report.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>
#include <utility>

namespace earshot::app {

void CoverArguments::add_to(const Options& options) {
    const Options cover = options.under("Ground cover");
    cover.add("--cover", inputs,
              "Ground cover classes: rasters in any format GDAL reads; where they overlap, the "
              "first counts",
              "FILE...");
    cover.add("--cover-table", table,
              "What the classes mean: worldcover (ESA WorldCover), nlcd (National Land Cover "
              "Database, MRLC/USGS) or a CSV file with the columns code, name, clutter, height_m, "
              "woodland",
              "NAME");
    cover.add("--cover-everywhere", everywhere,
              "One kind of cover on all ground: water, open, suburban, urban, dense-urban or "
              "woodland",
              "KIND");
    cover.add("--zones", zones,
              "Radio-climatic zones for methods short-range and p1812: rasters of 1 sea, 3 coastal "
              "land, 4 inland; "
              "left out, all is inland",
              "FILE...");
}

void CoverArguments::put_into(scenario::GroundInputs& ground) const {
    if (!inputs.empty() && !everywhere.empty()) {
        throw_usage("--cover and --cover-everywhere exclude each other; give one of them");
    }
    if (inputs.empty() && table != CoverArguments{}.table) {
        throw_usage("--cover-table says what the classes of --cover mean; give both, or neither");
    }
    if (!inputs.empty() || !everywhere.empty()) {
        ground.cover = {inputs.begin(), inputs.end()};
        ground.cover_table = table;
        ground.uniform_cover.reset();
    }
    if (!everywhere.empty()) {
        try {
            ground.uniform_cover = terrain::cover_kind(everywhere);
        } catch (const Error& error) {
            throw_usage(fmt::format("--cover-everywhere: {}", error.what()));
        }
    }
    if (!zones.empty()) {
        ground.zones = {zones.begin(), zones.end()};
    }
}

namespace {

/// "4/3" or a plain number greater than 0.
double parse_k_factor(const std::string& text) {
    const std::size_t slash = text.find('/');
    if (slash == std::string::npos) {
        return geo::parse_number(text, "--k-factor", 0.1, 1e6);
    }
    return geo::parse_number(text.substr(0, slash), "--k-factor", 0.1, 1e6) /
           geo::parse_number(text.substr(slash + 1), "--k-factor", 0.1, 1e6);
}

} // namespace

void PropagationArguments::add_to(const Options& options) {
    const Options prediction = options.under("Prediction");
    prediction.add("--frequency", frequency, "Frequency, for example 146MHz or 446.1MHz", "FREQ");
    std::vector<std::string> names;
    for (const propagation::MethodInfo& info : propagation::methods()) {
        names.push_back(fmt::format("{} ({})", info.name, info.source));
    }
    prediction.add("--method", method,
                   fmt::format("How losses are worked out: {}", fmt::join(names, "; ")), "NAME");
    prediction.add("--knife-edge", knife_edge,
                   "Loss of one edge: itu (the approximation of ITU-R P.526) or exact (Fresnel "
                   "integrals)",
                   "FORM");
    prediction.add("--k-factor", k_factor,
                   "Effective earth radius over true radius, for all methods but short-range, "
                   "p1812 and irregular-terrain; 4/3 is the standard atmosphere",
                   "K");
    prediction.add("--time", time,
                   "Share of the year for which the loss is not exceeded, 1 to 50 %, for methods "
                   "short-range, p1812 and irregular-terrain",
                   "PERCENT");
    prediction.add("--places", places,
                   "Share of places around the receiver at which the loss is not exceeded, 1 to "
                   "99 %, for methods short-range and p1812; of situations like the path's, for "
                   "irregular-terrain",
                   "PERCENT");
    prediction.add("--polarization", polarization, "Polarization: vertical or horizontal", "NAME");
    prediction.add("--delta-n", delta_n,
                   "Fall of refractivity through the lowest kilometre, 1 to 150 N-units/km, for "
                   "methods short-range and p1812; left out, 45",
                   "NUMBER");
    prediction.add(
        "--n0", n0,
        "Refractivity at sea level, 100 to 600 N-units, for methods short-range, p1812 and "
        "irregular-terrain; left out, 325",
        "NUMBER");
    prediction.add("--refractivity-maps", refractivity_maps,
                   "Folder with the maps DN50.TXT and N050.TXT of ITU-R P.1812, to take both from",
                   "FOLDER");
    prediction.add(
        "--prediction-deviation", prediction_deviation,
        "Deviation of predictions from measurements, for the chance of contact, in place "
        "of one that grows from sight to shadow; 0dB leaves only that of place and time",
        "LOSS");
    prediction.add("--indoors", indoors,
                   "Receivers stand indoors (ITU-R P.2109), for methods short-range and p1812: "
                   "traditional (brick, "
                   "plain glass) or thermally-efficient (metallized glass, foil)",
                   "BUILDING");
    prediction.add("--houses", houses,
                   "How houses around an antenna below their roofs count: below-roofs (ITU-R "
                   "P.2108-1 section 3.1), statistical (section 3.2, from 500 MHz on) or obstacles "
                   "(ITU-R P.1812)",
                   "NAME");
    prediction.add("--woodland-fit", woodland_fit,
                   "Measurements behind the loss in woodland (ITU-R P.833): st-petersburg, "
                   "rio-de-janeiro or mulhouse",
                   "NAME");
}

void PropagationArguments::put_into(propagation::Conditions& settings, const Options& command,
                                    geo::LatLon at) const {
    if (!frequency.empty()) {
        settings.frequency_mhz = geo::parse_frequency_mhz(frequency, "--frequency");
    }
    if (command.given("--method")) {
        settings.method = propagation::parse_method(method);
    }
    if (command.given("--k-factor")) {
        settings.k_factor = parse_k_factor(k_factor);
    }
    if (command.given("--knife-edge")) {
        using enum propagation::KnifeEdgeForm;
        settings.knife_edge = meaning<propagation::KnifeEdgeForm>("--knife-edge", knife_edge,
                                                                  {{"itu", itu}, {"exact", exact}});
    }
    if (command.given("--time")) {
        settings.time_percent = geo::parse_percent(time, "--time", 1.0, 50.0);
    }
    if (command.given("--places")) {
        settings.location_percent = geo::parse_percent(places, "--places", 1.0, 99.0);
    }
    if (command.given("--polarization")) {
        using enum propagation::Polarization;
        settings.polarization = meaning<propagation::Polarization>(
            "--polarization", polarization, {{"vertical", vertical}, {"horizontal", horizontal}});
    }
    if (!refractivity_maps.empty()) {
        if (!delta_n.empty() || !n0.empty()) {
            throw_usage("--refractivity-maps gives both values; leave out --delta-n and --n0");
        }
        settings.refractivity = terrain::RefractivityMaps::open(refractivity_maps).at(at);
    }
    if (!delta_n.empty()) {
        settings.refractivity.delta_n = geo::parse_number(delta_n, "--delta-n", 1.0, 150.0);
    }
    if (!n0.empty()) {
        settings.refractivity.n0 = geo::parse_number(n0, "--n0", 100.0, 600.0);
    }
    if (command.given("--woodland-fit")) {
        using enum propagation::WoodlandFit;
        settings.woodland_fit =
            meaning<propagation::WoodlandFit>("--woodland-fit", woodland_fit,
                                              {{"st-petersburg", st_petersburg},
                                               {"rio-de-janeiro", rio_de_janeiro},
                                               {"mulhouse", mulhouse}});
    }
    if (!indoors.empty()) {
        using enum propagation::BuildingType;
        const auto building = meaning<propagation::BuildingType>(
            "--indoors", indoors,
            {{"traditional", traditional}, {"thermally-efficient", thermally_efficient}});
        settings.building_entry = propagation::building_entry(building, settings.frequency_mhz);
    }
    if (command.given("--houses")) {
        const auto* rule = named(propagation::house_rules(), houses);
        if (rule == nullptr) {
            throw_not_known("--houses", houses, earshot::names_of(propagation::house_rules()));
        }
        settings.houses = rule->houses;
    }
    if (command.given("--prediction-deviation")) {
        settings.prediction_deviation_db =
            geo::parse_loss_db(prediction_deviation, "--prediction-deviation");
    }
}

void NoiseArguments::add_to(const Options& options) {
    const Options noise = options.under("Noise and quality");
    noise.add(
        "--noise", environment,
        "Man-made noise around the receivers (ITU-R P.372): city, residential, rural (if left "
        "out) or quiet-rural",
        "PLACE");
    noise.add("--channel", channel,
              "FM channel: wide (25 kHz apart) or narrow (12.5 kHz apart, if left out); with a "
              "scenario, the name of one of its channels: what is heard on it",
              "NAME");
    noise.add("--quality", quality,
              "Voice quality that margin 0 dB stands for: 12db-sinad (the receiver's threshold), "
              "occasional-repetition, rare-repetition or easily-understood",
              "NAME");
}

void NoiseArguments::put_into(link::Radio& radio, const Options& command, bool ideal,
                              double frequency_mhz) const {
    // A level that differs from what noise made of it was given by an option.
    if (radio.needed && radio.threshold_dbm == radio.needed->needed_dbm) {
        radio.threshold_dbm = radio.needed->sensitivity_dbm;
    }
    if (ideal && !command.given("--noise") && !says_width() && !command.given("--quality")) {
        link::renew_noise(radio, radio.threshold_dbm);
        return;
    }
    using propagation::FmChannel;
    using enum propagation::VoiceQuality;
    radio.needed.reset();
    const auto wanted =
        meaning<propagation::VoiceQuality>("--quality", quality,
                                           {{"12db-sinad", twelve_db_sinad},
                                            {"occasional-repetition", occasional_repetition},
                                            {"rare-repetition", rare_repetition},
                                            {"easily-understood", easily_understood}});
    const FmChannel spacing = channel == "wide" ? FmChannel::wide : FmChannel::narrow;
    std::optional<double> external_db;
    const std::string place = environment.empty() && !ideal ? "rural" : environment;
    if (!place.empty()) {
        external_db = propagation::external_noise_figure_db(
            propagation::parse_noise_environment(place), frequency_mhz);
    }
    link::add_noise(radio, spacing, wanted, external_db);
}

void SharedArguments::add_all_but_step(const Options& options) {
    command = options;
    correction.add_to(options);
    options.add("--scenario", scenario,
                "Scenario file that gives what other options leave out; earshot start writes one",
                "FILE.toml");
    terrain.add_to(options, false);
    cover.add_to(options);
    propagation.add_to(options);
    noise.add_to(options);
    options.flag("--ideal", ideal,
                 "Take nothing for granted of radios: an antenna of 0 dBi, no body beside it, no "
                 "noise, unless other options say so");
}

void SharedArguments::add_step(const Options& options) {
    options.under("Prediction")
        .add(
            "--step", step,
            "Even spacing of profile points; left out, they are where the path crosses the grid of "
            "the elevation, which misses no ridge",
            "LENGTH");
}

void SharedArguments::add_to(const Options& options) {
    add_all_but_step(options);
    add_step(options);
}

SharedInputs::SharedInputs(const SharedArguments& arguments) : arguments_(arguments) {
    const NoiseArguments& noise = arguments.noise;
    if (arguments.scenario.empty()) {
        if (!noise.channel.empty() && !noise.says_width()) {
            throw_usage(fmt::format("--channel '{}' is not known; give wide or narrow, or a "
                                    "--scenario that has a channel of this name",
                                    noise.channel));
        }
        correction_ = arguments.correction.read();
    } else {
        if (arguments.ideal) {
            throw_usage("--ideal is for radios that no scenario describes; write carried = "
                        "\"clear\" and noise = \"none\" in the scenario");
        }
        scenario_ = scenario::read_scenario(arguments.scenario);
        geo::set_units(scenario_->units);
        arguments.correction.put_into(*scenario_);
        scenario::use_channel(*scenario_, noise.says_width() ? "" : noise.channel);
        correction_ = scenario_->correction;
    }
}

link::Station SharedInputs::of_scenario(const std::string& option, const std::string& text) const {
    for (const auto& [station, channel] : scenario_->elsewhere) {
        if (station == text) {
            throw_usage(fmt::format("{}: {} is not heard on channel {}; add --channel '{}'", option,
                                    text, scenario_->air.channels[scenario_->channel].name,
                                    channel));
        }
    }
    try {
        return scenario::station_named(*scenario_, text);
    } catch (const Error& error) {
        throw_usage(fmt::format("{}: {}", option, error.what()));
    }
}

link::Station SharedInputs::station(const std::string& option, const std::string& text,
                                    const std::string& label) const {
    if (scenario_ && (named(scenario_->stations, text) != nullptr ||
                      named(scenario_->places, text) != nullptr)) {
        return scenario::station_named(*scenario_, text);
    }
    link::Station at_position = listener();
    at_position.name = label;
    try {
        at_position.position = position_in(text);
    } catch (const Error& no_position) {
        // A text with a digit in it is more likely a position than a name.
        if (!scenario_ || text.find_first_of("0123456789") != std::string::npos) {
            throw_usage(fmt::format("{}: {}", option, no_position.what()));
        }
        return of_scenario(option, text); // which says what names there are
    }
    return at_position;
}

geo::LatLon SharedInputs::position_in(const std::string& text) const {
    const geo::LatLon position =
        scenario_ ? geo::parse_position(text, scenario_->stations.front().position)
                  : geo::parse_position(text);
    if (std::string coarse = geo::coarseness(text); !coarse.empty()) {
        tell(std::move(coarse));
    }
    return position;
}

link::Station SharedInputs::named_station(const std::string& option,
                                          const std::string& text) const {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos && scenario_) {
        return of_scenario(option, text);
    }
    if (equals == std::string::npos || equals == 0) {
        throw_usage(
            fmt::format("{} '{}' has no name; write it like Mill=36.60,-84.20", option, text));
    }
    link::Station station = listener();
    station.name = text.substr(0, equals);
    station.position = position_in(text.substr(equals + 1));
    return station;
}

link::Station SharedInputs::listener() const {
    return scenario_ ? scenario_->listener : link::Station{{}, {}, default_antenna_height_m, {}};
}

propagation::Conditions SharedInputs::settings(geo::LatLon at) const {
    const PropagationArguments& given = arguments_.propagation;
    if (!scenario_ && given.frequency.empty()) {
        throw_usage("--frequency is missing; give it, or a --scenario that has it");
    }
    propagation::Conditions settings =
        scenario_ ? scenario_->conditions : propagation::Conditions{};
    given.put_into(settings, arguments_.command, at);
    if (correction_) {
        const std::optional<double> given_db = settings.prediction_deviation_db;
        scenario::apply(*correction_, settings);
        if (arguments_.command.given("--prediction-deviation")) {
            settings.prediction_deviation_db = given_db;
        }
    }
    return settings;
}

double SharedInputs::wanted_margin_db(const std::string& option, const std::string& text) const {
    if (!text.empty()) {
        return geo::parse_loss_db(text, option);
    }
    return scenario_ ? scenario_->wanted_margin_db : 0.0;
}

void SharedInputs::equip(link::Station& station, const RadioArguments& own, double frequency_mhz,
                         const RadioArguments& both) const {
    station.antenna_height_m = own.height_m(both.height_m(station.antenna_height_m));
    const bool ideal = arguments_.ideal || scenario_.has_value();
    if (!ideal) {
        const auto stock = link::find_antenna("stock").gain_at(frequency_mhz);
        if (stock && !own.says_antenna() && !both.says_antenna()) {
            station.radio.antenna = "stock";
            station.radio.antenna_gain_dbi = stock->gain_dbi;
            assumed_.stock_antenna = true;
        }
        if (station.antenna_height_m <= link::held_up_to_m && !own.says_body() &&
            !both.says_body()) {
            station.radio.body_loss_db = link::body_loss_db(link::Carried::at_face, frequency_mhz);
            assumed_.at_face = true;
        }
        if (!own.says_receiver() && !both.says_receiver()) {
            station.radio.threshold_dbm = link::usual_sensitivity_dbm;
            assumed_.receiver = true;
        }
        assumed_.rural_noise = arguments_.noise.environment.empty();
    }
    station.radio = own.radio(both.radio(station.radio, frequency_mhz), frequency_mhz);
    arguments_.noise.put_into(station.radio, arguments_.command, ideal, frequency_mhz);
    if (correction_) {
        scenario::apply(*correction_, station.radio);
    }
}

terrain::TerrainSource SharedInputs::open(const std::vector<std::string>& outputs,
                                          const std::vector<std::string>& more) const {
    if (!scenario_ && arguments_.terrain.inputs.empty()) {
        throw_usage("--terrain is missing; give it, or a --scenario that names elevation");
    }
    scenario::GroundInputs ground = scenario_ ? scenario_->ground : scenario::GroundInputs{};
    arguments_.terrain.put_into(ground);
    terrain::TerrainSource source = scenario::open_elevation(ground);
    if (scenario_) {
        scenario_->ground.ground_kind = source.info().ground_kind;
    }
    // What is opened is noted then; these are opened later.
    for (const auto& later :
         {more, arguments_.cover.inputs, {arguments_.cover.table}, arguments_.cover.zones}) {
        for (const std::string& file : later) {
            note_input(file);
        }
    }
    check_outputs(outputs);
    return source;
}

std::shared_ptr<const link::FieldReach> SharedInputs::field_reach() const {
    if (!correction_) {
        return nullptr;
    }
    std::optional<double> standard_db =
        scenario_ ? scenario_->uncorrected_deviation_db : std::nullopt;
    if (arguments_.command.given("--prediction-deviation")) {
        standard_db = geo::parse_loss_db(arguments_.propagation.prediction_deviation,
                                         "--prediction-deviation");
    }
    return scenario::field_reach(*correction_, standard_db);
}

std::string SharedInputs::correction_words() const {
    return correction_ ? scenario::correction_words(*correction_) : std::string();
}

void SharedInputs::write_table(const std::string& file, const std::string& csv) const {
    if (!file.empty()) {
        write_text_file(file, correction_ ? scenario::stamped(csv, *correction_) : csv);
    }
}

std::vector<geo::LatLon> points_of(const plan::Circle& circle) {
    constexpr int directions = 36;
    std::vector<geo::LatLon> points{circle.centre};
    for (int k = 0; k < directions; ++k) {
        points.push_back(
            geo::geodesic_destination(circle.centre, 360.0 * k / directions, circle.radius_m));
    }
    return points;
}

GroundRead::GroundRead(const SharedInputs& inputs, const terrain::TerrainSource& source,
                       const plan::Circle& around, Task& task, terrain::HeightSummary* summary)
    : inputs_(inputs), around_(around), source_notes_(report::height_unit_notes(source.info())),
      heights_(source.load_around(around.centre, around.radius_m, summary, task)) {
    scenario::GroundInputs ground =
        inputs.scenario_ ? inputs.scenario_->ground : scenario::GroundInputs{};
    inputs.arguments_.cover.put_into(ground);
    layers_ = scenario::load_layers(ground, heights_, task);
}

void GroundRead::lay(link::Setting& setting, double length_m) const {
    setting.ground = &heights_;
    setting.layers = layers_.view();
    setting.field_reach = inputs_.field_reach();
    std::string step = inputs_.arguments_.step;
    if (step.empty() && inputs_.scenario_ && inputs_.scenario_->step_m) {
        step = fmt::format("{}m", *inputs_.scenario_->step_m);
    }
    setting.step_m = step.empty() ? 0.0 : geo::parse_length_m(step, "--step");
    constexpr double most_points = 1e6;
    if (!step.empty() && !(setting.step_m * most_points >= length_m)) {
        throw_usage(fmt::format("--step '{}' is too short: a profile of {} would have more than a "
                                "million points",
                                step, geo::format_distance(length_m)));
    }
}

std::string GroundRead::cover_words() const {
    const CoverArguments& given = inputs_.arguments_.cover;
    if (!given.everywhere.empty()) {
        return fmt::format("{} everywhere", given.everywhere);
    }
    if (!given.inputs.empty()) {
        return fmt::format("{}; classes of {}", fmt::join(given.inputs, ", "), given.table);
    }
    return layers_.cover ? "as the scenario says" : "none";
}

std::vector<std::string> GroundRead::notes(std::vector<geo::LatLon> ends) const {
    std::vector<std::string> notes;
    if (inputs_.scenario_) {
        notes = report::notes_of(*inputs_.scenario_);
    } else {
        if (inputs_.assumed_.any()) {
            notes.push_back(report::assumed_words(inputs_.assumed_));
        }
        if (inputs_.correction_) {
            notes.push_back(inputs_.correction_words());
        }
    }
    const std::string ground_words = report::ground_words(heights_.kind, layers_.cover.has_value());
    if (!ground_words.empty() &&
        std::find(notes.begin(), notes.end(), ground_words) == notes.end()) {
        notes.push_back(ground_words);
    }
    for (const auto& more : {source_notes_, inputs_.told_}) {
        notes.insert(notes.end(), more.begin(), more.end());
    }
    if (inputs_.correction_) {
        const std::vector<std::string> of_reach = scenario::reach_notes(
            *inputs_.correction_, ends.empty() ? points_of(around_) : ends, facts());
        notes.insert(notes.end(), of_reach.begin(), of_reach.end());
    }
    const CoverArguments& given = inputs_.arguments_.cover;
    if (given.everywhere == "dense-urban") {
        notes.emplace_back("in a dense city streets guide and block waves in ways that are not "
                           "predicted");
    }
    if (!given.inputs.empty() && layers_.cover->unclassified_cells() > 0) {
        notes.push_back(fmt::format("{} cells have no ground cover class and count as open",
                                    layers_.cover->unclassified_cells()));
    }
    return notes;
}

namespace {

void require_different_names(const std::vector<plan::ServedPlace>& places) {
    std::set<std::string> names;
    for (const plan::ServedPlace& place : places) {
        if (!names.insert(place.station.name).second) {
            throw_usage(
                fmt::format("two places have the name {}; give each its own", place.station.name));
        }
    }
}

} // namespace

void PlaceArguments::add_to(const Options& options, const std::string& option,
                            const std::string& what) {
    option_ = option;
    options
        .add("--" + option, named_,
             fmt::format("{}: a name in the scenario, or a name and a position, for example "
                         "\"Mill=36.60,-84.20\"; may be given several times",
                         what),
             "NAME[=POSITION]")
        .take_all();
    options.add("--places-file", file_,
                "More of them from a file: GeoJSON, GPX waypoints, KML or CSV; \"people\" is how "
                "much one counts",
                "FILE");
}

std::vector<plan::ServedPlace> PlaceArguments::read(const SharedInputs& inputs) const {
    std::vector<plan::ServedPlace> places;
    for (const std::string& text : named_) {
        places.push_back({inputs.named_station("--" + option_, text), 1.0});
    }
    if (!file_.empty()) {
        for (const scenario::Place& place : scenario::read_places(file_).places) {
            if (std::ranges::any_of(places, [&](const plan::ServedPlace& other) {
                    return other.station.name == place.name;
                })) {
                inputs.tell(fmt::format("{}: a second '{}' at {} is left out; give each place a "
                                        "name of its own",
                                        file_, place.name, geo::format_decimal(place.position)));
            } else if (place.people > 0.0) {
                link::Station station = inputs.listener();
                station.name = place.name;
                station.position = place.position;
                places.push_back({std::move(station), place.people});
            }
        }
    }
    require_different_names(places);
    return places;
}

std::vector<plan::AntennaChoice> antennas_at_hand(const SharedInputs& inputs,
                                                  double frequency_mhz) {
    return inputs.scenario() ? plan::antennas_of(*inputs.scenario(), inputs.scenario()->channel)
                             : plan::usual_antennas(frequency_mhz);
}

bool covers(const terrain::TerrainSource& source, geo::LatLon position) {
    return terrain::covers(source.info().columns, source.info().rows,
                           source.georeference().cell_of(position));
}

void PlaceArguments::keep_on_ground(std::vector<plan::ServedPlace>& places,
                                    const terrain::TerrainSource& source,
                                    const SharedInputs& inputs) const {
    std::vector<std::string> named_one_by_one;
    for (const std::string& text : named_) {
        named_one_by_one.push_back(text.substr(0, text.find('=')));
    }
    const auto may_go = [&](const plan::ServedPlace& place) {
        const std::string& name = place.station.name;
        return !covers(source, place.station.position) &&
               std::ranges::find(named_one_by_one, name) == named_one_by_one.end() &&
               (!inputs.scenario() || named(inputs.scenario()->stations, name) == nullptr);
    };
    if (std::ranges::all_of(places, may_go)) {
        return; // nothing would be left
    }
    for (const plan::ServedPlace& place : places) {
        if (may_go(place)) {
            inputs.tell(fmt::format("the place {} ({}) is off the elevation and left out",
                                    place.station.name,
                                    geo::format_decimal(place.station.position)));
        }
    }
    std::erase_if(places, may_go);
}

std::vector<plan::ServedPlace> everybody(const scenario::Scenario& scenario, Served who) {
    std::vector<plan::ServedPlace> places;
    if (who != Served::places) {
        for (const link::Station& station : scenario.stations) {
            places.push_back({station, 1.0});
        }
    }
    if (who != Served::stations) {
        for (const scenario::Place& place : scenario.places) {
            if (place.people > 0.0) {
                places.push_back({scenario::station_named(scenario, place.name), place.people});
            }
        }
    }
    return places;
}

} // namespace earshot::app
