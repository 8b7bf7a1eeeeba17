#include "app/commands.hpp"
#include "app/shared_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/named.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/foot_range.hpp"
#include "plan/ladder.hpp"
#include "report/say/plan_report.hpp"

#include <fmt/format.h>

#include <algorithm>

/// The commands about how far one reaches from a station.

namespace earshot::app {
namespace {

/// --at and --name of the station.
void add_station_options(const Options& options, std::string& at, std::string& name) {
    options
        .add("--at", at,
             "The station: a position, for example 36.6,-84.2, or a name in the scenario",
             "POSITION")
        .required();
    options.add("--name", name, "Name of the station, if it is given by position", "TEXT");
}

struct RangeCommand {
    SharedArguments shared;
    RadioArguments here, there;
    std::string at, name = "here", margin, range = "15km", table;
    int directions = 72;
    unsigned threads = default_thread_count();
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void RangeCommand::run() const {
    const SharedInputs inputs(shared);
    link::Station station = inputs.station("--at", at, name);
    link::Station walker = inputs.listener();
    plan::FootRequest request;
    request.conditions = inputs.settings(station.position);
    inputs.equip(station, here, request.conditions.frequency_mhz);
    inputs.equip(walker, there, request.conditions.frequency_mhz);
    const double wanted_db = inputs.wanted_margin_db("--margin", margin);
    request.range_m = geo::parse_length_m(range, "--range");
    request.directions = directions;
    request.site_antenna_m = station.antenna_height_m;
    request.other_antenna_m = walker.antenna_height_m;

    TerminalTask task(threads);
    const GroundRead ground(inputs, inputs.open({table}), {station.position, request.range_m},
                            task);
    ground.lay(request, request.range_m);
    const plan::FootLosses losses = plan::foot_losses(station.position, request, task);
    const report::FootReach reach{station.name, wanted_db, request.range_m, losses.spacing_m,
                                  plan::foot_range(losses, station.radio, walker.radio, wanted_db)};
    task.end();
    inputs.write_table(table, report::range_csv(reach.range));
    if (json) {
        fmt::print("{}", report::range_json(reach, ground.notes()));
    } else {
        print_answer(report::range_text(reach), ground.notes(), table);
    }
}

void RangeCommand::add_to(const Options& options) {
    add_station_options(options, at, name);
    options.add("--range", range, "How far to look", "LENGTH");
    options.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
                "DB");
    options.add("--directions", directions, "How many directions to look in", "N").between(4, 3600);
    options.add("--table", table, "Write the reach in each direction as CSV", "FILE.csv");
    shared.add_to(options);
    here.add_to(options, "", "the station's", "Station");
    there.add_to(options, "there-", "the walker's", "Radio of the person who walks");
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options,
               "earshot range --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --at 36.60,-84.20 --power 2W --there-power 2W");
}

struct LadderCommand {
    SharedArguments shared;
    RadioArguments here, there, relay;
    PlaceArguments places;
    std::string at, name = "here", margin, range = "15km";
    std::string next_power, better_antenna, raise = "6m", move = "50m";
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
        std::vector<plan::ServedPlace> named = places.read(inputs);
        for (const plan::ServedPlace& place : named) {
            if (place.station.name == from.name) {
                throw_usage(
                    fmt::format("--to names {} itself; name who is to be reached", from.name));
            }
        }
        return named;
    }
    if (!inputs.scenario() || places.given()) {
        throw_usage("--to-all is for a --scenario, in place of --to and --places-file");
    }
    std::vector<plan::ServedPlace> all = everybody(*inputs.scenario(), Served::all);
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
    if (!next_power.empty()) {
        question.power_dbm = geo::parse_power_dbm(next_power, "--next-power");
    }
    if (!better_antenna.empty()) {
        question.better_antenna_db = geo::parse_loss_db(better_antenna, "--better-antenna");
    }
    question.antennas = antennas_at_hand(inputs, frequency_mhz);
    question.raised_m = geo::parse_length_m(raise, "--raise");
    question.move_m = geo::parse_length_m(move, "--move");
    question.range_m = geo::parse_length_m(range, "--range");
    question.relay = question.here;
    question.relay.name = "relay";
    plan::raise_antenna(question.relay, question.raised_m, question.antennas);
    question.relay.antenna_height_m = question.raised_m;
    inputs.equip(question.relay, relay, frequency_mhz);
    return question;
}

/// What a repeater of the scenario does for the ladder, with radios as the scenario has them: those
/// who are no station of it have the listener's.
std::optional<plan::RepeaterAtHand> repeater_at_hand(const scenario::Scenario& scenario,
                                                     const plan::LadderQuestion& question,
                                                     Task& task) {
    if (scenario.air.repeats.empty() || question.there.empty()) {
        return std::nullopt;
    }
    std::vector<std::string> there;
    for (const plan::ServedPlace& place : question.there) {
        there.push_back(place.station.name);
    }
    std::vector<std::string> all_ends = there;
    all_ends.push_back(question.here.name);
    scenario::Scenario asked = scenario;
    asked.air = scenario::with_only(scenario.air, all_ends);
    const auto number_of = [&](const link::Station& station) {
        const std::vector<link::Station>& all = asked.air.heard.front().stations;
        if (const link::Station* known = named(all, station.name)) {
            return static_cast<std::size_t>(known - all.data());
        }
        scenario::add_listener(asked.air, station.name, station.position);
        return asked.air.channels_of.size() - 1;
    };
    auto request = link::made_in<plan::HearingRequest>(question);
    request.wanted_margin_db = question.wanted_margin_db;
    request.only = number_of(question.here);
    for (const plan::ServedPlace& place : question.there) {
        (void)number_of(place.station);
    }
    const std::vector<plan::Pair> pairs = plan::hear_net(asked, request, task);
    return plan::repeater_for(asked, pairs, question.here.name, there);
}

void LadderCommand::run() const {
    const SharedInputs inputs(shared);
    plan::LadderQuestion question = this->question(inputs);
    const terrain::TerrainSource source = inputs.open({});
    places.keep_on_ground(question.there, source, inputs);
    std::vector<link::Station> ends;
    for (const plan::ServedPlace& place : question.there) {
        ends.push_back(place.station);
    }
    ends.push_back(question.here);
    if (inputs.scenario() && !question.there.empty()) {
        const scenario::Air& air = inputs.scenario()->air;
        for (const scenario::Repeat& repeat : air.repeats) {
            ends.push_back(air.heard[repeat.gives_out].stations[repeat.station]);
        }
    }

    TerminalTask task(threads);
    const plan::Circle circle = plan::circle_around(ends);
    const double within_m = geo::parse_length_m(relay_within, "--relay-within");
    const double spare_m = std::max(question.move_m, with_relay ? within_m : 0.0);
    const double reach_m = question.there.empty() ? question.range_m : circle.radius_m;
    const GroundRead ground(inputs, source, {circle.centre, reach_m + spare_m}, task);
    ground.lay(question, std::max(question.range_m, 2.0 * circle.radius_m));
    if (with_relay) {
        question.relay_candidates =
            plan::relay_ground_near(ground.heights(), question.here, within_m, task);
    }
    if (inputs.scenario()) {
        question.repeater = repeater_at_hand(*inputs.scenario(), question, task);
    }
    const plan::LadderAnswer answer = plan::climb_ladder(question, task);
    task.end();
    const std::size_t count = question.there.size();
    std::vector<std::string> notes = ground.notes();
    const auto says_powers = [](const link::Station& end) { return !end.radio.powers_dbm.empty(); };
    if (!question.power_dbm && std::ranges::none_of(ends, says_powers)) {
        notes.emplace_back("more power is not tried: nothing says what these radios can be set to; "
                           "say it with powers_w in the scenario, or --next-power");
    }
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
               "A power to try, at both ends; left out, what the scenario says the radios can be "
               "set to",
               "POWER");
    levers.add("--better-antenna", better_antenna,
               "Try an antenna better by this, at either end; left out, those of the scenario, or "
               "the usual ones",
               "DB");
    levers.add("--raise", raise, "Height of a raised antenna above the ground", "LENGTH");
    levers.add("--move", move, "Length of a short walk to a better spot", "LENGTH");
    levers.flag("--with-relay", with_relay, "Look for a relay on high ground as well");
    levers.add("--relay-within", relay_within, "How far from here a relay may stand", "LENGTH");
    here.add_to(options, "", "the station's", "Station");
    there.add_to(options, "there-", "the far", "Radios at the far end");
    relay.add_to(options, "relay-", "the relay's", "Relay, where it differs from the station");
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options,
               "earshot ladder --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz "
               "\\\n    --at 36.60,-84.20 --power 2W --there-power 2W --with-relay");
}

} // namespace

void add_range_command(Program& program) {
    program.add<RangeCommand>(
        "range", "Say how far one can walk from a station in every direction, without a gap and at "
                 "the farthest");
}

void add_ladder_command(Program& program) {
    program.add<LadderCommand>(

        "ladder",
        "Say what gets a call through: how the radio is held, another antenna, a short walk, "
        "height, power or a relay");
}

} // namespace earshot::app
