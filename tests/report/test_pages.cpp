#include "coverage/ground.hpp"
#include "geo/units.hpp"
#include "link/exposure.hpp"
#include "link/handheld.hpp"
#include "page_checks.hpp"
#include "plan/hearing.hpp"
#include "report/draw/pages.hpp"
#include "report/say/briefing.hpp"
#include "report/say/field_words.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>

/// Pages as they come out of the PDF. All stations and places are invented.

namespace earshot::report {
namespace {

using Catch::Contains;
using test::check_inside;
using test::check_looks_like;
using test::check_no_word_covers_another;
using test::count_of;
using test::OnePage;

const PageWords& words() {
    static const PageWords all{"Valley net (invented)\n14 June",
                               "A prediction is no guarantee: do not stake a life on it.",
                               "page 3 of 7"};
    return all;
}

link::Station station(const std::string& name, geo::LatLon position, double height_m = 2.0) {
    link::Station result{name, position, height_m, {}};
    result.radio.antenna = "stock";
    result.radio.antenna_gain_dbi = -3.0;
    return result;
}

const terrain::HeightGrid& ground() {
    static const terrain::HeightGrid grid = test::rough_ground(400, 400, 120.0);
    return grid;
}

geo::LatLon at(double column, double row) {
    return ground().georeference.position_of({column, row});
}

link::TwoWayPath path_over_hills() {
    link::Station a = station("Ombrel Mill", at(40.0, 200.0));
    link::Station b = station("Tarnicourt Camp", at(330.0, 180.0));
    b.radio.power_dbm = 33.0;
    propagation::Conditions settings;
    settings.frequency_mhz = 146.0;
    return link::two_way_path({&ground(), {}, settings, 30.0}, a, b);
}

OnePage path_page(const BriefedPath& path, Paper paper) {
    return OnePage(paper, Orientation::wide, [&](cairo_t* canvas) {
        draw_path_page(canvas, printed_area(paper, Orientation::wide), words(), path);
    });
}

// ---- Path ---------------------------------------------------------------------------------------

TEST_CASE("path page: says what the prediction says", "[pages]") {
    const BriefedPath path{"", path_over_hills()};
    const OnePage page = path_page(path, Paper::a4);
    const std::string text = page.text();
    CHECK_THAT(text, Contains("Ombrel Mill to Tarnicourt Camp"));
    CHECK_THAT(text, Contains("Valley net (invented)") && Contains("page 3 of 7"));
    CHECK_THAT(text, Contains("do not stake a life on it"));
    CHECK_THAT(text,
               Contains(fmt::format("{:.2f} km ({:.2f} mi)", path.path.line.distance_m / 1000.0,
                                    path.path.line.distance_m / 1609.344)));
    CHECK_THAT(text, Contains("Heights are drawn") && Contains("k = 1.40"));
    CHECK_THAT(text, Contains("above the line") && Contains("0.6 of the first Fresnel zone"));
    for (const link::Direction* direction : {&path.path.outward, &path.path.backward}) {
        for (const link::BudgetLine& line : link::budget_lines(direction->budget)) {
            CAPTURE(line.label);
            CHECK_THAT(text, Contains(line.label));
            CHECK_THAT(text, Contains(fmt::format("{:.1f}", std::abs(line.value))));
        }
    }
    check_looks_like(page, "path");
}

TEST_CASE("path page: nothing is clipped or covered, whatever the path and the paper", "[pages]") {
    const Paper paper = GENERATE(Paper::a4, Paper::letter);
    const bool long_names = GENERATE(false, true);
    BriefedPath path{"", path_over_hills()};
    if (long_names) {
        path.path.a.name = "مرصد الجبل العالي قرب القرية القديمة";
        path.path.b.name =
            "Żółwiańska Hütte am ausgesprochen langen Ende des Weges über den Bergen";
    }
    const OnePage page = path_page(path, paper);
    check_inside(page.words(), printed_area(paper, Orientation::wide));
    check_no_word_covers_another(page.words());
}

TEST_CASE("path page: a short and a long path have axes that fit them", "[pages]") {
    terrain::HeightGrid plain;
    plain.columns = 700;
    plain.rows = 20;
    plain.georeference = terrain::Georeference("EPSG:32616", 500050.0, 4050000.0, 100.0, -100.0);
    plain.height_m.assign(700U * 20U, 40.0F);
    const auto text_of = [&](double columns, double height_m) {
        const auto place = [&](double column) {
            return plain.georeference.position_of({column, 10.0});
        };
        propagation::Conditions settings;
        const BriefedPath path{
            "Plain", link::two_way_path({&plain, {}, settings, 100.0},
                                        station("Nessavin", place(20.0), height_m),
                                        station("Quorrel", place(20.0 + columns), height_m))};
        const OnePage page = path_page(path, Paper::a4);
        check_inside(page.words(), printed_area(Paper::a4, Orientation::wide));
        check_no_word_covers_another(page.words());
        return page.text();
    };
    const std::string near = text_of(5.0, 2.0);
    CHECK_THAT(near, Contains("km 0 0.1 0.2 0.3 0.4 0.5") || Contains("0.1 0.2 0.3 0.4 0.5"));
    CHECK_THAT(near, Contains("0.50 km (0.31 mi)"));
    const std::string far = text_of(600.0, 30.0);
    CHECK_THAT(far, Contains("0 10 20 30 40 50 60"));
    // 30 x 30 / (2 x 1.402 x 6.371) = 50.4 m: the bulge of 60 km for k = 157 / (157 - 45) of
    // ITU-R P.1812-8 equation (6) with delta-N 45.
    CHECK_THAT(far, Contains("by 50 m in the middle"));
}

// ---- Ladder -------------------------------------------------------------------------------------

plan::LadderAnswer invented_ladder() {
    const auto rung = [](plan::Lever lever, double effort, double gain_db, double margin_db) {
        plan::Rung result;
        result.pull.emplace();
        result.pull->lever = lever;
        result.pull->from_dbm = 33.01;
        result.pull->to_dbm = 36.99;
        result.pull->better_db = 6.0;
        result.pull->raised_m = 6.0;
        result.effort = effort;
        result.gain_db = gain_db;
        result.margin_db = margin_db;
        return result;
    };
    plan::LadderAnswer answer;
    answer.places = 1;
    answer.start.margin_db = -4.1;
    answer.alone = {rung(plan::Lever::power, 1.0, 4.0, -0.1),
                    rung(plan::Lever::antenna_here, 2.0, 6.0, 1.9),
                    rung(plan::Lever::raise_here, 3.0, 5.5, 1.4)};
    answer.stacked = {rung(plan::Lever::power, 1.0, 4.0, -0.1),
                      rung(plan::Lever::antenna_here, 2.0, 6.0, 5.9),
                      rung(plan::Lever::raise_here, 3.0, 5.3, 11.2)};
    answer.help = plan::Help{{*answer.alone[1].pull}, {"Quorrel"}, answer.alone[1]};
    return answer;
}

TEST_CASE("ladder page: has every lever, alone and stacked", "[pages]") {
    const Orientation orientation = GENERATE(Orientation::wide, Orientation::upright);
    const Box area = printed_area(Paper::letter, orientation);
    const OnePage page(Paper::letter, orientation, [&](cairo_t* canvas) {
        draw_ladder_page(canvas, area, words(), invented_ladder(), "Ombrel Mill to Quorrel", 0.0);
    });
    const std::string text = page.text();
    CHECK_THAT(text,
               Contains("As it is: margin -4.1 dB, 4 dB short; an antenna better by 6 dB here "
                        "gets the call through both ways (margin +1.9 dB); first for the "
                        "effort comes 2 W to 5 W at both ends"));
    CHECK(count_of(text, "an antenna better by 6 dB here") == 3); // the lead, and both tables
    CHECK_THAT(text, Contains("+5.5 dB") && Contains("+11.2 dB, easy to read (+5.3 dB)"));
    CHECK_THAT(text, Contains("\u22124.1 dB, barely there"));
    check_inside(page.words(), area);
    check_no_word_covers_another(page.words());
    if (orientation == Orientation::wide) {
        check_looks_like(page, "ladder");
    }
}

TEST_CASE("ladder page: ranges and places, and a ladder without levers", "[pages]") {
    plan::LadderAnswer answer = invented_ladder();
    answer.start.margin_db.reset();
    const bool range = GENERATE(false, true);
    std::size_t places = 3;
    for (plan::Rung* rung : {&answer.start, &answer.alone[0], &answer.alone[1], &answer.alone[2],
                             &answer.stacked[0], &answer.stacked[1], &answer.stacked[2]}) {
        rung->margin_db.reset();
        rung->places = places;
        if (range) {
            rung->range.emplace();
            rung->range->typical_m = 400.0 * static_cast<double>(places);
            rung->range->area_km2 = 1.5 * static_cast<double>(places);
        }
        ++places;
    }
    if (range) {
        answer.alone[2].gain_db.reset(); // as of a relay
    }
    const Box area = printed_area(Paper::a4, Orientation::wide);
    const auto page_of = [&](const plan::LadderAnswer& shown) {
        return OnePage(Paper::a4, Orientation::wide, [&](cairo_t* canvas) {
            draw_ladder_page(canvas, area, words(), shown, "On foot", 0.0);
        });
    };
    const OnePage page = page_of(answer);
    if (range) {
        CHECK_THAT(page.text(), Contains("half of directions 3.6 km, 13.5 km\u00b2") &&
                                    Contains("moves the whole range"));
        CHECK_THAT(page.text(), Contains("half of the directions reach, km"));
        // By hand: 3.6 km are 2.24 international miles of 1609.344 m.
        geo::set_units(geo::Units::imperial);
        const std::string imperial = page_of(answer).text();
        geo::set_units(geo::Units::metric);
        CHECK_THAT(imperial, Contains("half of directions 2.24 mi") &&
                                 Contains("half of the directions reach, mi"));
        CHECK_THAT(imperial, !Contains(" km") && !Contains(" m "));
    } else {
        CHECK_THAT(page.text(), Contains("9 places reached"));
    }
    check_inside(page.words(), area);
    check_no_word_covers_another(page.words());
    CHECK_THAT(page_of({}).text(), Contains("What each step buys"));
}

// ---- Net ----------------------------------------------------------------------------------------

/// Margins from a rule rather than a prediction: near stations hear each other.
NetView invented_net(std::size_t stations) {
    NetView view;
    for (std::size_t k = 0; k < stations; ++k) {
        const auto turn = static_cast<double>(k * 7 % stations);
        view.stations.push_back(
            station(fmt::format("Station number {}", k + 1),
                    at(30.0 + 330.0 * static_cast<double>(k) / static_cast<double>(stations),
                       30.0 + 330.0 * turn / static_cast<double>(stations))));
    }
    for (std::size_t a = 0; a < stations; ++a) {
        for (std::size_t b = a + 1; b < stations; ++b) {
            plan::Pair pair;
            pair.a = a;
            pair.b = b;
            const geo::GeodesicPath line =
                geo::geodesic_between(view.stations[a].position, view.stations[b].position);
            pair.distance_m = line.distance_m;
            pair.bearing_deg = line.bearing_deg;
            pair.back_bearing_deg = line.back_bearing_deg;
            pair.b_hears_a.margin_db = 24.0 - line.distance_m / 250.0;
            pair.a_hears_b.margin_db = pair.b_hears_a.margin_db - 5.0;
            pair.b_hears_a.heard = pair.b_hears_a.margin_db >= 0.0;
            pair.a_hears_b.heard = pair.a_hears_b.margin_db >= 0.0;
            view.pairs.push_back(pair);
        }
    }
    view.net = plan::net_structure(stations, view.pairs);
    return view;
}

TEST_CASE("net page: stations, links, who is cut off and who must pass on", "[pages]") {
    NetView view = invented_net(8);
    view.stations[2].name = "تحت الجسر";
    view.stations[3].name = "Żółw i Ñandú";
    view.ground = &ground();
    const Box area = printed_area(Paper::a4, Orientation::wide);
    const OnePage page(Paper::a4, Orientation::wide,
                       [&](cairo_t* canvas) { draw_net_page(canvas, area, words(), view); });
    const std::string text = page.text();
    CHECK_THAT(text, Contains("Who hears whom") && Contains("Żółw i Ñandú"));
    REQUIRE_FALSE(view.net.cut_off.empty());
    for (const std::size_t station : view.net.cut_off) {
        CHECK_THAT(text, Contains(view.stations[station].name + " (cut off)"));
    }
    CHECK_THAT(text, Contains("Messages to be passed on"));
    check_inside(page.words(), area);
    check_no_word_covers_another(page.words());
    check_looks_like(page, "net");
}

TEST_CASE("net page: a chain splits without its middle, and one way is an arrow", "[pages]") {
    NetView view = invented_net(4);
    for (plan::Pair& pair : view.pairs) {
        const bool linked = pair.b == pair.a + 1 && pair.b < 3;
        const bool one_way = pair.a == 2;
        pair.b_hears_a.margin_db = linked || one_way ? 12.0 : -20.0;
        pair.a_hears_b.margin_db = linked ? 3.0 : -20.0;
        pair.b_hears_a.heard = linked || one_way;
        pair.a_hears_b.heard = linked;
    }
    view.net = plan::net_structure(4, view.pairs);
    const Box area = printed_area(Paper::letter, Orientation::wide);
    const OnePage page(Paper::letter, Orientation::wide,
                       [&](cairo_t* canvas) { draw_net_page(canvas, area, words(), view); });
    const std::string text = page.text();
    CHECK_THAT(text, Contains("The net splits without Station number 2"));
    CHECK_THAT(text, Contains("Station number 4 (cut off)"));
    CHECK_THAT(text, Contains("Station number 1 to Station number 3: over Station number 2 "
                              "(weakest hop +3 dB)"));
    check_looks_like(page, "chain");
}

TEST_CASE("net page: one station, many stations, and all on one spot", "[pages]") {
    const Box area = printed_area(Paper::letter, Orientation::wide);
    NetView view = invented_net(GENERATE(2U, 14U, 15U, 40U));
    const bool one_spot = GENERATE(false, true);
    if (one_spot) {
        for (link::Station& other : view.stations) {
            other.position = view.stations[0].position;
        }
    }
    const OnePage page(Paper::letter, Orientation::wide,
                       [&](cairo_t* canvas) { draw_net_page(canvas, area, words(), view); });
    check_inside(page.words(), area);
    if (!one_spot) {
        check_no_word_covers_another(page.words());
    }
}

TEST_CASE("net page: a link keeps off the mark of a third station", "[pages]") {
    // Three in a line; only the outer two hear each other.
    NetView view = invented_net(3);
    for (std::size_t k = 0; k < 3; ++k) {
        view.stations[k].position = at(60.0 + 120.0 * static_cast<double>(k), 200.0);
    }
    for (plan::Pair& pair : view.pairs) {
        const bool outer = pair.a == 0 && pair.b == 2;
        pair.a_hears_b.margin_db = pair.b_hears_a.margin_db = outer ? 20.0 : -20.0;
        pair.a_hears_b.heard = pair.b_hears_a.heard = outer;
    }
    view.net = plan::net_structure(3, view.pairs);
    const Box area = printed_area(Paper::a4, Orientation::wide);
    const OnePage page(Paper::a4, Orientation::wide,
                       [&](cairo_t* canvas) { draw_net_page(canvas, area, words(), view); });
    const std::vector<test::PageWord> found = page.words();
    const auto mark = std::ranges::find_if(found, [](const test::PageWord& word) {
        return word.text == "2" && word.left > 100.0 && word.left < 400.0 && word.top > 150.0;
    });
    REQUIRE(mark != found.end());
    const double x = (mark->left + mark->right) / 2.0;
    const double y = (mark->top + mark->bottom) / 2.0;
    CHECK(test::darkest_around(page, x, y, 0.0, 6.0) < 60); // the mark itself
    // Nothing in a ring around it but, at one side, its name: looked at above and below alone.
    for (const double side : {-1.0, 1.0}) {
        CHECK(test::darkest_around(page, x, y + side * 9.6, 0.0, 0.9) > 230);
    }
}

TEST_CASE("net page: has the table on it, unless the net is too large", "[pages]") {
    const Box area = printed_area(Paper::letter, Orientation::wide);
    NetView view = invented_net(16);
    view.ground = &ground();
    REQUIRE(net_page_holds_table(area, view));
    CHECK_FALSE(net_page_holds_table(area, invented_net(40)));
    const OnePage page(Paper::letter, Orientation::wide,
                       [&](cairo_t* canvas) { draw_net_page(canvas, area, words(), view); });
    std::size_t numbers = 0;
    for (const test::PageWord& word : page.words()) {
        numbers += std::regex_match(word.text, std::regex("(\u2212)?[0-9]+")) ? 1 : 0;
    }
    CHECK(numbers >= 16U * 15U);
    check_inside(page.words(), area);
}

TEST_CASE("net table: every margin of forty stations on one page", "[pages]") {
    const NetView view = invented_net(40);
    const Box area = printed_area(Paper::a4, Orientation::wide);
    const std::vector<PageDrawing> pages = net_table_pages(area, view);
    REQUIRE(pages.size() == 1);
    const OnePage page(Paper::a4, Orientation::wide,
                       [&](cairo_t* canvas) { pages[0](canvas, words()); });
    std::size_t numbers = 0;
    for (const test::PageWord& word : page.words()) {
        numbers += std::regex_match(word.text, std::regex("(\u2212)?[0-9]+")) ? 1 : 0;
    }
    // 40 x 39 margins, and the numbers of stations in "17 Station number 17" of rows and columns
    // and in the words around the table.
    CHECK(numbers >= 40U * 39U + 40U * 2U);
    check_inside(page.words(), area);
}

TEST_CASE("net table: margins stand where listener and talker meet", "[pages]") {
    NetView view = invented_net(3);
    int number = 31;
    for (plan::Pair& pair : view.pairs) {
        pair.a_hears_b = {0.0, static_cast<double>(number++), 99.0, link::Readability::clear, true};
        pair.b_hears_a = {0.0, static_cast<double>(number++), 99.0, link::Readability::clear, true};
    }
    const Box area = printed_area(Paper::a4, Orientation::wide);
    const OnePage page(Paper::a4, Orientation::wide, [&](cairo_t* canvas) {
        net_table_pages(area, view).at(0)(canvas, words());
    });
    const std::vector<test::PageWord> found = page.words();
    const auto word_of = [&](double margin_db) {
        const auto word =
            std::ranges::find(found, fmt::format("{:.0f}", margin_db), &test::PageWord::text);
        REQUIRE(word != found.end());
        return *word;
    };
    for (const plan::Pair& pair : view.pairs) {
        // The first listens in an upper row, to the second in a column further right.
        const test::PageWord first = word_of(pair.a_hears_b.margin_db);
        const test::PageWord second = word_of(pair.b_hears_a.margin_db);
        CHECK(first.top < second.top);
        CHECK(first.left > second.left);
    }
    check_looks_like(page, "table");
}

TEST_CASE("net table: more stations than a page holds", "[pages]") {
    const NetView view = invented_net(60);
    const Box area = printed_area(Paper::letter, Orientation::wide);
    std::set<std::string> names;
    const std::vector<PageDrawing> pages = net_table_pages(area, view);
    CHECK(pages.size() == 4);
    for (const PageDrawing& drawing : pages) {
        const OnePage page(Paper::letter, Orientation::wide,
                           [&](cairo_t* canvas) { drawing(canvas, words()); });
        const std::vector<test::PageWord> found = page.words();
        check_inside(found, area);
        for (const test::PageWord& word : found) {
            names.insert(word.text);
        }
    }
    for (std::size_t k = 1; k <= 60; ++k) {
        CHECK(names.count(std::to_string(k)) == 1);
    }
}

// ---- Cards --------------------------------------------------------------------------------------

Briefing briefing_of(const NetView& view) {
    Briefing briefing;
    briefing.stations = view.stations;
    briefing.pairs = view.pairs;
    briefing.net = view.net;
    briefing.scenario.emplace();
    briefing.scenario->stations = view.stations;
    briefing.scenario->conditions.frequency_mhz = 146.52;
    briefing.scenario->air.channels = {
        {"Main", 146.52, 146.52, 100.0, "calls and traffic", "5 W", std::nullopt},
        {"Second", 446.0, 446.0, std::nullopt, "medics", "", std::nullopt}};
    briefing.scenario->duties.resize(view.stations.size());
    briefing.scenario->duties[0] = {"Ilse Varrow", "net control", ""};
    return briefing;
}

std::string text_of_cards(Paper paper, const std::vector<StationCard>& cards) {
    std::string text;
    const PageSize size = page_size(paper, Orientation::upright);
    for (const PageDrawing& drawing : station_card_pages(paper, cards, "Valley net", "14 June")) {
        const OnePage page(paper, Orientation::upright,
                           [&](cairo_t* canvas) { drawing(canvas, {}); });
        const std::vector<test::PageWord> found = page.words();
        // A printer's margin, and room on both sides of the cuts.
        check_inside(found, {20.0, 20.0, size.width_pt - 40.0, size.height_pt - 40.0});
        check_no_word_covers_another(found);
        CHECK(std::ranges::none_of(found, [&](const test::PageWord& word) {
            const double across = size.width_pt / 2.0;
            const double down = size.height_pt / 2.0;
            return (word.left < across && word.right > across) ||
                   (word.top < down && word.bottom > down);
        }));
        text += page.text();
    }
    return text;
}

TEST_CASE("cards: who is heard, over whom, and where to go", "[pages]") {
    const NetView view = invented_net(6);
    Briefing briefing = briefing_of(view);
    briefing.fallbacks.resize(6);
    briefing.fallbacks[0] = plan::Fallback{
        "Quorrel Hill", at(100.0, 100.0), 1234.0, 45.0, 87.0, 4, 5, true, {}, 0, 0.0};
    const std::vector<StationCard> cards = station_cards(briefing);
    REQUIRE(cards.size() == 6);
    for (std::size_t k = 0; k < cards.size(); ++k) {
        CAPTURE(k);
        CHECK(cards[k].talks_with.size() == view.net.mutual[k].size());
        CHECK(
            std::ranges::is_sorted(cards[k].talks_with, std::greater<>(), &CardContact::weaker_db));
    }
    const std::string text = text_of_cards(Paper::a4, cards);
    CHECK_THAT(text, Contains("Ilse Varrow, net control"));
    CHECK_THAT(text, Contains("Main: 146.520 MHz, tone 100.0 Hz, calls and traffic; power: 5 W"));
    CHECK_THAT(text,
               Contains("Quorrel Hill, 1.23 km north-east (45 deg), 87 m up: talks with 4 of 5"));
    CHECK_THAT(text, Contains("5 W, antenna stock (-3.0 dBi), 2 m above the ground"));
    for (const char* caution :
         {"licence", "do not stake a life on it", "power lines", "lightning"}) {
        CHECK_THAT(text, Contains(caution));
    }
    // 5 W less 3 dB is 2.506 W EIRP; R = sqrt(EIRP / (pi S)) with S = 2 W/m2 (FCC OET Bulletin 65
    // equation (6), 47 CFR 1.1310) is 0.632 m, rounded up.
    CHECK_THAT(text, Contains("Keep others 0.7 m from the antenna"));
    const OnePage page(Paper::a4, Orientation::upright, [&](cairo_t* canvas) {
        station_card_pages(Paper::a4, cards, "Valley net", "14 June").at(0)(canvas, {});
    });
    check_looks_like(page, "cards");
}

TEST_CASE("cards: one way is told apart from the other", "[pages]") {
    StationCard card;
    card.name = "Nessavin";
    card.position = at(10.0, 10.0);
    CardContact contact;
    contact.name = "Quorrel";
    contact.you_hear = true;
    card.one_way = {contact};
    contact.name = "Drumacre Farm";
    contact.you_hear = false;
    contact.hears_you = true;
    card.one_way.push_back(contact);
    const std::string text = text_of_cards(Paper::letter, {card});
    CHECK_THAT(text, Contains("you hear them, they do not hear you: Quorrel"));
    CHECK_THAT(text, Contains("they hear you, you do not hear them: Drumacre Farm"));
    CHECK_THAT(text, Contains("You talk directly with nobody"));
}

TEST_CASE("cards: what two models part on is marked, and the card says what to do", "[pages]") {
    StationCard card;
    card.name = "Nessavin";
    card.position = at(10.0, 10.0);
    CardContact contact;
    contact.name = "Quorrel";
    contact.you_hear = contact.hears_you = true;
    contact.you_hear_db = contact.hears_you_db = 12.0;
    card.talks_with = {contact};
    CHECK_THAT(text_of_cards(Paper::letter, {card}), !Contains("*"));
    card.talks_with[0].try_first = true;
    const std::string text = text_of_cards(Paper::letter, {card});
    CHECK_THAT(text, Contains("12 dB*"));
    CHECK_THAT(text, Contains("* test this one on foot first"));
    // Somebody out of reach by one model alone.
    Briefing briefing = briefing_of(invented_net(6));
    plan::Pair& torn = briefing.pairs.front();
    torn.b_hears_a.heard = torn.a_hears_b.heard = false;
    torn.try_first = true;
    briefing.net.relayed.clear();
    const std::vector<std::string> out_of_reach = station_cards(briefing).at(torn.a).out_of_reach;
    CHECK(std::ranges::find(out_of_reach, briefing.stations[torn.b].name + "*") !=
          out_of_reach.end());
}

TEST_CASE("cards: of forty stations none is left out", "[pages]") {
    const NetView view = invented_net(40);
    const std::string text = text_of_cards(Paper::letter, station_cards(briefing_of(view)));
    for (std::size_t k = 0; k < 40; ++k) {
        // On its own card and on those of the 39 others. A name broken over a line is still one.
        CHECK(count_of(text, view.stations[k].name + " ") +
                  count_of(text, view.stations[k].name + ",") >=
              40);
    }
}

/// A net of an invented event in which nearly all hear one another: the longest cards there are.
NetView large_event(std::size_t stations) {
    NetView view = invented_net(stations);
    static const std::vector<std::string> names{
        "Ashby Gate",  "Brindle Ford", "Corvin Hall",  "Dunmere Top",   "Eskil Barn",
        "Farrow Lock", "Gillet Cross", "Hoxley Camp",  "Ingram Weir",   "Jarrow Field",
        "Kestle Post", "Lorne Stile",  "Medic One",    "Norrin Bridge", "Oxmoor Tent",
        "Pellow Arch", "Quillan Rise", "Rudge Corner", "Selwick Yard",  "Tolland Gap"};
    for (std::size_t k = 0; k < stations; ++k) {
        view.stations[k].name = names[k % names.size()];
        view.stations[k].radio.body_loss_db = link::body_loss_db(link::Carried::on_hip, 146.52);
    }
    for (plan::Pair& pair : view.pairs) {
        pair.b_hears_a.margin_db += 40.0;
        pair.a_hears_b.margin_db += 40.0;
        pair.b_hears_a.heard = pair.b_hears_a.margin_db >= 0.0;
        pair.a_hears_b.heard = pair.a_hears_b.margin_db >= 0.0;
    }
    view.net = plan::net_structure(stations, view.pairs);
    return view;
}

Briefing briefing_of_event(const NetView& view) {
    Briefing briefing = briefing_of(view);
    briefing.fallbacks.assign(
        view.stations.size(),
        plan::Fallback{
            "Quorrel Hill", at(100.0, 100.0), 1234.0, 45.0, 87.0, 4, 5, true, {}, 0, 0.0});
    for (scenario::Duty& duty : briefing.scenario->duties) {
        duty = {"Ilse Varrow", "steward at the gate", ""};
    }
    return briefing;
}

TEST_CASE("cards: eight stations and twenty take a card each, with how the radio is worn",
          "[pages]") {
    const std::size_t stations = GENERATE(8U, 20U);
    const Paper paper = GENERATE(Paper::a4, Paper::letter);
    const NetView view = large_event(stations);
    const std::vector<StationCard> cards = station_cards(briefing_of_event(view));
    CHECK(station_card_pages(paper, cards, "Event net", "14 June").size() == stations / 4);
    const std::string text = text_of_cards(paper, cards);
    CHECK_THAT(text, !Contains("(2)") && !Contains("continued"));
    CHECK(count_of(text, "worn on the hip") == stations);
    for (const link::Station& station : view.stations) {
        // On its own card and on every other's.
        CHECK(count_of(text, station.name) >= stations);
    }
    if (stations == 20 && paper == Paper::a4) {
        const OnePage page(paper, Orientation::upright, [&](cairo_t* canvas) {
            station_card_pages(paper, cards, "Event net", "14 June").at(0)(canvas, {});
        });
        check_looks_like(page, "cards-twenty");
    }
}

TEST_CASE("wallet cards: the size of a bank card, and all that matters on it", "[pages]") {
    const std::size_t stations = GENERATE(8U, 20U);
    const auto [paper, a_sheet] = GENERATE(std::pair{Paper::a4, 10U}, std::pair{Paper::letter, 8U});
    const NetView view = large_event(stations);
    const std::vector<StationCard> cards = station_cards(briefing_of_event(view));
    const auto pages = wallet_card_pages(paper, cards, "Event net", "14 June");
    CHECK(pages.size() == (stations + a_sheet - 1) / a_sheet);
    std::string text;
    for (const PageDrawing& drawing : pages) {
        const OnePage page(paper, Orientation::upright,
                           [&](cairo_t* canvas) { drawing(canvas, {}); });
        check_inside(page.words(), printed_area(paper, Orientation::upright));
        check_no_word_covers_another(page.words());
        text += page.text();
        // ISO/IEC 7810:2019, ID-1: 85.60 mm by 53.98 mm, here to a tenth. Two cards side by side
        // stand 85.6 mm apart: the left edges of "no answer?" in both columns.
        std::set<int> lefts;
        for (const test::PageWord& word : page.words()) {
            if (word.text == "answer?") {
                lefts.insert(static_cast<int>(std::lround(word.left)));
            }
        }
        if (lefts.size() == 2 && stations == 8) {
            CHECK(*lefts.rbegin() - *lefts.begin() == Approx(85.6 / 25.4 * 72.0).margin(6.0));
        }
    }
    CHECK(count_of(text, "A prediction is no guarantee") == stations);
    CHECK(count_of(text, "146.520 MHz") == stations);
    CHECK(count_of(text, "worn on the hip") == stations);
    for (const link::Station& station : view.stations) {
        CHECK(count_of(text, station.name) >= stations);
    }
    if (stations == 20 && paper == Paper::a4) {
        const OnePage page(paper, Orientation::upright,
                           [&](cairo_t* canvas) { pages.front()(canvas, {}); });
        check_looks_like(page, "wallet");
    }
}

TEST_CASE("cards: long and foreign names", "[pages]") {
    NetView view = invented_net(12);
    for (link::Station& other : view.stations) {
        other.name += " مرصد الجبل Żółwiańska Hütte am ausgesprochen langen Ende des Weges";
    }
    const std::string text = text_of_cards(Paper::letter, station_cards(briefing_of(view)));
    CHECK_THAT(text, Contains("Żółwiańska Hütte"));
}

TEST_CASE("cards: none without a scenario", "[pages]") {
    CHECK(station_cards({}).empty());
    CHECK(station_card_pages(Paper::a4, {}, "", "").empty());
}

// ---- Log sheet ----------------------------------------------------------------------------------

field::WalkPlan invented_walk(std::size_t stops, std::size_t set_ups) {
    field::WalkPlan walk;
    walk.title = "Walk test, Ombrel Mill to the ford";
    walk.base = "Ombrel Mill";
    walk.base_position = at(50.0, 50.0);
    walk.frequency_mhz = 146.52;
    walk.choice = field::StopChoice::useful;
    for (std::size_t k = 0; k < set_ups; ++k) {
        walk.set_ups.push_back(
            {fmt::format("set-up {}", k + 1), 37.0, "stock", std::nullopt, 1.5, "face"});
    }
    for (std::size_t k = 0; k < stops; ++k) {
        field::PlannedStop stop;
        stop.name = std::to_string(k + 1);
        stop.position = at(60.0 + static_cast<double>(k), 70.0);
        stop.along_m = 250.0 * static_cast<double>(k);
        stop.distance_m = 900.0;
        for (std::size_t tried = 0; tried < set_ups; ++tried) {
            for (const auto direction :
                 {field::CallDirection::from_mover, field::CallDirection::to_mover}) {
                stop.calls.push_back(
                    {(tried + k) % set_ups, direction, 3.25, 66.0, link::Readability::easy});
            }
        }
        walk.stops.push_back(stop);
    }
    return walk;
}

TEST_CASE("log sheet: every stop and call has its boxes, and no forecast", "[pages]") {
    const Paper paper = GENERATE(Paper::a4, Paper::letter);
    const std::size_t set_ups = GENERATE(1U, 3U, 12U);
    const Box area = printed_area(paper, Orientation::upright);
    const field::WalkPlan walk = invented_walk(7, set_ups);
    std::string text;
    for (const PageDrawing& drawing : log_sheet_pages(area, walk, &ground())) {
        const OnePage page(paper, Orientation::upright, [&](cairo_t* canvas) {
            drawing(canvas, {"", "foot", ""});
        });
        check_inside(page.words(), area);
        check_no_word_covers_another(page.words());
        text += page.text();
        if (paper == Paper::a4 && set_ups == 3 && count_of(text, "who walks") == 3 &&
            count_of(text, "sheet 1 of") == 1 && count_of(text, "sheet 2 of") == 0) {
            check_looks_like(page, "log");
        }
    }
    for (std::size_t k = 1; k <= 7; ++k) {
        CHECK(count_of(text, fmt::format("Stop {} ", k)) >= 1);
    }
    CHECK(count_of(text, "0 1 2 3 4 5") == walk.calls());
    CHECK(count_of(text, "you speak, Ombrel Mill scores") == 7 * set_ups);
    CHECK(count_of(text, "Ombrel Mill speaks, you score") == 7 * set_ups);
    for (const link::ReadabilityClass& shown : link::readability_classes()) {
        CHECK_THAT(text, Contains(fmt::format("{}: {}", shown.name, shown.meaning)));
    }
    // Not a word of the instruction is cut off.
    CHECK_THAT(text, !Contains("\u2026"));
    if (set_ups > 1) {
        CHECK_THAT(text, Contains("does not pass for a difference between set-ups"));
    }
    // By hand: 7 stops of 2 min, their calls of half a minute, a change of set-up of 1 min between
    // two set-ups, and 1.5 km at 4 km/h, 22.5 min.
    const double minutes = 14.0 + 0.5 * static_cast<double>(walk.calls()) +
                           7.0 * static_cast<double>(set_ups - 1) + 22.5;
    CHECK(walk_minutes(walk) == Approx(minutes));
    CHECK_THAT(text, Contains("takes about") || Contains("Takes about"));
    CHECK(fewer_calls_words(walk).empty() == (set_ups == 1));
    // Who knows what is predicted hears it.
    CHECK_THAT(text, !Contains("3.25") && !Contains("66 %"));
}

} // namespace
} // namespace earshot::report
