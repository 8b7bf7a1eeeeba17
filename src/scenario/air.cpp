#include "base/named.hpp"
#include "base/require.hpp"
#include "scenario/scenario.hpp"
#include "scenario/scenario_keys.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace earshot::scenario {
namespace {

/// A channel on which a station sends, as one is told who asks for it on another.
const Channel& channel_to_hear(const Air& air, std::size_t station) {
    for (const Repeat& repeat : air.repeats) {
        if (repeat.station == station) {
            return air.channels[repeat.gives_out];
        }
    }
    return air.channels[air.channels_of[station].front()];
}

} // namespace

bool Air::is_repeater(std::size_t station) const {
    return std::any_of(repeats.begin(), repeats.end(),
                       [&](const Repeat& repeat) { return repeat.station == station; });
}

bool Air::has(std::size_t station, std::size_t channel) const {
    return std::binary_search(channels_of[station].begin(), channels_of[station].end(), channel);
}

Air one_channel(std::vector<link::Station> stations, link::Station listener, double frequency_mhz) {
    Air air;
    Channel& channel = air.channels.emplace_back();
    channel.name = fmt::format("{:g} MHz", frequency_mhz);
    channel.transmit_mhz = channel.receive_mhz = frequency_mhz;
    air.channels_of.assign(stations.size(), {0});
    Tuned tuned;
    tuned.frequency_mhz = frequency_mhz;
    tuned.stations = std::move(stations);
    tuned.listener = std::move(listener);
    air.talked = {tuned};
    air.heard = {std::move(tuned)};
    return air;
}

Air with_only(const Air& air, const std::vector<std::string>& stations) {
    Air some;
    some.channels = air.channels;
    some.talked = air.talked;
    some.heard = air.heard;
    for (std::vector<Tuned>* side : {&some.talked, &some.heard}) {
        for (Tuned& tuned : *side) {
            tuned.stations.clear();
        }
    }
    for (std::size_t station = 0; station < air.channels_of.size(); ++station) {
        const std::string& name = air.heard.front().stations[station].name;
        if (!air.is_repeater(station) &&
            std::find(stations.begin(), stations.end(), name) == stations.end()) {
            continue;
        }
        for (const Repeat& repeat : air.repeats) {
            if (repeat.station == station) {
                some.repeats.push_back(
                    {some.channels_of.size(), repeat.takes_in, repeat.gives_out});
            }
        }
        some.channels_of.push_back(air.channels_of[station]);
        for (std::size_t channel = 0; channel < air.channels.size(); ++channel) {
            some.talked[channel].stations.push_back(air.talked[channel].stations[station]);
            some.heard[channel].stations.push_back(air.heard[channel].stations[station]);
        }
    }
    return some;
}

void add_listener(Air& air, const std::string& name, geo::LatLon position) {
    std::vector<std::size_t>& own = air.channels_of.emplace_back();
    for (std::size_t channel = 0; channel < air.channels.size(); ++channel) {
        for (Tuned* side : {&air.talked[channel], &air.heard[channel]}) {
            side->stations.push_back(side->listener.value_or(link::Station{}));
            side->stations.back().name = name;
            side->stations.back().position = position;
        }
        if (air.talked[channel].listener && air.heard[channel].listener) {
            own.push_back(channel);
        }
    }
}

void use_channel(Scenario& scenario, std::string_view name) {
    const Air& air = scenario.air;
    const std::vector<std::string_view> known = names_of(air.channels);
    if (!name.empty()) {
        const auto found = std::find(known.begin(), known.end(), name);
        const std::string guess = did_you_mean(name, known);
        require_usage(found != known.end(), "{} has no channel named '{}'{}",
                      scenario.file.string(), shown(name),
                      guess.empty() ? fmt::format("; it has {}", fmt::join(known, ", ")) : guess);
        scenario.channel = static_cast<std::size_t>(found - known.begin());
    }
    const Channel& channel = air.channels[scenario.channel];
    const Tuned& tuned = air.heard[scenario.channel];
    std::vector<link::Station> stations;
    std::vector<Duty> duties;
    for (std::size_t station = 0; station < scenario.stations.size(); ++station) {
        const bool repeated =
            std::any_of(air.repeats.begin(), air.repeats.end(), [&](const Repeat& repeat) {
                return repeat.station == station && repeat.gives_out == scenario.channel;
            });
        // On two frequencies only the repeater is heard.
        if (repeated || (channel.direct() && air.has(station, scenario.channel))) {
            stations.push_back(tuned.stations[station]);
            duties.push_back(scenario.duties[station]);
        } else {
            scenario.elsewhere.emplace_back(scenario.stations[station].name,
                                            channel_to_hear(air, station).name);
        }
    }
    require_usage(!stations.empty(), "nobody is heard on channel {} of {}; take another of {}",
                  channel.name, scenario.file.string(), fmt::join(known, ", "));
    require_usage(tuned.listener.has_value(),
                  "the [listener] of {} has no radio and antenna for channel {}; name one that is "
                  "for {:g} MHz there as well",
                  scenario.file.string(), channel.name, tuned.frequency_mhz);
    scenario.stations = std::move(stations);
    scenario.duties = std::move(duties);
    scenario.conditions.frequency_mhz = tuned.frequency_mhz;
    scenario.listener = *tuned.listener;
    scenario.listener_antenna = scenario.listener.radio.antenna;
    scenario.set_ups = tuned.set_ups;
    if (scenario.correction && !scenario.correction->holds_on(tuned.frequency_mhz)) {
        const std::string file = scenario.correction->file;
        set_correction(scenario, std::nullopt);
        scenario.notes.push_back(fmt::format("the field correction {} says nothing of channel {} "
                                             "and is left out; test there",
                                             file, channel.name));
    }
    if (!scenario.elsewhere.empty()) {
        std::vector<std::string> left_out;
        for (const auto& [station, on] : scenario.elsewhere) {
            left_out.push_back(fmt::format("{} ({})", station, on));
        }
        scenario.notes.push_back(fmt::format("maps, places and relays are predicted on channel {}, "
                                             "without those not heard on it, whose own is in "
                                             "brackets: {}",
                                             channel.name, fmt::join(left_out, ", ")));
    }
}

link::Setting setting_on(const Scenario& scenario, const link::Setting& setting,
                         double frequency_mhz) {
    link::Setting on = setting;
    on.conditions.frequency_mhz = frequency_mhz;
    if (scenario.correction && !scenario.correction->holds_on(frequency_mhz)) {
        on.conditions.woodland_factor = 1.0;
        on.conditions.field_offset_db = 0.0;
        on.conditions.prediction_deviation_db = scenario.uncorrected_deviation_db;
        on.field_reach.reset();
    }
    return on;
}

} // namespace earshot::scenario
