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

/// From the lowest to the highest frequency, MHz.
using Band = std::pair<double, double>;

/// A kind of radio or antenna that stations name.
struct RadioKind {
    std::string name;
    link::Radio radio;
    std::optional<double> frequency_mhz; ///< the only one it can
    Band band;
    propagation::FmChannel bandwidth = propagation::FmChannel::narrow;
};

struct AntennaKind {
    std::string name;
    double gain_dbi = 0.0;
    Band band;
    propagation::Polarization polarization = propagation::Polarization::vertical;
};

/// One side of a channel, as equipment has to be for it.
struct Side {
    const Channel& channel;
    double frequency_mhz = 0.0;
    /// Of a repeater that gives out there: it does so with the last of its radios and antennas that
    /// are for the band, and takes in with the first.
    bool last = false;
};

/// A radio somewhere, and the polarization that no link::Radio has room for.
struct Equipped {
    link::Station station;
    propagation::Polarization polarization;
};

/// Equipment for both sides of a channel.
struct OnChannel {
    std::size_t channel = 0;
    Equipped talking, hearing;
};

class Reader {
public:
    explicit Reader(const std::filesystem::path& file)
        : toml_(file, "scenario", scenario_sections()) {
        scenario_.file = file;
    }

    Scenario read() && {
        each("channels", &Reader::read_channel);
        each("net", &Reader::read_net);
        each("service", &Reader::read_service);
        each("method", &Reader::read_method);
        require_shares_that_count();
        each("radios", &Reader::read_radio);
        each("antennas", &Reader::read_antenna);
        each("stations", &Reader::read_station);
        tell_idle_channels();
        each("method", &Reader::read_climate);
        scenario_.listener.antenna_height_m = default_listener_height_m;
        if (toml_.entries("listener").empty()) {
            for (std::vector<Tuned>* side : {&scenario_.air.talked, &scenario_.air.heard}) {
                for (Tuned& tuned : *side) {
                    tuned.listener = scenario_.listener;
                }
            }
        }
        each("listener", &Reader::read_listener);
        each("set_ups", &Reader::read_set_up);
        each("places", &Reader::read_place);
        each("ground", &Reader::read_ground);
        read_places_file(toml_.top());
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
        Air& air = scenario_.air;
        const auto wanted_mhz = net.number("frequency_mhz");
        if (!wanted_mhz && air.channels.empty()) {
            net.fail(
                "[net] has no frequency_mhz (the one frequency of a net without [[channels]])");
        }
        const auto found =
            std::find_if(air.channels.begin(), air.channels.end(), [&](const Channel& channel) {
                return !wanted_mhz || channel.receive_mhz == *wanted_mhz;
            });
        if (found == air.channels.end()) {
            Channel own;
            own.name = fmt::format("{:g} MHz", *wanted_mhz);
            own.transmit_mhz = own.receive_mhz = *wanted_mhz;
            air.channels.insert(air.channels.begin(), own);
        } else {
            scenario_.channel = static_cast<std::size_t>(found - air.channels.begin());
        }
        for (const Channel& channel : air.channels) {
            air.talked.emplace_back().frequency_mhz = channel.transmit_mhz;
            air.heard.emplace_back().frequency_mhz = channel.receive_mhz;
        }
        scenario_.conditions.frequency_mhz = air.heard[scenario_.channel].frequency_mhz;
        if (net.text("units", "metric") == "imperial") {
            scenario_.units = geo::Units::imperial;
        }
        const std::string noise = net.text("noise", "rural");
        scenario_.assumed.rural_noise = !net.has("noise");
        if (noise != "none") {
            noise_ = propagation::parse_noise_environment(noise);
        }
    }

    void read_channel(const Entry& entry) {
        std::vector<Channel>& channels = scenario_.air.channels;
        Channel channel;
        channel.name = entry.text("name", "");
        require_new(entry, channels, channel.name, "a channel");
        if (entry.has("transmit_mhz") != entry.has("receive_mhz")) {
            entry.fail_at(entry.has("receive_mhz") ? "receive_mhz" : "transmit_mhz",
                          "transmit_mhz and receive_mhz go together; where both are the same, give "
                          "frequency_mhz instead");
        }
        channel.transmit_mhz = entry.number("transmit_mhz", entry.number("frequency_mhz", 0.0));
        channel.receive_mhz = entry.number("receive_mhz", channel.transmit_mhz);
        channel.tone_hz = entry.number("tone_hz");
        channel.use = entry.text("use", "");
        channel.power = entry.text("power", "");
        channel.bandwidth = bandwidth_of(entry);
        for (const Channel& other : channels) {
            if (other.transmit_mhz == channel.transmit_mhz &&
                other.receive_mhz == channel.receive_mhz && other.tone_hz == channel.tone_hz) {
                entry.fail(fmt::format("channel '{}' is the same as '{}': the same frequency and "
                                       "tone; leave one out",
                                       shown(channel.name), shown(other.name)));
            }
        }
        channels.push_back(std::move(channel));
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

    [[nodiscard]] static std::optional<propagation::FmChannel> bandwidth_of(const Entry& entry) {
        const auto bandwidth_khz = entry.number("bandwidth_khz");
        if (!bandwidth_khz) {
            return std::nullopt;
        }
        if (*bandwidth_khz != 12.5 && *bandwidth_khz != 25.0) {
            entry.fail_at("bandwidth_khz",
                          fmt::format("bandwidth_khz = {}: FM voice channels are 12.5 (narrow) or "
                                      "25 (wide)",
                                      *bandwidth_khz));
        }
        return *bandwidth_khz > 12.5 ? propagation::FmChannel::wide
                                     : propagation::FmChannel::narrow;
    }

    /// What a radio or antenna is for. Left out, the band of the net: within a tenth of its
    /// frequency (common practice, no source).
    [[nodiscard]] Band band_of(const Entry& entry) const {
        const std::vector<double> band_mhz = entry.numbers("band_mhz");
        if (band_mhz.empty()) {
            const double frequency_mhz = scenario_.conditions.frequency_mhz;
            return {0.9 * frequency_mhz, 1.1 * frequency_mhz};
        }
        if (band_mhz.size() != 2 || band_mhz.front() > band_mhz.back()) {
            entry.fail_at("band_mhz", "band_mhz must be the lowest and the highest frequency, for "
                                      "example [136, 174]");
        }
        return {band_mhz.front(), band_mhz.back()};
    }

    void read_radio(const Entry& entry) {
        RadioKind kind;
        kind.name = entry.text("name", "");
        require_new(entry, radios_, kind.name, "a radio");
        kind.frequency_mhz = entry.number("frequency_mhz");
        kind.band =
            kind.frequency_mhz ? Band(*kind.frequency_mhz, *kind.frequency_mhz) : band_of(entry);
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
        kind.bandwidth = bandwidth_of(entry).value_or(propagation::FmChannel::narrow);
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
        kind.band = band_of(entry);
        scenario_.antennas.push_back({kind.name, kind.gain_dbi, kind.band.first, kind.band.second});
        antennas_.push_back(std::move(kind));
    }

    /// Of the kinds that an entry names, the one for a side of a channel: the first that is for its
    /// band, or the last.
    template <typename Find>
    [[nodiscard]] auto kind_for(const Entry& entry, std::string_view key, const Side& side,
                                const Find& find) const {
        std::vector<std::string> names = entry.texts(key);
        if (side.last) {
            std::reverse(names.begin(), names.end());
        }
        for (const std::string& name : names) {
            auto kind = find(name, names.size() == 1);
            if (kind.band.first <= side.frequency_mhz && side.frequency_mhz <= kind.band.second) {
                return kind;
            }
        }
        entry.fail_at(key,
                      fmt::format("{} '{}' is not for the {:g} MHz of channel '{}'; name one "
                                  "that is as well, say its band_mhz, or leave the channel out",
                                  key, shown(fmt::format("{}", fmt::join(names, "', '"))),
                                  side.frequency_mhz, shown(side.channel.name)));
    }

    [[nodiscard]] RadioKind radio_of(const Entry& entry, const Side& side) const {
        return kind_for(entry, "radio", side, [&](const std::string& name, bool only) {
            const RadioKind* found = named(radios_, name);
            if (found == nullptr) {
                entry.fail_at("radio", fmt::format("no [[radios]] is named '{}'{}", shown(name),
                                                   did_you_mean(name, names_of(radios_))));
            }
            if (only && found->frequency_mhz && *found->frequency_mhz != side.frequency_mhz) {
                entry.fail_at("radio",
                              fmt::format("radio '{}' is on {} MHz but the net on {} MHz; set both "
                                          "alike",
                                          shown(name), *found->frequency_mhz, side.frequency_mhz));
            }
            return *found;
        });
    }

    /// One of the file's own antennas, else one of the usual ones.
    [[nodiscard]] AntennaKind antenna_of(const Entry& entry, const Side& side) const {
        return kind_for(entry, "antenna", side, [&](const std::string& name, bool only) {
            if (const AntennaKind* own = named(antennas_, name)) {
                return *own;
            }
            const link::Antenna* usual = named(link::antennas(), name);
            if (usual == nullptr) {
                const std::vector<std::string_view> known = names_of(antennas_, link::antennas());
                const std::string guess = did_you_mean(name, known);
                entry.fail_at("antenna",
                              fmt::format("no antenna is named '{}'{}", shown(name),
                                          guess.empty() ? fmt::format("; known are {}",
                                                                      fmt::join(known, ", "))
                                                        : guess));
            }
            const auto band = usual->gain_at(side.frequency_mhz);
            if (only && !band) {
                entry.located("antenna",
                              [&] { (void)link::antenna_gain_dbi(name, side.frequency_mhz); });
            }
            return AntennaKind{name, band ? band->gain_dbi : 0.0,
                               band ? Band(band->lowest_mhz, band->highest_mhz) : Band(),
                               propagation::Polarization::vertical};
        });
    }

    [[nodiscard]] Equipped equipped(const Entry& entry, const Side& side) {
        const RadioKind kind = radio_of(entry, side);
        const AntennaKind antenna = antenna_of(entry, side);
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
            radio.body_loss_db = link::body_loss_db(
                link::parse_carried(entry.text("carried", "face")), side.frequency_mhz);
        }
        if (noise_) {
            entry.located("radio", [&] {
                link::add_noise(radio, side.channel.bandwidth.value_or(kind.bandwidth),
                                propagation::VoiceQuality::twelve_db_sinad,
                                propagation::external_noise_figure_db(*noise_, side.frequency_mhz));
            });
        }
        return result;
    }

    /// The equipment for each of some channels. Of those that are not `needed`, channels that it is
    /// not for are left out; what is for none is refused as the first of them refuses it.
    [[nodiscard]] std::vector<OnChannel> on_channels(const Entry& entry,
                                                     const std::vector<std::size_t>& wanted,
                                                     bool needed, const Repeat* repeat = nullptr) {
        std::vector<OnChannel> on;
        std::string refused;
        for (const std::size_t index : wanted) {
            const Channel& channel = scenario_.air.channels[index];
            const bool out = repeat != nullptr && repeat->gives_out == index;
            const bool both = out && repeat->takes_in == index;
            try {
                on.push_back({index, equipped(entry, {channel, channel.transmit_mhz, out && !both}),
                              equipped(entry, {channel, channel.receive_mhz, out})});
            } catch (const Error& error) {
                if (needed) {
                    throw;
                }
                refused = refused.empty() ? error.what() : refused;
            }
        }
        require_input(!on.empty(), "{}", refused);
        return on;
    }

    /// All channels, the one in use first.
    [[nodiscard]] std::vector<std::size_t> all_channels() const {
        std::vector<std::size_t> all{scenario_.channel};
        for (std::size_t channel = 0; channel < scenario_.air.channels.size(); ++channel) {
            if (channel != scenario_.channel) {
                all.push_back(channel);
            }
        }
        return all;
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

    [[nodiscard]] std::size_t channel_named(const Entry& entry, std::string_view key,
                                            const std::string& name) const {
        const std::vector<Channel>& channels = scenario_.air.channels;
        const Channel* found = named(channels, name);
        if (found == nullptr) {
            const std::vector<std::string_view> known = names_of(channels);
            const std::string guess = did_you_mean(name, known);
            entry.fail_at(key, fmt::format("{}: no [[channels]] is named '{}'{}", key, shown(name),
                                           guess.empty() ? fmt::format("; known are {}",
                                                                       fmt::join(known, ", "))
                                                         : guess));
        }
        return static_cast<std::size_t>(found - channels.data());
    }

    /// The channels that a station names.
    [[nodiscard]] std::vector<std::size_t> channels_of(const Entry& entry) const {
        std::vector<std::size_t> channels;
        for (const std::string& name : entry.texts("channels")) {
            const std::size_t channel = channel_named(entry, "channels", name);
            if (std::find(channels.begin(), channels.end(), channel) != channels.end()) {
                entry.fail_at("channels",
                              fmt::format("channels names '{}' twice; once will do", shown(name)));
            }
            channels.push_back(channel);
        }
        return channels;
    }

    /// What a station repeats; nothing if it is no repeater.
    [[nodiscard]] std::optional<Repeat> repeat_of(const Entry& entry) const {
        const auto in = entry.text("takes_in");
        const auto out = entry.text("gives_out");
        if (!in && !out) {
            if (entry.has("both_ways")) {
                entry.fail_at("both_ways", "both_ways is for a repeater; give takes_in and "
                                           "gives_out as well");
            }
            return std::nullopt;
        }
        if (!in || !out) {
            entry.fail_at(in ? "takes_in" : "gives_out",
                          "a repeater needs both takes_in and gives_out");
        }
        if (entry.has("channels")) {
            entry.fail_at("channels",
                          "a repeater is on the channels that it takes_in and gives_out; "
                          "leave channels out, or make who stands there a station too");
        }
        Repeat repeat;
        repeat.station = scenario_.stations.size();
        repeat.takes_in = channel_named(entry, "takes_in", *in);
        repeat.gives_out = channel_named(entry, "gives_out", *out);
        const std::vector<Channel>& channels = scenario_.air.channels;
        const double in_mhz = channels[repeat.takes_in].transmit_mhz;
        if (in_mhz == channels[repeat.gives_out].receive_mhz) {
            entry.fail_at(
                "gives_out",
                fmt::format("the repeater would give out on the {:g} MHz that it takes in "
                            "and hear itself; name a channel with another receive_mhz",
                            in_mhz));
        }
        if (entry.has("both_ways") && repeat.takes_in == repeat.gives_out) {
            entry.fail_at("both_ways", "both_ways is for a repeater between two channels; leave it "
                                       "out");
        }
        return repeat;
    }

    void read_station(const Entry& entry) {
        Air& air = scenario_.air;
        const std::optional<Repeat> repeat = repeat_of(entry);
        std::vector<std::size_t> wanted = channels_of(entry);
        const bool needed = !wanted.empty() || repeat;
        if (repeat) {
            wanted = {repeat->takes_in, repeat->gives_out};
        } else if (wanted.empty()) {
            wanted = all_channels();
        }
        const std::vector<OnChannel> on =
            on_channels(entry, wanted, needed, repeat ? &*repeat : nullptr);
        link::Station station;
        station.name = entry.text("name", "");
        require_new(entry, scenario_.stations, station.name, "a station");
        station.position = position_of(entry);
        if (scenario_.stations.empty()) {
            scenario_.conditions.polarization = on.front().hearing.polarization;
        }
        scenario_.duties.push_back(
            {entry.text("person", ""), entry.text("role", ""), entry.text("fallback", "")});
        const auto placed = [&](const Equipped& equipped) {
            link::Station there = equipped.station;
            there.name = station.name;
            there.position = station.position;
            return there;
        };
        // What it is shown with: a repeater with what it gives out, others on the channel in use.
        const auto in_use = std::find_if(on.begin(), on.end(), [&](const OnChannel& each) {
            return each.channel == (repeat ? repeat->gives_out : scenario_.channel);
        });
        scenario_.stations.push_back(placed((in_use == on.end() ? on.front() : *in_use).hearing));
        for (std::size_t channel = 0; channel < air.channels.size(); ++channel) {
            air.talked[channel].stations.push_back(scenario_.stations.back());
            air.heard[channel].stations.push_back(scenario_.stations.back());
        }
        std::vector<std::size_t>& own = air.channels_of.emplace_back();
        for (const OnChannel& each : on) {
            air.talked[each.channel].stations.back() = placed(each.talking);
            air.heard[each.channel].stations.back() = placed(each.hearing);
            require_polarization(entry, each.talking.polarization, station.name);
            require_polarization(entry, each.hearing.polarization, station.name);
            if (!repeat) {
                own.push_back(each.channel);
            }
        }
        std::sort(own.begin(), own.end());
        if (repeat) {
            air.repeats.push_back(*repeat);
            if (entry.text("both_ways", "no") == "yes") {
                air.repeats.push_back({repeat->station, repeat->gives_out, repeat->takes_in});
            }
        }
    }

    /// Tells of stations and channels that are of no use.
    void tell_idle_channels() {
        const Air& air = scenario_.air;
        const std::size_t stations = scenario_.stations.size();
        const auto repeats = [&](std::size_t channel) {
            return std::any_of(air.repeats.begin(), air.repeats.end(), [&](const Repeat& repeat) {
                return repeat.takes_in == channel || repeat.gives_out == channel;
            });
        };
        for (std::size_t station = 0; station < stations && stations > 1; ++station) {
            const auto shared = [&](std::size_t channel) {
                for (std::size_t other = 0; other < stations; ++other) {
                    if (other != station && air.channels[channel].direct() &&
                        air.has(other, channel)) {
                        return true;
                    }
                }
                return repeats(channel);
            };
            const std::vector<std::size_t>& own = air.channels_of[station];
            if (!air.is_repeater(station) && std::none_of(own.begin(), own.end(), shared)) {
                scenario_.notes.push_back(
                    fmt::format("{} has no channel in common with anybody, so nobody can hear it; "
                                "give it one, or a radio and antenna for one",
                                scenario_.stations[station].name));
            }
        }
        for (std::size_t channel = 0; channel < air.channels.size(); ++channel) {
            const auto has = [&](const std::vector<std::size_t>& own) {
                return std::binary_search(own.begin(), own.end(), channel);
            };
            if (std::none_of(air.channels_of.begin(), air.channels_of.end(), has)) {
                scenario_.notes.push_back(
                    fmt::format("no station is on channel {}: none has a radio and an antenna for "
                                "it, or names it",
                                air.channels[channel].name));
            }
        }
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
        for (OnChannel& on : on_channels(entry, all_channels(), false)) {
            require_polarization(entry, on.hearing.polarization, "the listener");
            if (scenario_.listener_antenna.empty()) { // the first is that of the channel in use
                scenario_.listener = on.hearing.station;
                scenario_.listener_antenna = on.hearing.station.radio.antenna;
            }
            scenario_.air.talked[on.channel].listener = std::move(on.talking.station);
            scenario_.air.heard[on.channel].listener = std::move(on.hearing.station);
        }
    }

    void read_set_up(const Entry& entry) {
        CarriedRadio set_up;
        set_up.name = entry.text("name", "");
        bool first = true;
        for (const OnChannel& on : on_channels(entry, all_channels(), false)) {
            set_up.station = on.hearing.station;
            set_up.antenna = on.hearing.station.radio.antenna;
            require_polarization(entry, on.hearing.polarization, set_up.name);
            if (first) {
                require_new(entry, scenario_.set_ups, set_up.name, "a set-up");
                scenario_.set_ups.push_back(set_up);
                first = false;
            }
            scenario_.air.heard[on.channel].set_ups.push_back(set_up);
        }
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
    std::optional<propagation::NoiseEnvironment> noise_;
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
    const auto correct_radio = [&](link::Radio& radio, double frequency_mhz) {
        radio.field_correction_db = 0.0;
        if (correction && correction->holds_on(frequency_mhz)) {
            apply(*correction, radio);
        }
    };
    const auto correct_radios = [&](auto& of, double frequency_mhz) {
        for (link::Station& station : of.stations) {
            correct_radio(station.radio, frequency_mhz);
        }
        for (CarriedRadio& carried : of.set_ups) {
            correct_radio(carried.station.radio, frequency_mhz);
        }
    };
    for (std::vector<Tuned>* side : {&scenario.air.talked, &scenario.air.heard}) {
        for (Tuned& tuned : *side) {
            correct_radios(tuned, tuned.frequency_mhz);
            if (tuned.listener) {
                correct_radio(tuned.listener->radio, tuned.frequency_mhz);
            }
        }
    }
    correct_radios(scenario, scenario.conditions.frequency_mhz);
    correct_radio(scenario.listener.radio, scenario.conditions.frequency_mhz);
    if (!correction) {
        scenario.conditions.woodland_factor = 1.0;
        scenario.conditions.field_offset_db = 0.0;
        scenario.conditions.prediction_deviation_db = scenario.uncorrected_deviation_db;
        scenario.correction.reset();
        return;
    }
    apply(*correction, scenario.conditions);
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
