#include "app/scenario_arguments.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/receiver_noise.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace earshot::app {

void CorrectionArguments::add_to(const Options& options) {
    options.add("--correction", file_,
                "Field correction that earshot correct wrote, in the place of the scenario's; none "
                "to do without",
                "FILE.toml");
}

void CorrectionArguments::put_into(scenario::Scenario& scenario) const {
    if (!file_.empty()) {
        scenario::set_correction(scenario, read());
    }
}

std::vector<std::string> CorrectionArguments::inputs() const {
    return file_.empty() || file_ == none ? std::vector<std::string>() : std::vector{file_};
}

std::optional<scenario::Correction> CorrectionArguments::read() const {
    return inputs().empty() ? std::nullopt : std::optional(scenario::read_correction(file_));
}

void ScenarioArguments::add_to(const Options& options) {
    correction.add_to(options);
    options.add("--scenario", file_,
                "Scenario file that gives what other options leave out; earshot start writes one",
                "FILE.toml");
}

std::optional<scenario::Scenario> ScenarioArguments::read() const {
    if (file_.empty()) {
        return std::nullopt;
    }
    scenario::Scenario scenario = scenario::read_scenario(file_);
    correction.put_into(scenario);
    return scenario;
}

CorrectionInForce::CorrectionInForce(const std::optional<scenario::Scenario>& scenario,
                                     const CorrectionArguments& arguments)
    : correction_(scenario ? scenario->correction : arguments.read()),
      of_scenario_(scenario.has_value()) {}

void CorrectionInForce::correct(propagation::Conditions& settings, const Options& options) const {
    if (correction_) {
        const double given_db = settings.prediction_deviation_db;
        scenario::apply(*correction_, settings);
        if (options.given("--prediction-deviation")) {
            settings.prediction_deviation_db = given_db;
        }
    }
}

void CorrectionInForce::correct(link::Radio& radio) const {
    if (correction_) {
        scenario::apply(*correction_, radio);
    }
}

std::string CorrectionInForce::words() const {
    return correction_ ? scenario::correction_words(*correction_) : std::string();
}

std::string CorrectionInForce::stamped(const std::string& csv) const {
    return correction_ ? scenario::stamped(csv, *correction_) : csv;
}

std::vector<std::string> CorrectionInForce::notes() const {
    return !correction_ || of_scenario_ ? std::vector<std::string>() : std::vector{words()};
}

link::Station station_meant(const std::optional<scenario::Scenario>& scenario,
                            const std::string& option, const std::string& text,
                            const std::string& label) {
    link::Station at_position;
    at_position.antenna_height_m = default_antenna_height_m;
    if (scenario) {
        const bool named = std::ranges::find(scenario->stations, text, &link::Station::name) !=
                               scenario->stations.end() ||
                           std::ranges::find(scenario->places, text, &scenario::Place::name) !=
                               scenario->places.end();
        if (named) {
            return scenario::station_named(*scenario, text);
        }
        at_position = scenario->listener;
    }
    at_position.name = label;
    try {
        at_position.position = geo::parse_position(text);
    } catch (const Error& no_position) {
        // A text with a digit in it is more likely a position than a name.
        if (!scenario || text.find_first_of("0123456789") != std::string::npos) {
            throw_usage(fmt::format("{}: {}", option, no_position.what()));
        }
        try {
            (void)scenario::station_named(*scenario, text);
        } catch (const Error& no_name) {
            throw_usage(fmt::format("{}: {}", option, no_name.what()));
        }
    }
    return at_position;
}

propagation::Conditions settings_over(const std::optional<scenario::Scenario>& scenario,
                                      const PropagationArguments& arguments, const Options& options,
                                      geo::LatLon at) {
    if (!scenario) {
        if (arguments.frequency.empty()) {
            throw_usage("--frequency is missing; give it, or a --scenario that has it");
        }
        return arguments.settings(at);
    }
    propagation::Conditions settings = scenario->conditions;
    PropagationArguments complete = arguments;
    if (complete.frequency.empty()) {
        complete.frequency = fmt::format("{}MHz", settings.frequency_mhz);
    }
    const propagation::Conditions given = complete.settings(at);
    const auto take = [&](const char* option, auto& value, const auto& from) {
        if (options.given(option)) {
            value = from;
        }
    };
    take("--frequency", settings.frequency_mhz, given.frequency_mhz);
    take("--method", settings.method, given.method);
    take("--knife-edge", settings.knife_edge, given.knife_edge);
    take("--k-factor", settings.k_factor, given.k_factor);
    take("--time", settings.time_percent, given.time_percent);
    take("--places", settings.location_percent, given.location_percent);
    take("--polarization", settings.polarization, given.polarization);
    take("--delta-n", settings.refractivity.delta_n, given.refractivity.delta_n);
    take("--n0", settings.refractivity.n0, given.refractivity.n0);
    take("--refractivity-maps", settings.refractivity, given.refractivity);
    take("--indoors", settings.building_entry, given.building_entry);
    take("--prediction-deviation", settings.prediction_deviation_db, given.prediction_deviation_db);
    take("--woodland-fit", settings.woodland_fit, given.woodland_fit);
    return settings;
}

void apply_noise_over(const NoiseArguments& arguments, const Options& options, double frequency_mhz,
                      link::Radio& radio) {
    // A level that differs from what noise made of it was given by an option.
    if (radio.needed && radio.threshold_dbm == radio.needed->needed_dbm) {
        radio.threshold_dbm = radio.needed->sensitivity_dbm;
    }
    if (options.given("--noise") || options.given("--channel") || options.given("--quality")) {
        radio.needed.reset();
        arguments.apply(radio, frequency_mhz);
    } else {
        link::renew_noise(radio, radio.threshold_dbm);
    }
}

LayersOver::LayersOver(const std::optional<scenario::Scenario>& scenario,
                       const CoverArguments& arguments, const terrain::HeightGrid& ground,
                       Task& task)
    : of_options_(arguments, ground, task) {
    if (scenario) {
        scenario::GroundInputs inputs = scenario->ground;
        if (!arguments.inputs.empty() || !arguments.everywhere.empty()) {
            inputs.cover.clear();
            inputs.uniform_cover.reset();
        }
        if (!arguments.zones.empty()) {
            inputs.zones.clear();
        }
        of_scenario_ = scenario::load_layers(inputs, ground, task);
    }
}

terrain::GroundLayers LayersOver::view() const {
    terrain::GroundLayers layers = of_options_.view();
    if (of_scenario_) {
        const terrain::GroundLayers otherwise = of_scenario_->view();
        layers.cover = layers.cover != nullptr ? layers.cover : otherwise.cover;
        layers.zones = layers.zones != nullptr ? layers.zones : otherwise.zones;
    }
    return layers;
}

std::string LayersOver::label() const {
    const bool of_scenario = of_scenario_ && of_options_.view().cover == nullptr &&
                             of_scenario_->view().cover != nullptr;
    return of_scenario ? "as the scenario says" : of_options_.label();
}

terrain::TerrainSource open_over(const std::optional<scenario::Scenario>& scenario,
                                 const TerrainArguments& arguments) {
    if (!arguments.inputs.empty()) {
        return arguments.open();
    }
    if (!scenario) {
        throw_usage("--terrain is missing; give it, or a --scenario that names elevation");
    }
    return scenario::open_elevation(scenario->ground);
}

double step_over(const std::optional<scenario::Scenario>& scenario, const std::string& step,
                 const terrain::HeightGrid& ground, geo::LatLon at, double length_m) {
    const bool of_scenario = step.empty() && scenario && scenario->step_m;
    return profile_step_m(of_scenario ? fmt::format("{}m", *scenario->step_m) : step, ground, at,
                          length_m);
}

std::vector<std::string> inputs_over(const std::optional<scenario::Scenario>& scenario,
                                     const TerrainArguments& terrain, const CoverArguments& cover) {
    std::vector<std::string> inputs = cover.files_with(terrain.inputs);
    if (scenario) {
        for (const std::filesystem::path& input : scenario->inputs) {
            inputs.push_back(input.string());
        }
    }
    return inputs;
}

void SharedArguments::add_to(const Options& options) {
    command = options;
    scenario.add_to(options);
    terrain.add_to(options, false);
    cover.add_to(options);
    propagation.add_to(options);
    noise.add_to(options);
    add_step_option(options, step);
}

SharedInputs::SharedInputs(const SharedArguments& arguments)
    : arguments_(arguments), scenario_(arguments.scenario.read()),
      correction_(scenario_, arguments.scenario.correction) {}

link::Station SharedInputs::station(const std::string& option, const std::string& text,
                                    const std::string& label) const {
    return station_meant(scenario_, option, text, label);
}

link::Station SharedInputs::listener() const {
    return scenario_ ? scenario_->listener : link::Station{{}, {}, default_antenna_height_m, {}};
}

propagation::Conditions SharedInputs::settings(geo::LatLon at) const {
    propagation::Conditions settings =
        settings_over(scenario_, arguments_.propagation, arguments_.command, at);
    correction_.correct(settings, arguments_.command);
    return settings;
}

double SharedInputs::wanted_margin_db(const std::string& option, const std::string& text) const {
    if (!text.empty()) {
        return geo::parse_loss_db(text, option);
    }
    return scenario_ ? scenario_->wanted_margin_db : 0.0;
}

void SharedInputs::equip(link::Station& station, const RadioArguments& own,
                         double frequency_mhz) const {
    equip(station, {}, own, frequency_mhz);
}

void SharedInputs::equip(link::Station& station, const RadioArguments& both,
                         const RadioArguments& own, double frequency_mhz) const {
    station.radio = own.radio(both.radio(station.radio, frequency_mhz), frequency_mhz);
    station.antenna_height_m = own.height_m(both.height_m(station.antenna_height_m));
    apply_noise_over(arguments_.noise, arguments_.command, frequency_mhz, station.radio);
    correction_.correct(station.radio);
}

terrain::TerrainSource SharedInputs::open() const {
    return open_over(scenario_, arguments_.terrain);
}

void SharedInputs::check(const std::vector<std::string>& outputs,
                         const terrain::TerrainSource& source,
                         const std::vector<std::string>& more) const {
    std::vector<std::string> inputs = inputs_over(scenario_, arguments_.terrain, arguments_.cover);
    inputs.insert(inputs.end(), source.info().files.begin(), source.info().files.end());
    for (const auto& further : {more, arguments_.scenario.correction.inputs()}) {
        inputs.insert(inputs.end(), further.begin(), further.end());
    }
    check_outputs(outputs, inputs);
}

LayersOver SharedInputs::layers(const terrain::HeightGrid& ground, Task& task) const {
    return {scenario_, arguments_.cover, ground, task};
}

void SharedInputs::lay(link::Setting& setting, const terrain::HeightGrid& ground,
                       const LayersOver& layers, geo::LatLon at, double length_m) const {
    setting.ground = &ground;
    setting.layers = layers.view();
    setting.step_m = step_over(scenario_, arguments_.step, ground, at, length_m);
}

std::vector<std::string> SharedInputs::notes(const LayersOver& layers) const {
    std::vector<std::string> notes = scenario_ ? scenario_->notes : correction_.notes();
    notes.insert(notes.end(), layers.notes().begin(), layers.notes().end());
    return notes;
}

void add_step_option(const Options& options, std::string& step) {
    options.under("Prediction")
        .add("--step", step,
             "Spacing of profile points; left out, the size of a cell of the elevation", "LENGTH");
}

void add_path_ends(const Options& options, std::string& from, std::string& to,
                   std::string& from_name, std::string& to_name) {
    const auto end = [&](const std::string& name, std::string& value, const char* which) {
        options
            .add(name, value,
                 fmt::format("The {} station: a position, for example 36.6,-84.2, or a name in the "
                             "scenario",
                             which),
                 "POSITION")
            .required();
    };
    const auto name = [&](const std::string& name, std::string& value, const char* which) {
        options.add(name, value,
                    fmt::format("Name of the {} station, if it is given by position", which),
                    "TEXT");
    };
    end("--from", from, "first");
    end("--to", to, "second");
    name("--from-name", from_name, "first");
    name("--to-name", to_name, "second");
}

void add_radios_of_ends(const Options& options, RadioArguments& both, RadioArguments& at_from,
                        RadioArguments& at_to) {
    both.add_to(options, "", "each station's", "Radio of both stations", true);
    at_from.add_to(options, "from-", "the first station's",
                   "Radio of the first station, where it differs", true);
    at_to.add_to(options, "to-", "the second station's",
                 "Radio of the second station, where it differs", true);
}

} // namespace earshot::app
