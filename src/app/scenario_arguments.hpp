#pragma once

#include "app/arguments.hpp"
#include "earshot/link/path.hpp"
#include "scenario/scenario.hpp"

#include <optional>
#include <string>
#include <vector>

namespace earshot::app {

/// A field correction named on the command line.
class CorrectionArguments {
public:
    void add_to(const Options& options);
    /// Takes out what a scenario has, as "none" on the command line does.
    void leave_out() { file_ = none; }

    /// Puts the correction into a scenario, in the place of the one it has.
    void put_into(scenario::Scenario& scenario) const;
    /// Files that are read, for check_outputs().
    [[nodiscard]] std::vector<std::string> inputs() const;
    /// The one on the command line, if there is one.
    [[nodiscard]] std::optional<scenario::Correction> read() const;

private:
    static constexpr const char* none = "none";
    std::string file_;
};

/// A scenario that gives what the command line leaves out.
class ScenarioArguments {
public:
    CorrectionArguments correction;

    /// Adds the options of the correction too.
    void add_to(const Options& options);

    /// Empty if no scenario is named. The correction is in it.
    [[nodiscard]] std::optional<scenario::Scenario> read() const;

private:
    std::string file_;
};

/// The field correction that a command works with: that of the scenario as it was read, or, without
/// a scenario, the one on the command line. Radios and settings that options changed have to go
/// through it once more.
class CorrectionInForce {
public:
    CorrectionInForce(const std::optional<scenario::Scenario>& scenario,
                      const CorrectionArguments& arguments);

    [[nodiscard]] const std::optional<scenario::Correction>& get() const { return correction_; }
    /// --prediction-deviation goes before what the correction has.
    void correct(propagation::Conditions& settings, const Options& options) const;
    void correct(link::Radio& radio) const;
    /// In words; empty if there is none.
    [[nodiscard]] std::string words() const;
    /// A table of predictions, with a column that says it if there is one.
    [[nodiscard]] std::string stamped(const std::string& csv) const;
    /// What a command without a scenario must say of it; with one, the scenario's notes do.
    [[nodiscard]] std::vector<std::string> notes() const;

private:
    std::optional<scenario::Correction> correction_;
    bool of_scenario_;
};

/// The station that an option means: one of the scenario by its name (a place of it stands for the
/// listener there), or else a position with the scenario's listener at it. Without a scenario the
/// radio is the default one. `label` names a station given by position. Throws
/// Error(Fault::usage) if `text` is neither.
[[nodiscard]] link::Station station_meant(const std::optional<scenario::Scenario>& scenario,
                                          const std::string& option, const std::string& text,
                                          const std::string& label);

/// Settings of the scenario, those options of `command` that are present on the command line put
/// over them. Without a scenario --frequency must be there.
[[nodiscard]] propagation::Conditions
settings_over(const std::optional<scenario::Scenario>& scenario,
              const PropagationArguments& arguments, const Options& options, geo::LatLon at);

/// Noise options over what the scenario has: if `command` has any of them, they take the place of
/// all of the scenario's noise at this radio.
void apply_noise_over(const NoiseArguments& arguments, const Options& options, double frequency_mhz,
                      link::Radio& radio);

/// Layers of the cover options, else of the scenario: kept alive together with `ground`.
class LayersOver {
public:
    LayersOver(const std::optional<scenario::Scenario>& scenario, const CoverArguments& arguments,
               const terrain::HeightGrid& ground, Task& task);
    [[nodiscard]] terrain::GroundLayers view() const;
    /// What the cover is, in words for a map's metadata.
    [[nodiscard]] std::string label() const;
    [[nodiscard]] const std::vector<std::string>& notes() const { return of_options_.notes(); }

private:
    std::optional<scenario::Layers> of_scenario_;
    Layers of_options_;
};

/// Elevation of --terrain, else of the scenario. Throws Error(Fault::usage) if neither is there.
[[nodiscard]] terrain::TerrainSource open_over(const std::optional<scenario::Scenario>& scenario,
                                               const TerrainArguments& arguments);

/// --step, else the step of the scenario, else what the elevation resolves; refused as
/// profile_step_m() does.
[[nodiscard]] double step_over(const std::optional<scenario::Scenario>& scenario,
                               const std::string& step, const terrain::HeightGrid& ground,
                               geo::LatLon at, double length_m);

/// Every file that a command reads, for check_outputs().
[[nodiscard]] std::vector<std::string>
inputs_over(const std::optional<scenario::Scenario>& scenario, const TerrainArguments& terrain,
            const CoverArguments& cover);

/// What all commands share that predict paths: where ground, settings and radios come from.
struct SharedArguments {
    ScenarioArguments scenario;
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    std::string step;
    Options command; ///< to tell which options are on the command line

    void add_to(const Options& options);
};

/// What the shared options and the scenario that they name come to; options go first.
class SharedInputs {
public:
    /// Reads the scenario, if there is one. `arguments` must outlive this.
    explicit SharedInputs(const SharedArguments& arguments);

    [[nodiscard]] const std::optional<scenario::Scenario>& scenario() const { return scenario_; }
    /// As station_meant().
    [[nodiscard]] link::Station station(const std::string& option, const std::string& text,
                                        const std::string& label) const;
    /// Who is to be reached: the scenario's listener, or a handheld. Name and position are empty.
    [[nodiscard]] link::Station listener() const;
    [[nodiscard]] propagation::Conditions settings(geo::LatLon at) const;
    /// The margin wanted, dB: `text` if it is not empty, else the scenario's, else 0.
    [[nodiscard]] double wanted_margin_db(const std::string& option, const std::string& text) const;
    /// Radio and antenna height as the options describe them, over what the station has; `own` goes
    /// over `both`. Noise is worked out anew.
    void equip(link::Station& station, const RadioArguments& own, double frequency_mhz) const;
    void equip(link::Station& station, const RadioArguments& both, const RadioArguments& own,
               double frequency_mhz) const;
    [[nodiscard]] terrain::TerrainSource open() const;
    /// Refuses outputs as check_outputs() does; `more` are further files that are read.
    void check(const std::vector<std::string>& outputs, const terrain::TerrainSource& source,
               const std::vector<std::string>& more = {}) const;
    [[nodiscard]] LayersOver layers(const terrain::HeightGrid& ground, Task& task) const;
    /// Puts the ground into a setting whose conditions are known, with the step of profiles for
    /// paths of `length_m` about a position.
    void lay(link::Setting& setting, const terrain::HeightGrid& ground, const LayersOver& layers,
             geo::LatLon at, double length_m) const;
    [[nodiscard]] const CorrectionInForce& correction() const { return correction_; }
    /// Notes of the scenario, of the field correction and of the layers.
    [[nodiscard]] std::vector<std::string> notes(const LayersOver& layers) const;

private:
    const SharedArguments& arguments_;
    std::optional<scenario::Scenario> scenario_;
    CorrectionInForce correction_;
};

/// --step.
void add_step_option(const Options& options, std::string& step);

/// --from and --to with their names, for the commands about one path.
void add_path_ends(const Options& options, std::string& from, std::string& to,
                   std::string& from_name, std::string& to_name);

/// Options for the radios of both ends, and of each.
void add_radios_of_ends(const Options& options, RadioArguments& both, RadioArguments& at_from,
                        RadioArguments& at_to);

} // namespace earshot::app
