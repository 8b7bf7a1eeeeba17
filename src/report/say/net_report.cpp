#include "report/say/net_report.hpp"

#include "base/csv.hpp"
#include "base/named.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"
#include "report/say/second_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <string_view>
#include <vector>

namespace earshot::report {
namespace {

const std::string& name_of(const NetResult& net, std::size_t station) {
    return net.scenario.stations[station].name;
}

std::vector<std::string> names_of(const NetResult& net, std::span<const std::size_t> stations) {
    std::vector<std::string> names;
    for (const std::size_t station : stations) {
        names.push_back(name_of(net, station));
    }
    return names;
}

std::string list_of(const NetResult& net, std::span<const std::size_t> stations) {
    return fmt::format("{}", fmt::join(names_of(net, stations), ", "));
}

std::string verdict(const NetResult& net, const plan::Pair& pair) {
    return pair_verdict(pair, net.scenario.stations, net.scenario.wanted_margin_db);
}

std::string channel_name(const NetResult& net, std::size_t channel) {
    const std::vector<scenario::Channel>& channels = net.scenario.air.channels;
    return channel < channels.size() ? channels[channel].name : "";
}

/// Whether all that is heard is heard on one channel, which need not be named then.
bool one_channel(const NetResult& net) {
    return std::ranges::all_of(net.pairs, [&](const plan::Pair& pair) {
        return pair.channel == net.pairs.front().channel && !pair.with_repeater();
    });
}

/// The channels to set for a pair; "2 / 3" if they talk on two through a repeater.
std::string channel_text(const NetResult& net, const plan::Pair& pair) {
    if (!pair.repeated()) {
        return pair.channel == plan::no_channel ? "-" : channel_name(net, pair.channel);
    }
    const plan::Through& way = *pair.through;
    return channel_name(net, way.from_a) +
           (way.from_a == way.from_b ? "" : " / " + channel_name(net, way.from_b));
}

void add_pairs(std::string& text, const NetResult& net) {
    std::size_t width = 4;
    for (const link::Station& station : net.scenario.stations) {
        width = std::max(width, fmt::formatted_size("{}", station.name));
    }
    auto out = std::back_inserter(text);
    const bool one = one_channel(net);
    std::size_t channel_width = 2;
    for (const plan::Pair& pair : net.pairs) {
        channel_width = std::max(channel_width, fmt::formatted_size("{}", channel_text(net, pair)));
    }
    fmt::format_to(out, "  {:<{}}  {:<{}}  {:>8}  {:>8}  {:>8}  {:>6}{}\n", "A", width, "B", width,
                   "apart", "B hears", "A hears", "chance", one ? "" : "  on");
    for (const plan::Pair& pair : net.pairs) {
        fmt::format_to(out, "  {:<{}}  {:<{}}  {:>8}  ", name_of(net, pair.a), width,
                       name_of(net, pair.b), width, geo::format_distance(pair.distance_m));
        const auto number = [&](const plan::Hearing& hearing) {
            return std::isinf(hearing.margin_db)
                       ? std::string("-")
                       : margin_text(hearing.margin_db, 1, net.scenario.wanted_margin_db);
        };
        fmt::format_to(out, "{:>8}  {:>8}  {:>6}  ", number(pair.b_hears_a), number(pair.a_hears_b),
                       !pair.known() ? "?"
                       : std::isinf(pair.talk_margin_db())
                           ? "-"
                           : short_chance_text(pair.talk_chance_percent()));
        if (!one) {
            fmt::format_to(out, "{:<{}}  ", channel_text(net, pair), channel_width);
        }
        fmt::format_to(out, "{}{}\n", verdict(net, pair),
                       pair.try_first ? std::string(" ").append(try_mark) : "");
    }
    if (std::ranges::any_of(net.pairs, &plan::Pair::try_first)) {
        fmt::format_to(out, "  {}\n", try_words());
    }
}

/// Whom each repeater serves, which is the first thing to look at where it does not work.
void add_repeaters(std::string& text, const NetResult& net) {
    auto out = std::back_inserter(text);
    for (std::size_t station = 0; station < net.scenario.stations.size(); ++station) {
        if (!net.scenario.air.is_repeater(station)) {
            continue;
        }
        std::vector<std::string> served;
        std::vector<std::string> others;
        for (const plan::Pair& pair : net.pairs) {
            const bool its = pair.a == station || pair.b == station;
            if (its && !(pair.a_repeats && pair.b_repeats)) {
                (pair.mutual() ? served : others)
                    .push_back(name_of(net, pair.a == station ? pair.b : pair.a));
            }
        }
        fmt::format_to(out, "\nThe repeater {} serves {}{}\n", name_of(net, station),
                       served.empty() ? "nobody" : fmt::format("{}", fmt::join(served, ", ")),
                       others.empty() ? "" : fmt::format("; not {}", fmt::join(others, ", ")));
    }
}

void add_structure(std::string& text, const NetResult& net) {
    const plan::NetStructure& structure = net.structure;
    auto out = std::back_inserter(text);
    const bool repeated = std::ranges::any_of(net.pairs, &plan::Pair::repeated);
    fmt::format_to(out, "\nAll {}\n",
                   repeated ? "talk with one another, directly or through a repeater"
                            : "hear one another directly");
    bool any = false;
    for (const maths::Nodes& group : structure.groups.groups) {
        if (group.size() > 1) {
            any = true;
            fmt::format_to(out, "  {}\n", list_of(net, group));
        }
    }
    if (!any) {
        fmt::format_to(out, "  nobody\n");
    }
    if (!structure.groups.complete) {
        fmt::format_to(out, "  ... and more: {} groups are shown\n", plan::most_groups);
    }

    add_repeaters(text, net);
    fmt::format_to(out, "\nPassing messages\n");
    if (!structure.cut_off.empty()) {
        fmt::format_to(out, "  cut off, talks with nobody: {}\n", list_of(net, structure.cut_off));
    }
    const auto talking = static_cast<std::size_t>(std::ranges::count_if(
        structure.parts, [](const maths::Nodes& part) { return part.size() > 1; }));
    if (talking > 1) {
        fmt::format_to(out, "  the net is in {} parts that cannot reach each other:\n", talking);
        for (const maths::Nodes& part : structure.parts) {
            if (part.size() > 1) {
                fmt::format_to(out, "    {}\n", list_of(net, part));
            }
        }
    }
    if (!structure.splitting.empty()) {
        fmt::format_to(out, "  the net splits without: {}\n", list_of(net, structure.splitting));
    }
    for (const plan::Relayed& way : structure.relayed) {
        const std::span<const std::size_t> all(way.stations);
        fmt::format_to(out, "  {} to {}: over {} ({} hops, weakest {})\n",
                       name_of(net, all.front()), name_of(net, all.back()),
                       list_of(net, all.subspan(1, all.size() - 2)), all.size() - 1,
                       margin_text(way.weakest_margin_db, 1, net.scenario.wanted_margin_db));
    }
    for (std::size_t station = 0; station < structure.passes_on.size(); ++station) {
        if (structure.passes_on[station] > 0) {
            fmt::format_to(out, "  {} passes messages on for {} {}\n", name_of(net, station),
                           structure.passes_on[station],
                           structure.passes_on[station] == 1 ? "pair" : "pairs");
        }
    }
    if (structure.unreachable_pairs == 0 && structure.relayed.empty()) {
        fmt::format_to(out, "  nobody needs to: all hear one another\n");
    }
}

/// What each station can do itself, what takes least effort first.
void add_helps(std::string& text, const NetResult& net) {
    std::vector<std::size_t> helped;
    std::vector<std::string> helpless;
    for (std::size_t station = 0; station < net.helps.size(); ++station) {
        if (net.helps[station]) {
            helped.push_back(station);
        } else if (net.structure.mutual[station].empty() &&
                   !net.scenario.air.is_repeater(station)) {
            helpless.push_back(name_of(net, station));
        }
    }
    std::ranges::stable_sort(helped, {},
                             [&](std::size_t station) { return net.helps[station]->then.effort; });
    std::vector<std::string> lines;
    lines.reserve(helped.size());
    for (const std::size_t station : helped) {
        lines.push_back(station_help_words(name_of(net, station), *net.helps[station]));
    }
    if (!lines.empty() || !helpless.empty()) {
        text += "\nWhat would help, the least first\n";
    }
    for (const std::string& line : lines) {
        text += fmt::format("  {}\n", line);
    }
    if (!helpless.empty()) {
        text += fmt::format("  {}: nothing that one can do there is enough; move to another place "
                            "(earshot ladder, relay)\n",
                            fmt::join(helpless, ", "));
    }
}

ordered_json hearing_json(const plan::Hearing& hearing) {
    return {{"basic_loss_db", number_or_null(hearing.basic_loss_db)},
            {"margin_db", number_or_null(hearing.margin_db)},
            {"chance_percent", number_or_null(hearing.chance_percent)},
            {"readability", static_cast<int>(hearing.readability)},
            {"heard", hearing.heard}};
}

ordered_json through_json(const NetResult& net, const plan::Pair& pair) {
    if (!pair.through) {
        return nullptr;
    }
    const plan::Through& way = *pair.through;
    return {{"repeater", name_of(net, way.repeater)},
            {"a_talks_on", channel_name(net, way.from_a)},
            {"b_talks_on", channel_name(net, way.from_b)},
            {"weakest_talker", name_of(net, way.talker)},
            {"weakest_listener", name_of(net, way.listener)},
            {"weakest_margin_db", number_or_null(way.margin_db)},
            {"weakest_chance_percent", number_or_null(way.chance_percent)},
            {"heard", way.heard}};
}

ordered_json channel_json(const NetResult& net, const plan::Pair& pair) {
    return pair.channel == plan::no_channel ? ordered_json(nullptr)
                                            : ordered_json(channel_name(net, pair.channel));
}

ordered_json pair_json(const NetResult& net, const plan::Pair& pair) {
    return {{"a", name_of(net, pair.a)},
            {"b", name_of(net, pair.b)},
            {"distance_m", pair.distance_m},
            {"bearing_deg", pair.bearing_deg},
            {"known", pair.known()},
            {"line_of_sight", pair.line_of_sight},
            {"channel", channel_json(net, pair)},
            {"mutual", pair.mutual()},
            {"talk", pair.talk()},
            {"through", through_json(net, pair)},
            {"apart_db", number_or_null(pair.apart_db)},
            {"try_first", pair.try_first},
            {"b_hears_a", hearing_json(pair.b_hears_a)},
            {"a_hears_b", hearing_json(pair.a_hears_b)}};
}

ordered_json groups_json(const NetResult& net, std::span<const maths::Nodes> groups) {
    return json_list(groups, [&](const maths::Nodes& group) { return names_of(net, group); });
}

ordered_json coordinates(geo::LatLon position) {
    return {position.lon_deg, position.lat_deg};
}

/// A line on a map between two positions, cut at the 180 degree meridian (RFC 7946 section 3.1.9).
ordered_json line_geometry(geo::LatLon a, geo::LatLon b) {
    if (std::abs(a.lon_deg - b.lon_deg) <= 180.0) {
        return {{"type", "LineString"}, {"coordinates", {coordinates(a), coordinates(b)}}};
    }
    const double side = a.lon_deg > 0.0 ? 180.0 : -180.0;
    const double b_beyond_deg = b.lon_deg + 2.0 * side;
    const double share = (side - a.lon_deg) / (b_beyond_deg - a.lon_deg);
    const double lat_deg = std::lerp(a.lat_deg, b.lat_deg, share);
    return {{"type", "MultiLineString"},
            {"coordinates",
             {{coordinates(a), coordinates({lat_deg, side})},
              {coordinates({lat_deg, -side}), coordinates(b)}}}};
}

} // namespace

std::string pair_verdict(const plan::Pair& pair, std::span<const link::Station> stations,
                         double wanted_margin_db) {
    if (!pair.known()) {
        return "unknown: the path crosses ground of unknown height";
    }
    if (pair.mutual()) {
        return std::string(link::readability(pair.weaker_margin_db()).name) +
               (pair.with_repeater() ? ", to the repeater" : "");
    }
    if (pair.through) {
        const plan::Through& way = *pair.through;
        return fmt::format(
            "{} through {}; weakest leg {} to {} ({})",
            way.heard ? std::string(link::readability(way.margin_db).name)
                      : "no, nor " + short_text(way.margin_db, wanted_margin_db) + " short",
            stations[way.repeater].name, stations[way.talker].name, stations[way.listener].name,
            margin_text(way.margin_db, 1, wanted_margin_db));
    }
    if (pair.channel == plan::no_channel) {
        return pair.a_repeats && pair.b_repeats ? "two repeaters" : "no channel in common";
    }
    if (std::isinf(pair.weaker_margin_db())) {
        const bool b_listens = std::isfinite(pair.b_hears_a.margin_db);
        return fmt::format("one way: nothing that {} sends is on a channel of {}",
                           stations[b_listens ? pair.b : pair.a].name,
                           stations[b_listens ? pair.a : pair.b].name);
    }
    const std::string lacking = short_text(pair.weaker_margin_db(), wanted_margin_db);
    if (pair.b_hears_a.heard || pair.a_hears_b.heard) {
        const bool b_listens = pair.b_hears_a.heard;
        return fmt::format("one way: {} hears {}; {} short back",
                           stations[b_listens ? pair.b : pair.a].name,
                           stations[b_listens ? pair.a : pair.b].name, lacking);
    }
    return fmt::format("no: {} short", lacking);
}

std::string net_text(const NetResult& net) {
    const scenario::Scenario& scenario = net.scenario;
    const propagation::Conditions& settings = scenario.conditions;
    std::string text = fmt::format(
        "{}: {} stations on {}, method {}\n", scenario.net_name, scenario.stations.size(),
        one_channel(net)
            ? fmt::format("{:g} MHz", settings.frequency_mhz)
            : fmt::format("channels {}", fmt::join(earshot::names_of(scenario.air.channels), ", ")),
        propagation::method_info(settings.method).name);
    auto out = std::back_inserter(text);
    fmt::format_to(out,
                   "Heard means a margin of {:g} dB or more for {:g} % of the time and {:g} % of "
                   "the places around a receiver.\n",
                   scenario.wanted_margin_db, settings.time_percent, settings.location_percent);
    fmt::format_to(out,
                   "The chance allows for the spread over places and time, and for predictions "
                   "that miss by {} (standard deviation).\n",
                   settings.prediction_deviation_db
                       ? fmt::format("{:g} dB", *settings.prediction_deviation_db)
                       : fmt::format("{:g} dB in sight to {:g} dB in deep shadow",
                                     link::in_sight_deviation_db, link::in_shadow_deviation_db));
    fmt::format_to(out, "\n");
    add_pairs(text, net);
    add_structure(text, net);
    add_helps(text, net);
    text += notes_text(notes_of(scenario));
    fmt::format_to(out, "\n{}\n", cautions());
    return text;
}

std::string net_csv(const NetResult& net) {
    std::string text = "talker,listener,distance_m,bearing_deg,line_of_sight,basic_loss_db,"
                       "margin_db,chance_percent,readability,heard,apart_db,try_first,"
                       "channel,through,weakest_talker,weakest_listener,weakest_margin_db,"
                       "weakest_chance_percent\n";
    auto out = std::back_inserter(text);
    const auto number = [](double value, int decimals) {
        return std::isfinite(value) ? fmt::format("{:.{}f}", value, decimals) : std::string();
    };
    const auto row = [&](const plan::Pair& pair, std::size_t talker, std::size_t listener,
                         const plan::Hearing& hearing) {
        const double bearing_deg = talker == pair.a ? pair.bearing_deg : pair.back_bearing_deg;
        fmt::format_to(
            out, "{},{},{:.1f},{:.2f},{},{},{},{},{},{},{},{},", csv_field(name_of(net, talker)),
            csv_field(name_of(net, listener)), pair.distance_m, bearing_deg,
            pair.known() ? yes_or_no(pair.line_of_sight) : "", number(hearing.basic_loss_db, 2),
            number(hearing.margin_db, 2), number(hearing.chance_percent, 1),
            pair.known() ? fmt::format("{}", static_cast<int>(hearing.readability)) : "",
            pair.known() ? yes_or_no(hearing.heard) : "", number(pair.apart_db, 2),
            pair.known() ? yes_or_no(pair.try_first) : "");
        const std::string channel =
            pair.channel == plan::no_channel ? "" : channel_name(net, pair.channel);
        if (pair.through) {
            const plan::Through& way = *pair.through;
            fmt::format_to(out, "{},{},{},{},{},{}\n", csv_field(channel),
                           csv_field(name_of(net, way.repeater)),
                           csv_field(name_of(net, way.talker)),
                           csv_field(name_of(net, way.listener)), number(way.margin_db, 2),
                           number(way.chance_percent, 1));
        } else {
            fmt::format_to(out, "{},,,,,\n", csv_field(channel));
        }
    };
    for (const plan::Pair& pair : net.pairs) {
        row(pair, pair.a, pair.b, pair.b_hears_a);
        row(pair, pair.b, pair.a, pair.a_hears_b);
    }
    const auto& correction = net.scenario.correction;
    return correction ? scenario::stamped(text, *correction) : text;
}

std::string net_json(const NetResult& net) {
    const scenario::Scenario& scenario = net.scenario;
    const scenario::Air& air = scenario.air;
    const auto channel_of_net = [](const scenario::Channel& channel) -> ordered_json {
        return {
            {"name", channel.name},
            {"transmit_mhz", channel.transmit_mhz},
            {"receive_mhz", channel.receive_mhz},
            {"tone_hz", channel.tone_hz ? ordered_json(*channel.tone_hz) : ordered_json(nullptr)}};
    };
    ordered_json repeaters = ordered_json::array();
    for (const scenario::Repeat& repeat : air.repeats) {
        repeaters.push_back({{"station", name_of(net, repeat.station)},
                             {"takes_in", air.channels[repeat.takes_in].name},
                             {"gives_out", air.channels[repeat.gives_out].name}});
    }
    const auto station_json = [](const link::Station& station) -> ordered_json {
        return {{"name", station.name},
                {"latitude", station.position.lat_deg},
                {"longitude", station.position.lon_deg},
                {"antenna_height_m", station.antenna_height_m},
                {"power_dbm", station.radio.power_dbm},
                {"antenna_gain_dbi", station.radio.antenna_gain_dbi},
                {"feeder_loss_db", station.radio.feeder_loss_db},
                {"body_loss_db", station.radio.body_loss_db},
                {"needed_dbm", station.radio.threshold_dbm}};
    };
    const auto one_pair = [&](const plan::Pair& pair) { return pair_json(net, pair); };
    const auto way_json = [&](const plan::Relayed& way) -> ordered_json {
        return {{"stations", names_of(net, way.stations)},
                {"hops", way.stations.size() - 1},
                {"weakest_margin_db", way.weakest_margin_db}};
    };
    ordered_json helps = ordered_json::array();
    for (std::size_t station = 0; station < net.helps.size(); ++station) {
        if (const auto& help = net.helps[station]) {
            helps.push_back({{"station", name_of(net, station)},
                             {"steps", json_list(help->pulls,
                                                 [](const plan::Pull& pull) {
                                                     return pull_words(pull, false);
                                                 })},
                             {"reached", help->reached}});
        }
    }
    ordered_json passes_on = ordered_json::object();
    for (std::size_t station = 0; station < scenario.stations.size(); ++station) {
        passes_on[name_of(net, station)] = net.structure.passes_on[station];
    }
    return text_of({{"net", scenario.net_name},
                    {"frequency_mhz", scenario.conditions.frequency_mhz},
                    {"method", propagation::method_info(scenario.conditions.method).name},
                    {"wanted_margin_db", scenario.wanted_margin_db},
                    {"time_percent", scenario.conditions.time_percent},
                    {"places_percent", scenario.conditions.location_percent},
                    {"prediction_deviation_db",
                     scenario.conditions.prediction_deviation_db
                         ? ordered_json(*scenario.conditions.prediction_deviation_db)
                         : ordered_json(nullptr)},
                    {"channels", json_list(air.channels, channel_of_net)},
                    {"repeaters", repeaters},
                    {"stations", json_list(scenario.stations, station_json)},
                    {"pairs", json_list(net.pairs, one_pair)},
                    {"groups", groups_json(net, net.structure.groups.groups)},
                    {"groups_complete", net.structure.groups.complete},
                    {"parts", groups_json(net, net.structure.parts)},
                    {"cut_off", names_of(net, net.structure.cut_off)},
                    {"splits_without", names_of(net, net.structure.splitting)},
                    {"relayed", json_list(net.structure.relayed, way_json)},
                    {"passes_on", passes_on},
                    {"unreachable_pairs", net.structure.unreachable_pairs},
                    {"most_hops", net.structure.most_hops},
                    {"helps", helps},
                    {"notes", notes_of(scenario)},
                    {"cautions", cautions()}});
}

std::string net_geojson(const NetResult& net) {
    ordered_json features = ordered_json::array();
    for (std::size_t i = 0; i < net.scenario.stations.size(); ++i) {
        const link::Station& station = net.scenario.stations[i];
        features.push_back(
            {{"type", "Feature"},
             {"geometry", point_json(station.position)},
             {"properties",
              {{"name", station.name},
               {"talks_with", net.structure.mutual[i].size()},
               {"passes_on", net.structure.passes_on[i]},
               {"splits_net", std::ranges::binary_search(net.structure.splitting, i)}}}});
    }
    for (const plan::Pair& pair : net.pairs) {
        features.push_back(
            {{"type", "Feature"},
             {"geometry", line_geometry(net.scenario.stations[pair.a].position,
                                        net.scenario.stations[pair.b].position)},
             {"properties",
              {{"a", name_of(net, pair.a)},
               {"b", name_of(net, pair.b)},
               {"distance_m", pair.distance_m},
               {"b_hears_a_margin_db", number_or_null(pair.b_hears_a.margin_db)},
               {"a_hears_b_margin_db", number_or_null(pair.a_hears_b.margin_db)},
               {"chance_percent", number_or_null(pair.talk_chance_percent())},
               {"mutual", pair.mutual()},
               {"channel", channel_json(net, pair)},
               {"through", pair.repeated() ? ordered_json(name_of(net, pair.through->repeater))
                                           : ordered_json(nullptr)},
               {"try_first", pair.try_first},
               {"verdict", verdict(net, pair)}}}});
    }
    return text_of(
        {{"type", "FeatureCollection"}, {"notes", notes_of(net.scenario)}, {"features", features}},
        1);
}

} // namespace earshot::report
