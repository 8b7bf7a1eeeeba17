#pragma once

#include "app/options.hpp"
#include "base/named.hpp"
#include "earshot/base/error.hpp"
#include "earshot/coverage/coverage.hpp"
#include "earshot/link/budget.hpp"
#include "scenario/scenario.hpp"

#include <algorithm>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Options that several commands have, and what their values mean.

namespace earshot::app {

/// A word that an option takes, and what it means.
template <typename Value>
struct Word {
    std::string_view name;
    Value value;
};

/// Says that an option takes only these words.
[[noreturn]] void throw_not_known(std::string_view option, const std::string& text,
                                  const std::vector<std::string_view>& known);

/// What an option's text means. Throws Error(Fault::usage) if it is none of the words.
template <typename Value>
[[nodiscard]] Value meaning(std::string_view option, const std::string& text,
                            std::initializer_list<Word<Value>> words) {
    std::vector<std::string_view> known;
    for (const Word<Value>& word : words) {
        if (word.name == text) {
            return word.value;
        }
        known.push_back(word.name);
    }
    throw_not_known(option, text, known);
}

/// "margin, chance": the names of things, those without one left out.
template <typename Things>
[[nodiscard]] std::string names_of(const Things& things) {
    std::string names;
    for (const auto& thing : things) {
        if (!thing.name.empty()) {
            names += names.empty() ? "" : ", ";
            names += thing.name;
        }
    }
    return names;
}

/// The things that an option names, in its order. Throws Error(Fault::usage) for a name that none
/// of them has or that is given twice.
template <typename Things>
[[nodiscard]] auto things_named(std::string_view option, const std::vector<std::string>& names,
                                const Things& things) {
    std::vector<decltype(named(things, {}))> chosen;
    for (const std::string& name : names) {
        const auto* const found = name.empty() ? nullptr : named(things, name);
        if (found == nullptr) {
            throw_usage(std::string(option) + " '" + name + "' is not known; choose from " +
                        names_of(things));
        }
        if (std::ranges::find(chosen, found) != chosen.end()) {
            throw_usage(std::string(option) + " names '" + name + "' twice");
        }
        chosen.push_back(found);
    }
    return chosen;
}

/// Where the ground comes from.
struct TerrainArguments {
    std::vector<std::string> inputs;
    std::string height_unit;
    std::string ground_kind;

    /// Not required where a scenario may name it.
    void add_to(const Options& options, bool required);
    /// Puts what is given in the place of what the scenario has.
    void put_into(scenario::GroundInputs& ground) const;
};

/// A field correction named on the command line.
struct CorrectionArguments {
    std::string file; ///< "none" takes out what a scenario has

    void add_to(const Options& options);
    /// Puts the correction into a scenario, in the place of the one it has.
    void put_into(scenario::Scenario& scenario) const;
    /// The one on the command line, if there is one.
    [[nodiscard]] std::optional<scenario::Correction> read() const;
};

/// A radio as the user describes it. Values left empty are taken from `fallback`.
struct RadioArguments {
    std::string antenna_height, power, antenna, gain, feeder_loss, carried, body_loss, threshold;

    /// `prefix` goes before every option name ("receiver-"); `whose` and `group` go into the help.
    void add_to(const Options& options, const std::string& prefix, const std::string& whose,
                const std::string& group);
    [[nodiscard]] link::Radio radio(const link::Radio& fallback, double frequency_mhz) const;
    /// Whether the option says anything of the antenna, the body or the receiver.
    [[nodiscard]] bool says_antenna() const { return !antenna.empty() || !gain.empty(); }
    [[nodiscard]] bool says_body() const { return !carried.empty() || !body_loss.empty(); }
    [[nodiscard]] bool says_receiver() const { return !threshold.empty(); }
    [[nodiscard]] double height_m(double fallback_m) const;

private:
    std::string prefix_;
};

/// Which cells a map has.
struct GridArguments {
    std::string grid, cell;

    void add_to(const Options& options);
    /// Refuses values that contradict each other; throws Error(Fault::usage).
    void check() const;
    /// Throws Error(Fault::usage) if the cells are not possible in a map that reaches so far.
    [[nodiscard]] coverage::GridChoice choice(double range_m) const;

private:
    [[nodiscard]] bool utm() const { return grid == "utm" || (grid.empty() && !cell.empty()); }
};

/// How far from a station to map, of --range.
[[nodiscard]] double map_range_m(const std::string& text);

/// Bands by their names. Throws Error(Fault::usage) if one is not known, named twice, or not for
/// this number of stations.
[[nodiscard]] std::vector<coverage::BandKind> parse_bands(const std::vector<std::string>& names,
                                                          bool several_stations);

/// Puts program, time and cautions around what explains a map.
void put_metadata(coverage::CoverageRaster& map,
                  std::vector<std::pair<std::string, std::string>> metadata);

/// A handheld at head height: what every radio is unless told otherwise.
inline constexpr double default_antenna_height_m = 1.5;

/// Refuses, before any work is done, outputs that could not be written, that name one file twice or
/// that are one of the inputs (note_input), so that no input is ever changed. Empty names do not
/// count.
void check_outputs(const std::vector<std::string>& outputs);

/// How positions and values are written, for the foot of each command's help.
[[nodiscard]] std::string forms_of_values();

/// The foot of a command's help: how values are written, what a radio is that is left out, remarks
/// of the command's own, an example ("earshot path ...") and the cautions.
void add_footer(const Options& options, const std::string& example,
                const std::string& remarks = {});

/// --threads and --json.
void add_threads_option(const Options& options, unsigned& threads);
void add_json_flag(const Options& options, bool& json);

/// Prints an answer for people: its text, the notes, the table that was written (none if empty) and
/// the cautions.
void print_answer(const std::string& text, const std::vector<std::string>& notes,
                  const std::string& table);

} // namespace earshot::app
