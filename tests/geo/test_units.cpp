#include "comma_locale.hpp"
#include "geo/text.hpp"
#include "geo/units.hpp"
#include "refusal.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <string>

using namespace earshot::geo;
using Catch::Contains;

namespace {

constexpr auto what = "--value";

Approx exactly(double value) {
    return Approx(value).epsilon(1e-14);
}

} // namespace

TEST_CASE("Lengths follow the definitions of their units") {
    // International yard and pound agreement, 1959: 1 yd = 0.9144 m exactly, so 1 ft = 0.3048 m and
    // 1 mi = 1609.344 m; nautical mile 1852 m (First International Extraordinary Hydrographic
    // Conference, Monaco, 1929). NIST SP 811, appendix B.
    CHECK(parse_length_m("6ft", what) == exactly(6 * 0.3048));
    CHECK(parse_length_m("1 mi", what) == 1609.344);
    CHECK(parse_length_m("5280ft", what) == exactly(1609.344));
    CHECK(parse_length_m("1760 yd", what) == exactly(1609.344));
    CHECK(parse_length_m("2nmi", what) == 3704.0);
    CHECK(parse_length_m("2m", what) == 2.0);
    CHECK(parse_length_m("1.5 km", what) == 1500.0);
    CHECK(parse_length_m("150 cm", what) == exactly(1.5));
    CHECK(parse_length_m(" +.5\tKM ", what) == 500.0);
    CHECK(parse_height_m("-3m", what) == -3.0);
    CHECK(parse_height_m("\u22123m", what) == -3.0);
    CHECK_THAT(refusal([] { return parse_length_m("-3m", what); }), Contains("less than nothing"));
    CHECK(parse_length_m("1e3 m", what) == 1000.0);
    CHECK(parse_length_m("6FT", what) == exactly(6 * 0.3048));
}

TEST_CASE("Powers are read in dBm") {
    // By definition 0 dBm is 1 mW and 0 dBW is 1 W (ITU-R V.574).
    CHECK(parse_power_dbm("1W", what) == exactly(30.0));
    CHECK(parse_power_dbm("1 mW", what) == Approx(0.0).margin(1e-13));
    CHECK(parse_power_dbm("1mw", what) == Approx(0.0).margin(1e-13));
    CHECK(parse_power_dbm("2kW", what) == exactly(60.0 + 10.0 * std::log10(2.0)));
    CHECK(parse_power_dbm("37dBm", what) == 37.0);
    CHECK(parse_power_dbm("-3 dBm", what) == -3.0);
    CHECK(parse_power_dbm("7 dBW", what) == 37.0);
    // 5 W is 36.99 dBm: 30 + 10 log10(5), log10(5) = 0.69897 in any table of logarithms.
    CHECK(parse_power_dbm("5W", what) == Approx(36.9897).margin(1e-5).epsilon(0));
    CHECK(watts_from_dbm(parse_power_dbm("0.5W", what)) == exactly(0.5));
    CHECK(dbm_from_watts(1000.0) == exactly(60.0));
}

TEST_CASE("Levels are read in dBm") {
    // 1 uV across 50 ohms is (1e-6)^2 / 50 = 2e-14 W, -106.99 dBm (Ohm's law).
    CHECK(parse_level_dbm("1uV", what) == Approx(10.0 * std::log10(2e-11)).epsilon(1e-12));
    CHECK(parse_level_dbm("1 \u00B5V", what) == Approx(-106.99).margin(0.005).epsilon(0));
    CHECK(parse_level_dbm("1\u03BCV", what) == parse_level_dbm("1uV", what));
    CHECK(parse_level_dbm("0.1uV", what) == Approx(-126.99).margin(0.005).epsilon(0));
    CHECK(parse_level_dbm("-119dBm", what) == -119.0);
    CHECK(dbm_from_microvolts(1e6 * std::sqrt(50.0)) == exactly(30.0)); // 1 W
}

TEST_CASE("Gains are read in dBi and losses in dB") {
    // ITU-R V.573: the gain of a half-wave dipole is 2.15 dB over an isotropic radiator.
    CHECK(parse_gain_dbi("0dBd", what) == 2.15);
    CHECK(parse_gain_dbi("6 dBd", what) == exactly(8.15));
    CHECK(parse_gain_dbi("-2.5dBi", what) == -2.5);
    CHECK(parse_gain_dbi("2.15DBI", what) == 2.15);
    CHECK(parse_loss_db("1.5dB", what) == 1.5);
    CHECK(parse_loss_db("0 db", what) == 0.0);
}

TEST_CASE("Frequencies are read in MHz") {
    CHECK(parse_frequency_mhz("146.52MHz", what) == 146.52);
    CHECK(parse_frequency_mhz("146.52 mhz", what) == 146.52);
    CHECK(parse_frequency_mhz("146520 kHz", what) == 146.52);
    CHECK(parse_frequency_mhz("146520000Hz", what) == 146.52);
    CHECK(parse_frequency_mhz("0.44 GHz", what) == exactly(440.0));
    CHECK(parse_frequency_mhz("30MHz", what) == 30.0);
    CHECK(parse_frequency_mhz("6GHz", what) == 6000.0);
}

TEST_CASE("Plain numbers and percentages keep to their limits") {
    CHECK(parse_number("1.5", what, 0.0, 2.0) == 1.5);
    CHECK(parse_number(" -7 ", what, -7.0, 2.0) == -7.0);
    CHECK(parse_percent("50", what, 1.0, 99.0) == 50.0);
    CHECK(parse_percent("99 %", what, 1.0, 99.0) == 99.0);
    CHECK_THAT(refusal([] { return parse_number("2.01", what, 0.0, 2.0); }),
               Contains("--value") && Contains("\"2.01\"") && Contains("from 0 to 2"));
    CHECK_THAT(refusal([] { return parse_number("1.5x", what, 0.0, 2.0); }), Contains("\"x\""));
    CHECK_THAT(refusal([] { return parse_number("1 2", what, 0.0, 2.0); }), Contains("\"2\""));
    CHECK_THAT(refusal([] { return parse_percent("0.5%", what, 1.0, 99.0); }),
               Contains("from 1 to 99"));
    CHECK_THAT(refusal([] { return parse_percent("50%%", what, 1.0, 99.0); }), Contains("\"%%\""));
    for (const char* text : {"", " ", "nan", "inf", "-inf", "--1", "+-1", "1e999", "one", ".", "-",
                             "0x10", "1,5", "1e"}) {
        CAPTURE(text);
        CHECK_THAT(refusal([&] { return parse_number(text, what, -1e308, 1e308); }),
                   Contains("--value") && Contains(in_quotes(text)));
    }
}

// A foot is 0.3048 m and has 12 inches (by definition).
TEST_CASE("feet and inches are read by their marks") {
    CHECK(parse_length_m("6'", what) == exactly(6 * 0.3048));
    CHECK(parse_height_m("-6'", what) == exactly(-6 * 0.3048));
    for (const char* text : {"5'6\"", "5' 6\"", "5'6", "5'6''", "5\u20326\u2033", "5\u20196\u201D",
                             "5ft 6in", "5ft6in", "5.5'", "66in"}) {
        CAPTURE(text);
        CHECK(parse_length_m(text, what) == Approx(5.5 * 0.3048).epsilon(1e-12));
    }
}

TEST_CASE("A length without a usable unit or number is refused with an example") {
    CHECK_THAT(refusal([] { return parse_length_m("6", "--antenna-height"); }),
               Contains("--antenna-height") && Contains("\"6\" has no unit") &&
                   Contains("6ft or 2m"));
    CHECK_THAT(refusal([] { return parse_length_m("6 furlongs", what); }),
               Contains("\"furlongs\"") && Contains("nmi"));
    CHECK_THAT(refusal([] { return parse_length_m("1,5 m", what); }), Contains("point"));
    CHECK_THAT(refusal([] { return parse_length_m("1\n2 m", what); }), Contains("\"1?2 m\""));
    for (const char* text : {"", "m", "nan m", "inf m", "6ft 2", "6ft 12in", "5'12\"", "5'6'",
                             "-5'6\"", "6 m m", "1e999m", "1e308km", "--6m", "6..5m", "6MHz"}) {
        CAPTURE(text);
        CHECK_THAT(refusal([&] { return parse_length_m(text, what); }),
                   Contains("--value") && Contains(in_quotes(text)) && Contains("6ft or 2m"));
    }
}

TEST_CASE("Powers, levels, gains and losses that make no sense are refused") {
    CHECK_THAT(refusal([] { return parse_power_dbm("5", what); }), Contains("no unit"));
    CHECK_THAT(refusal([] { return parse_power_dbm("5 dB", what); }), Contains("dBm"));
    CHECK_THAT(refusal([] { return parse_power_dbm("0W", what); }), Contains("above zero"));
    CHECK_THAT(refusal([] { return parse_power_dbm("-5W", what); }), Contains("above zero"));
    CHECK_THAT(refusal([] { return parse_power_dbm("5MW", what); }), Contains("megawatts"));
    CHECK_THAT(refusal([] { return parse_power_dbm("nanW", what); }), Contains("\"nanW\""));
    CHECK_THAT(refusal([] { return parse_level_dbm("0uV", what); }), Contains("above zero"));
    CHECK_THAT(refusal([] { return parse_level_dbm("-119", what); }), Contains("-119dBm"));
    CHECK_THAT(refusal([] { return parse_level_dbm("0.25mV", what); }), Contains("\"mV\""));
    CHECK_THAT(refusal([] { return parse_gain_dbi("3dB", what); }), Contains("dBi or dBd"));
    CHECK_THAT(refusal([] { return parse_loss_db("-1dB", what); }), Contains("negative"));
    CHECK_THAT(refusal([] { return parse_loss_db("1", what); }), Contains("1.5dB"));
}

TEST_CASE("Frequencies outside 30 MHz to 6 GHz are refused") {
    for (const char* text :
         {"29.999MHz", "6.001GHz", "146.52GHz", "146.52kHz", "0MHz", "-146MHz"}) {
        CAPTURE(text);
        CHECK_THAT(refusal([&] { return parse_frequency_mhz(text, what); }),
                   Contains(in_quotes(text)) && Contains("30MHz to 6GHz"));
    }
    CHECK_THAT(refusal([] { return parse_frequency_mhz("146.52", what); }), Contains("146.52MHz"));
}

TEST_CASE("Distances and powers print with three figures at most") {
    CHECK(format_distance(850.4) == "850 m");
    CHECK(format_distance(12.44) == "12.4 m");
    CHECK(format_distance(12'440.0) == "12.4 km");
    CHECK(format_distance(999.4) == "999 m");
    CHECK(format_distance(999.6) == "1 km");
    CHECK(format_distance(1'050.0) == "1.05 km");
    CHECK(format_distance(123'456.0) == "123 km");
    CHECK(format_distance(1'234'567.0) == "1230 km");
    CHECK(format_distance(0.0) == "0 m");
    CHECK(format_distance(0.05) == "0.05 m");
    CHECK(format_distance(1000.0) == "1 km");
    CHECK(format_distance(10'000.0) == "10 km");
    CHECK(format_power(dbm_from_watts(5.0)) == "5 W");
    CHECK(format_power(dbm_from_watts(0.5)) == "500 mW");
    CHECK(format_power(37.0) == "5.01 W");
    CHECK(format_power(30.0) == "1 W");
    CHECK(format_power(0.0) == "1 mW");
    CHECK(format_power(dbm_from_watts(0.9999)) == "1 W");
    CHECK(format_power(60.0) == "1 kW");
    CHECK(format_power(-20.0) == "0.01 mW");
}

TEST_CASE("A locale with decimal commas changes nothing in units") {
    const CommaLocale comma;
    CHECK(parse_length_m("1.5m", what) == 1.5);
    CHECK(format_distance(1'500.0) == "1.5 km");
}

TEST_CASE("Plain text holds nothing that is obeyed instead of read") {
    CHECK(plain_text("Ombrel Mill, \xC3\xA9t\xC3\xA9 \xE2\x88\x92 5\n\tx") ==
          "Ombrel Mill, \xC3\xA9t\xC3\xA9 \xE2\x88\x92 5\n\tx");
    CHECK(plain_text("a\x1B[31mb\x7F\x07") == "a [31mb  ");
    // U+009B alone opens a command of a terminal (ECMA-48, 8-bit codes); U+00A0 is a blank.
    CHECK(plain_text("a\xC2\x9B"
                     "31m\xC2\xA0") == "a 31m\xC2\xA0");
    CHECK(plain_text("a\xE2\x80\xAE"
                     "b\xE2\x81\xA6"
                     "c\xE2\x80\x93",
                     '?') == "a?b?c\xE2\x80\x93");
    // Not characters of XML 1.0, section 2.2; U+FFFD is one.
    CHECK(plain_text("\xEF\xBF\xBE\xEF\xBF\xBF\xEF\xBF\xBD") == "  \xEF\xBF\xBD");
    CHECK(plain_text("\xC2") == "\xC2");
}
