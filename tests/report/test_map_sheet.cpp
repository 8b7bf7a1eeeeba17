#include "geo/units.hpp"
#include "page_checks.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pen.hpp"
#include "report/say/briefing.hpp"
#include "report/say/margin_classes.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <regex>
#include <utility>

/// The printed map page, read back from its PDF. Stations and places are invented.

namespace earshot::report {
namespace {

using Catch::Contains;
using test::check_inside;
using test::check_looks_like;
using test::check_no_word_covers_another;
using test::error_of;
using test::OnePage;
using test::TemporaryFolder;

using test::nan;

/// Hills with a margin that falls off from the middle, `cell_m` wide cells.
Briefing invented_briefing(int columns, int rows, double cell_m = 60.0) {
    Briefing briefing;
    briefing.title = "Valley fair: where you will be heard";
    briefing.date = "Saturday 6 June (invented)";
    briefing.prepared_by = "Jory Thandle, net control";
    briefing.correction = "losses 2.1 dB more, from 40 reports";
    briefing.notes = {"All of it is invented."};
    briefing.declination_deg = 4.5;
    const terrain::Georeference place("EPSG:32633", 660000.0, 3945000.0, cell_m, -cell_m);
    coverage::Band margin{"margin", "dB", {}};
    std::vector<float> heights;
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            const double x = 2.0 * (column + 0.5) / columns - 1.0;
            const double y = 2.0 * (row + 0.5) / rows - 1.0;
            const double away = std::hypot(x, y);
            const double height = 300.0 + 180.0 * std::sin(5.0 * x + 2.0 * y) +
                                  90.0 * std::cos(7.0 * y - 2.0 * x * y);
            heights.push_back(static_cast<float>(height));
            margin.values.push_back(
                away > 0.98 ? nan
                            : static_cast<float>(0.06 * (height - 300.0) + 28.0 - 38.0 * away));
        }
    }
    briefing.map.columns = columns;
    briefing.map.rows = rows;
    briefing.map.georeference = place;
    briefing.map.bands = {margin};
    briefing.map.metadata = {{"PROGRAM", "earshot 0.1.0"},
                             {"CREATED", "2026-06-05T18:00:00Z"},
                             {"STATION_NAME", "Ombrel Mill; Veldrath Top"},
                             {"STATION_POWER_DBM", "43.979; 36.9897"},
                             {"STATION_ANTENNA_GAIN_DBI", "5.15; -3"},
                             {"STATION_ANTENNA_HEIGHT_M", "9; 1.8288"},
                             {"RECEIVER_ANTENNA_HEIGHT_M", "1.5"},
                             {"RECEIVER_ANTENNA_GAIN_DBI", "-3"},
                             {"RECEIVER_THRESHOLD_DBM", "-116"},
                             {"FREQUENCY_MHZ", "146.52"},
                             {"METHOD", "p1812"},
                             {"METHOD_SOURCE", "ITU-R P.1812-8, the whole of annex 1"},
                             {"TIME_PERCENT", "50"},
                             {"PLACES_PERCENT", "50"},
                             {"POLARIZATION", "vertical"},
                             {"TERRAIN", "/some/where/valley.tif; 400 x 300 cells, EPSG:32633"},
                             {"GROUND_COVER", "none"}};
    briefing.ground = {columns, rows, place, heights};
    const auto at = [&](double x, double y) { return place.position_of({x * columns, y * rows}); };
    briefing.stations = {{"Ombrel Mill", at(0.5, 0.5), 9.0, {}},
                         {"Veldrath Top", at(0.2, 0.35), 1.8, {}}};
    briefing.places = {{"Ombrel Mill", at(0.501, 0.5), 1.0},
                       {"Nessavin", at(0.3, 0.7), 1.0},
                       {"مرصد الجبل", at(0.7, 0.25), 1.0},
                       {"תחנה עליונה", at(0.75, 0.8), 1.0},
                       {"Żółw d'Élan", at(0.6, 0.65), 1.0},
                       {"The meadow behind the old chapel on the road to Quorrel and beyond, "
                        "where the tents of the second company stand",
                        at(0.15, 0.15), 1.0}};
    return briefing;
}

const PageWords& sheet_words() {
    static const PageWords all{"Valley net (invented)\nSaturday 6 June", "not on this page",
                               "page 1 of 7"};
    return all;
}

OnePage map_page(const Briefing& briefing, Paper paper, Orientation orientation) {
    return OnePage(paper, orientation, [&](cairo_t* canvas) {
        draw_map_sheet(canvas, printed_area(paper, orientation), sheet_words(), briefing.map,
                       briefing.ground, map_sheet_of(briefing));
    });
}

TEST_CASE("the map page says what it must", "[pages]") {
    const OnePage page = map_page(invented_briefing(300, 280), Paper::a4, Orientation::upright);
    const std::string text = page.text();
    for (const char* wanted :
         {"Valley fair: where you will be heard", "Valley net (invented)", "page 1 of 7",
          // the legend, with the numbers behind it
          "clear", "16 dB and more", "little noise even while walking", "easy to read",
          "6 to 16 dB", "readable with effort", "0 to 6 dB", "some words", "−3 to 0 dB",
          "not heard", "below −3 dB", "no prediction",
          // inputs, model, correction, date
          "25 W", "5.2 dBi", "146.52 MHz, vertical", "needs −116 dBm",
          "ITU-R P.1812-8, the whole of annex 1", "50 % of the time, 50 % of places", "valley.tif",
          "losses 2.1 dB more, from 40 reports", "Saturday 6 June (invented)",
          "Jory Thandle, net control", "2026-06-05 by earshot 0.1.0",
          // scale, norths, grid
          "km", "mi", "Contours every", "UTM grid every", "zone 33 north",
          "Magnetic north is 4.5° east of true north", "Grid north is 1.", "000 mE",
          // stations and places
          "Ombrel Mill", "Veldrath Top", "Nessavin", "Żółw d'Élan", "The meadow behind",
          // cautions and notes
          "A prediction is no guarantee", "All of it is invented."}) {
        CAPTURE(text);
        CHECK_THAT(text, Contains(wanted));
    }
    CHECK_THAT(text, !Contains("/some/where"));
    // The place that is the station by the same name has no label of its own: once on the map, once
    // among the inputs.
    CHECK(test::count_of(text, "Ombrel Mill") == 2);
}

TEST_CASE("text from right to left keeps its letters", "[pages]") {
    // pdftotext gives the letters in reading order, between marks for the direction (U+202A to
    // U+202C), with gaps.
    const std::string letters = std::regex_replace(
        map_page(invented_briefing(300, 280), Paper::a4, Orientation::upright).text(),
        std::regex("\xE2\x80[\xAA\xAB\xAC]| "), "");
    CHECK_THAT(letters, Contains("תחנהעליונה"));
    CHECK_THAT(letters, Contains("مرصدالجبل"));
}

TEST_CASE("words of the map page stay on the paper and off each other", "[pages]") {
    const auto paper = GENERATE(Paper::a4, Paper::letter);
    const auto orientation = GENERATE(Orientation::upright, Orientation::wide);
    CAPTURE(static_cast<int>(paper), static_cast<int>(orientation));
    const OnePage page = map_page(invented_briefing(300, 280), paper, orientation);
    check_inside(page.words(), printed_area(paper, orientation));
    check_no_word_covers_another(page.words());
}

TEST_CASE("the map page looks as it did when it was looked at", "[pages]") {
    check_looks_like(map_page(invented_briefing(300, 280), Paper::a4, Orientation::upright),
                     "map-upright");
    check_looks_like(map_page(invented_briefing(320, 200), Paper::letter, Orientation::wide),
                     "map-wide");
}

TEST_CASE("the scale on the page is that of the grid on it", "[pages]") {
    // The labels of two lines of the grid, 72 points to the inch.
    const OnePage page = map_page(invented_briefing(300, 280), Paper::a4, Orientation::upright);
    const std::string text = page.text();
    std::smatch ratio_text;
    REQUIRE(std::regex_search(text, ratio_text, std::regex("1 : ([0-9]+)[^0-9]+([0-9]{3}) if")));
    const double ratio = std::stod(ratio_text[1].str() + ratio_text[2].str());
    // Eastings along the upper edge, in whole kilometres without the hundreds.
    std::vector<test::PageWord> labels;
    for (const test::PageWord& word : page.words()) {
        if ((word.text == "64" || word.text == "74") && word.top < 110.0) {
            labels.push_back(word);
        }
    }
    REQUIRE(labels.size() == 2);
    const double apart_pt = std::abs((labels[1].left + labels[1].right) / 2.0 -
                                     (labels[0].left + labels[0].right) / 2.0);
    CHECK(apart_pt * 0.0254 / 72.0 * ratio == Approx(10000.0).epsilon(0.03));
}

TEST_CASE("the same briefing gives the same bytes", "[pages]") {
    const TemporaryFolder folder;
    const Briefing briefing = invented_briefing(120, 100);
    for (const char* name : {"a.pdf", "b.pdf"}) {
        PdfDocument document({briefing.title, briefing.prepared_by, "2026-06-05T18:00:00Z"});
        draw_map_sheet(document.add_page(Paper::a4, Orientation::wide, "Map"),
                       printed_area(Paper::a4, Orientation::wide), sheet_words(), briefing.map,
                       briefing.ground, map_sheet_of(briefing));
        document.write(folder / name);
    }
    const std::string content = test::content_of(folder / "a.pdf");
    CHECK(content.size() > 20000);
    CHECK(content == test::content_of(folder / "b.pdf"));
}

TEST_CASE("a PDF says what it is", "[pages]") {
    const TemporaryFolder folder;
    PdfDocument document({"Valley fair", "Jory Thandle", "2026-06-05T18:00:00Z"});
    Text(document.add_page(Paper::a4, Orientation::wide, "First"), "one", {}).draw(50.0, 50.0);
    Text(document.add_page(Paper::letter, Orientation::upright, "Second"), "two", {})
        .draw(50.0, 50.0);
    document.write(folder / "two.pdf");
    CHECK(folder.file_count() == 1);
    // ISO 216: A4 is 210 mm by 297 mm, 595.28 by 841.89 points; Letter is 8.5 in by 11 in.
    const std::string info =
        test::output_of("TZ=UTC pdfinfo -f 1 -l 2 '" + (folder / "two.pdf").string() + "'");
    CHECK_THAT(info, Contains("Valley fair") && Contains("Jory Thandle"));
    CHECK_THAT(info, Contains("Jun  5 18:00:00 2026"));
    CHECK_THAT(info, Contains("841.89 x 595.276 pts") && Contains("612 x 792 pts"));
    // All fonts are in the file: columns "emb" of pdffonts.
    const std::string fonts =
        test::output_of("pdffonts '" + (folder / "two.pdf").string() + "' | tail -n +3");
    CHECK_THAT(fonts, Contains("yes"));
    CHECK_THAT(fonts, !Contains("no  no"));
}

TEST_CASE("the map page shows which of several stations is heard best where", "[pages]") {
    Briefing briefing = invented_briefing(300, 280);
    CHECK_FALSE(panel_content(briefing.map, map_sheet_of(briefing)).serving);
    // The second station in the western third, the first elsewhere; a speck of the second in the
    // east, which a small map leaves out.
    coverage::Band serving{
        std::string(coverage::band_info(coverage::BandKind::serving).title), "1", {}};
    for (int row = 0; row < 280; ++row) {
        for (int column = 0; column < 300; ++column) {
            const bool speck = column == 250 && row == 140;
            serving.values.push_back(column < 100 || speck ? 2.0F : 1.0F);
        }
    }
    briefing.map.bands.push_back(serving);
    const auto areas = panel_content(briefing.map, map_sheet_of(briefing)).serving;
    REQUIRE(areas);
    std::size_t western = 0;
    for (const std::uint8_t station : areas->station) {
        western += station == 2 ? 1U : 0U;
    }
    CHECK(static_cast<double>(western) / static_cast<double>(areas->station.size()) ==
          Approx(1.0 / 3.0).margin(0.01));
    REQUIRE(areas->numbers[0]);
    REQUIRE(areas->numbers[1]);
    CHECK(areas->numbers[1]->x < areas->columns / 3.0);
    CHECK(areas->numbers[0]->x > areas->columns / 3.0);
    const Paper paper = GENERATE(Paper::a4, Paper::letter);
    const Orientation orientation = GENERATE(Orientation::upright, Orientation::wide);
    const OnePage page = map_page(briefing, paper, orientation);
    CHECK_THAT(page.text(), Contains("Which station is heard best where"));
    CHECK_THAT(page.text(), Contains("Veldrath Top: 5 W, \u22123 dBi, 1.8 m up"));
    check_inside(page.words(), printed_area(paper, orientation));
    check_no_word_covers_another(page.words());
    if (paper == Paper::a4 && orientation == Orientation::upright) {
        check_looks_like(page, "map-stations");
    }
}

TEST_CASE("paper is turned to suit the map") {
    const auto turned = [](int columns, int rows) {
        return fitting_orientation(invented_briefing(columns, rows).map, Paper::a4);
    };
    CHECK(turned(60, 60) == Orientation::upright);
    CHECK(turned(60, 90) == Orientation::upright);
    CHECK(turned(90, 55) == Orientation::wide);
    CHECK(turned(200, 20) == Orientation::wide);
}

TEST_CASE("maps of any shape stay on the paper", "[pages]") {
    const auto [columns, rows] =
        GENERATE(std::pair{20, 200}, std::pair{200, 20}, std::pair{3, 2}, std::pair{1, 1});
    const auto orientation = GENERATE(Orientation::upright, Orientation::wide);
    CAPTURE(columns, rows, static_cast<int>(orientation));
    const OnePage page = map_page(invented_briefing(columns, rows), Paper::letter, orientation);
    check_inside(page.words(), printed_area(Paper::letter, orientation));
}

TEST_CASE("the legend tells how much of the ground each class has") {
    Briefing briefing = invented_briefing(10, 10);
    std::vector<float>& margin = briefing.map.bands.front().values;
    for (std::size_t k = 0; k < margin.size(); ++k) {
        // 20 unknown; of the other 80: 40 clear, 20 with effort, 20 not heard.
        margin[k] = k < 20 ? nan : (k < 60 ? 30.0F : (k < 80 ? 2.0F : -20.0F));
    }
    const PanelContent content = panel_content(briefing.map, map_sheet_of(briefing));
    CHECK(content.shares_percent == std::vector<double>{50.0, 0.0, 25.0, 0.0, 25.0});
    CHECK(content.any_unknown);
}

TEST_CASE("facts come from the map's metadata") {
    const Briefing briefing = invented_briefing(4, 4);
    const auto facts = map_facts(briefing.map);
    const auto value = [&facts](const std::string& label) {
        const auto found = std::find_if(facts.begin(), facts.end(),
                                        [&](const auto& fact) { return fact.first == label; });
        return found == facts.end() ? std::string() : found->second;
    };
    // 43.979 dBm is 25 W and 36.9897 dBm is 5 W: 10 log10 of the power in mW.
    CHECK(std::regex_replace(value("stations"), std::regex("\u00a0"), " ") ==
          "Ombrel Mill: 25 W, 5.2 dBi, 9.0 m up\nVeldrath Top: 5 W, −3 dBi, 1.8 m up");
    CHECK(value("frequency") == "146.52 MHz, vertical");
    CHECK(value("ground") == "valley.tif");
    CHECK(map_facts({}).empty());
}

// ---- Bad input ----------------------------------------------------------------------------------

TEST_CASE("maps that cannot be shown are refused in one line") {
    Briefing briefing = invented_briefing(8, 8);
    const char* reason = nullptr;
    SECTION("empty") {
        briefing.map.bands.clear();
        reason = "empty";
    }
    SECTION("all nodata") {
        briefing.map.bands.front().values.assign(64, nan);
        reason = "no prediction";
    }
    SECTION("without our metadata") {
        briefing.map.metadata = {{"AREA", "somewhere"}};
        reason = "does not say what it was made with";
    }
    const auto error = error_of([&] { (void)map_sheet_of(briefing); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::input);
    CHECK_THAT(error->what(), Contains(reason));
    CHECK_THAT(error->what(), !Contains("\n"));
}

TEST_CASE("an empty map cannot be drawn") {
    const TemporaryFolder folder;
    const auto error = error_of([&] { write_map_picture(folder / "map.png", {}, {}, {}); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::input);
    CHECK(folder.file_count() == 0);
}

TEST_CASE("a script that no font has is named, and nothing is written") {
    const TemporaryFolder folder;
    Briefing briefing = invented_briefing(20, 20);
    // U+12000 is in the script Cuneiform (Unicode 15.0, Scripts.txt), which the fonts of this
    // program do not have.
    briefing.places.push_back({"Lugal \U00012000", briefing.stations.front().position, 1.0});
    const auto error = error_of([&] {
        write_map_picture(folder / "map.png", briefing.map, briefing.ground, map_sheet_of(briefing),
                          sheet_words(), 900);
    });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK_THAT(error->what(), Contains("Lugal") && Contains("Cuneiform") && Contains("U+12000"));
    CHECK_THAT(error->what(), !Contains("\n"));
    CHECK(folder.file_count() == 0);
}

TEST_CASE("control characters in a name are no reason to refuse it") {
    const Canvas canvas = measuring_canvas();
    const Text text(canvas.get(), "a\tb\x01\ncd", {10.0, false, {}});
    CHECK(text.width_px() == Approx(Text(canvas.get(), "a b  cd", {10.0, false, {}}).width_px()));
}

TEST_CASE("a folder that has gone leaves nothing half written") {
    const TemporaryFolder folder;
    const auto gone = folder / "gone";
    std::filesystem::create_directory(gone);
    PdfDocument document({"", "", ""});
    Text(document.add_page(Paper::a4, Orientation::wide, "Map"), "one", {}).draw(50.0, 50.0);
    std::filesystem::remove(gone);
    const auto error = error_of([&] { document.write(gone / "map.pdf"); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK_THAT(error->what(), Contains("gone"));
    CHECK(folder.file_count() == 0);
}

TEST_CASE("a full disk leaves no half a PDF") {
    const TemporaryFolder folder;
    PdfDocument document({"", "", ""});
    Text(document.add_page(Paper::a4, Orientation::wide, "Map"), "one", {}).draw(50.0, 50.0);
    const auto error = error_of([&] {
        const test::FileSizeLimit full(500);
        document.write(folder / "map.pdf");
    });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK(folder.file_count() == 0);
}

} // namespace
} // namespace earshot::report
