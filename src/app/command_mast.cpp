#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/plan/mast.hpp"
#include "earshot/report/path_report.hpp"
#include "terminal_progress.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cctype>
#include <memory>
#include <tuple>

namespace earshot::app {
namespace {

struct MastCommand {
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B", end = "both", margin = "0dB";
    std::string lowest = "1m", limit = "30m", height_step = "0.5m", step, table;
    bool json = false;

    void run() const;
};

std::string table_csv(const std::vector<plan::MastAnswer>& answers,
                      const std::vector<std::string>& raised) {
    std::string csv = "raised,height_m,margin_out_db,margin_back_db\n";
    for (std::size_t k = 0; k < answers.size(); ++k) {
        for (const plan::MastRow& row : answers[k].table) {
            csv += fmt::format("\"{}\",{:.2f},{:.2f},{:.2f}\n", raised[k], row.height_m,
                               row.margins.out_db, row.margins.back_db);
        }
    }
    return csv;
}

nlohmann::ordered_json json_of(const plan::MastAnswer& answer, const std::string& raised) {
    const auto or_null = [](const std::optional<double>& value) {
        return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json();
    };
    nlohmann::ordered_json falls = nlohmann::ordered_json::array();
    for (const plan::MarginFall& fall : answer.falls) {
        falls.push_back({{"from_m", fall.from_m}, {"to_m", fall.to_m}, {"fall_db", fall.fall_db}});
    }
    nlohmann::ordered_json rows = nlohmann::ordered_json::array();
    for (const plan::MastRow& row : answer.table) {
        rows.push_back({{"height_m", row.height_m},
                        {"margin_out_db", row.margins.out_db},
                        {"margin_back_db", row.margins.back_db}});
    }
    return {{"raised", raised},
            {"least_height_m", or_null(answer.least_height_m)},
            {"safe_from_m", or_null(answer.safe_from_m)},
            {"best_height_m", answer.best.height_m},
            {"best_margin_db", answer.best.margins.least_db()},
            {"words", answer.words},
            {"falls", falls},
            {"table", rows}};
}

void print_answer(const plan::MastAnswer& answer) {
    std::string words = answer.words;
    words[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(words[0])));
    fmt::print("{}.\n", words);
    constexpr std::size_t lines = 16;
    const std::size_t every = std::max<std::size_t>(1, (answer.table.size() - 1) / lines);
    fmt::print("  {:>9}  {:>11}  {:>11}\n", "height", "margin out", "margin back");
    for (std::size_t k = 0; k < answer.table.size(); k += every) {
        const plan::MastRow& row = answer.table[k];
        fmt::print("  {:7.1f} m  {:+8.1f} dB  {:+8.1f} dB\n", row.height_m, row.margins.out_db,
                   row.margins.back_db);
    }
}

void MastCommand::run() const {
    if (end != "from" && end != "to" && end != "both") {
        throw_usage(fmt::format("--end '{}' is not known; use from, to or both", end));
    }
    link::Station a{from_name, geo::parse_position(from), 0.0, {}};
    link::Station b{to_name, geo::parse_position(to), 0.0, {}};
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    plan::MastRequest request;
    request.settings = propagation.settings(middle);
    request.wanted_margin_db = geo::parse_loss_db(margin, "--margin");
    request.lowest_m = geo::parse_length_m(lowest, "--lowest");
    request.highest_m = geo::parse_length_m(limit, "--limit");
    request.height_step_m = geo::parse_length_m(height_step, "--height-step");
    const double frequency_mhz = request.settings.frequency_mhz;
    const link::Radio shared = both.radio({}, frequency_mhz);
    const double shared_height_m = both.height_m(default_antenna_height_m);
    a.radio = at_from.radio(shared, frequency_mhz);
    b.radio = at_to.radio(shared, frequency_mhz);
    noise.apply(a.radio, frequency_mhz);
    noise.apply(b.radio, frequency_mhz);
    a.antenna_height_m = at_from.height_m(shared_height_m);
    b.antenna_height_m = at_to.height_m(shared_height_m);

    TerminalProgress progress;
    const terrain::TerrainSource source = terrain.open();
    check_outputs({table}, cover.files_with(source.info().files));
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, &progress);
    const Layers layers(cover, ground, &progress);
    progress.end();
    request.layers = layers.view();
    request.step_m = profile_step_m(step, ground, a.position, line.distance_m);
    std::vector<plan::MastAnswer> answers;
    std::vector<std::string> raised;
    for (const auto& [name, which, station] :
         {std::tuple("from", plan::PathEnd::first, &a), {"to", plan::PathEnd::second, &b}}) {
        if (end == "both" || end == name) {
            request.end = which;
            answers.push_back(plan::least_mast(ground, a, b, request));
            raised.push_back(station->name);
        }
    }
    if (!table.empty()) {
        write_text_file(table, table_csv(answers, raised));
    }
    if (json) {
        nlohmann::ordered_json document = {{"wanted_margin_db", request.wanted_margin_db},
                                           {"masts", nlohmann::ordered_json::array()},
                                           {"notes", layers.notes()},
                                           {"cautions", report::cautions()}};
        for (std::size_t k = 0; k < answers.size(); ++k) {
            document["masts"].push_back(json_of(answers[k], raised[k]));
        }
        fmt::print("{}\n", document.dump(2));
        return;
    }
    for (const plan::MastAnswer& answer : answers) {
        print_answer(answer);
    }
    for (const std::string& note : layers.notes()) {
        fmt::print("Note: {}.\n", note);
    }
    if (!table.empty()) {
        fmt::print("Wrote {}.\n", table);
    }
    fmt::print("{}\n", report::cautions());
}

} // namespace

void add_mast_command(CLI::App& app) {
    auto command = std::make_shared<MastCommand>();
    CLI::App* sub = app.add_subcommand(
        "mast", "Find the least antenna height at either end that makes a path work");
    sub->add_option("--from", command->from, "Position of the first station")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--to", command->to, "Position of the second station")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--from-name", command->from_name, "Name of the first station")
        ->capture_default_str()
        ->type_name("TEXT");
    sub->add_option("--to-name", command->to_name, "Name of the second station")
        ->capture_default_str()
        ->type_name("TEXT");
    sub->add_option("--end", command->end, "Whose antenna is raised: from, to or both in turn")
        ->capture_default_str()
        ->type_name("NAME");
    sub->add_option("--margin", command->margin, "Margin wanted, both ways")
        ->capture_default_str()
        ->type_name("DB");
    sub->add_option("--lowest", command->lowest, "Least height above the ground to look at")
        ->capture_default_str()
        ->type_name("LENGTH");
    sub->add_option("--limit", command->limit, "Greatest height to look at")
        ->capture_default_str()
        ->type_name("LENGTH");
    sub->add_option("--height-step", command->height_step, "Between the heights looked at")
        ->capture_default_str()
        ->type_name("LENGTH");
    sub->add_option("--table", command->table, "Write the margin against height as CSV")
        ->type_name("FILE.csv");
    command->terrain.add_to(*sub, true);
    command->cover.add_to(*sub);
    command->propagation.add_to(*sub);
    command->noise.add_to(*sub);
    sub->add_option("--step", command->step,
                    "Spacing of profile points; left out, the size of a cell of the elevation")
        ->type_name("LENGTH")
        ->group("Prediction");
    command->both.add_to(*sub, "", "each station's", "Radio of both stations", true);
    command->at_from.add_to(*sub, "from-", "the first station's",
                            "Radio of the first station, where it differs", true);
    command->at_to.add_to(*sub, "to-", "the second station's",
                          "Radio of the second station, where it differs", true);
    sub->add_flag("--json", command->json, "Print JSON for programs");
    sub->footer("Example:\n  earshot mast --terrain dem-samples/cumberland_3arcsec.tif --frequency "
                "146MHz \\\n    --from 36.60,-84.20 --to 36.68,-84.10 --margin 10dB --limit "
                "100ft\n\n" +
                forms_of_values() + "\n\n" + report::cautions());
    sub->callback([command] { command->run(); });
}

} // namespace earshot::app
