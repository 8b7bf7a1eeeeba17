#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/csv.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/mast.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <tuple>

namespace earshot::app {
namespace {

struct MastCommand {
    SharedArguments shared;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B", end = "both", margin;
    std::string lowest = "1m", limit = "30m", height_step = "0.5m", table;
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

std::string table_csv(const std::vector<plan::MastAnswer>& answers,
                      const std::vector<std::string>& raised) {
    std::string csv = "raised,height_m,margin_out_db,margin_back_db\n";
    for (std::size_t k = 0; k < answers.size(); ++k) {
        for (const plan::MastRow& row : answers[k].table) {
            csv += fmt::format("{},{:.2f},{:.2f},{:.2f}\n", csv_field(raised[k]), row.height_m,
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

/// Rows of the table to print, all of which span the heights evenly.
std::vector<const plan::MastRow*> printed_rows(const plan::MastAnswer& answer) {
    constexpr std::size_t lines = 20;
    const std::size_t every = 1 + (answer.table.size() - 1) / (lines + 1);
    std::vector<const plan::MastRow*> rows;
    for (std::size_t k = 0; k < answer.table.size(); k += every) {
        rows.push_back(&answer.table[k]);
    }
    if (rows.back() != &answer.table.back()) {
        rows.push_back(&answer.table.back());
    }
    return rows;
}

/// A table of the margin against height, and beside it a curve: a bar from the least margin of the
/// table, and a mark where the margin wanted is.
std::string margin_chart(const plan::MastAnswer& answer, double wanted_db) {
    constexpr double width = 36.0;
    const std::vector<const plan::MastRow*> rows = printed_rows(answer);
    double low_db = wanted_db;
    double high_db = wanted_db;
    for (const plan::MastRow* row : rows) {
        low_db = std::min(low_db, row->margins.least_db());
        high_db = std::max(high_db, row->margins.least_db());
    }
    const double span_db = std::max(high_db - low_db, 1.0);
    const auto column = [&](double margin_db) {
        return static_cast<std::size_t>(std::lround((margin_db - low_db) / span_db * width));
    };
    std::string text =
        fmt::format("  {:>9}  {:>11}  {:>11}\n", "height", "margin out", "margin back");
    const plan::MastRow* before = nullptr;
    for (const plan::MastRow* row : rows) {
        std::string bar(column(row->margins.least_db()) + 1, '=');
        bar.resize(std::max(bar.size(), column(wanted_db) + 1), ' ');
        bar[column(wanted_db)] = '|';
        const bool falls =
            before != nullptr && row->margins.least_db() < before->margins.least_db() - 0.05;
        text += fmt::format("  {:7.1f} m  {:+8.1f} dB  {:+8.1f} dB  {}{}\n", row->height_m,
                            row->margins.out_db, row->margins.back_db, bar,
                            falls ? "  lower than below" : "");
        before = row;
    }
    return text +
           fmt::format("  The bar is the weaker way; | marks the {:g} dB wanted.\n", wanted_db);
}

void MastCommand::run() const {
    if (end != "from" && end != "to" && end != "both") {
        throw_usage(fmt::format("--end '{}' is not known; use from, to or both", end));
    }
    const SharedInputs inputs(shared);
    link::Station a = inputs.station("--from", from, from_name);
    link::Station b = inputs.station("--to", to, to_name);
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    plan::MastRequest request;
    request.settings = inputs.settings(middle);
    request.wanted_margin_db = inputs.wanted_margin_db("--margin", margin);
    request.lowest_m = geo::parse_length_m(lowest, "--lowest");
    request.highest_m = geo::parse_length_m(limit, "--limit");
    request.height_step_m = geo::parse_length_m(height_step, "--height-step");
    inputs.equip(a, both, at_from, request.settings.frequency_mhz);
    inputs.equip(b, both, at_to, request.settings.frequency_mhz);

    TerminalTask task;
    const terrain::TerrainSource source = inputs.open();
    inputs.check({table}, source);
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    task.end();
    request.layers = layers.view();
    request.step_m = inputs.step_m(ground, a.position, line.distance_m);
    std::vector<plan::MastAnswer> answers;
    std::vector<std::string> raised;
    for (const auto& [name, which, station] :
         {std::tuple("from", plan::PathEnd::first, &a), {"to", plan::PathEnd::second, &b}}) {
        if (end == "both" || end == name) {
            request.end = which;
            answers.push_back(plan::least_mast(ground, a, b, request, task));
            raised.push_back(station->name);
        }
    }
    if (!table.empty()) {
        write_text_file(table, inputs.correction().stamped(table_csv(answers, raised)));
    }
    const std::vector<std::string> notes = inputs.notes(layers);
    if (json) {
        nlohmann::ordered_json document = {{"wanted_margin_db", request.wanted_margin_db},
                                           {"masts", nlohmann::ordered_json::array()},
                                           {"notes", notes},
                                           {"cautions", report::cautions()}};
        for (std::size_t k = 0; k < answers.size(); ++k) {
            document["masts"].push_back(json_of(answers[k], raised[k]));
        }
        fmt::print("{}\n", document.dump(2));
        return;
    }
    for (const plan::MastAnswer& answer : answers) {
        fmt::print("{}.\n{}\n", sentence(answer.words),
                   margin_chart(answer, request.wanted_margin_db));
    }
    print_notes(notes);
    if (!table.empty()) {
        fmt::print("Wrote {}.\n", table);
    }
    fmt::print("{}\n", report::cautions());
}

void MastCommand::add_to(const Options& options) {
    add_path_ends(options, from, to, from_name, to_name);
    options.add("--end", end, "Whose antenna is raised: from, to or both in turn", "NAME");
    options.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
                "DB");
    options.add("--lowest", lowest, "Least height above the ground to look at", "LENGTH");
    options.add("--limit", limit, "Greatest height to look at", "LENGTH");
    options.add("--height-step", height_step, "Between the heights looked at", "LENGTH");
    options.add("--table", table, "Write the margin against height as CSV", "FILE.csv");
    shared.add_to(options);
    add_radios_of_ends(options, both, at_from, at_to);
    add_json_flag(options, json);
    add_footer(options,
               "earshot mast --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --from 36.60,-84.20 --to 36.68,-84.10 --margin 10dB --limit 100ft");
}

} // namespace

void add_mast_command(Program& program) {
    program.add<MastCommand>("mast",
                             "Find the least antenna height at either end that makes a path work");
}

} // namespace earshot::app
