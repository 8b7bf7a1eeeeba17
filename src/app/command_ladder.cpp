#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/place_arguments.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/ladder.hpp"
#include "report/say/reach_report.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace earshot::app {
namespace {

struct LadderCommand {
    SharedArguments shared;
    RadioArguments here, there, relay;
    PlaceArguments places;
    std::string at, name = "here", margin, range = "15km";
    std::string next_power, better_antenna = "6dB", raise = "6m", move = "50m";
    std::string relay_within = "5km";
    bool to_all = false, with_relay = false;
    unsigned threads = default_thread_count();
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] std::vector<plan::ServedPlace> wanted(const SharedInputs& inputs,
                                                        const link::Station& from) const;
    [[nodiscard]] plan::LadderQuestion question(const SharedInputs& inputs) const;
};

/// The places to reach; none for the range on foot.
std::vector<plan::ServedPlace> LadderCommand::wanted(const SharedInputs& inputs,
                                                     const link::Station& from) const {
    if (!to_all) {
        return places.read(inputs);
    }
    if (!inputs.scenario() || places.given()) {
        throw_usage("--to-all is for a --scenario, in place of --to and --places-file");
    }
    std::vector<plan::ServedPlace> all = everybody(*inputs.scenario(), "all");
    std::erase_if(all,
                  [&](const plan::ServedPlace& place) { return place.station.name == from.name; });
    return all;
}

plan::LadderQuestion LadderCommand::question(const SharedInputs& inputs) const {
    plan::LadderQuestion question;
    question.here = inputs.station("--at", at, name);
    question.conditions = inputs.settings(question.here.position);
    const double frequency_mhz = question.conditions.frequency_mhz;
    question.there = wanted(inputs, question.here);
    inputs.equip(question.here, here, frequency_mhz);
    question.person = inputs.listener();
    inputs.equip(question.person, there, frequency_mhz);
    for (plan::ServedPlace& place : question.there) {
        inputs.equip(place.station, there, frequency_mhz);
    }
    question.wanted_margin_db = inputs.wanted_margin_db("--margin", margin);
    question.power_dbm = next_power.empty() ? plan::next_power_dbm(question)
                                            : geo::parse_power_dbm(next_power, "--next-power");
    question.better_antenna_db = geo::parse_loss_db(better_antenna, "--better-antenna");
    question.raised_m = geo::parse_length_m(raise, "--raise");
    question.move_m = geo::parse_length_m(move, "--move");
    question.range_m = geo::parse_length_m(range, "--range");
    question.relay = question.here;
    question.relay.name = "relay";
    question.relay.antenna_height_m = question.raised_m;
    inputs.equip(question.relay, relay, frequency_mhz);
    return question;
}

void LadderCommand::run() const {
    const SharedInputs inputs(shared);
    plan::LadderQuestion question = this->question(inputs);
    std::vector<geo::LatLon> positions = positions_of(question.there);
    positions.push_back(question.here.position);

    TerminalTask task(threads);
    const terrain::TerrainSource source = inputs.open();
    const plan::Circle circle = circle_around_places(positions);
    const double within_m = geo::parse_length_m(relay_within, "--relay-within");
    const double spare_m = std::max(question.move_m, with_relay ? within_m : 0.0);
    const terrain::HeightGrid ground = source.load_around(
        circle.centre, (question.there.empty() ? question.range_m : circle.radius_m) + spare_m,
        nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    inputs.lay(question, ground, layers, question.here.position,
               std::max(question.range_m, 2.0 * circle.radius_m));
    if (with_relay) {
        question.relay_candidates = plan::relay_ground_near(ground, question.here, within_m, task);
    }
    const plan::LadderAnswer answer = plan::climb_ladder(question, task);
    task.end();
    const std::size_t count = question.there.size();
    std::vector<std::string> notes = inputs.notes(layers);
    if (with_relay && std::ranges::none_of(answer.alone, [](const plan::Rung& rung) {
            return rung.pulls(plan::Lever::relay);
        })) {
        notes.push_back(fmt::format("no place for a relay within {} of {} serves anyone",
                                    geo::format_distance(within_m), question.here.name));
    }
    fmt::print("{}", json ? report::ladder_json(answer, count, notes)
                          : report::ladder_text(answer, question.here.name, count, notes));
}

void LadderCommand::add_to(const Options& options) {
    add_station_options(options, at, name);
    places.add_to(options, "to", "Place to reach; with no place at all, the range on foot is told");
    options.flag("--to-all", to_all, "Reach every station and place of the scenario");
    shared.add_to(options);
    const Options levers = options.under("Levers");
    levers.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
               "DB");
    levers.add("--range", range, "How far to look for the range on foot", "LENGTH");
    levers.add("--next-power", next_power,
               "The next power step, at both ends; left out, the next usual one above the weakest "
               "radio",
               "POWER");
    levers.add("--better-antenna", better_antenna, "By how much a better antenna is better", "DB");
    levers.add("--raise", raise, "Height of a raised antenna above the ground", "LENGTH");
    levers.add("--move", move, "Length of a short walk to a better spot", "LENGTH");
    levers.flag("--with-relay", with_relay, "Look for a relay on high ground as well");
    levers.add("--relay-within", relay_within, "How far from here a relay may stand", "LENGTH");
    here.add_to(options, "", "the station's", "Station", true);
    there.add_to(options, "there-", "the far", "Radios at the far end", true);
    relay.add_to(options, "relay-", "the relay's", "Relay, where it differs from the station",
                 true);
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options,
               "earshot ladder --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz "
               "\\\n    --at 36.60,-84.20 --power 2W --there-power 2W --with-relay");
}

} // namespace

void add_ladder_command(Program& program) {
    program.add<LadderCommand>(
        "ladder", "Say what more power, better or higher antennas, a short walk and a relay buy");
}

} // namespace earshot::app
