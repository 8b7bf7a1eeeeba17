#include "scenario/scenario_keys.hpp"

#include "base/named.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "geo/units.hpp"
#include "propagation/clutter.hpp"
#include "propagation/noise.hpp"
#include "propagation/vegetation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

namespace earshot::scenario {
namespace {

using propagation::NoiseEnvironment;

Key texts(std::string_view name, std::string_view meaning) {
    return {name, KeyKind::texts, false, {}, 0.0, 0.0, {}, meaning};
}
Key numbers(std::string_view name, double low, double high, std::string_view meaning) {
    return {name, KeyKind::numbers, false, {}, low, high, {}, meaning};
}
Key pairs(std::string_view name, std::string_view meaning) {
    return {name, KeyKind::pairs, false, {}, 0.0, 0.0, {}, meaning};
}
constexpr double lowest_mhz = 30.0, highest_mhz = 1000.0;
constexpr std::string_view band_meaning =
    "lowest and highest frequency it is for, MHz; left out, those within a tenth of the net's";

/// One of several ways to say a quantity.
Key saying(std::string_view quantity, Key key) {
    key.quantity = quantity;
    return key;
}

/// Keys of a radio in use, without its place.
std::vector<Key> equipment() {
    return {
        saying("antenna height", required(number("antenna_height_m", 0.0, geo::highest_antenna_m,
                                                 "antenna above the ground, metres"))),
        saying("antenna height", required(number("antenna_height_ft", 0.0, 9842.0,
                                                 "antenna above the ground, feet"))),
        required(texts("radio", "name of one of the [[radios]]; of several, each channel takes the "
                                "first that is for its band")),
        required(texts("antenna", "name of one of the [[antennas]], or of a usual antenna; of "
                                  "several, as of radios")),
        saying("body loss",
               number("body_loss_db", 0.0, 60.0, "loss to the person beside the antenna, dB")),
        saying("body loss", choice("carried", {"clear", "face", "chest", "hip"},
                                   "where the radio is carried, for the loss to the body; left "
                                   "out, at the face up to 2.5 m")),
    };
}

std::vector<Key> joined(std::vector<Key> first, std::vector<Key> second) {
    first.insert(first.end(), second.begin(), second.end());
    return first;
}

std::vector<Section> make_scenario_sections() {
    return {
        {"", false, true, {text("places_file", "GeoJSON, GPX, KML or CSV file with more places")}},
        {"net",
         false,
         true,
         {required(text("name", "name of the net")),
          number("frequency_mhz", lowest_mhz, highest_mhz,
                 "the one frequency of a net without channels, else that of the channel that maps "
                 "are of, MHz; left out, that of the first"),
          choice("noise",
                 {name_of(NoiseEnvironment::city), name_of(NoiseEnvironment::residential),
                  name_of(NoiseEnvironment::rural), name_of(NoiseEnvironment::quiet_rural), "none"},
                 "man-made noise around the receivers; left out, rural"),
          choice("units", {"metric", "imperial"},
                 "what answers are in: metres and km, or feet and miles")}},
        {"service",
         false,
         false,
         {saying("wanted margin",
                 number("margin_db", -20.0, 60.0, "margin that counts as heard, dB")),
          saying("wanted margin",
                 number("readability", 1.0, 5.0, "least readability that counts as heard, 1 to 5")),
          number("time_percent", 1.0, 50.0,
                 "share of time for which the loss is not exceeded, percent"),
          number("places_percent", 1.0, 99.0,
                 "share of places around a receiver where the loss is not exceeded, percent"),
          number("prediction_deviation_db", 0.0, 30.0,
                 "standard deviation of the prediction itself, for the chance of contact, dB; left "
                 "out, by the path"),
          text("correction_file", "field correction that earshot correct wrote")}},
        {"radios",
         true,
         true,
         {required(text("name", "name of this kind of radio")),
          number("frequency_mhz", lowest_mhz, highest_mhz,
                 "the one frequency it is set to, MHz, if not that of the net"),
          numbers("band_mhz", lowest_mhz, highest_mhz, band_meaning),
          saying("power", required(number("power_w", 0.001, 10000.0, "transmitter output, watts"))),
          saying("power", required(number("power_dbm", 0.0, 70.0, "transmitter output, dBm"))),
          numbers("powers_w", 0.001, 10000.0, "all powers it can be set to, watts"),
          saying("threshold", required(number("threshold_dbm", -140.0, -40.0,
                                              "level the receiver needs at its connector, dBm"))),
          saying("threshold", required(number("sensitivity_uv", 0.02, 2000.0,
                                              "the same as microvolts across 50 ohms"))),
          number("bandwidth_khz", 5.0, 30.0, "channel: 12.5 (narrow) or 25 (wide), kHz"),
          number("feeder_loss_db", 0.0, 60.0, "cable and connectors, dB")}},
        {"antennas",
         true,
         false,
         {required(text("name", "name of this kind of antenna")),
          saying("gain", required(number("gain_dbi", -40.0, 40.0,
                                         "gain over an isotropic radiator, losses included, dBi"))),
          saying("gain", required(number("gain_dbd", -42.15, 37.85,
                                         "gain over a half-wave dipole, losses included, dBd"))),
          numbers("band_mhz", lowest_mhz, highest_mhz, band_meaning),
          choice("polarization", {"vertical", "horizontal"}, "vertical unless said otherwise")}},
        {"stations", true, true,
         joined({required(text("name", "name of the station")),
                 required(text("position", "degrees, UTM or MGRS")),
                 text("person", "who is there, for the card"),
                 text("role", "what they are there for"),
                 text("fallback", "place or station to go to when nobody is heard"),
                 texts("channels", "names of the [[channels]] it is on; left out, all that its "
                                   "radios and antennas are for"),
                 text("takes_in", "of a repeater: channel on which it hears"),
                 text("gives_out", "of a repeater: channel on which it sends what it hears"),
                 choice("both_ways", {"yes", "no"},
                        "of a repeater between two channels: whether it also takes in on the "
                        "second and gives out on the first; no if left out")},
                equipment())},
        {"listener", false, false, equipment()},
        {"set_ups", true, false,
         joined({required(text("name", "name of the set-up, as in field logs"))}, equipment())},
        {"places",
         true,
         false,
         {required(text("name", "name of the place")),
          required(text("position", "degrees, UTM or MGRS")),
          number("people", 0.0, 1e9, "how many people the place stands for; 1 if left out")}},
        {"ground",
         false,
         true,
         {required(texts("elevation", "elevation files or folders, from this file's folder")),
          choice("height_unit", {"m", "ft", "us-ft"},
                 "unit of the heights, if the files do not say"),
          choice("ground_kind", {"bare", "surface"},
                 "what the heights are of, if the files do not say: bare ground, or tree tops and "
                 "roofs"),
          saying("cover", texts("cover", "ground cover rasters, from this file's folder")),
          saying("cover", choice("cover_class",
                                 {"water", "open", "suburban", "urban", "dense-urban", "woodland"},
                                 "one kind of cover for all ground")),
          text("cover_table",
               "worldcover, nlcd or a table file: what the cover rasters' codes mean"),
          number("cover_height_m", 0.0, 150.0, "height of cover_class, metres"),
          texts("zones", "rasters of radio-climatic zones, for short-range and p1812: 1 sea, 3 "
                         "coastal, 4 inland")}},
        {"method",
         false,
         false,
         {choice("name", names_of(propagation::methods()), "how losses are predicted"),
          choice("knife_edge", {"itu", "exact"}, "loss of one edge"),
          number("k_factor", 0.1, 1e6,
                 "effective earth radius over true radius; short-range and p1812 take delta_n "
                 "instead"),
          number("delta_n", 1.0, 150.0,
                 "fall of refractivity in the lowest km, for short-range and p1812"),
          number("n0", 100.0, 600.0,
                 "refractivity at sea level, for short-range, p1812 and irregular-terrain"),
          text("refractivity_maps", "folder with the maps of ITU-R P.1812 to take both from"),
          choice("woodland_fit", names_of(propagation::woodland_fits()),
                 "measurements behind the loss in woodland"),
          choice("houses", names_of(propagation::house_rules()),
                 "how houses around an antenna below their roofs count; left out, below-roofs"),
          number("step_m", 0.1, 10000.0,
                 "even spacing of profile points, metres; not needed: left out, the elevation's "
                 "grid gives them")}},
        {"channels",
         true,
         false,
         {required(text("name", "name of the channel, as on the radios")),
          saying("frequency", required(number("frequency_mhz", lowest_mhz, highest_mhz,
                                              "frequency to talk and to listen on, MHz"))),
          saying("frequency",
                 required(number("transmit_mhz", lowest_mhz, highest_mhz,
                                 "frequency to talk on, MHz, if it is another: through a "
                                 "repeater"))),
          number("receive_mhz", lowest_mhz, highest_mhz,
                 "frequency to listen on, MHz, with transmit_mhz"),
          number("bandwidth_khz", 5.0, 30.0,
                 "12.5 (narrow) or 25 (wide), kHz; left out, that of each radio"),
          number("tone_hz", 60.0, 260.0, "sub-audible tone that opens the squelch, Hz"),
          text("use", "what it is for"), text("power", "how much to transmit with, in words")}},
        {"briefing",
         false,
         false,
         {text("title", "title of the briefing; the name of the net if left out"),
          text("date", "day of the event, as people are to read it"),
          text("prepared_by", "who answers questions about it"),
          number("declination_deg", -180.0, 180.0,
                 "degrees by which a compass points east of true north; west is negative"),
          number("range_km", 0.1, 500.0, "how far from each station to map, km"),
          pairs("paths", "pairs of stations or places that get a page each"),
          texts("ladder", "station to find improvements for, and whom it is to reach"),
          texts("remarks", "sentences for all who read it")}},
    };
}

char plain(char letter) {
    if (letter >= 'A' && letter <= 'Z') {
        return static_cast<char>(letter - 'A' + 'a');
    }
    return letter == '-' || letter == ' ' ? '_' : letter;
}

} // namespace

Key text(std::string_view name, std::string_view meaning) {
    return {name, KeyKind::text, false, {}, 0.0, 0.0, {}, meaning};
}

Key number(std::string_view name, double low, double high, std::string_view meaning) {
    return {name, KeyKind::number, false, {}, low, high, {}, meaning};
}

Key choice(std::string_view name, std::vector<std::string_view> choices, std::string_view meaning) {
    return {name, KeyKind::choice, false, {}, 0.0, 0.0, std::move(choices), meaning};
}

Key required(Key key) {
    key.required = true;
    return key;
}

const Key* Section::find(std::string_view key) const {
    return named(keys, key);
}

std::string Section::label() const {
    if (name.empty()) {
        return "the top of the file";
    }
    return list ? fmt::format("[[{}]]", name) : fmt::format("[{}]", name);
}

std::span<const Section> scenario_sections() {
    static const std::vector<Section> sections = make_scenario_sections();
    return sections;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
    const std::size_t width = b.size() + 1;
    std::vector<std::size_t> cost((a.size() + 1) * width);
    for (std::size_t i = 0; i <= a.size(); ++i) {
        for (std::size_t j = 0; j <= b.size(); ++j) {
            std::size_t& best = cost[i * width + j];
            if (i == 0 || j == 0) {
                best = i + j;
                continue;
            }
            const bool same = plain(a[i - 1]) == plain(b[j - 1]);
            best = std::min({cost[(i - 1) * width + j] + 1, cost[i * width + j - 1] + 1,
                             cost[(i - 1) * width + j - 1] + (same ? 0U : 1U)});
            if (i > 1 && j > 1 && plain(a[i - 1]) == plain(b[j - 2]) &&
                plain(a[i - 2]) == plain(b[j - 1])) {
                best = std::min(best, cost[(i - 2) * width + j - 2] + 1);
            }
        }
    }
    return cost.back();
}

std::string_view nearest_name(std::string_view written, std::span<const std::string_view> known) {
    std::string_view nearest;
    // Beyond a third of the letters the guess would be noise.
    std::size_t least = std::max<std::size_t>(2, written.size() / 3) + 1;
    for (const std::string_view name : known) {
        const std::size_t distance = edit_distance(written, name);
        if (distance < least) {
            least = distance;
            nearest = name;
        }
    }
    return nearest;
}

std::string did_you_mean(std::string_view written, std::span<const std::string_view> known) {
    const std::string_view nearest = nearest_name(written, known);
    return nearest.empty() ? std::string() : fmt::format("; did you mean '{}'?", nearest);
}

} // namespace earshot::scenario
