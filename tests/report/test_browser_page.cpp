#include "link/quality.hpp"
#include "output_checks.hpp"
#include "report/files/browser_page.hpp"
#include "report/say/briefing.hpp"

#include <catch2/catch.hpp>
#include <cpl_conv.h>
#include <cpl_string.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace earshot::report {
namespace {

using Catch::Matchers::Contains;
using test::error_of;
using test::TemporaryFolder;

using test::nan;

// ---- Rasters ------------------------------------------------------------------------------------

TEST_CASE("margins keep to a tenth of a decibel and to their class", "[browser_page]") {
    // Classes begin at 16, 6, 0, -3 and -6 dB (docs/woods-and-noise.md); the rest is rounding.
    const std::vector<float> margins{12.34F, 12.36F, 5.96F, 6.0F,   -0.04F, 0.04F,
                                     15.98F, -3.04F, 400.F, 5000.F, nan};
    CHECK(margin_numbers(margins) == std::vector<std::int16_t>{123, 124, 59, 60, -1, 0, 159, -31,
                                                               4000, 32767, packed_unknown});
}

TEST_CASE("no margin changes its class on the way into the page", "[browser_page]") {
    std::vector<float> margins;
    for (int i = -2000; i <= 4000; ++i) {
        margins.push_back(static_cast<float>(i) * 0.01F);
    }
    const std::vector<std::int16_t> numbers = margin_numbers(margins);
    for (std::size_t i = 0; i < margins.size(); ++i) {
        const auto margin = static_cast<double>(margins[i]);
        const double shown = margin_steps.step * numbers[i];
        CHECK(std::abs(shown - margin) <= 0.1 + 1e-5);
        CHECK(link::readability(shown).readability == link::readability(margin).readability);
    }
}

TEST_CASE("steps fit the span of the values", "[browser_page]") {
    // 16 bits hold 65535 values: 6553 m in steps of 0.1 m, 13107 m in steps of 0.2 m.
    CHECK(fitting_steps(std::vector<float>{0.0F, nan, 6500.0F}).step == Approx(0.1));
    CHECK(fitting_steps(std::vector<float>{-400.0F, 8849.0F}).step == Approx(0.2));
    CHECK(fitting_steps(std::vector<float>{nan, nan}).step == Approx(0.1));
    const std::vector<float> heights{-10900.0F, 8848.9F, 0.0F, nan};
    const Steps steps = fitting_steps(heights);
    const std::vector<std::int16_t> numbers = whole_numbers(heights, steps);
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(std::abs(steps.offset + steps.step * numbers[i] - static_cast<double>(heights[i])) <=
              0.5 * steps.step + 1e-9);
    }
    CHECK(numbers[3] == packed_unknown);
}

TEST_CASE("rasters are packed as described", "[browser_page]") {
    // By hand: 300 298 / -32768 -32767: differences 300 -2 / -33068 1, modulo 65536 0x012c 0xfffe /
    // 0x7ed4 0x0001; unpacked by GDAL.
    const std::vector<std::int16_t> numbers{300, 298, -32768, -32767};
    std::string text = packed(numbers, 2);
    const int length = CPLBase64DecodeInPlace(reinterpret_cast<GByte*>(text.data()));
    std::array<unsigned char, 8> planes{};
    std::size_t size = 0;
    REQUIRE(CPLZLibInflate(text.data(), static_cast<std::size_t>(length), planes.data(),
                           planes.size(), &size) != nullptr);
    CHECK(size == planes.size());
    CHECK(planes == std::array<unsigned char, 8>{0x2c, 0xfe, 0xd4, 0x01, 0x01, 0xff, 0x7e, 0x00});
}

// ---- The page -----------------------------------------------------------------------------------

/// A slope with one station on it. INVENTED.
Briefing small_briefing() {
    constexpr int columns = 40;
    constexpr int rows = 30;
    Briefing briefing;
    briefing.title = "Slope";
    briefing.map.columns = briefing.ground.columns = columns;
    briefing.map.rows = briefing.ground.rows = rows;
    briefing.map.georeference = briefing.ground.georeference =
        terrain::Georeference("EPSG:32633", 660000.0, 3945000.0, 30.0, -30.0);
    coverage::Band margin{"margin", "dB", {}};
    for (int i = 0; i < columns * rows; ++i) {
        margin.values.push_back(i % 7 == 0 ? nan : static_cast<float>(i % 50) - 10.0F);
        briefing.ground.height_m.push_back(static_cast<float>(i % columns) * 5.0F);
    }
    briefing.map.bands.push_back(std::move(margin));
    briefing.map.metadata = {{"STATION_NAME", "Ombrel Mill"},
                             {"FREQUENCY_MHZ", "146.52"},
                             {"METHOD", "p1812"},
                             {"METHOD_SOURCE", "ITU-R P.1812-8, the whole of annex 1"},
                             {"RECEIVER_THRESHOLD_DBM", "-116"},
                             {"TIME_PERCENT", "50"},
                             {"PLACES_PERCENT", "50"}};
    briefing.stations.push_back(
        {"Ombrel Mill", briefing.map.georeference.position_of({12.0, 9.0}), 9.0, {}});
    return briefing;
}

nlohmann::json data_of(const Briefing& briefing) {
    return nlohmann::json::parse(browser_data(briefing));
}

TEST_CASE("the page knows where its cells are", "[browser_page]") {
    const Briefing briefing = small_briefing();
    const nlohmann::json data = data_of(briefing);
    const nlohmann::json& knots = data["grid"]["knots"];
    const std::size_t count = knots["count"];
    REQUIRE(knots["latitude"].size() == (count + 1) * (count + 1));
    // The last knot is the lower right corner of the last cell.
    const geo::LatLon corner = briefing.map.georeference.position_of({39.5, 29.5});
    CHECK(knots["latitude"].back().get<double>() == Approx(corner.lat_deg).margin(1e-8));
    CHECK(knots["longitude"].back().get<double>() == Approx(corner.lon_deg).margin(1e-8));
    CHECK(data["stations"][0]["column"].get<double>() == Approx(12.0).margin(0.01));
    CHECK(data["stations"][0]["groundM"].get<double>() == Approx(60.0).margin(0.1));
}

TEST_CASE("chances come from the map alone", "[browser_page]") {
    Briefing briefing = small_briefing();
    // What a margin is worth hangs on its path, which a band of margins does not tell.
    CHECK(data_of(briefing)["chance"].is_null());

    briefing.map.bands.push_back({"chance of contact", "%", briefing.map.bands.front().values});
    CHECK(data_of(briefing)["chance"].contains("columns") ==
          data_of(briefing)["margin"].contains("columns"));
    CHECK(data_of(briefing)["chance"].is_object());
}

TEST_CASE("no word in a briefing becomes a part of the page", "[browser_page]") {
    Briefing briefing = small_briefing();
    briefing.title = "</title><script>alert(1)</script> {{data}} & more";
    briefing.stations.front().name = "</script><script>alert(2)</script>";
    briefing.notes = {"broken text \xff\xfe", "{{title}}"};
    CHECK(browser_data(briefing).find('<') == std::string::npos);
    if (!browser_page_available()) {
        return;
    }
    const TemporaryFolder folder;
    write_browser_page(folder / "page.html", briefing);
    const std::string page = test::content_of(folder / "page.html");
    CHECK(page.find("<script>alert") == std::string::npos);
    CHECK_THAT(page, Contains("<title>&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt; "
                              "{{data}} &amp; more</title>"));
    CHECK(folder.file_count() == 1);
}

TEST_CASE("maps that make no page are refused in one line", "[browser_page]") {
    const auto refusal = [](const Briefing& briefing, Fault code) {
        const auto error = error_of([&] { (void)browser_data(briefing); });
        REQUIRE(error);
        CHECK(error->fault() == code);
        CHECK(std::string(error->what()).find('\n') == std::string::npos);
        return std::string(error->what());
    };
    Briefing unknown = small_briefing();
    std::ranges::fill(unknown.map.bands.front().values, nan);
    CHECK_THAT(refusal(unknown, Fault::input), Contains("no cell"));

    Briefing nameless = small_briefing();
    nameless.map.metadata.clear();
    CHECK_THAT(refusal(nameless, Fault::input), Contains("FREQUENCY_MHZ"));

    Briefing lonely = small_briefing();
    lonely.stations.clear();
    CHECK_THAT(refusal(lonely, Fault::input), Contains("STATION_NAME"));

    Briefing empty = small_briefing();
    empty.map.bands.clear();
    CHECK_THAT(refusal(empty, Fault::input), Contains("empty"));

    Briefing huge = small_briefing();
    huge.map.columns = huge.map.rows = 10000;
    CHECK_THAT(refusal(huge, Fault::usage), Contains("10000 x 10000"));
}

TEST_CASE("a page that cannot be written leaves nothing behind", "[browser_page]") {
    const TemporaryFolder folder;
    const auto error =
        error_of([&] { write_browser_page(folder / "missing" / "page.html", small_briefing()); });
    REQUIRE(error);
    CHECK(error->fault() == (browser_page_available() ? Fault::output : Fault::usage));
    CHECK_THAT(error->what(), Contains("page.html") || Contains("missing"));
    CHECK(folder.file_count() == 0);
}

} // namespace
} // namespace earshot::report
