#include "report/say/mast_report.hpp"

#include "base/csv.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

ordered_json mast_json(const RaisedMast& mast, double wanted_margin_db) {
    const plan::MastAnswer& answer = mast.answer;
    ordered_json falls = ordered_json::array();
    for (const plan::MarginFall& fall : answer.falls) {
        falls.push_back({{"from_m", fall.from_m}, {"to_m", fall.to_m}, {"fall_db", fall.fall_db}});
    }
    ordered_json rows = ordered_json::array();
    for (const plan::MastRow& row : answer.table) {
        rows.push_back({{"height_m", row.height_m},
                        {"margin_out_db", row.margins.out_db},
                        {"margin_back_db", row.margins.back_db}});
    }
    return {{"raised", mast.station},
            {"least_height_m", number_or_null(answer.least_height_m)},
            {"safe_from_m", number_or_null(answer.safe_from_m)},
            {"best_height_m", answer.best.height_m},
            {"best_margin_db", answer.best.margins.least_db()},
            {"words", mast_words(answer, mast.station, wanted_margin_db)},
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
        text += fmt::format("  {:7.1f} m  {:>11}  {:>11}  {}{}\n", row->height_m,
                            margin_text(row->margins.out_db, 1, wanted_db),
                            margin_text(row->margins.back_db, 1, wanted_db), bar,
                            falls ? "  lower than below" : "");
        before = row;
    }
    return text +
           fmt::format("  The bar is the weaker way; | marks the {:g} dB wanted.\n", wanted_db);
}

} // namespace

std::string mast_text(std::span<const RaisedMast> masts, double wanted_margin_db) {
    std::string text;
    for (const RaisedMast& mast : masts) {
        text += fmt::format("{}\n{}\n",
                            sentence(mast_words(mast.answer, mast.station, wanted_margin_db)),
                            margin_chart(mast.answer, wanted_margin_db));
    }
    return text;
}

std::string mast_json(std::span<const RaisedMast> masts, double wanted_margin_db,
                      const std::vector<std::string>& notes) {
    ordered_json list = ordered_json::array();
    for (const RaisedMast& mast : masts) {
        list.push_back(mast_json(mast, wanted_margin_db));
    }
    return text_of({{"wanted_margin_db", wanted_margin_db},
                    {"masts", list},
                    {"notes", notes},
                    {"cautions", cautions()}});
}

std::string mast_csv(std::span<const RaisedMast> masts) {
    std::string csv = "raised,height_m,margin_out_db,margin_back_db\n";
    for (const RaisedMast& mast : masts) {
        for (const plan::MastRow& row : mast.answer.table) {
            csv += fmt::format("{},{:.2f},{:.2f},{:.2f}\n", csv_field(mast.station), row.height_m,
                               row.margins.out_db, row.margins.back_db);
        }
    }
    return csv;
}

} // namespace earshot::report
