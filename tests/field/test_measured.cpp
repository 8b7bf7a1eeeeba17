#include "field/correction_fit.hpp"
#include "link/quality.hpp"
#include "measured/readings.hpp"
#include "support.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <fstream>
#include <random>

namespace earshot::measured {
namespace {

const std::filesystem::path readings_folder =
    EARSHOT_SOURCE_DIR "/tests/reference/measured/frs_462";

const Readings& all_readings() {
    static const Readings all = read_readings(readings_folder);
    return all;
}

Guess among_houses() {
    Guess guess;
    guess.conditions.frequency_mhz = 462.7;
    guess.cover = "suburban";
    return guess;
}

/// HeardShare of those said to have a chance within some limits that were heard.
struct HeardShare {
    double said_percent = 0.0, heard_percent = 0.0;
    std::size_t readings = 0;
};

template <typename Heard>
HeardShare share_between(const std::vector<Judged>& judged, double from, double to, Heard heard) {
    HeardShare share;
    for (const Judged& one : judged) {
        if (one.chance_percent >= from && one.chance_percent < to) {
            ++share.readings;
            share.said_percent += one.chance_percent;
            share.heard_percent += heard(one) ? 100.0 : 0.0;
        }
    }
    share.said_percent /= static_cast<double>(share.readings);
    share.heard_percent /= static_cast<double>(share.readings);
    return share;
}

std::string refusal_of(const std::string& row) {
    const testing::TemporaryFolder temporary;
    std::filesystem::copy_file(readings_folder / "receivers.csv", temporary / "receivers.csv");
    std::ofstream(temporary / "readings.csv")
        << "time,mode,latitude,longitude,receiver,loss_db,at_least\n"
        << "2022-07-11 10:00:00,walking,40.7650,-111.8400,bes,95.1,0\n"
        << row << '\n';
    return testing::message_of(Fault::input, [&] { (void)read_readings(temporary.path()); });
}

} // namespace

TEST_CASE("measured readings are read, track by track") {
    CHECK(all_readings().readings.size() == 11756);
    CHECK(all_readings().receivers.size() == 3);
    CHECK(all_readings().tracks > 20);
    for (const Reading& reading : all_readings().readings) {
        if (reading.at_least) { // not heard: the loss is the receiver's floor
            REQUIRE(reading.loss_db ==
                    Approx(all_readings().receivers[reading.receiver].floor_loss_db).margin(0.02));
        }
    }
}

TEST_CASE("a damaged file of readings says what is wrong, and where") {
    using Catch::Contains;
    const auto says = [](const std::string& row, const std::string& words) {
        const std::string message = refusal_of(row);
        CHECK_THAT(message, Contains("readings.csv, line 3: "));
        CHECK_THAT(message, Contains(words));
    };
    says("2022-07-11 10:00:05,walking,40.7650,-111.8400,bes,950,0", "loss_db is '950'");
    says("2022-07-11 10:00:05,walking,40.7650,-111.8400,bes,nan,0", "loss_db is 'nan'");
    says("2022-07-11 10:00:05,walking,40.7650,-111.8400,bes", "the row ends before its loss_db");
    says("2022-07-11 10:00:05,walking,40.7650,111.8400,bes,95.1,0", "one of them is off");
    says("2022-07-11 10:00:05,walking,94.7650,-111.8400,bes,95.1,0", "latitude is '94.7650'");
    says("2022-07-11 10:00:05,walking,40.7650,-111.8400,roof,95.1,0", "no receiver 'roof'");
    says("11 July,walking,40.7650,-111.8400,bes,95.1,0", "write it like");
}

// Of calls said to have 70 to 80 %, 70 to 80 % get through: if places, times and predictions are
// off by what they are said to be off by, which a log is drawn from.
TEST_CASE("chances are right about a log that spreads as told") {
    const std::vector<Judged> judged = judge(all_readings(), among_houses(), 3);
    std::mt19937 random(7);
    const auto normal = [&] { // the sum of twelve uniform numbers has a deviation of 1
        double sum = -6.0;
        for (int k = 0; k < 12; ++k) {
            sum += static_cast<double>(random()) / 4294967296.0;
        }
        return sum;
    };
    for (const double from : {20.0, 50.0, 70.0, 80.0}) {
        const HeardShare share = share_between(judged, from, from + 10.0, [&](const Judged& one) {
            return one.predicted_db + one.deviation_db * normal() >= 0.0;
        });
        CAPTURE(from, share.readings, share.said_percent, share.heard_percent);
        if (share.readings >= 50) { // three deviations of a share of so many
            CHECK(std::abs(share.heard_percent - share.said_percent) <
                  3.0 * 50.0 / std::sqrt(static_cast<double>(share.readings)));
        }
    }
}

// The levels of the set are tied to absolute ones to 3 dB (its README), which moves an even chance
// by 100 (Phi(3 / 9.8) - 0.5) = 12 percent; some more for neighbours on a track, which are alike.
constexpr double tolerance_percent = 15.0;

TEST_CASE("chances are right about real readings among houses") {
    const std::vector<Judged> judged = judge(all_readings(), among_houses(), 3);
    const auto heard = [](const Judged& one) { return one.heard(); };
    const HeardShare all = share_between(judged, 0.0, 100.1, heard);
    CAPTURE(all.said_percent, all.heard_percent);
    CHECK(std::abs(all.said_percent - all.heard_percent) < 5.0);
    constexpr std::array limits{50.0, 70.0, 80.0, 90.0, 100.0};
    for (std::size_t k = 0; k + 1 < limits.size(); ++k) {
        const HeardShare share = share_between(judged, limits[k], limits[k + 1], heard);
        CAPTURE(limits[k], share.readings, share.said_percent, share.heard_percent);
        REQUIRE(share.readings > 100);
        CHECK(std::abs(share.said_percent - share.heard_percent) < tolerance_percent);
    }
    const HeardShare likely = share_between(judged, 70.0, 80.0, heard);
    CHECK(likely.heard_percent == Approx(75.0).margin(8.0));
}

TEST_CASE("houses count as they do since real readings say so") {
    const auto bias_db = [](const std::string& cover, propagation::Houses houses) {
        Guess guess = among_houses();
        guess.cover = cover;
        guess.conditions.houses = houses;
        return error_of(judge(all_readings(), guess, 7)).bias_db;
    };
    using propagation::Houses;
    constexpr double tie_db = 3.0;
    CHECK(std::abs(bias_db("suburban", Houses::below_roofs)) < tie_db);
    CHECK(bias_db("", Houses::below_roofs) < -2.0 * tie_db);
    CHECK(bias_db("suburban", Houses::obstacles) > 4.0 * tie_db);
    CHECK(bias_db("suburban", Houses::statistical) > tie_db);
}

TEST_CASE("a correction fitted on some days serves on the others") {
    Guess bare = among_houses(); // where it has most to put right
    bare.cover.clear();
    std::vector<Judged> fitted;
    std::vector<Judged> held_out;
    for (const Judged& one : judge(all_readings(), bare, 5)) {
        (one.reading->day < "2022-07-10" ? fitted : held_out).push_back(one);
    }
    REQUIRE(fitted.size() > 500);
    REQUIRE(held_out.size() > 500);
    field::CorrectionRequest request;
    request.leave_stops_out = false;
    const scenario::Correction correction =
        field::fit_correction(calls_of(fitted), request).correction;
    const double before_db = error_of(held_out).bias_db;
    for (Judged& one : held_out) {
        one.predicted_db += correction.offset_db.value;
    }
    const double after_db = error_of(held_out).bias_db;
    CAPTURE(before_db, after_db, correction.offset_db.value);
    CHECK(before_db < -6.0);
    CHECK(std::abs(after_db) < 4.0);
}

} // namespace earshot::measured
