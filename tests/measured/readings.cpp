#include "readings.hpp"

#include "base/number.hpp"
#include "base/require.hpp"
#include "field/comparison.hpp"
#include "maths/ordinal_fit.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <utility>

namespace earshot::measured {
namespace {

/// A table whose first row names its columns.
class Table {
public:
    explicit Table(const std::filesystem::path& file) : file_(file) {
        std::ifstream in(file, std::ios::binary);
        const std::string text{std::istreambuf_iterator<char>(in), {}};
        require_input(static_cast<bool>(in), "cannot read {}", file.string());
        rows_ = scenario::table_rows(text, ',');
        require_input(rows_.size() > 1, "{} holds no row", file.string());
    }

    [[nodiscard]] std::size_t rows() const { return rows_.size() - 1; }
    [[nodiscard]] std::size_t line(std::size_t row) const { return rows_[row + 1].line; }

    [[nodiscard]] const std::string& text(std::size_t row, std::string_view column) const {
        const std::vector<std::string>& head = rows_.front().fields;
        const auto found = std::find(head.begin(), head.end(), column);
        require_input(found != head.end(), "{} has no column {}", file_.string(), column);
        const auto at = static_cast<std::size_t>(found - head.begin());
        const std::vector<std::string>& fields = rows_[row + 1].fields;
        check(at < fields.size(), row, "the row ends before its {}", column);
        return fields[at];
    }

    [[nodiscard]] double number(std::size_t row, std::string_view column, double least,
                                double most) const {
        const std::string& shown = text(row, column);
        const std::optional<double> value = finite_number_in(shown);
        check(value && *value >= least && *value <= most, row,
              "{} is '{}'; it must be a number from {:g} to {:g}", column, shown, least, most);
        return *value;
    }

    template <typename... Words>
    void check(bool holds, std::size_t row, fmt::format_string<Words...> words,
               Words&&... values) const {
        if (!holds) {
            throw_input(fmt::format("{}, line {}: {}", file_.string(), line(row),
                                    fmt::format(words, std::forward<Words>(values)...)));
        }
    }

private:
    std::filesystem::path file_;
    std::vector<scenario::TableRow> rows_;
};

/// Seconds since the start of the year 0 of a calendar with 31 days in each month: enough to tell
/// gaps from neighbours.
long seconds_of(const Table& table, std::size_t row) {
    const std::string& text = table.text(row, "time");
    std::array<int, 6> part{};
    char more = 0;
    const int read = std::sscanf(text.c_str(), "%4d-%2d-%2d %2d:%2d:%2d%c", part.data(), &part[1],
                                 &part[2], &part[3], &part[4], &part[5], &more);
    table.check(read == 6 && part[1] >= 1 && part[1] <= 12 && part[2] >= 1 && part[2] <= 31 &&
                    part[3] >= 0 && part[3] < 24 && part[4] >= 0 && part[4] < 60 && part[5] >= 0 &&
                    part[5] < 60,
                row, "time is '{}'; write it like 2022-07-11 14:05:09", text);
    const long day = (part[0] * 12L + part[1] - 1) * 31L + part[2] - 1;
    return ((day * 24L + part[3]) * 60L + part[4]) * 60L + part[5];
}

std::vector<Receiver> read_receivers(const std::filesystem::path& file) {
    const Table table(file);
    std::vector<Receiver> receivers;
    for (std::size_t row = 0; row < table.rows(); ++row) {
        receivers.push_back({table.text(row, "receiver"),
                             {table.number(row, "latitude", -90.0, 90.0),
                              table.number(row, "longitude", -180.0, 180.0)},
                             table.number(row, "floor_loss_db", 20.0, 250.0)});
    }
    return receivers;
}

/// Flat ground around all of it.
terrain::HeightGrid plain(const Readings& all) {
    double north = -90.0;
    double south = 90.0;
    double west = 180.0;
    double east = -180.0;
    const auto include = [&](geo::LatLon p) {
        north = std::max(north, p.lat_deg);
        south = std::min(south, p.lat_deg);
        west = std::min(west, p.lon_deg);
        east = std::max(east, p.lon_deg);
    };
    for (const Reading& reading : all.readings) {
        include(reading.position);
    }
    for (const Receiver& receiver : all.receivers) {
        include(receiver.position);
    }
    constexpr double cell_deg = 0.0003; // some 30 m, as elevation usually has
    constexpr double rim_deg = 3.0 * cell_deg;
    terrain::HeightGrid grid;
    grid.columns = static_cast<int>((east - west + 2.0 * rim_deg) / cell_deg);
    grid.rows = static_cast<int>((north - south + 2.0 * rim_deg) / cell_deg);
    grid.georeference =
        terrain::Georeference("EPSG:4326", west - rim_deg, north + rim_deg, cell_deg, -cell_deg);
    grid.height_m.assign(
        static_cast<std::size_t>(grid.columns) * static_cast<std::size_t>(grid.rows), 1400.0F);
    return grid;
}

} // namespace

Readings read_readings(const std::filesystem::path& folder) {
    Readings all;
    all.receivers = read_receivers(folder / "receivers.csv");
    const Table table(folder / "readings.csv");
    constexpr long longest_gap_s = 120;
    constexpr double farthest_m = 100000.0;
    long before_s = 0;
    for (std::size_t row = 0; row < table.rows(); ++row) {
        Reading& reading = all.readings.emplace_back();
        reading.line = table.line(row);
        const long now_s = seconds_of(table, row);
        reading.day = table.text(row, "time").substr(0, 10);
        reading.minute = static_cast<std::size_t>(now_s / 60);
        reading.mode = table.text(row, "mode");
        reading.position = {table.number(row, "latitude", -90.0, 90.0),
                            table.number(row, "longitude", -180.0, 180.0)};
        const std::string& name = table.text(row, "receiver");
        const auto receiver =
            std::find_if(all.receivers.begin(), all.receivers.end(),
                         [&](const Receiver& known) { return known.name == name; });
        table.check(receiver != all.receivers.end(), row, "there is no receiver '{}'", name);
        reading.receiver = static_cast<std::size_t>(receiver - all.receivers.begin());
        const double distance_m =
            geo::geodesic_between(receiver->position, reading.position).distance_m;
        table.check(distance_m <= farthest_m, row,
                    "the position is {:.0f} km from the receiver; one of them is off",
                    distance_m / 1000.0);
        reading.loss_db = table.number(row, "loss_db", 20.0, 250.0);
        reading.at_least = table.number(row, "at_least", 0.0, 1.0) != 0.0;
        const bool goes_on = row > 0 && std::abs(now_s - before_s) <= longest_gap_s &&
                             reading.mode == all.readings[row - 1].mode;
        reading.track = goes_on || row == 0 ? all.tracks : ++all.tracks;
        before_s = now_s;
    }
    ++all.tracks;
    return all;
}

std::vector<Judged> judge(const Readings& readings, const Guess& guess, std::size_t stride) {
    const terrain::HeightGrid ground = plain(readings);
    std::optional<terrain::GroundCover> cover;
    if (!guess.cover.empty()) {
        cover = terrain::GroundCover::uniform(terrain::cover_kind(guess.cover));
    }
    link::PathPredictor predictor(
        {&ground, {cover ? &*cover : nullptr, nullptr}, guess.conditions});
    constexpr double power_dbm = 30.0;
    std::vector<Judged> judged;
    for (std::size_t k = 0; k < readings.readings.size(); k += stride) {
        const Reading& reading = readings.readings[k];
        const Receiver& receiver = readings.receivers[reading.receiver];
        link::Station handheld{"handheld", reading.position, guess.handheld_m, {}};
        handheld.radio.power_dbm = power_dbm;
        link::Station roof{receiver.name, receiver.position, guess.receivers_m, {}};
        roof.radio.threshold_dbm = power_dbm - receiver.floor_loss_db;
        const link::TwoWayPath path = predictor.path(handheld, roof);
        Judged& made = judged.emplace_back();
        made.reading = &reading;
        made.distance_m = path.line.distance_m;
        made.predicted_db = path.outward.median_margin_db;
        made.measured_db = reading.at_least ? 0.0 : receiver.floor_loss_db - reading.loss_db;
        made.deviation_db = path.outward.deviation_db;
        made.prediction_deviation_db = path.outward.prediction_deviation_db;
        made.chance_percent = path.outward.chance_percent;
    }
    return judged;
}

Miss error_of(const std::vector<Judged>& judged) {
    maths::OrdinalModel model;
    model.terms.push_back({"bias", maths::no_prior});
    model.limits = {0.0};
    model.error = {8.0, maths::no_prior};
    std::vector<maths::Observation> observations;
    for (const Judged& one : judged) {
        maths::Observation& o = observations.emplace_back();
        o.predicted = one.predicted_db;
        o.x = {1.0};
        if (one.heard()) {
            o.reading = one.measured_db;
        } else {
            o.score = 0; // below the first limit
        }
    }
    const maths::OrdinalFit fit = maths::fit_ordinal(model, observations);
    require_output(fit.converged, "no bias and spread fit the readings");
    return {fit.terms.front().value, fit.error.value};
}

std::vector<field::MeasuredCall> calls_of(const std::vector<Judged>& judged) {
    std::vector<field::MeasuredCall> calls;
    for (const Judged& one : judged) {
        field::MeasuredCall& call = calls.emplace_back();
        const Reading& reading = *one.reading;
        call.stop = fmt::format("{}, minute {}, receiver {}", reading.track, reading.minute,
                                reading.receiver);
        call.prediction_deviation_db = one.prediction_deviation_db;
        call.spread_db =
            std::sqrt(std::max(0.0, one.deviation_db * one.deviation_db -
                                        one.prediction_deviation_db * one.prediction_deviation_db));
        call.predicted_db = one.predicted_db;
        if (one.heard()) {
            call.margin_db = one.measured_db;
        } else {
            // A score of 0 says "below the first limit", which for a receiver that hears nothing
            // is a margin of 0 here: what is predicted moves with it.
            call.score = 0;
            call.predicted_db += field::score_limits_db().front();
        }
    }
    return calls;
}

} // namespace earshot::measured
