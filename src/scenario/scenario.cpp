#include "scenario/scenario.hpp"

#include "base/input_file.hpp"
#include "base/named.hpp"
#include "base/require.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/quality.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/clutter.hpp"
#include "propagation/noise.hpp"
#include "propagation/vegetation.hpp"
#include "scenario/scenario_keys.hpp"
#include "scenario/strict_toml.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

namespace earshot::scenario {
namespace {

/// A kind of radio or antenna that stations name.
struct RadioKind {
    std::string name;
    link::Radio radio;
    std::optional<double> frequency_mhz;
    propagation::FmChannel channel = propagation::FmChannel::narrow;
};

struct AntennaKind {
    std::string name;
    double gain_dbi = 0.0;
    propagation::Polarization polarization = propagation::Polarization::vertical;
};

/// A radio somewhere, and the polarization that no link::Radio has room for.
struct Equipped {
    link::Station station;
    propagation::Polarization polarization;
};

class Reader {
public:
    explicit Reader(const std::filesystem::path& file)
        : toml_(file, "scenario", scenario_sections()) {
        scenario_.file = file;
    }

    Scenario read() && {
        each("net", &Reader::read_net);
        each("service", &Reader::read_service);
        each("method", &Reader::read_method);
        require_shares_that_count();
        each("radios", &Reader::read_radio);
        each("antennas", &Reader::read_antenna);
        each("stations", &Reader::read_station);
        each("method", &Reader::read_climate);
        scenario_.listener.antenna_height_m = default_listener_height_m;
        each("listener", &Reader::read_listener);
        each("set_ups", &Reader::read_set_up);
        each("places", &Reader::read_place);
        each("ground", &Reader::read_ground);
        read_places_file(toml_.top());
        each("channels", &Reader::read_channel);
        each("stations", &Reader::check_fallback);
        each("briefing", &Reader::read_briefing);
        each("service", &Reader::read_correction_file); // when all radios and the method are known
        return std::move(scenario_);
    }

private:
    /// Reads all sections of a name.
    void each(std::string_view name, void (Reader::*read)(const Entry&)) {
        for (const Entry& entry : toml_.entries(name)) {
            (this->*read)(entry);
        }
    }

    void read_net(const Entry& net) {
        scenario_.net_name = net.text("name", "");
        scenario_.conditions.frequency_mhz = *net.number("frequency_mhz");
        if (net.text("units", "metric") == "imperial") {
            scenario_.units = geo::Units::imperial;
        }
        const std::string noise = net.text("noise", "rural");
        scenario_.assumed.rural_noise = !net.has("noise");
        if (noise != "none") {
            noise_db_ = propagation::external_noise_figure_db(
                propagation::parse_noise_environment(noise), scenario_.conditions.frequency_mhz);
        }
    }

    void read_service(const Entry& service) {
        scenario_.wanted_margin_db = service.number("margin_db", 0.0);
        if (const auto wanted = service.number("readability")) {
            if (*wanted != std::floor(*wanted)) {
                service.fail_at("readability",
                                fmt::format("readability = {} must be a whole number", *wanted));
            }
            scenario_.wanted_margin_db =
                link::readability_classes()[static_cast<std::size_t>(*wanted)].least_margin_db;
        }
        scenario_.conditions.prediction_deviation_db = service.number("prediction_deviation_db");
        propagation::Conditions& inputs = scenario_.conditions;
        inputs.time_percent = service.number("time_percent", inputs.time_percent);
        inputs.location_percent = service.number("places_percent", inputs.location_percent);
    }

    void read_method(const Entry& method) {
        propagation::Conditions& settings = scenario_.conditions;
        if (const auto name = method.text("name")) {
            settings.method = propagation::parse_method(*name);
        }
        if (method.text("knife_edge", "itu") == "exact") {
            settings.knife_edge = propagation::KnifeEdgeForm::exact;
        }
        const auto refuse = [&](std::string_view key, std::string_view advice) {
            if (method.has(key)) {
                method.fail_at(key,
                               fmt::format("{} does nothing with method {}; {}", key,
                                           propagation::method_info(settings.method).name, advice));
            }
        };
        if (from_p1812(settings.method)) {
            refuse("k_factor", "give delta_n instead");
        } else if (settings.method == propagation::Method::irregular_terrain) {
            refuse("k_factor", "give n0 instead");
            refuse("delta_n", "give n0 instead");
        } else {
            refuse("delta_n", "give k_factor instead");
            refuse("n0", "leave it out");
            refuse("refractivity_maps", "leave it out");
        }
        if (method.has("refractivity_maps") && (method.has("delta_n") || method.has("n0"))) {
            method.fail_at("refractivity_maps", "refractivity_maps gives both values; leave "
                                                "out delta_n and n0");
        }
        if (const auto rule = method.text("houses")) {
            settings.houses = named(propagation::house_rules(), *rule)->houses;
        }
        if (const auto fit = method.text("woodland_fit")) {
            settings.woodland_fit = named(propagation::woodland_fits(), *fit)->fit;
        }
        settings.k_factor = method.number("k_factor", settings.k_factor);
        terrain::Refractivity& refractivity = settings.refractivity;
        refractivity.delta_n = method.number("delta_n", refractivity.delta_n);
        refractivity.n0 = method.number("n0", refractivity.n0);
        scenario_.step_m = method.number("step_m");
    }

    /// The share of time and places is for the method that knows it.
    void require_shares_that_count() const {
        if (knows_shares(scenario_.conditions.method)) {
            return;
        }
        for (const Entry& service : toml_.entries("service")) {
            for (const std::string_view key : {"time_percent", "places_percent"}) {
                if (service.number(key, 50.0) != 50.0) {
                    service.fail_at(
                        key, fmt::format("method {} predicts half of time and places only; "
                                         "leave {} out, or take method short-range",
                                         propagation::method_info(scenario_.conditions.method).name,
                                         key));
                }
            }
        }
    }

    /// Refuses a name that another section of the same list has.
    template <typename Kinds>
    static void require_new(const Entry& entry, const Kinds& kinds, const std::string& name,
                            std::string_view what) {
        if (named(kinds, name) != nullptr) {
            entry.fail_at("name", fmt::format("{} '{}' is there already; give each a name of its "
                                              "own",
                                              what, shown(name)));
        }
    }

    void read_radio(const Entry& entry) {
        RadioKind kind;
        kind.name = entry.text("name", "");
        require_new(entry, radios_, kind.name, "a radio");
        kind.frequency_mhz = entry.number("frequency_mhz");
        kind.radio.kind = kind.name;
        const auto power_w = entry.number("power_w");
        kind.radio.power_dbm = power_w ? geo::dbm_from_watts(*power_w) : *entry.number("power_dbm");
        for (const double each_w : entry.numbers("powers_w")) {
            kind.radio.powers_dbm.push_back(geo::dbm_from_watts(each_w));
        }
        const auto sensitivity_uv = entry.number("sensitivity_uv");
        kind.radio.threshold_dbm = sensitivity_uv ? geo::dbm_from_microvolts(*sensitivity_uv)
                                                  : *entry.number("threshold_dbm");
        kind.radio.feeder_loss_db = entry.number("feeder_loss_db", 0.0);
        const double bandwidth_khz = entry.number("bandwidth_khz", 12.5);
        if (bandwidth_khz != 12.5 && bandwidth_khz != 25.0) {
            entry.fail_at("bandwidth_khz",
                          fmt::format("bandwidth_khz = {}: FM voice channels are 12.5 (narrow) or "
                                      "25 (wide)",
                                      bandwidth_khz));
        }
        kind.channel =
            bandwidth_khz > 12.5 ? propagation::FmChannel::wide : propagation::FmChannel::narrow;
        radios_.push_back(std::move(kind));
    }

    void read_antenna(const Entry& entry) {
        AntennaKind kind;
        kind.name = entry.text("name", "");
        require_new(entry, antennas_, kind.name, "an antenna");
        const auto gain_dbd = entry.number("gain_dbd");
        kind.gain_dbi = gain_dbd ? *gain_dbd + geo::dipole_gain_dbi : *entry.number("gain_dbi");
        if (entry.text("polarization", "vertical") == "horizontal") {
            kind.polarization = propagation::Polarization::horizontal;
        }
        scenario_.antennas.push_back({kind.name, kind.gain_dbi});
        antennas_.push_back(std::move(kind));
    }

    [[nodiscard]] const RadioKind& radio_of(const Entry& entry) const {
        const std::string name = entry.text("radio", "");
        const RadioKind* found = named(radios_, name);
        if (found == nullptr) {
            entry.fail_at("radio", fmt::format("no [[radios]] is named '{}'{}", shown(name),
                                               did_you_mean(name, names_of(radios_))));
        }
        if (found->frequency_mhz && *found->frequency_mhz != scenario_.conditions.frequency_mhz) {
            entry.fail_at("radio",
                          fmt::format("radio '{}' is on {} MHz but the net on {} MHz; set both "
                                      "alike",
                                      shown(name), *found->frequency_mhz,
                                      scenario_.conditions.frequency_mhz));
        }
        return *found;
    }

    /// One of the file's own antennas, else one of the usual ones.
    [[nodiscard]] AntennaKind antenna_of(const Entry& entry) const {
        const std::string name = entry.text("antenna", "");
        if (const AntennaKind* own = named(antennas_, name)) {
            return *own;
        }
        if (named(link::antennas(), name) == nullptr) {
            const std::vector<std::string_view> known = names_of(antennas_, link::antennas());
            const std::string guess = did_you_mean(name, known);
            entry.fail_at("antenna", fmt::format("no antenna is named '{}'{}", shown(name),
                                                 guess.empty() ? fmt::format("; known are {}",
                                                                             fmt::join(known, ", "))
                                                               : guess));
        }
        const double gain_dbi = entry.located("antenna", [&] {
            return link::antenna_gain_dbi(name, scenario_.conditions.frequency_mhz);
        });
        return {name, gain_dbi, propagation::Polarization::vertical};
    }

    [[nodiscard]] Equipped equipped(const Entry& entry) {
        const RadioKind& kind = radio_of(entry);
        const AntennaKind antenna = antenna_of(entry);
        Equipped result{{}, antenna.polarization};
        const auto height_ft = entry.number("antenna_height_ft");
        result.station.antenna_height_m =
            height_ft ? *height_ft * geo::metres_per_foot : *entry.number("antenna_height_m");
        link::Radio& radio = result.station.radio;
        radio = kind.radio;
        radio.antenna = antenna.name;
        radio.antenna_gain_dbi = antenna.gain_dbi;
        radio.body_loss_db = entry.number("body_loss_db", 0.0);
        const bool unsaid = !entry.has("carried") && !entry.has("body_loss_db") &&
                            result.station.antenna_height_m <= link::held_up_to_m;
        scenario_.assumed.at_face = scenario_.assumed.at_face || unsaid;
        if (unsaid || entry.has("carried")) {
            radio.body_loss_db =
                link::body_loss_db(link::parse_carried(entry.text("carried", "face")),
                                   scenario_.conditions.frequency_mhz);
        }
        if (noise_db_) {
            entry.located("radio", [&] {
                link::add_noise(radio, kind.channel, propagation::VoiceQuality::twelve_db_sinad,
                                noise_db_);
            });
        }
        return result;
    }

    /// Squares of MGRS without their zone are those near the first station.
    [[nodiscard]] geo::LatLon position_of(const Entry& entry) {
        const std::string text = entry.text("position", "");
        if (std::string coarse = geo::coarseness(text); !coarse.empty()) {
            scenario_.notes.push_back(std::move(coarse));
        }
        return entry.located("position", [&] {
            return scenario_.stations.empty()
                       ? geo::parse_position(text)
                       : geo::parse_position(text, scenario_.stations.front().position);
        });
    }

    void require_polarization(const Entry& entry, propagation::Polarization polarization,
                              std::string_view whose) const {
        if (polarization != scenario_.conditions.polarization) {
            entry.fail_at("antenna",
                          fmt::format("the antenna of {} and that of {} differ in polarization; "
                                      "what that costs is not predicted, so turn one of them",
                                      shown(whose), shown(scenario_.stations.front().name)));
        }
    }

    void read_station(const Entry& entry) {
        Equipped result = equipped(entry);
        result.station.name = entry.text("name", "");
        require_new(entry, scenario_.stations, result.station.name, "a station");
        result.station.position = position_of(entry);
        if (scenario_.stations.empty()) {
            scenario_.conditions.polarization = result.polarization;
        }
        scenario_.duties.push_back(
            {entry.text("person", ""), entry.text("role", ""), entry.text("fallback", "")});
        scenario_.stations.push_back(std::move(result.station));
        require_polarization(entry, result.polarization, scenario_.stations.back().name);
    }

    void read_climate(const Entry& method) {
        for (const std::filesystem::path& folder : method.paths("refractivity_maps")) {
            scenario_.conditions.refractivity = method.located("refractivity_maps", [&] {
                return terrain::RefractivityMaps::open(folder).at(
                    scenario_.stations.front().position);
            });
        }
    }

    void read_listener(const Entry& entry) {
        Equipped result = equipped(entry);
        require_polarization(entry, result.polarization, "the listener");
        scenario_.listener = std::move(result.station);
        scenario_.listener_antenna = entry.text("antenna", "");
    }

    void read_set_up(const Entry& entry) {
        Equipped result = equipped(entry);
        CarriedRadio set_up{entry.text("name", ""), result.station, entry.text("antenna", "")};
        require_new(entry, scenario_.set_ups, set_up.name, "a set-up");
        require_polarization(entry, result.polarization, set_up.name);
        scenario_.set_ups.push_back(std::move(set_up));
    }

    void read_place(const Entry& entry) {
        Place place{entry.text("name", ""), position_of(entry), entry.number("people", 1.0)};
        require_new(entry, scenario_.stations, place.name, "a station");
        require_new(entry, scenario_.places, place.name, "a place");
        scenario_.places.push_back(std::move(place));
    }

    void read_ground(const Entry& ground) {
        GroundInputs& inputs = scenario_.ground;
        inputs.elevation = ground.paths("elevation");
        inputs.cover = ground.paths("cover");
        const std::string unit = ground.text("height_unit", "");
        if (unit == "m") {
            inputs.height_unit_m = 1.0;
        } else if (unit == "ft") {
            inputs.height_unit_m = geo::metres_per_foot;
        } else if (unit == "us-ft") {
            inputs.height_unit_m = 1200.0 / 3937.0;
        }
        if (const auto kind = ground.text("ground_kind")) {
            inputs.ground_kind =
                *kind == "surface" ? terrain::GroundKind::surface : terrain::GroundKind::bare;
        }
        if (const auto table = ground.text("cover_table")) {
            if (inputs.cover.empty()) {
                ground.fail_at("cover_table", "cover_table needs the rasters that cover names");
            }
            const bool named = *table == "worldcover" || *table == "nlcd";
            inputs.cover_table = named ? *table : ground.paths("cover_table").front().string();
            note_input(inputs.cover_table);
        }
        if (const auto name = ground.text("cover_class")) {
            inputs.uniform_cover = terrain::cover_kind(*name, ground.number("cover_height_m"));
        } else if (ground.has("cover_height_m")) {
            ground.fail_at("cover_height_m", "cover_height_m needs a cover_class to be the height "
                                             "of");
        }
        inputs.zones = ground.paths("zones");
        for (const auto& files : {inputs.elevation, inputs.cover, inputs.zones}) {
            std::for_each(files.begin(), files.end(), note_input);
        }
    }

    void read_places_file(const Entry& top) {
        for (const std::filesystem::path& file : top.paths("places_file")) {
            PlacesFile read = read_places(file);
            std::vector<std::string> stand_there;
            std::vector<std::string> twice;
            for (Place& place : read.places) {
                // People list the places where their stations stand; the station it is then.
                if (const auto* station = named(scenario_.stations, place.name)) {
                    constexpr double same_place_m = 100.0;
                    if (geo::geodesic_between(station->position, place.position).distance_m >
                        same_place_m) {
                        stand_there.push_back(place.name);
                    }
                    continue;
                }
                if (named(scenario_.places, place.name) != nullptr) {
                    twice.push_back(place.name);
                    continue;
                }
                scenario_.places.push_back(std::move(place));
            }
            if (!stand_there.empty()) {
                scenario_.notes.push_back(fmt::format(
                    "places of {} that have the name of a station elsewhere were left out: {}",
                    file.string(), fmt::join(stand_there, ", ")));
            }
            if (!twice.empty()) {
                scenario_.notes.push_back(fmt::format(
                    "places of {} whose name is there already were left out; give each a name of "
                    "its own: {}",
                    file.string(), fmt::join(twice, ", ")));
            }
            if (read.passed_over > 0) {
                scenario_.notes.push_back(
                    fmt::format("{} shapes of {} are no points and were passed over",
                                read.passed_over, file.string()));
            }
        }
    }

    void read_channel(const Entry& entry) {
        Channel channel{entry.text("name", ""), *entry.number("frequency_mhz"),
                        entry.number("tone_hz"), entry.text("use", ""), entry.text("power", "")};
        require_new(entry, scenario_.channels, channel.name, "a channel");
        scenario_.channels.push_back(std::move(channel));
    }

    /// Refuses a name under `key` that no station or place has; known only when all are read.
    void require_there(const Entry& entry, std::string_view key, const std::string& name) const {
        const std::vector<std::string_view> known = names_of(scenario_.stations, scenario_.places);
        if (std::find(known.begin(), known.end(), std::string_view(name)) == known.end()) {
            entry.fail_at(key, fmt::format("{}: no station or place is named '{}'{}", key,
                                           shown(name), did_you_mean(name, known)));
        }
    }

    void check_fallback(const Entry& entry) {
        const std::string fallback = entry.text("fallback", "");
        if (fallback.empty()) {
            return;
        }
        require_there(entry, "fallback", fallback);
        if (fallback == entry.text("name", "")) {
            entry.fail_at("fallback", "fallback is the station itself; name a place to go to");
        }
    }

    void read_briefing(const Entry& entry) {
        BriefingPlan& briefing = scenario_.briefing;
        briefing.title = entry.text("title", "");
        briefing.date = entry.text("date", "");
        briefing.prepared_by = entry.text("prepared_by", "");
        briefing.declination_deg = entry.number("declination_deg");
        if (const auto range_km = entry.number("range_km")) {
            briefing.range_m = *range_km * 1000.0;
        }
        briefing.remarks = entry.texts("remarks");
        briefing.paths = entry.pairs("paths");
        for (const auto& [a, b] : briefing.paths) {
            require_there(entry, "paths", a);
            require_there(entry, "paths", b);
            if (a == b) {
                entry.fail_at("paths",
                              fmt::format("paths has a path from '{}' to itself", shown(a)));
            }
        }
        briefing.ladder = entry.texts("ladder");
        if (briefing.ladder.size() > 2) {
            entry.fail_at("ladder", "ladder names more than two; give a station, or a station "
                                    "and whom it is to reach");
        }
        for (const std::string& name : briefing.ladder) {
            require_there(entry, "ladder", name);
        }
        if (briefing.ladder.size() == 2 && briefing.ladder.front() == briefing.ladder.back()) {
            entry.fail_at("ladder", "ladder is from a station to itself");
        }
    }

    void read_correction_file(const Entry& service) {
        for (const std::filesystem::path& file : service.paths("correction_file")) {
            Correction correction = read_correction(file);
            service.located("correction_file",
                            [&] { set_correction(scenario_, std::move(correction)); });
        }
    }

    StrictToml toml_;
    Scenario scenario_;
    std::optional<double> noise_db_; ///< f_a of the surroundings
    std::vector<RadioKind> radios_;
    std::vector<AntennaKind> antennas_;
};

} // namespace

Scenario read_scenario(const std::filesystem::path& file) {
    return Reader(file).read();
}

void set_correction(Scenario& scenario, std::optional<Correction> correction) {
    if (scenario.correction) {
        std::erase(scenario.notes, correction_words(*scenario.correction));
    } else {
        scenario.uncorrected_deviation_db = scenario.conditions.prediction_deviation_db;
    }
    const auto correct_radios = [&](const auto& correct) {
        for (link::Station& station : scenario.stations) {
            correct(station.radio);
        }
        for (CarriedRadio& carried : scenario.set_ups) {
            correct(carried.station.radio);
        }
        correct(scenario.listener.radio);
    };
    if (!correction) {
        scenario.conditions.woodland_factor = 1.0;
        scenario.conditions.field_offset_db = 0.0;
        scenario.conditions.prediction_deviation_db = scenario.uncorrected_deviation_db;
        correct_radios([](link::Radio& radio) { radio.field_correction_db = 0.0; });
        scenario.correction.reset();
        return;
    }
    apply(*correction, scenario.conditions);
    correct_radios([&](link::Radio& radio) { apply(*correction, radio); });
    scenario.notes.push_back(correction_words(*correction));
    scenario.correction = std::move(correction);
}

std::shared_ptr<const link::FieldReach> field_reach(const Scenario& scenario) {
    return scenario.correction
               ? field_reach(*scenario.correction, scenario.uncorrected_deviation_db)
               : nullptr;
}

link::Station station_named(const Scenario& scenario, std::string_view name) {
    if (const link::Station* station = named(scenario.stations, name)) {
        return *station;
    }
    if (const Place* place = named(scenario.places, name)) {
        link::Station listener = scenario.listener;
        listener.name = place->name;
        listener.position = place->position;
        return listener;
    }
    const std::vector<std::string_view> known = names_of(scenario.stations, scenario.places);
    const std::string guess = did_you_mean(name, known);
    throw_usage("{} has no station or place named '{}'{}", scenario.file.string(), shown(name),
                guess.empty() ? fmt::format("; it has {}", fmt::join(known, ", ")) : guess);
}

terrain::TerrainSource open_elevation(const GroundInputs& inputs) {
    terrain::OpenOptions options;
    options.height_unit_m = inputs.height_unit_m;
    options.ground_kind = inputs.ground_kind;
    return terrain::TerrainSource::open(inputs.elevation, options);
}

Layers load_layers(const GroundInputs& inputs, const terrain::HeightGrid& ground, Task& task) {
    const auto load = [&](const std::vector<std::filesystem::path>& files,
                          const terrain::CoverTable& table) {
        return terrain::GroundCover::load(files, table, ground.georeference, ground.columns,
                                          ground.rows, task);
    };
    Layers layers;
    if (inputs.uniform_cover) {
        layers.cover = terrain::GroundCover::uniform(*inputs.uniform_cover);
    } else if (!inputs.cover.empty()) {
        layers.cover = load(inputs.cover, terrain::CoverTable::named(inputs.cover_table));
    }
    if (!inputs.zones.empty()) {
        layers.zones = load(inputs.zones, terrain::zone_table());
    }
    return layers;
}

} // namespace earshot::scenario
