#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/parallel.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/plan/candidates.hpp"
#include "earshot/plan/ladder.hpp"
#include "earshot/report/path_report.hpp"
#include "place_arguments.hpp"
#include "terminal_progress.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <memory>

namespace earshot::app {
namespace {

struct LadderCommand {
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments here, there, relay;
    PlaceArguments places;
    std::string at, name = "here", margin = "0dB", range = "15km", step;
    std::string next_power = "5W", better_antenna = "6dB", raise = "6m", move = "50m";
    std::string relay_within = "5km";
    bool with_relay = false;
    unsigned threads = default_thread_count();
    bool json = false;

    void run() const;
};

std::string reach_words(const plan::Rung& rung, std::size_t places) {
    if (rung.range) {
        return fmt::format("half of directions {}, {:.1f} km2",
                           geo::format_distance(rung.range->typical_m), rung.range->area_km2);
    }
    if (rung.margin_db) {
        return fmt::format("margin {:+.1f} dB", *rung.margin_db);
    }
    return fmt::format("{} of {} places", rung.places, places);
}

void print_rungs(const char* heading, const std::vector<plan::Rung>& rungs, std::size_t places) {
    fmt::print("{}\n", heading);
    for (const plan::Rung& rung : rungs) {
        fmt::print("  {:<52} {:>9}  {}\n", rung.label,
                   rung.gain_db ? fmt::format("{:+.1f} dB", *rung.gain_db) : "",
                   reach_words(rung, places));
    }
}

nlohmann::ordered_json json_of(const plan::Rung& rung, bool of_places) {
    nlohmann::ordered_json json = {{"label", rung.label}, {"effort", rung.effort}};
    json["gain_db"] = rung.gain_db ? nlohmann::ordered_json(*rung.gain_db) : nullptr;
    if (of_places) {
        json["places"] = rung.places;
        json["weight"] = rung.weight;
    }
    if (rung.margin_db) {
        json["margin_db"] = *rung.margin_db;
    }
    if (rung.range) {
        json["typical_m"] = rung.range->typical_m;
        json["three_quarters_of_directions_m"] = rung.range->quarter_m;
        json["one_quarter_of_directions_m"] = rung.range->three_quarters_m;
        json["best_m"] = rung.range->best.reach_m;
        json["best_bearing_deg"] = rung.range->best.bearing_deg;
        json["worst_m"] = rung.range->worst.reach_m;
        json["area_km2"] = rung.range->area_km2;
        json["words"] = rung.range->words;
    }
    return json;
}

void LadderCommand::run() const {
    plan::LadderQuestion question;
    const geo::LatLon position = geo::parse_position(at);
    question.settings = propagation.settings(position);
    const double frequency_mhz = question.settings.frequency_mhz;
    question.here = {name, position, here.height_m(default_antenna_height_m),
                     here.radio({}, frequency_mhz)};
    noise.apply(question.here.radio, frequency_mhz);
    link::Station far{"", position, there.height_m(default_antenna_height_m),
                      there.radio({}, frequency_mhz)};
    noise.apply(far.radio, frequency_mhz);
    question.person = far;
    std::vector<geo::LatLon> positions{position};
    for (const plan::Place& place : places.read()) {
        far.name = place.name;
        far.position = place.position;
        question.there.push_back({far, place.people});
        positions.push_back(place.position);
    }
    question.wanted_margin_db = geo::parse_loss_db(margin, "--margin");
    question.power_dbm = geo::parse_power_dbm(next_power, "--next-power");
    question.better_antenna_db = geo::parse_loss_db(better_antenna, "--better-antenna");
    question.raised_m = geo::parse_length_m(raise, "--raise");
    question.move_m = geo::parse_length_m(move, "--move");
    question.range_m = geo::parse_length_m(range, "--range");
    question.threads = threads;
    question.relay = {"relay",
                      {},
                      relay.height_m(question.raised_m),
                      relay.radio(question.here.radio, frequency_mhz)};

    TerminalProgress progress;
    const terrain::TerrainSource source = terrain.open();
    const plan::Circle circle = circle_around_places(positions);
    const double within_m = geo::parse_length_m(relay_within, "--relay-within");
    const double spare_m = std::max(question.move_m, with_relay ? within_m : 0.0);
    const terrain::HeightGrid ground = source.load_around(
        circle.centre,
        question.there.empty() ? question.range_m + spare_m : circle.radius_m + spare_m, nullptr,
        &progress);
    const Layers layers(cover, ground, &progress);
    question.layers = layers.view();
    question.step_m =
        profile_step_m(step, ground, position, std::max(question.range_m, 2.0 * circle.radius_m));
    if (with_relay) {
        plan::Shapes around;
        around.label = name;
        around.points = {position};
        const plan::Constraint near = plan::within_distance(around, within_m);
        plan::CandidateOptions options;
        options.most = 500;
        options.threads = threads;
        question.relay_candidates =
            plan::find_candidates(ground, {&near, 1}, options, &progress).candidates;
    }
    const plan::LadderAnswer answer = plan::climb_ladder(ground, question, &progress);
    progress.end();
    const std::size_t count = question.there.size();
    if (json) {
        nlohmann::ordered_json document = {{"start", json_of(answer.start, count > 0)},
                                           {"alone", nlohmann::ordered_json::array()},
                                           {"stacked", nlohmann::ordered_json::array()},
                                           {"words", answer.words},
                                           {"notes", layers.notes()},
                                           {"cautions", report::cautions()}};
        for (const plan::Rung& rung : answer.alone) {
            document["alone"].push_back(json_of(rung, count > 0));
        }
        for (const plan::Rung& rung : answer.stacked) {
            document["stacked"].push_back(json_of(rung, count > 0));
        }
        fmt::print("{}\n", document.dump(2));
        return;
    }
    if (answer.start.range) {
        fmt::print("Range on foot around {}: {}.\n", name, answer.start.range->words);
    } else {
        fmt::print("As it is: {}.\n", reach_words(answer.start, count));
    }
    print_rungs("Each by itself, the most decibels for the effort first:", answer.alone, count);
    print_rungs("One on top of another:", answer.stacked, count);
    for (const std::string& note : layers.notes()) {
        fmt::print("Note: {}.\n", note);
    }
    fmt::print("In short: {}.\n{}\n", answer.words, report::cautions());
}

} // namespace

void add_ladder_command(CLI::App& app) {
    auto command = std::make_shared<LadderCommand>();
    CLI::App* sub = app.add_subcommand(
        "ladder", "Say what more power, better or higher antennas, a short walk and a relay buy");
    sub->add_option("--at", command->at, "Position of the station")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--name", command->name, "Name of the station")
        ->capture_default_str()
        ->type_name("TEXT");
    command->places.add_to(*sub, "to",
                           "Place to reach; with no place at all, the range on foot is told");
    command->terrain.add_to(*sub, true);
    command->cover.add_to(*sub);
    command->propagation.add_to(*sub);
    command->noise.add_to(*sub);
    sub->add_option("--step", command->step,
                    "Spacing of profile points; left out, the size of a cell of the elevation")
        ->type_name("LENGTH")
        ->group("Prediction");
    const auto option = [&](const char* flag, std::string& value, const char* help,
                            const char* type) {
        sub->add_option(flag, value, help)->capture_default_str()->type_name(type)->group("Levers");
    };
    option("--margin", command->margin, "Margin wanted, both ways", "DB");
    option("--range", command->range, "How far to look for the range on foot", "LENGTH");
    option("--next-power", command->next_power, "The next power step, at both ends", "POWER");
    option("--better-antenna", command->better_antenna, "By how much a better antenna is better",
           "DB");
    option("--raise", command->raise, "Height of a raised antenna above the ground", "LENGTH");
    option("--move", command->move, "Length of a short walk to a better spot", "LENGTH");
    sub->add_flag("--with-relay", command->with_relay, "Look for a relay on high ground as well")
        ->group("Levers");
    option("--relay-within", command->relay_within, "How far from here a relay may stand",
           "LENGTH");
    command->here.add_to(*sub, "", "the station's", "Station", true);
    command->there.add_to(*sub, "there-", "the far", "Radios at the far end", true);
    command->relay.add_to(*sub, "relay-", "the relay's", "Relay, where it differs from the station",
                          true);
    sub->add_option("--threads", command->threads, "Processors to use")
        ->check(CLI::Range(1U, 1024U))
        ->capture_default_str()
        ->type_name("N");
    sub->add_flag("--json", command->json, "Print JSON for programs");
    sub->footer("Example:\n  earshot ladder --terrain dem-samples/cumberland_3arcsec.tif "
                "--frequency 146MHz \\\n    --at 36.60,-84.20 --power 2W --there-power 2W "
                "--with-relay\n\n" +
                forms_of_values() + "\n\n" + report::cautions());
    sub->callback([command] { command->run(); });
}

} // namespace earshot::app
