#include "report/say/phrases.hpp"

#include "geo/units.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cctype>

namespace earshot::report {

std::string cautions() {
    return "A prediction is no guarantee: do not stake a life on it. Mind your licence and its "
           "power limit, power lines and lightning near masts, guying, and RF exposure. Local "
           "codes and licensed practice come first.";
}

std::string notes_text(const std::vector<std::string>& notes) {
    std::string text;
    for (const std::string& note : notes) {
        text += fmt::format("Note: {}.\n", note);
    }
    return text;
}

namespace {

/// The same for the command line and a scenario, but for how to undo it.
std::string assumed_words(const link::Assumed& assumed, std::string_view undone_by) {
    std::vector<std::string_view> parts;
    const auto add = [&](bool taken, std::string_view words) {
        if (taken) {
            parts.push_back(words);
        }
    };
    add(assumed.stock_antenna, "the stock antenna of the band");
    add(assumed.at_face, "the radio held at the face");
    add(assumed.receiver, "a receiver of 0.2 uV");
    add(assumed.rural_noise, "the noise of the countryside");
    return parts.empty() ? std::string()
                         : fmt::format("assumed: {}. Say what you have, or {} for none of it",
                                       fmt::join(parts, ", "), undone_by);
}

} // namespace

std::string assumed_words(const link::Assumed& assumed) {
    return assumed_words(assumed, "--ideal");
}

std::string ground_words(terrain::GroundKind kind, bool with_cover) {
    if (kind == terrain::GroundKind::surface) {
        return with_cover
                   ? "the elevation is a surface that holds trees and roofs: cover adds "
                     "nothing to its height, only what it costs the antennas in it"
                   : "the elevation is a surface that holds trees and roofs, on top of which "
                     "antennas are taken to stand; --cover adds what it costs to be below "
                     "them";
    }
    if (kind == terrain::GroundKind::not_told && with_cover) {
        return "the elevation does not say what it is of and is taken for bare ground, with the "
               "cover on it; if it holds trees and roofs already, as most from satellites does, "
               "say --ground-kind surface";
    }
    return {};
}

std::vector<std::string> notes_of(const scenario::Scenario& scenario) {
    std::vector<std::string> notes;
    if (scenario.assumed.any()) {
        notes.push_back(
            assumed_words(scenario.assumed, "carried = \"clear\" and noise = \"none\""));
    }
    const scenario::GroundInputs& ground = scenario.ground;
    const std::string words = ground_words(ground.ground_kind.value_or(terrain::GroundKind::bare),
                                           ground.uniform_cover || !ground.cover.empty());
    if (!words.empty()) {
        notes.push_back(words);
    }
    if (!scenario.air.repeats.empty()) {
        notes.emplace_back("a repeater, above all one from band to band, may need a licence of its "
                           "own or be forbidden: ask whoever knows the local rules before it is "
                           "switched on");
    }
    notes.insert(notes.end(), scenario.notes.begin(), scenario.notes.end());
    return notes;
}

std::string equipment_words(const link::Station& station) {
    const link::Radio& radio = station.radio;
    return fmt::format(
        "{}{}{} ({:+.1f} dBi{}), {} above the ground", geo::format_power(radio.power_dbm),
        radio.antenna.empty() ? " into an antenna" : ", antenna ", radio.antenna,
        radio.antenna_gain_dbi,
        radio.body_loss_db > 0.0 ? fmt::format(", {:.0f} dB to the body", radio.body_loss_db) : "",
        geo::format_distance(station.antenna_height_m));
}

std::string channel_words(const scenario::Scenario& scenario, std::size_t number) {
    const scenario::Air& air = scenario.air;
    const scenario::Channel& channel = air.channels[number];
    const auto mhz = [](double frequency_mhz) {
        return fmt::format("{:.3f}\u00a0MHz", frequency_mhz);
    };
    // The one channel of a net that names none is called by its frequency.
    std::string text = fmt::format("{:g}\u00a0MHz", channel.receive_mhz);
    if (channel.name != fmt::format("{:g} MHz", channel.receive_mhz)) {
        text = fmt::format("{}: {}", channel.name,
                           channel.direct()
                               ? mhz(channel.receive_mhz)
                               : fmt::format("talk on {}, listen on {}", mhz(channel.transmit_mhz),
                                             mhz(channel.receive_mhz)));
    }
    if (channel.tone_hz) {
        text += fmt::format(", tone {:.1f}\u00a0Hz", *channel.tone_hz);
    }
    std::vector<std::string_view> repeaters;
    std::vector<std::string_view> on;
    std::size_t people = 0;
    for (std::size_t station = 0; station < air.channels_of.size(); ++station) {
        const std::string& name = air.heard[number].stations[station].name;
        if (air.is_repeater(station)) {
            for (const scenario::Repeat& repeat : air.repeats) {
                if (repeat.station == station &&
                    (repeat.takes_in == number || repeat.gives_out == number) &&
                    (repeaters.empty() || repeaters.back() != name)) {
                    repeaters.emplace_back(name);
                }
            }
            continue;
        }
        ++people;
        if (air.has(station, number)) {
            on.emplace_back(name);
        }
    }
    if (!repeaters.empty()) {
        text += fmt::format(", repeated by {}", fmt::join(repeaters, ", "));
    }
    text += channel.use.empty() ? "" : ", " + channel.use;
    text += channel.power.empty() ? "" : "; power: " + channel.power;
    if (on.size() < people) {
        text += on.empty() ? "; nobody is on it" : fmt::format("; on it: {}", fmt::join(on, ", "));
    }
    return text;
}

std::string sentence(std::string words) {
    if (!words.empty()) {
        words.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(words.front())));
        words += words.back() == '.' ? "" : ".";
    }
    return words;
}

std::string_view yes_or_no(bool value) {
    return value ? "yes" : "no";
}

} // namespace earshot::report
