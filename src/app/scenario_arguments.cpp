#include "scenario_arguments.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace earshot::app {

void ScenarioArguments::add_to(CLI::App& command) {
    command
        .add_option("--scenario", file_,
                    "Scenario file that gives what other options leave out; earshot start writes "
                    "one")
        ->type_name("FILE.toml");
}

std::optional<plan::Scenario> ScenarioArguments::read() const {
    return file_.empty() ? std::nullopt : std::optional(plan::read_scenario(file_));
}

link::Station station_meant(const std::optional<plan::Scenario>& scenario,
                            const std::string& option, const std::string& text,
                            const std::string& label) {
    link::Station at_position;
    at_position.antenna_height_m = default_antenna_height_m;
    if (scenario) {
        const bool named =
            std::ranges::find(scenario->stations, text, &link::Station::name) !=
                scenario->stations.end() ||
            std::ranges::find(scenario->places, text, &plan::Place::name) != scenario->places.end();
        if (named) {
            return plan::station_named(*scenario, text);
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
            (void)plan::station_named(*scenario, text);
        } catch (const Error& no_name) {
            throw_usage(fmt::format("{}: {}", option, no_name.what()));
        }
    }
    return at_position;
}

propagation::PathSettings settings_over(const std::optional<plan::Scenario>& scenario,
                                        const PropagationArguments& arguments,
                                        const CLI::App& command, geo::LatLon at) {
    if (!scenario) {
        if (arguments.frequency.empty()) {
            throw_usage("--frequency is missing; give it, or a --scenario that has it");
        }
        return arguments.settings(at);
    }
    propagation::PathSettings settings = scenario->settings;
    PropagationArguments complete = arguments;
    if (complete.frequency.empty()) {
        complete.frequency = fmt::format("{}MHz", settings.frequency_mhz);
    }
    const propagation::PathSettings given = complete.settings(at);
    const auto take = [&](const char* option, auto& value, const auto& from) {
        if (command.count(option) > 0) {
            value = from;
        }
    };
    take("--frequency", settings.frequency_mhz, given.frequency_mhz);
    take("--method", settings.method, given.method);
    take("--knife-edge", settings.knife_edge, given.knife_edge);
    take("--k-factor", settings.k_factor, given.k_factor);
    take("--time", settings.p1812.time_percent, given.p1812.time_percent);
    take("--places", settings.p1812.location_percent, given.p1812.location_percent);
    take("--polarization", settings.p1812.polarization, given.p1812.polarization);
    take("--delta-n", settings.p1812.refractivity.delta_n, given.p1812.refractivity.delta_n);
    take("--n0", settings.p1812.refractivity.n0, given.p1812.refractivity.n0);
    take("--refractivity-maps", settings.p1812.refractivity, given.p1812.refractivity);
    take("--indoors", settings.p1812.building_entry, given.p1812.building_entry);
    take("--prediction-deviation", settings.prediction_deviation_db, given.prediction_deviation_db);
    take("--woodland-fit", settings.woodland_fit, given.woodland_fit);
    return settings;
}

void apply_noise_over(const NoiseArguments& arguments, const CLI::App& command,
                      double frequency_mhz, link::Radio& radio) {
    if (command.count("--noise") + command.count("--channel") + command.count("--quality") == 0) {
        return;
    }
    if (radio.needed) {
        radio.threshold_dbm = radio.needed->sensitivity_dbm;
        radio.needed.reset();
    }
    arguments.apply(radio, frequency_mhz);
}

LayersOver::LayersOver(const std::optional<plan::Scenario>& scenario,
                       const CoverArguments& arguments, const terrain::HeightGrid& ground,
                       Progress* progress)
    : of_options_(arguments, ground, progress) {
    if (scenario) {
        plan::GroundInputs inputs = scenario->ground;
        if (!arguments.inputs.empty() || !arguments.everywhere.empty()) {
            inputs.cover.clear();
            inputs.uniform_cover.reset();
        }
        if (!arguments.zones.empty()) {
            inputs.zones.clear();
        }
        of_scenario_ = plan::load_layers(inputs, ground, progress);
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

terrain::TerrainSource open_over(const std::optional<plan::Scenario>& scenario,
                                 const TerrainArguments& arguments) {
    if (!arguments.inputs.empty()) {
        return arguments.open();
    }
    if (!scenario) {
        throw_usage("--terrain is missing; give it, or a --scenario that names elevation");
    }
    return plan::open_elevation(scenario->ground);
}

double step_over(const std::optional<plan::Scenario>& scenario, const std::string& step,
                 const terrain::HeightGrid& ground, geo::LatLon at, double length_m) {
    const bool of_scenario = step.empty() && scenario && scenario->step_m;
    return profile_step_m(of_scenario ? fmt::format("{}m", *scenario->step_m) : step, ground, at,
                          length_m);
}

std::vector<std::string> inputs_over(const std::optional<plan::Scenario>& scenario,
                                     const TerrainArguments& terrain, const CoverArguments& cover) {
    std::vector<std::string> inputs = cover.files_with(terrain.inputs);
    if (scenario) {
        for (const std::filesystem::path& input : scenario->inputs) {
            inputs.push_back(input.string());
        }
    }
    return inputs;
}

} // namespace earshot::app
