#include "field/field_log.hpp"
#include "scenario/scenario_text.hpp"
#include "scenario/text_table.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <string>
#include <utility>

namespace earshot::field {

using namespace scenario;

namespace {

using test::ScenarioFolder;

FieldLog read(const std::string& content, const std::string& name = "log.csv") {
    const ScenarioFolder folder;
    return read_field_log(folder.write(name, content));
}

std::string refusal(const std::string& content, const std::string& name = "log.csv") {
    try {
        (void)read(content, name);
    } catch (const Error& error) {
        CHECK(error.fault() == Fault::input);
        return error.what();
    }
    return "accepted";
}

bool has(const std::string& text, const std::string& part) {
    INFO(text);
    return text.find(part) != std::string::npos;
}

const std::string plain_log = "stop,latitude,longitude,set_up,power_w,antenna,antenna_height_m,"
                              "direction,score,level,note,time\n"
                              "Gate,35.5001,16.9002,low,2,stock,1.5,from mover,3,,windy,10:05\n"
                              "Gate,,,low,,,,to mover,4,S7,,10:06\n"
                              "Ford,35.5101,16.9102,high,5,half-wave,3,from mover,0,,,10:20\n";

std::string replaced(std::string text, char from, char to) {
    std::ranges::replace(text, from, to);
    return text;
}

std::string utf16(const std::string& ascii, bool big_endian) {
    std::string bytes = big_endian ? "\xFE\xFF" : "\xFF\xFE";
    for (const char c : ascii) {
        bytes += big_endian ? std::string{'\0', c} : std::string{c, '\0'};
    }
    return bytes;
}

std::string with_line_ends(const std::string& text, const std::string& end) {
    std::string result;
    for (const char c : text) {
        result += c == '\n' ? end : std::string(1, c);
    }
    return result;
}

void check_plain(const FieldLog& log) {
    REQUIRE(log.calls.size() == 3);
    CHECK(log.bad_rows.empty());
    const FieldCall& first = log.calls[0];
    CHECK(first.stop == "Gate");
    CHECK(first.position.lat_deg == 35.5001);
    CHECK(first.position.lon_deg == 16.9002);
    CHECK(first.set_up.name == "low");
    CHECK(*first.set_up.power_dbm == Approx(33.0103).margin(1e-4)); // 10 log10 2000
    CHECK(first.set_up.antenna == "stock");
    CHECK(first.set_up.antenna_height_m == 1.5);
    CHECK(first.direction == CallDirection::from_mover);
    CHECK(first.score == 3);
    CHECK(first.note == "windy");
    CHECK(first.time == "10:05");
    // Position and set-up come from the row before.
    const FieldCall& second = log.calls[1];
    CHECK(second.position.lat_deg == 35.5001);
    CHECK(second.set_up == first.set_up);
    CHECK(second.direction == CallDirection::to_mover);
    CHECK(second.level_dbm == -105.0);
    CHECK(log.calls[2].score == 0);
    CHECK(log.calls[2].set_up.antenna_height_m == 3.0);
}

} // namespace

TEST_CASE("a log is read", "[field-log]") {
    const FieldLog log = read(plain_log);
    check_plain(log);
    CHECK(log.calls[0].line == 2);
    CHECK(log.calls[2].line == 4);
    CHECK_FALSE(log.invented);
    CHECK(log.notes.empty());
}

TEST_CASE("a log is read as spreadsheets write it", "[field-log]") {
    SECTION("semicolons and decimal commas") {
        check_plain(read(replaced(replaced(plain_log, ',', ';'), '.', ',')));
    }
    SECTION("tabs") {
        check_plain(read(replaced(plain_log, ',', '\t')));
    }
    SECTION("a byte-order mark") {
        check_plain(read(std::string("\xEF\xBB\xBF").append(plain_log)));
    }
    SECTION("UTF-16, little end first") {
        check_plain(read(utf16(plain_log, false)));
    }
    SECTION("UTF-16, big end first") {
        check_plain(read(utf16(plain_log, true)));
    }
    SECTION("carriage returns") {
        check_plain(read(with_line_ends(plain_log, "\r\n")));
    }
    SECTION("carriage returns alone") {
        check_plain(read(with_line_ends(plain_log, "\r")));
    }
    SECTION("a line that names the delimiter") {
        check_plain(read(std::string("sep=,\n").append(plain_log)));
    }
    SECTION("a title, remarks and empty lines") {
        check_plain(read(fmt::format("Our walk test,,,,\n\n# a remark\n{}\n,,,,\n\n", plain_log)));
    }
    SECTION("no line end at the end") {
        check_plain(read(plain_log.substr(0, plain_log.size() - 1)));
    }
    SECTION("other spelling, order and further columns") {
        check_plain(
            read("Score;Weather;Direction;Time;NOTE;Antenna height (m);Antenna;Power (W);Set-up;"
                 "Longitude;Latitude;Stop;Level\n"
                 "3;fine;From Mover;10:05;windy;1,5;stock;2;low;16,9002;35,5001;Gate\n"
                 " 4 ; ;to-mover;10:06;;;;; low;;; gate;S7;;;\n"
                 "0.0;;from;10:20;;3 m;half-wave;5 W;high;16,9102;35,5101;\"Ford\"\n"));
    }
}

TEST_CASE("Latin-1 becomes UTF-8", "[field-log]") {
    CHECK(decoded("M\xFChle") == "M\u00FChle");
    CHECK(decoded("M\xC3\xBChle") == "M\u00FChle");
}

TEST_CASE("quotes are read by RFC 4180", "[field-log]") {
    // RFC 4180 section 2, rules 5 to 7.
    const auto rows = table_rows("a,\"b, \"\"c\"\"\",\"d\ne\"\nf\n", ',');
    REQUIRE(rows.size() == 2);
    REQUIRE(rows[0].fields.size() == 3);
    CHECK(rows[0].fields[1] == "b, \"c\"");
    CHECK(rows[0].fields[2] == "d e");
    CHECK(rows[1].line == 3);
}

TEST_CASE("rows that make no sense are listed and the rest is used", "[field-log]") {
    const FieldLog log = read("stop,latitude,longitude,set_up,power_w,direction,score,level\n"
                              "A,35.5,16.9,low,2,from mover,3,\n"
                              "B,35.5,16.9,low,2,from mover,7,\n"   // 3
                              "C,35.5,16.9,low,2,from mover,2.5,\n" // 4
                              "D,95.5,16.9,low,2,from mover,3,\n"   // 5
                              "E,,,low,2,from mover,3,\n"           // 6
                              "F,35.5,16.9,low,-2,from mover,3,\n"  // 7
                              "G,35.5,16.9,low,2,sideways,3,\n"     // 8
                              "H,35.5,16.9,low,2,from mover,,S77\n" // 9
                              "I,35.5,16.9,low,2,from mover,-,\n"   // not tried
                              "J,35.5,16.9,low,2,from mover,,\n"    // not tried
                              "\"K,35.5,16.9,low,2,from mover,3,\n" // 12
                              "L,35.5,16.9,low,2,from mover,5,-80\n");
    REQUIRE(log.calls.size() == 2);
    CHECK(log.calls[0].stop == "A");
    CHECK(log.calls[1].stop == "L");
    CHECK(log.not_tried == 2);
    REQUIRE(log.bad_rows.size() == 8);
    const std::array expected{
        std::pair(3, "score is '7'"),
        std::pair(4, "score is '2.5'"),
        std::pair(5, "latitude is '95.5'"),
        std::pair(6, "no position"),
        std::pair(7, "power in watts is"),
        std::pair(8, "direction is 'sideways'"),
        std::pair(9, "S77"),
        std::pair(12, "quote is not closed"),
    };
    for (std::size_t k = 0; k < expected.size(); ++k) {
        CHECK(log.bad_rows[k].line == static_cast<std::size_t>(expected[k].first));
        CHECK(has(log.bad_rows[k].reason, expected[k].second));
    }
}

TEST_CASE("a forgotten quote does not swallow the rows after it", "[field-log]") {
    const FieldLog log = read("stop,latitude,longitude,score,note\n"
                              "A,35.5,16.9,3,\"lost\n"
                              "B,35.5,16.9,4,\"fine\"\n"
                              "C,35.5,16.9,5,\n");
    REQUIRE(log.calls.size() == 2);
    CHECK(log.calls[0].stop == "B");
    REQUIRE(log.bad_rows.size() == 1);
    CHECK(log.bad_rows[0].line == 2);
}

TEST_CASE("what a log leaves open is told", "[field-log]") {
    const FieldLog log = read("stop,latitude,longitude,set_up,power_w,score\n"
                              "A,35.5,16.9,low,2,3\n"
                              "A,35.6,16.9,low,5,3\n");
    REQUIRE(log.notes.size() == 3);
    CHECK(has(log.notes[0], "2 calls do not say who spoke"));
    CHECK(has(log.notes[1], "more than 100 m apart"));
    CHECK(has(log.notes[2], "differ from row to row: low") == false);
    CHECK(has(log.notes[2], "low"));
}

TEST_CASE("logs that cannot be used are refused", "[field-log]") {
    CHECK(has(refusal(""), "no line names the columns"));
    CHECK(has(refusal("stop,score\nA,3\n"), "latitude and longitude"));
    CHECK(has(refusal("stop,latitude,longitude,score\nA,35.5,16.9,9\n"), "line 2: the score"));
    CHECK(has(refusal("stop,latitude,longitude,score\nA,35.5,16.9,\n"), "fill them in"));
    CHECK(has(refusal("<gpx><not closed", "log.gpx"), "GPX"));
    CHECK_THROWS_AS(read_field_log("/no/such/log.csv"), Error);
}

TEST_CASE("a log that is invented says so", "[field-log]") {
    CHECK(read(fmt::format("# INVENTED: nobody made these calls\n{}", plain_log)).invented);
    const FieldLog demo =
        read_field_log(std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/valley-log.csv");
    CHECK(demo.invented);
    CHECK(demo.bad_rows.empty());
    CHECK(demo.calls.size() == 128);
}

TEST_CASE("waypoints are calls", "[field-log]") {
    const std::string gpx =
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"hand\" "
        "xmlns=\"http://www.topografix.com/GPX/1/1\">\n"
        "<wpt lat=\"35.5\" lon=\"16.9\"><time>2026-06-06T10:15:00Z</time><name>Gate</name>"
        "<desc>score=4; set up=high; power_w=5; direction=to mover; S7; by the wall</desc></wpt>\n"
        "<wpt lat=\"35.51\" lon=\"16.91\"><name>Ford</name><cmt>3</cmt><desc>3</desc></wpt>\n"
        "<wpt lat=\"35.52\" lon=\"16.92\"><name>Camp</name><desc>lunch</desc></wpt>\n"
        "<wpt lat=\"35.53\" lon=\"16.93\"><name>Top</name><desc>9</desc></wpt>\n</gpx>\n";
    const FieldLog log = read(gpx, "log.gpx");
    REQUIRE(log.calls.size() == 2);
    CHECK(log.calls[0].stop == "Gate");
    CHECK(log.calls[0].score == 4);
    CHECK(log.calls[0].level_dbm == -105.0);
    CHECK(log.calls[0].direction == CallDirection::to_mover);
    CHECK(log.calls[0].set_up.name == "high");
    CHECK(log.calls[0].note == "by the wall");
    CHECK(log.calls[0].time == "2026-06-06 10:15:00");
    CHECK(log.calls[1].score == 3);
    CHECK(log.not_tried == 1);
    CHECK(std::any_of(log.notes.begin(), log.notes.end(), [](const std::string& note) {
        return has(note, "Camp ('lunch')") && has(note, "score=4");
    }));
    REQUIRE(log.bad_rows.size() == 1);
    CHECK(log.bad_rows[0].line == 4);
}

TEST_CASE("nonsense never does more harm than an error", "[field-log]") {
    const ScenarioFolder folder;
    std::mt19937 random(20260606);
    constexpr int rounds = 500;
    const std::string pieces = ",;\t\"\n\r\0.-+S5<>#=\xFF\xFE\xC3 ";
    int read_well = 0;
    for (int round = 0; round < rounds; ++round) {
        std::string text = plain_log;
        const auto changes = 1 + random() % 12;
        for (unsigned change = 0; change < changes; ++change) {
            const std::size_t at = random() % text.size();
            switch (random() % 4) {
            case 0:
                text.erase(at, 1 + random() % 5);
                break;
            case 1:
                text.insert(at, 1, pieces[random() % pieces.size()]);
                break;
            case 2:
                text[at] = static_cast<char>(random() % 256);
                break;
            default:
                text.insert(at, text.substr(random() % text.size(), random() % 40));
                break;
            }
            if (text.empty()) {
                text.assign(1, ',');
            }
        }
        const auto file = folder.write("log.csv", text);
        try {
            const FieldLog log = read_field_log(file);
            ++read_well;
            for (const FieldCall& call : log.calls) {
                CHECK((call.score || call.level_dbm));
                CHECK((!call.score || (*call.score >= 0 && *call.score <= 5)));
                CHECK(std::abs(call.position.lat_deg) <= 90.0);
                CHECK_FALSE(call.set_up.name.empty());
                CHECK_FALSE(call.stop.empty());
            }
        } catch (const Error& error) {
            CHECK(error.fault() == Fault::input);
        }
    }
    CHECK(read_well > rounds / 5);
}

} // namespace earshot::field
