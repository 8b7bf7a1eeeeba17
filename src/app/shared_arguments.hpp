#pragma once

#include "app/arguments.hpp"
#include "earshot/link/path.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "link/handheld.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "plan/relay_search.hpp"
#include "propagation/clutter.hpp"
#include "propagation/vegetation.hpp"
#include "scenario/scenario.hpp"

#include <optional>
#include <string>
#include <vector>

/// What all commands share that predict paths: where ground, settings, radios and places come from.

namespace earshot::app {

/// What stands on the ground, and where the sea is.
struct CoverArguments {
    std::vector<std::string> inputs;
    std::string table = "worldcover";
    std::string everywhere;
    std::vector<std::string> zones;

    void add_to(const Options& options);
    /// Puts what is given in the place of what the scenario has.
    void put_into(scenario::GroundInputs& ground) const;
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
    std::string prediction_deviation;
    std::string indoors;
    std::string houses{propagation::name_of(propagation::Conditions{}.houses)};
    std::string woodland_fit{
        propagation::woodland_fit_info(propagation::Conditions{}.woodland_fit).name};

    void add_to(const Options& options);
    /// Puts what is on the command line over other settings. The climate is that of `at` if a
    /// folder of maps was named.
    void put_into(propagation::Conditions& settings, const Options& command, geo::LatLon at) const;
};

/// The noise around receivers and the quality wanted.
struct NoiseArguments {
    std::string environment;
    std::string channel; ///< FM channel, or one of the scenario
    std::string quality = "12db-sinad";

    void add_to(const Options& options);
    /// If any of them is on the command line, they take the place of all the noise that the radio
    /// had; else its own is worked out anew.
    /// The place is rural if none is said, unless `ideal`: then no noise comes in.
    void put_into(link::Radio& radio, const Options& command, bool ideal,
                  double frequency_mhz) const;
    /// Whether --channel is there and says how wide one is, not which of a scenario's.
    [[nodiscard]] bool says_width() const { return channel == "wide" || channel == "narrow"; }
};

struct SharedArguments {
    std::string scenario;
    CorrectionArguments correction;
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    bool ideal = false; ///< nothing is taken for granted of radios
    std::string step;
    Options command; ///< to tell which options are on the command line

    void add_to(const Options& options);
    /// Both are in add_to().
    void add_all_but_step(const Options& options);
    void add_step(const Options& options);
};

/// What the shared options and the scenario that they name come to; options go first.
class SharedInputs {
public:
    /// Reads the scenario, if there is one, and puts the channel that was asked for into use.
    /// `arguments` must outlive this.
    explicit SharedInputs(const SharedArguments& arguments);

    [[nodiscard]] const std::optional<scenario::Scenario>& scenario() const { return scenario_; }
    /// The station that an option means: one of the scenario by its name (a place of it stands for
    /// the listener there), or else a position with the scenario's listener at it. Without a
    /// scenario the radio is the default one. `label` names a station given by position. Throws
    /// Error(Fault::usage) if `text` is neither.
    [[nodiscard]] link::Station station(const std::string& option, const std::string& text,
                                        const std::string& label) const;
    /// A station by its name in the scenario, or as NAME=POSITION with the listener's radio.
    [[nodiscard]] link::Station named_station(const std::string& option,
                                              const std::string& text) const;
    /// Who is to be reached: the scenario's listener, or a handheld. Name and position are empty.
    [[nodiscard]] link::Station listener() const;
    /// Without a scenario --frequency must be there.
    [[nodiscard]] propagation::Conditions settings(geo::LatLon at) const;
    /// The margin wanted, dB: `text` if it is not empty, else the scenario's, else 0.
    [[nodiscard]] double wanted_margin_db(const std::string& option, const std::string& text) const;
    /// Radio and antenna height as the options describe them, over what the station has; `own` goes
    /// over `both`. Noise is worked out anew. Without a scenario, what nobody said of a radio is
    /// what people hold (link::Assumed), unless --ideal is given.
    void equip(link::Station& station, const RadioArguments& own, double frequency_mhz,
               const RadioArguments& both = {}) const;
    /// Opens the elevation. Refuses outputs as check_outputs() does; `more` are further files that
    /// are read.
    [[nodiscard]] terrain::TerrainSource open(const std::vector<std::string>& outputs,
                                              const std::vector<std::string>& more = {}) const;
    /// The field correction that the command works with: that of the scenario or, without one, that
    /// of the command line.
    [[nodiscard]] const std::optional<scenario::Correction>& correction() const {
        return correction_;
    }
    /// Where it holds; null if there is none.
    [[nodiscard]] std::shared_ptr<const link::FieldReach> field_reach() const;
    /// In words; empty if there is none.
    [[nodiscard]] std::string correction_words() const;
    /// Writes a table of predictions, if a file is named, with a column for the correction.
    void write_table(const std::string& file, const std::string& csv) const;

    /// Adds to the notes of the answer.
    void tell(std::string note) const { told_.push_back(std::move(note)); }

private:
    friend class GroundRead;

    /// scenario::station_named() with the option in its message.
    [[nodiscard]] link::Station of_scenario(const std::string& option,
                                            const std::string& text) const;
    /// Squares of MGRS without their zone are those near the scenario's first station.
    [[nodiscard]] geo::LatLon position_in(const std::string& text) const;

    const SharedArguments& arguments_;
    mutable std::optional<scenario::Scenario> scenario_; ///< open() tells it its kind of ground
    std::optional<scenario::Correction> correction_;
    mutable link::Assumed assumed_; ///< by equip(), for the notes
    mutable std::vector<std::string> told_;
};

/// The middle of a circle and points on its rim.
[[nodiscard]] std::vector<geo::LatLon> points_of(const plan::Circle& circle);

/// Ground with what stands on it, as the shared options have it.
class GroundRead {
public:
    /// `inputs` must outlive this.
    GroundRead(const SharedInputs& inputs, const terrain::TerrainSource& source,
               const plan::Circle& around, Task& task, terrain::HeightSummary* summary = nullptr);
    GroundRead(const GroundRead&) = delete;
    GroundRead& operator=(const GroundRead&) = delete;

    [[nodiscard]] const terrain::HeightGrid& heights() const { return heights_; }
    /// Puts the ground into a setting whose conditions are known, with --step or that of the
    /// scenario, for paths of `length_m`; without, none is needed. Refuses one that cuts a path
    /// into more than a million points. The setting refers to this.
    void lay(link::Setting& setting, double length_m) const;
    /// What the cover is, for a map's metadata.
    [[nodiscard]] std::string cover_words() const;
    /// What corrections hang on. Looked at anew each time.
    [[nodiscard]] scenario::GroundFacts facts() const {
        return scenario::ground_facts(heights_, layers_.view());
    }
    /// Notes of the scenario, of the field correction and of the cover. `ends` is where paths
    /// begin and end; left out, all of the circle.
    [[nodiscard]] std::vector<std::string> notes(std::vector<geo::LatLon> ends = {}) const;

private:
    const SharedInputs& inputs_;
    plan::Circle around_;
    std::vector<std::string> source_notes_;
    terrain::HeightGrid heights_;
    scenario::Layers layers_;
};

/// Places named one by one, in a file or in the scenario.
class PlaceArguments {
public:
    /// `option` is the name of the option for single places ("place"); `what` goes into the help.
    void add_to(const Options& options, const std::string& option, const std::string& what);
    [[nodiscard]] bool given() const { return !named_.empty() || !file_.empty(); }
    [[nodiscard]] const std::string& file() const { return file_; }
    /// Those named first, then those of the file. A station of the scenario stands there with its
    /// own radio; everywhere else it is the listener. Places of the file where nobody is ("people"
    /// is 0) are left out, and told those whose name is there already. Throws Error(Fault::usage)
    /// for a place that is neither written NAME=POSITION nor in the scenario and for a name given
    /// twice, and as scenario::read_places().
    [[nodiscard]] std::vector<plan::ServedPlace> read(const SharedInputs& inputs) const;
    /// Leaves out the places of files that lie off the elevation, and tells so: one slip of a phone
    /// is not to stop everything. What was named one by one stays, and is refused later.
    void keep_on_ground(std::vector<plan::ServedPlace>& places,
                        const terrain::TerrainSource& source, const SharedInputs& inputs) const;

private:
    std::string option_;
    std::vector<std::string> named_;
    std::string file_;
};

/// The antennas of the scenario, or the usual ones without one.
[[nodiscard]] std::vector<plan::AntennaChoice> antennas_at_hand(const SharedInputs& inputs,
                                                                double frequency_mhz);

/// Whether a position lies on the cells of the elevation, void or not.
[[nodiscard]] bool covers(const terrain::TerrainSource& source, geo::LatLon position);

/// Whom of a scenario: its stations with their own radios, then its listener at each of its places
/// where somebody is.
enum class Served { stations, places, all };
[[nodiscard]] std::vector<plan::ServedPlace> everybody(const scenario::Scenario& scenario,
                                                       Served who);

} // namespace earshot::app
