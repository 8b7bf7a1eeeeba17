#pragma once

#include "arguments.hpp"
#include "earshot/plan/scenario.hpp"

#include <CLI/CLI.hpp>

#include <optional>
#include <string>
#include <vector>

namespace earshot::app {

/// A scenario that gives what the command line leaves out.
class ScenarioArguments {
public:
    void add_to(CLI::App& command);

    /// Empty if no scenario is named.
    [[nodiscard]] std::optional<plan::Scenario> read() const;

private:
    std::string file_;
};

/// The station that an option means: one of the scenario by its name (a place of it stands for the
/// listener there), or else a position with the scenario's listener at it. Without a scenario the
/// radio is the default one. `label` names a station given by position. Throws
/// Error(ExitCode::usage) if `text` is neither.
[[nodiscard]] link::Station station_meant(const std::optional<plan::Scenario>& scenario,
                                          const std::string& option, const std::string& text,
                                          const std::string& label);

/// Settings of the scenario, those options of `command` that are present on the command line put
/// over them. Without a scenario --frequency must be there.
[[nodiscard]] propagation::PathSettings settings_over(const std::optional<plan::Scenario>& scenario,
                                                      const PropagationArguments& arguments,
                                                      const CLI::App& command, geo::LatLon at);

/// Noise options over what the scenario has: if `command` has any of them, they take the place of
/// all of the scenario's noise at this radio.
void apply_noise_over(const NoiseArguments& arguments, const CLI::App& command,
                      double frequency_mhz, link::Radio& radio);

/// Layers of the cover options, else of the scenario: kept alive together with `ground`.
class LayersOver {
public:
    LayersOver(const std::optional<plan::Scenario>& scenario, const CoverArguments& arguments,
               const terrain::HeightGrid& ground, Progress* progress);
    [[nodiscard]] terrain::GroundLayers view() const;
    /// What the cover is, in words for a map's metadata.
    [[nodiscard]] std::string label() const;
    [[nodiscard]] const std::vector<std::string>& notes() const { return of_options_.notes(); }

private:
    std::optional<plan::Layers> of_scenario_;
    Layers of_options_;
};

/// Elevation of --terrain, else of the scenario. Throws Error(ExitCode::usage) if neither is there.
[[nodiscard]] terrain::TerrainSource open_over(const std::optional<plan::Scenario>& scenario,
                                               const TerrainArguments& arguments);

/// --step, else the step of the scenario, else what the elevation resolves; refused as
/// profile_step_m() does.
[[nodiscard]] double step_over(const std::optional<plan::Scenario>& scenario,
                               const std::string& step, const terrain::HeightGrid& ground,
                               geo::LatLon at, double length_m);

/// Every file that a command reads, for check_outputs().
[[nodiscard]] std::vector<std::string> inputs_over(const std::optional<plan::Scenario>& scenario,
                                                   const TerrainArguments& terrain,
                                                   const CoverArguments& cover);

} // namespace earshot::app
