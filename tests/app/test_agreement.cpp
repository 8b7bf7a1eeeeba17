#include "program.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <memory>
#include <random>
#include <regex>
#include <span>
#include <utility>

/// Every command that says something about two stations says the same: map, path, net, relay,
/// ladder and range predict a pair once, by one function, whoever asks.
namespace earshot::app {

using namespace testing;
using nlohmann::json;

namespace {

constexpr double step_m = 80.0;

/// The elevation of the sample, degrees: stations stand on its cells' centres, as a map's receivers
/// do.
constexpr double west_deg = -84.41375;
constexpr double north_deg = 36.732916666666668;
constexpr double cell_deg = 1.0 / 1200.0;

struct Cell {
    int column = 0;
    int row = 0;
    [[nodiscard]] double lat_deg() const { return north_deg - (row + 0.5) * cell_deg; }
    [[nodiscard]] double lon_deg() const { return west_deg + (column + 0.5) * cell_deg; }
    [[nodiscard]] std::string words() const {
        return fmt::format("{:.12f},{:.12f}", lat_deg(), lon_deg());
    }
};

/// Two bases and two people with the listener's radio, somewhere on the sample.
const std::array names{"Base 1", "Base 2", "Person 1", "Person 2"};
constexpr std::size_t bases = 2;

std::array<Cell, names.size()> random_cells(unsigned seed) {
    std::mt19937 random(seed);
    std::array<Cell, names.size()> cells;
    for (Cell& cell : cells) {
        // Not std::uniform_int_distribution, whose numbers are each library's own.
        cell.column = 160 + static_cast<int>(random() % 80);
        cell.row = 130 + static_cast<int>(random() % 80);
    }
    return cells;
}

constexpr const char* base_radio = "radio = \"base\"\nantenna = \"collinear\"\n"
                                   "antenna_height_m = 9\n";
constexpr const char* person_radio = "radio = \"handheld\"\nantenna = \"stock\"\n"
                                     "antenna_height_m = 1.5\ncarried = \"hip\"\n";

struct Question {
    const char* name;
    unsigned seed;
    double frequency_mhz;
    int time_percent;
    int places_percent;
    const char* ground; ///< lines of the section [ground]
    const char* method = "short-range";
};

std::string scenario_of(const Question& question, std::span<const Cell> cells) {
    std::string text = fmt::format(
        "[net]\nname = \"Agreement\"\nfrequency_mhz = {}\nnoise = \"rural\"\n"
        "[service]\nmargin_db = -20\ntime_percent = {}\nplaces_percent = {}\n"
        "[ground]\nelevation = \"ground.tif\"\n{}\n[method]\nname = \"{}\"\nstep_m = {}\n"
        "[[radios]]\nname = \"base\"\npower_w = 25\nsensitivity_uv = 0.2\nfeeder_loss_db = 1.5\n"
        "[[radios]]\nname = \"handheld\"\npower_w = 2\nsensitivity_uv = 0.3\n"
        "[[antennas]]\nname = \"collinear\"\ngain_dbd = 3\n[briefing]\nrange_km = 2\n"
        "[listener]\n{}",
        question.frequency_mhz, question.time_percent, question.places_percent, question.ground,
        question.method, step_m, person_radio);
    for (std::size_t k = 0; k < cells.size(); ++k) {
        text += fmt::format("[[stations]]\nname = \"{}\"\nposition = \"{}\"\n{}", names[k],
                            cells[k].words(), k < bases ? base_radio : person_radio);
    }
    return text;
}

/// What one command says of a talker and a listener.
struct Said {
    double margin_db = NAN;
    double chance_percent = NAN;
};

/// The commands' answers about one question.
class Answers {
public:
    explicit Answers(const Question& question) : cells_(random_cells(question.seed)) {
        std::filesystem::create_symlink(sample, folder_ / "ground.tif");
        write_file(folder_ / "net.toml", scenario_of(question, cells_));
        write_cover();
    }

    [[nodiscard]] const Cell& cell(std::size_t station) const { return cells_.at(station); }

    /// From a profile that runs from the first to the second: what the second hears, and the first.
    [[nodiscard]] std::pair<Said, Said> path(std::size_t first, std::size_t second) const {
        const json answer = ask({"path", "--from", names.at(first), "--to", names.at(second)});
        return {said(answer.at("outward")), said(answer.at("backward"))};
    }

    [[nodiscard]] std::map<std::pair<std::size_t, std::size_t>, std::pair<Said, Said>> net() const {
        std::map<std::pair<std::size_t, std::size_t>, std::pair<Said, Said>> all;
        const json answer = ask({"net"});
        for (const json& pair : answer.at("pairs")) {
            all[{index_of(pair.at("a")), index_of(pair.at("b"))}] = {said(pair.at("b_hears_a")),
                                                                     said(pair.at("a_hears_b"))};
        }
        return all;
    }

    /// The same from the page of a briefing for a browser, which carries numbers, and from its
    /// cards, which carry the weaker way of those who talk with each other, in whole decibels.
    struct Briefed {
        std::map<std::pair<std::size_t, std::size_t>, std::pair<Said, Said>> page;
        std::string cards;
    };
    [[nodiscard]] Briefed brief() const {
        (void)output_of(folder_, {"brief", "--scenario", "net.toml", "--out", "out", "--only",
                                  "html,pdf", "--cell", "400m"});
        const std::string html = content_of(folder_ / "out/briefing.html");
        const std::string opening = R"(<script type="application/json" id="data">)";
        const std::size_t from = html.find(opening) + opening.size();
        const json data = json::parse(html.substr(from, html.find("</script>", from) - from));
        Briefed briefed;
        const auto way = [](const json& hears) {
            return Said{hears.at("marginDb"), hears.at("chancePercent")};
        };
        for (const json& pair : data.at("pairs")) {
            briefed.page[{pair.at("a"), pair.at("b")}] = {way(pair.at("bHearsA")),
                                                          way(pair.at("aHearsB"))};
        }
        briefed.cards = words_of_pdf(folder_ / "out/briefing.pdf", "-raw");
        return briefed;
    }

    /// What each person hears of a base, by a map of exact profiles.
    [[nodiscard]] std::vector<Said> map(std::size_t base) const {
        (void)ask({"map", "--at", names.at(base), "--engine", "exact", "--range", "10km", "--bands",
                   "margin,chance", "--out", "map.tif"});
        GDALAllRegister();
        const std::unique_ptr<GDALDataset> map(
            GDALDataset::FromHandle(GDALOpen((folder_ / "map.tif").c_str(), GA_ReadOnly)));
        REQUIRE(map != nullptr);
        std::array<double, 6> to_ground{};
        REQUIRE(map->GetGeoTransform(to_ground.data()) == CE_None);
        std::vector<Said> heard(bases);
        for (std::size_t person = bases; person < names.size(); ++person) {
            const Cell& at = cell(person);
            const int column = static_cast<int>((at.lon_deg() - to_ground[0]) / to_ground[1]);
            const int row = static_cast<int>((at.lat_deg() - to_ground[3]) / to_ground[5]);
            heard.push_back({value(*map, 1, column, row), value(*map, 2, column, row)});
        }
        return heard;
    }

    /// The margins to and from every person, if the only place for a relay is where a base is.
    [[nodiscard]] std::vector<std::pair<double, double>> relay(std::size_t base) const {
        write_file(folder_ / "candidates.csv",
                   fmt::format("name,latitude,longitude\nspot,{:.12f},{:.12f}\n",
                               cell(base).lat_deg(), cell(base).lon_deg()));
        const json answer = ask({"relay", "--place", names[2], "--place", names[3], "--candidates",
                                 "candidates.csv", "--relay-like", names.at(base), "--sites", "1",
                                 "--around", "20km"});
        std::vector<std::pair<double, double>> margins(bases);
        for (const json& place : answer.at("sites").at(0).at("places")) {
            margins.emplace_back(place.at("to_place_db"), place.at("to_relay_db"));
        }
        return margins;
    }

    /// The weaker way, as the ladder's lowest rung has it.
    [[nodiscard]] double ladder(std::size_t from, std::size_t to) const {
        return ask({"ladder", "--at", names.at(from), "--to", names.at(to)})
            .at("start")
            .at("margin_db");
    }

    /// The range on foot around a base.
    [[nodiscard]] json range(std::size_t base) const {
        return ask({"range", "--at", names.at(base), "--directions", "8", "--range", "9km",
                    "--margin", "3dB"});
    }

    /// The weaker way to a person at a place, which a path's profile of these steps leads to.
    [[nodiscard]] double path_to_spot(std::size_t base, double bearing_deg,
                                      double distance_m) const {
        double lat_deg = 0.0;
        double lon_deg = 0.0;
        GeographicLib::Geodesic::WGS84().Direct(cell(base).lat_deg(), cell(base).lon_deg(),
                                                bearing_deg, distance_m, lat_deg, lon_deg);
        const json answer = ask({"path", "--from", names.at(base), "--to",
                                 fmt::format("{:.12f},{:.12f}", lat_deg, lon_deg)});
        return std::min(said(answer.at("outward")).margin_db,
                        said(answer.at("backward")).margin_db);
    }

private:
    [[nodiscard]] json ask(const Arguments& words) const {
        INFO(fmt::format("{}", fmt::join(words, " ")));
        return json::parse(
            output_of(folder_, words + Arguments{"--scenario", "net.toml", "--json"}));
    }

    [[nodiscard]] static Said said(const json& way) {
        return {way.at("margin_db"), way.at("chance_percent")};
    }

    [[nodiscard]] static std::size_t index_of(const std::string& name) {
        return static_cast<std::size_t>(std::ranges::find(names, name) - names.begin());
    }

    [[nodiscard]] static double value(GDALDataset& map, int band, int column, int row) {
        float found = NAN;
        REQUIRE(map.GetRasterBand(band)->RasterIO(GF_Read, column, row, 1, 1, &found, 1, 1,
                                                  GDT_Float32, 0, 0) == CE_None);
        return static_cast<double>(found);
    }

    /// Classes of ESA WorldCover in blocks of a few cells: trees, grass, houses.
    void write_cover() const {
        GDALAllRegister();
        constexpr int columns = 403;
        constexpr int rows = 344;
        const std::unique_ptr<GDALDataset> cover(
            GetGDALDriverManager()->GetDriverByName("GTiff")->Create(
                (folder_ / "cover.tif").c_str(), columns, rows, 1, GDT_Byte, nullptr));
        REQUIRE(cover != nullptr);
        std::array<double, 6> to_ground{west_deg, cell_deg, 0.0, north_deg, 0.0, -cell_deg};
        cover->SetGeoTransform(to_ground.data());
        OGRSpatialReference degrees;
        degrees.importFromEPSG(4326);
        cover->SetSpatialRef(&degrees);
        std::vector<std::uint8_t> codes(static_cast<std::size_t>(columns * rows));
        constexpr std::array<std::uint8_t, 6> kinds{10, 30, 10, 50, 40, 10};
        for (int row = 0; row < rows; ++row) {
            for (int column = 0; column < columns; ++column) {
                const auto block = static_cast<std::size_t>(row / 7 * 61 + column / 7);
                codes[static_cast<std::size_t>(row * columns + column)] =
                    kinds[(block * 2654435761U >> 7U) % kinds.size()];
            }
        }
        REQUIRE(cover->GetRasterBand(1)->RasterIO(GF_Write, 0, 0, columns, rows, codes.data(),
                                                  columns, rows, GDT_Byte, 0, 0) == CE_None);
    }

    TemporaryFolder folder_;
    std::array<Cell, names.size()> cells_;
};

// A map holds floats: 0.001 dB covers their rounding; the chance moves by 5 % for each dB at most.
constexpr double margin_db = 0.001;
constexpr double chance_percent = 0.01;

void check_same(const Said& one, const Said& other) {
    CHECK(one.margin_db == Approx(other.margin_db).margin(margin_db).epsilon(0.0));
    CHECK(one.chance_percent == Approx(other.chance_percent).margin(chance_percent).epsilon(0.0));
}

const Question bare{"bare ground", 1, 146.52, 50, 50, ""};
const Question seldom{
    "bare ground, 10 % of the time and 90 % of the places", 1, 146.52, 10, 90, ""};
const Question woods{
    "woodland everywhere, 1 % of the time", 2, 146.1, 1, 50, "cover_class = \"woodland\""};
const Question cover{
    "trees, grass and houses, 30 % and 70 %", 3, 146.52, 30, 70, "cover = \"cover.tif\"", "p1812"};
const Question deygout{"another method", 4, 146.52, 50, 50, "", "deygout"};

} // namespace

TEST_CASE("Map, path, net, relay and ladder say the same of the same two stations") {
    const Question question = GENERATE(bare, seldom, woods, cover, deygout);
    INFO(question.name);
    const Answers answers(question);
    const auto net = answers.net();
    for (std::size_t base = 0; base < bases; ++base) {
        INFO(names.at(base));
        const std::vector<Said> map = answers.map(base);
        const auto relay = answers.relay(base);
        for (std::size_t person = bases; person < names.size(); ++person) {
            INFO(names.at(person));
            const auto [hears_base, base_hears] = answers.path(base, person);
            check_same(hears_base, net.at({base, person}).first);
            check_same(base_hears, net.at({base, person}).second);
            check_same(hears_base, map[person]);
            CHECK(relay[person].first == Approx(hears_base.margin_db).margin(margin_db));
            CHECK(relay[person].second == Approx(base_hears.margin_db).margin(margin_db));
            CHECK(answers.ladder(base, person) ==
                  Approx(std::min(hears_base.margin_db, base_hears.margin_db)).margin(margin_db));
        }
    }
}

TEST_CASE("The page and the cards of a briefing say what the path does") {
    const Question question = GENERATE(bare, seldom, cover);
    INFO(question.name);
    const Answers answers(question);
    const auto briefed = answers.brief();
    REQUIRE(briefed.page.size() == names.size() * (names.size() - 1) / 2);
    std::vector<double> weaker_db;
    for (const auto& [pair, said] : briefed.page) {
        INFO(names.at(pair.first) << " and " << names.at(pair.second));
        const auto [out, back] = answers.path(pair.first, pair.second);
        CHECK(said.first.margin_db == Approx(out.margin_db).margin(margin_db).epsilon(0.0));
        CHECK(said.second.margin_db == Approx(back.margin_db).margin(margin_db).epsilon(0.0));
        CHECK(said.first.chance_percent == Approx(out.chance_percent).margin(0.51)); // in whole %
        CHECK(said.second.chance_percent == Approx(back.chance_percent).margin(0.51));
        weaker_db.push_back(std::min(out.margin_db, back.margin_db));
    }
    // "clear +18 dB" beside the name of a station.
    const std::regex contact(R"((clear|easy to read|readable with effort|some words|barely there|)"
                             R"(nothing heard) (\+|\xe2\x88\x92)(\d+) dB)");
    std::size_t contacts = 0;
    for (std::sregex_iterator at(briefed.cards.begin(), briefed.cards.end(), contact), end;
         at != end; ++at, ++contacts) {
        INFO(at->str());
        const double card_db = std::stod((*at)[3]) * ((*at)[2] == "+" ? 1.0 : -1.0);
        CHECK(std::any_of(weaker_db.begin(), weaker_db.end(),
                          [&](double path_db) { return std::abs(path_db - card_db) < 1.0; }));
    }
    // Each of those who talk with one another stands on the other's card.
    const auto talking = std::count_if(weaker_db.begin(), weaker_db.end(),
                                       [](double path_db) { return path_db > -19.0; });
    CHECK(contacts >= 2 * static_cast<std::size_t>(talking));
}

TEST_CASE("The chance of contact does not move with the percentages chosen for the margin") {
    const Answers half(bare);
    const Answers chosen(seldom);
    const auto net_half = half.net();
    const auto net_chosen = chosen.net();
    for (const auto& [pair, said] : net_half) {
        INFO(names.at(pair.first) << " and " << names.at(pair.second));
        CHECK(std::abs(net_chosen.at(pair).first.margin_db - said.first.margin_db) > 0.1);
        CHECK(net_chosen.at(pair).first.chance_percent ==
              Approx(said.first.chance_percent).margin(chance_percent));
        CHECK(net_chosen.at(pair).second.chance_percent ==
              Approx(said.second.chance_percent).margin(chance_percent));
        const auto path_half = half.path(pair.first, pair.second);
        const auto path_chosen = chosen.path(pair.first, pair.second);
        CHECK(path_chosen.first.chance_percent ==
              Approx(path_half.first.chance_percent).margin(chance_percent));
    }
    const std::vector<Said> map_half = half.map(0);
    const std::vector<Said> map_chosen = chosen.map(0);
    for (std::size_t person = bases; person < names.size(); ++person) {
        CHECK(map_chosen[person].chance_percent ==
              Approx(map_half[person].chance_percent).margin(chance_percent));
    }
}

TEST_CASE("The range on foot ends where the path's margin does") {
    const Question question = GENERATE(bare, seldom, woods, cover);
    INFO(question.name);
    const Answers answers(question);
    const json range = answers.range(0);
    const double spacing_m = range.at("spacing_m");
    const double wanted_db = range.at("wanted_margin_db");
    int ends = 0;
    for (const json& direction : range.at("directions")) {
        INFO(direction.dump());
        const double bearing_deg = direction.at("bearing_deg");
        const double unbroken_m = direction.at("unbroken_m");
        if (unbroken_m > 0.0) {
            CHECK(answers.path_to_spot(0, bearing_deg, unbroken_m) > wanted_db - margin_db);
        }
        if (unbroken_m < direction.at("farthest_m") || !direction.at("to_the_end")) {
            ++ends;
            CHECK(answers.path_to_spot(0, bearing_deg, unbroken_m + spacing_m) <
                  wanted_db + margin_db);
        }
    }
    CHECK(ends > 0);
}

} // namespace earshot::app
