#pragma once

#include "earshot/link/budget.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/profile.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "propagation/noise.hpp"
#include "scenario/correction.hpp"
#include "scenario/places.hpp"

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace earshot::scenario {

/// What people set their radios to.
struct Channel {
    std::string name;
    double transmit_mhz = 0.0;     ///< that all talk on
    double receive_mhz = 0.0;      ///< that all listen on; another one needs a repeater
    std::optional<double> tone_hz; ///< sub-audible tone that opens the receivers' squelch
    std::string use;               ///< what it is for; may be empty
    std::string power;             ///< how much to transmit with, in words; may be empty
    std::optional<propagation::FmChannel> bandwidth; ///< unset: that of each radio

    /// Whether those who have it hear one another without a repeater.
    [[nodiscard]] bool direct() const { return transmit_mhz == receive_mhz; }
};

/// A radio as one carries it about: what a walk test tries.
struct CarriedRadio {
    std::string name;
    link::Station station; ///< radio and antenna height; the position is that of no place
    std::string antenna;   ///< name of its antenna
};

/// The net on one frequency: antennas, noise and losses to bodies differ with it.
struct Tuned {
    double frequency_mhz = 0.0;
    std::vector<link::Station>
        stations; ///< all; only those that have the channel are set up for it
    std::optional<link::Station> listener; ///< none if the listener's equipment is not for it
    std::vector<CarriedRadio> set_ups;     ///< those that are for it
};

/// What a repeater does: all that it hears on one channel it sends on another at once.
struct Repeat {
    std::size_t station = 0;   ///< index into the stations
    std::size_t takes_in = 0;  ///< channel, on its transmit_mhz
    std::size_t gives_out = 0; ///< channel, on its receive_mhz
};

/// Who has which channel, with what. A net on one frequency has one channel.
struct Air {
    std::vector<Channel> channels;                     ///< at least one; names differ
    std::vector<Tuned> talked;                         ///< of each channel, on its transmit_mhz
    std::vector<Tuned> heard;                          ///< of each channel, on its receive_mhz
    std::vector<std::vector<std::size_t>> channels_of; ///< for each station; none for a repeater
    std::vector<Repeat> repeats;

    [[nodiscard]] bool is_repeater(std::size_t station) const;
    [[nodiscard]] bool has(std::size_t station, std::size_t channel) const;
};

/// Stations and a listener that all have the same one channel.
[[nodiscard]] Air one_channel(std::vector<link::Station> stations, link::Station listener,
                              double frequency_mhz);

/// The same for some of the stations alone, and all repeaters.
[[nodiscard]] Air with_only(const Air& air, const std::vector<std::string>& stations);

/// One more station, with the listener's radios, on all channels that these are for.
void add_listener(Air& air, const std::string& name, geo::LatLon position);

// What a scenario says for the people who are briefed: nothing of it changes a prediction.

/// Who is at a station, and where they go if they are not heard. All may be empty.
struct Duty {
    std::string person;
    std::string role;
    std::string fallback; ///< name of a place or of another station
};

/// What a briefing is to show.
struct BriefingPlan {
    std::string title; ///< empty: the name of the net
    std::string date;
    std::string prepared_by;
    std::optional<double> declination_deg; ///< of the magnetic needle, east positive
    std::optional<double> range_m;         ///< how far from each station to map
    std::vector<std::pair<std::string, std::string>> paths; ///< names of stations or places
    /// What the ladder is of: a station alone (to all places, or its range on foot), or a station
    /// and the place or station to be reached. Empty: no ladder.
    std::vector<std::string> ladder;
    std::vector<std::string> remarks; ///< for all who read it, a sentence each
};

/// Where ground and cover come from. Paths are ready to open.
struct GroundInputs {
    std::vector<std::filesystem::path> elevation;
    std::optional<double> height_unit_m;
    std::optional<terrain::GroundKind> ground_kind; ///< as said; then as the files have it
    std::vector<std::filesystem::path> cover;
    std::string cover_table = "worldcover"; ///< what the codes in `cover` mean
    std::optional<terrain::CoverClass> uniform_cover;
    std::vector<std::filesystem::path> zones; ///< rasters of radio-climatic zones
};

/// The layers on the cells of a grid. view() refers to this object.
struct Layers {
    std::optional<terrain::GroundCover> cover, zones;

    [[nodiscard]] terrain::GroundLayers view() const {
        return {cover ? &*cover : nullptr, zones ? &*zones : nullptr};
    }
};

/// An antenna that the file defines.
struct OwnAntenna {
    std::string name;
    double gain_dbi = 0.0;
    double lowest_mhz = 0.0; ///< that it is for
    double highest_mhz = 0.0;
};

/// A net of stations, and the ground it works over. Frequency, stations, listener and set-ups are
/// those of one channel, the one in use; all others are in `air`.
struct Scenario {
    std::filesystem::path file;
    std::string net_name;
    geo::Units units = geo::Units::metric; ///< what people read
    /// Least margin that counts as heard, dB, at the share of time and places of the settings.
    double wanted_margin_db = 0.0;
    /// Frequency, method, share of time and places, polarization of the net's antennas. Climate
    /// from maps is that of the first station.
    propagation::Conditions conditions;
    std::optional<double> step_m; ///< between profile points; unset: what the elevation resolves
    std::vector<link::Station> stations; ///< at least one; names differ from those of all others
    std::vector<Place> places;           ///< those of the file, then those of its places_file
    /// Who is to be reached at places and on maps: radio and antenna height; name and position are
    /// those of no place.
    link::Station listener;
    std::string listener_antenna;      ///< its name; empty without a [listener]
    std::vector<CarriedRadio> set_ups; ///< names differ; none if the file has none
    std::vector<OwnAntenna> antennas;
    GroundInputs ground;
    std::vector<Duty> duties; ///< one for each station
    Air air;
    std::size_t channel = 0; ///< in use
    /// Stations that use_channel() has left out, and a channel that each has.
    std::vector<std::pair<std::string, std::string>> elsewhere;
    BriefingPlan briefing;
    /// In settings, stations, listener and set-ups already; its words are among the notes.
    std::optional<Correction> correction;
    link::Assumed assumed; ///< what the file leaves out, of any of its radios
    std::optional<double> uncorrected_deviation_db; ///< of predictions, without the correction
    std::vector<std::string> notes;                 ///< what the user should know, a sentence each
};

/// Height of the listener's antenna unless the file says otherwise: a handheld at head height.
inline constexpr double default_listener_height_m = 1.5;

/// Reads a scenario file (TOML 1.0); docs/scenario-file.md describes it. Throws
/// Error(Fault::input) with one line that names file, line and column: damaged TOML, a key or
/// section that is not known (with the nearest known one), missing or given twice over, a value of
/// the wrong type or out of range, a name used twice or not defined, a radio on another frequency
/// than its net or an antenna for another band, a channel or a repeater that cannot be, antennas of
/// different polarization; and what read_places() throws. A station that is not on the channel in
/// use is set up for the first that it has.
[[nodiscard]] Scenario read_scenario(const std::filesystem::path& file);

/// Puts a field correction, or none, in the place of the one that the scenario has: in settings,
/// radios and notes. Throws as apply() does.
void set_correction(Scenario& scenario, std::optional<Correction> correction);

/// Puts a channel into use: only the stations that are heard on it stay, on the frequency that is
/// listened on. An empty name is the channel that is in use, as the file is read. Throws
/// Error(Fault::usage) that lists the channels there are, or if nobody is heard on it or the
/// listener has nothing for its band.
void use_channel(Scenario& scenario, std::string_view name);

/// The setting of predictions on a frequency of the net: `setting`, but without a field correction
/// that says nothing of it.
[[nodiscard]] link::Setting setting_on(const Scenario& scenario, const link::Setting& setting,
                                       double frequency_mhz);

/// Where its field correction holds, for a link::Setting; null if it has none.
[[nodiscard]] std::shared_ptr<const link::FieldReach> field_reach(const Scenario& scenario);

/// The station of that name, or the listener standing at the place of that name. Throws
/// Error(Fault::usage) that names the nearest or lists the names there are.
[[nodiscard]] link::Station station_named(const Scenario& scenario, std::string_view name);

/// What stations that are added repeat: names of channels, and the radio that takes in.
struct NewRepeat {
    std::string takes_in, gives_out;
    link::Radio taking;
};

/// Adds stations to the end of a scenario file, which else stays as it is, remarks and all. Each
/// has a radio and an antenna that the scenario knows (link::Radio::kind, antenna), and what it is
/// for as its role; a name that is taken gets a number. The file is replaced whole or not at all,
/// and only by one that read_scenario() takes. Returns the names. Throws Error(Fault::usage) for a
/// radio that the scenario does not have, Error(Fault::output), and as read_scenario().
/// With `repeat` they are repeaters.
std::vector<std::string> add_stations(const std::filesystem::path& file,
                                      std::vector<link::Station> stations, std::string_view role,
                                      const NewRepeat* repeat = nullptr);

/// Opens the elevation of a scenario; throws as TerrainSource::open() does.
[[nodiscard]] terrain::TerrainSource open_elevation(const GroundInputs& inputs);

/// Cover and zones of a scenario on the cells of a grid, each empty if it names none. Throws as
/// GroundCover::load() does.
[[nodiscard]] Layers load_layers(const GroundInputs& inputs, const terrain::HeightGrid& ground,
                                 Task& task = silent_task());

/// A commented scenario to start from: valid TOML that read_scenario() takes.
[[nodiscard]] std::string_view starter_scenario();

} // namespace earshot::scenario
