#pragma once

#include "app/options.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/profile.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "propagation/vegetation.hpp"

#include <optional>
#include <string>
#include <vector>

namespace earshot::app {

/// Where the ground comes from.
struct TerrainArguments {
    std::vector<std::string> inputs;
    std::string height_unit;

    /// Not required where a scenario may name it.
    void add_to(const Options& options, bool required);
    [[nodiscard]] terrain::TerrainSource open() const;
};

/// What stands on the ground, and where the sea is.
struct CoverArguments {
    std::vector<std::string> inputs;
    std::string table = "worldcover";
    std::string everywhere;
    std::vector<std::string> zones;

    void add_to(const Options& options);
    /// All files that are read, with those of the elevation.
    [[nodiscard]] std::vector<std::string> files_with(std::vector<std::string> elevation) const;
};

/// The layers that go with a height grid, kept alive together.
class Layers {
public:
    Layers(const CoverArguments& arguments, const terrain::HeightGrid& ground, Task& task);
    [[nodiscard]] terrain::GroundLayers view() const {
        return {cover_ ? &*cover_ : nullptr, zones_ ? &*zones_ : nullptr};
    }
    /// What the cover is, in words for a map's metadata.
    [[nodiscard]] const std::string& label() const { return label_; }
    /// What the user should know of it.
    [[nodiscard]] const std::vector<std::string>& notes() const { return notes_; }

private:
    std::optional<terrain::GroundCover> cover_, zones_;
    std::string label_ = "none";
    std::vector<std::string> notes_;
};

/// How losses are predicted.
struct PropagationArguments {
    std::string frequency;
    std::string method{propagation::method_info(propagation::Conditions{}.method).name};
    std::string knife_edge = "itu";
    std::string k_factor = "4/3";
    std::string time = "50%";
    std::string places = "50%";
    std::string polarization = "vertical";
    std::string delta_n, n0, refractivity_maps;
    std::string prediction_deviation = "8dB";
    std::string indoors;
    std::string woodland_fit{
        propagation::woodland_fit_info(propagation::Conditions{}.woodland_fit).name};

    void add_to(const Options& options);
    /// The climate is that of `at` if a folder of maps was named.
    [[nodiscard]] propagation::Conditions settings(geo::LatLon at) const;
};

/// The noise around receivers and the quality wanted.
struct NoiseArguments {
    std::string environment;
    std::string channel = "narrow";
    std::string quality = "12db-sinad";

    void add_to(const Options& options);
    /// Raises the receiver's needed level by the noise around it and the quality wanted, if either
    /// was asked for.
    void apply(link::Radio& radio, double frequency_mhz) const;
};

/// A radio as the user describes it. Values left empty are taken from `fallback`.
struct RadioArguments {
    std::string antenna_height, power, antenna, gain, feeder_loss, carried, body_loss, threshold;

    /// `prefix` goes before every option name ("receiver-"); `whose` and `group` go into the help.
    void add_to(const Options& options, const std::string& prefix, const std::string& whose,
                const std::string& group, bool transmits);
    [[nodiscard]] link::Radio radio(const link::Radio& fallback, double frequency_mhz) const;
    [[nodiscard]] double height_m(double fallback_m) const;

private:
    std::string prefix_;
};

/// A handheld at head height: what every radio is unless told otherwise.
inline constexpr double default_antenna_height_m = 1.5;

/// "4/3" or a plain number greater than 0.
[[nodiscard]] double parse_k_factor(const std::string& text);

/// The step between profile points: as given, else what the elevation resolves. Refuses a step that
/// cuts `length_m` into more than a million points.
[[nodiscard]] double profile_step_m(const std::string& step, const terrain::HeightGrid& ground,
                                    geo::LatLon at, double length_m);

/// Refuses, before any work is done, outputs that could not be written, that name one file twice or
/// that are one of the inputs, so that no input is ever changed. Empty names do not count.
void check_outputs(const std::vector<std::string>& outputs, const std::vector<std::string>& inputs);

/// How positions and values are written, for the foot of each command's help.
[[nodiscard]] std::string forms_of_values();

/// The foot of a command's help: how values are written, what a radio is that is left out, remarks
/// of the command's own, an example ("earshot path ...") and the cautions.
void add_footer(const Options& options, const std::string& example,
                const std::string& remarks = {});

/// --threads and --json.
void add_threads_option(const Options& options, unsigned& threads);
void add_json_flag(const Options& options, bool& json);

/// --at and --name of the station that a command is about.
void add_station_options(const Options& options, std::string& at, std::string& name);

/// Prints each as a line of its own for people.
void print_notes(const std::vector<std::string>& notes);

} // namespace earshot::app
