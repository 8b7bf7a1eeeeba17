#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/link/path.hpp"
#include "link/quality.hpp"
#include "plan/all_cells.hpp"
#include "plan/relay_search.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <random>

using namespace earshot;
using namespace earshot::plan;

namespace {

// ---- searching ----------------------------------------------------------------------------------

const terrain::HeightGrid& cumberland() {
    static const terrain::HeightGrid grid = test::cumberland();
    return grid;
}

/// A window of the real ground.
terrain::HeightGrid window(int left, int top, int columns, int rows) {
    terrain::HeightGrid part;
    part.columns = columns;
    part.rows = rows;
    part.georeference = cumberland().georeference.shifted(left, top);
    for (int row = top; row < top + rows; ++row) {
        for (int column = left; column < left + columns; ++column) {
            part.height_m.push_back(cumberland().at(column, row));
        }
    }
    return part;
}

std::vector<ServedPlace> scattered(const terrain::HeightGrid& ground, std::size_t count,
                                   unsigned seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> share(0.05, 0.95);
    std::vector<ServedPlace> places;
    for (std::size_t k = 0; k < count; ++k) {
        ServedPlace place;
        place.station.name = "place " + std::to_string(k);
        place.station.position = ground.georeference.position_of(
            {share(random) * ground.columns, share(random) * ground.rows});
        place.station.antenna_height_m = 1.5;
        places.push_back(place);
    }
    return places;
}

RelayQuestion question_for(double wanted_db, std::size_t sites) {
    RelayQuestion question;
    question.relay.antenna_height_m = 5.0;
    question.wanted_margin_db = wanted_db;
    question.backbone_margin_db = wanted_db;
    question.sites = sites;
    return question;
}

double least_margin(const terrain::HeightGrid& ground, const link::Station& a,
                    const link::Station& b, const RelayQuestion& question) {
    const link::TwoWayPath path =
        link::two_way_path({&ground, {}, question.conditions, question.step_m}, a, b);
    return std::min(path.outward.budget.margin_db, path.backward.budget.margin_db);
}

} // namespace

TEST_CASE("a fast leg is the path that the path command predicts", "[relay_search]") {
    RelayQuestion question = question_for(0.0, 1);
    const std::vector<ServedPlace> places = scattered(cumberland(), 30, 3);
    const terrain::GroundCover woods = terrain::GroundCover::uniform(
        {0, "woodland", terrain::Clutter::urban_or_trees, 15.0, true});
    const auto compare = [&](const terrain::GroundLayers& layers) {
        link::PathPredictor predictor(
            {&cumberland(), layers, question.conditions, question.step_m});
        double worst = 0.0;
        for (std::size_t k = 0; k + 1 < places.size(); k += 2) {
            link::Station a = places[k].station;
            const link::Station& b = places[k + 1].station;
            a.antenna_height_m = 7.0;
            a.radio.power_dbm = 40.0;
            const link::PathMargins fast = predictor.margins(a, b);
            const link::TwoWayPath path = link::two_way_path(
                {&cumberland(), layers, question.conditions, question.step_m}, a, b);
            worst = std::max({worst, std::abs(fast.out_db - path.outward.budget.margin_db),
                              std::abs(fast.back_db - path.backward.budget.margin_db)});
        }
        return worst;
    };
    CHECK(compare({}) < 1e-6);
    CHECK(compare({&woods, nullptr}) < 1e-6);
    question.conditions.location_percent = 90.0;
    CHECK_FALSE(propagation::reciprocal(question.conditions));
    CHECK(compare({&woods, nullptr}) < 1e-6);
    for (const propagation::MethodInfo& info : propagation::methods()) {
        question.conditions = {};
        question.conditions.method = info.method;
        INFO(info.name);
        CHECK(compare({}) < 1e-6);
    }
}

TEST_CASE("the search agrees with trying every pair of sites", "[relay_search]") {
    const terrain::HeightGrid ground = window(100, 100, 120, 120);
    const std::vector<ServedPlace> places = scattered(ground, 8, 5);
    CandidateOptions options;
    options.most = 30;
    const std::vector<Candidate> candidates = find_candidates(ground, {}, options).candidates;
    const RelayQuestion question = question_for(45.0, 2);
    std::vector<unsigned> served(candidates.size(), 0);
    for (std::size_t k = 0; k < candidates.size(); ++k) {
        link::Station relay = question.relay;
        relay.position = candidates[k].position;
        for (std::size_t p = 0; p < places.size(); ++p) {
            if (least_margin(ground, relay, places[p].station, question) >= 45.0) {
                served[k] |= 1U << p;
            }
        }
    }
    int best = 0;
    int best_single = 0;
    for (const unsigned a : served) {
        best_single = std::max(best_single, std::popcount(a));
        for (const unsigned b : served) {
            best = std::max(best, std::popcount(a | b));
        }
    }
    REQUIRE(best > best_single);
    const RelayAnswer answer = search_relays(candidates, places, test::on(ground, question));
    CHECK(static_cast<int>(answer.places_served) == best);
    CHECK(answer.served == Approx(best));
    CHECK(answer.cover.proven);
    CHECK(static_cast<int>(answer.ranking[0].served) == best_single);
    for (std::size_t s = 0; s < answer.sites.size(); ++s) {
        const RelaySite& site = answer.sites[s];
        for (const PlaceService& service : site.services) {
            CHECK(!service.miss == (((served[answer.cover.chosen[s]] >> service.place) & 1U) != 0));
            CHECK(
                service.margins.least_db() ==
                Approx(least_margin(ground, site.station, places[service.place].station, question))
                    .margin(1e-6));
        }
    }
}

TEST_CASE("single sites that are listed do not crowd one summit", "[relay_search]") {
    const terrain::HeightGrid ground = window(100, 100, 120, 120);
    std::vector<ServedPlace> places = scattered(ground, 12, 4);
    places[0].weight = 20.0;
    CandidateOptions options;
    options.most = 200;
    const std::vector<Candidate> candidates = find_candidates(ground, {}, options).candidates;
    RelayQuestion question = question_for(45.0, 1);
    question.apart_m = 0.0;
    question.ranking = candidates.size();
    const std::vector<RankedCandidate> all =
        search_relays(candidates, places, test::on(ground, question)).ranking;
    question.apart_m = 1500.0;
    question.ranking = 8;
    const RelayAnswer answer = search_relays(candidates, places, test::on(ground, question));
    const std::vector<RankedCandidate>& listed = answer.ranking;
    REQUIRE(listed.size() == 8);
    // By hand: of all in order, each that is far enough from those taken.
    std::vector<std::size_t> expected;
    for (const RankedCandidate& single : all) {
        const bool apart = std::ranges::all_of(expected, [&](std::size_t taken) {
            return geo::geodesic_between(candidates[taken].position,
                                         candidates[single.candidate].position)
                       .distance_m >= 1500.0;
        });
        if (apart && expected.size() < 8) {
            expected.push_back(single.candidate);
        }
    }
    for (std::size_t k = 0; k < listed.size(); ++k) {
        CHECK(listed[k].candidate == expected[k]);
        CHECK_THAT(
            report::site_words(answer, listed[k], places),
            Catch::StartsWith(report::served_words(listed[k].served, 12, listed[k].weight, 31.0)
                                  .insert(0, "hears ")));
    }
    CHECK(report::served_words(9, 12, 9.0, 12.0) == "9 of 12");
    CHECK(report::served_words(9, 12, 340.0, 420.0) == "9 of 12 (340 of 420 people)");
}

TEST_CASE("little is lost by looking at prominent places only", "[relay_search]") {
    // Every cell of six small areas of real ground against 4 % of them.
    double all_cells_served = 0.0;
    double prominent_served = 0.0;
    int areas = 0;
    for (const auto& [left, top] :
         {std::pair(40, 40), {160, 40}, {280, 60}, {60, 220}, {180, 200}, {300, 240}}) {
        const terrain::HeightGrid ground = window(left, top, 60, 60);
        const std::vector<ServedPlace> places =
            scattered(ground, 16, static_cast<unsigned>(left + top));
        CandidateOptions options;
        options.most = 144;
        const CandidateSet prominent = find_candidates(ground, {}, options);
        const CandidateSet every = test::all_cells(ground, {});
        REQUIRE(every.candidates.size() == 3600);
        REQUIRE(prominent.candidates.size() <= 144);
        const RelayQuestion question = question_for(40.0, 1);
        const double best =
            search_relays(every.candidates, places, test::on(ground, question)).served;
        const double found =
            search_relays(prominent.candidates, places, test::on(ground, question)).served;
        CHECK(found <= best);
        CHECK(found >= best - 2.0);
        all_cells_served += best;
        prominent_served += found;
        ++areas;
    }
    std::printf(
        "prominent places serve %.0f of the %.0f places that every cell would, in %d areas\n",
        prominent_served, all_cells_served, areas);
    CHECK(all_cells_served < 16.0 * areas); // the question is not too easy
    CHECK(prominent_served >= 0.95 * all_cells_served);
}

TEST_CASE("relays hang together with the base when asked to", "[relay_search]") {
    const std::vector<ServedPlace> places = scattered(cumberland(), 20, 9);
    CandidateOptions options;
    options.most = 60;
    const std::vector<Candidate> candidates = find_candidates(cumberland(), {}, options).candidates;
    RelayQuestion question = question_for(20.0, 3);
    const double free_choice =
        search_relays(candidates, places, test::on(cumberland(), question)).served;
    question.connected = true;
    link::Station base = places[0].station;
    base.name = "base";
    question.bases = {base};
    const RelayAnswer answer = search_relays(candidates, places, test::on(cumberland(), question));
    REQUIRE_FALSE(answer.sites.empty());
    CHECK(answer.served <= free_choice);
    // Flood from the base over links that two_way_path() confirms.
    std::vector<link::Station> reached{base};
    std::vector<const RelaySite*> left;
    for (const RelaySite& site : answer.sites) {
        left.push_back(&site);
    }
    for (std::size_t k = 0; k < reached.size(); ++k) {
        std::erase_if(left, [&](const RelaySite* site) {
            const bool linked =
                least_margin(cumberland(), reached[k], site->station, question) >= 20.0 - 1e-6;
            if (linked) {
                reached.push_back(site->station);
            }
            return linked;
        });
    }
    CHECK(left.empty());
    CHECK_THAT(report::site_words(answer, 0, places), Catch::Contains("linked with"));
}

TEST_CASE("a miss names the ground that stands in the way", "[relay_search]") {
    // A wall of 100 m, 2.1 km from the relay, on flat ground at 100 m; place 4.2 km away. With
    // antennas at 5 m and 1.5 m the line passes 3.25 m over the flat ground there and the earth
    // bulges by 2.1^2 / (2 a_e) = 0.26 m, so that the wall of 100 m stands 97 m above the line. The
    // margin wanted is set so that only the wall makes the miss.
    terrain::HeightGrid ground = test::rough_ground(200, 21, 0.0);
    for (int row = 0; row < 21; ++row) {
        for (std::size_t column = 89; column <= 91; ++column) {
            ground.height_m[static_cast<std::size_t>(row) * 200 + column] += 100.0F;
        }
    }
    const auto at = [&](double column) { return ground.georeference.position_of({column, 10.0}); };
    Candidate candidate;
    candidate.position = at(20.0);
    ServedPlace mill;
    mill.station.name = "Mill";
    mill.station.position = at(160.0);
    mill.station.antenna_height_m = 1.5;
    ServedPlace near = mill;
    near.station.name = "Near";
    near.station.position = at(30.0);
    RelayQuestion question = question_for(45.0, 1);
    question.step_m = 30.0;
    const std::vector<ServedPlace> places{mill, near};
    const RelayAnswer answer = search_relays({&candidate, 1}, places, test::on(ground, question));
    REQUIRE(answer.sites.size() == 1);
    CHECK_THAT(
        report::site_words(answer, 0, places),
        Catch::Contains("hears 1 of 2; misses Mill because the ground 2.13 km from the relay "
                        "stands 97 m above the line"));

    // Over the same flat ground without a wall it is the distance.
    std::ranges::fill(ground.height_m, 300.0F);
    question.relay.antenna_height_m = mill.station.antenna_height_m = 150.0;
    question.wanted_margin_db = 69.0;
    CHECK_THAT(report::miss_words(miss_between({"relay", candidate.position, 150.0, {}}, mill,
                                               test::on(ground, question))),
               Catch::Contains("too far for these radios"));
    // And with a strong relay only one way is missing.
    question.wanted_margin_db = 65.0;
    link::Station strong{"relay", candidate.position, 150.0, {}};
    strong.radio.power_dbm += 20.0;
    mill.station.radio.power_dbm -= 20.0;
    CHECK_THAT(report::miss_words(miss_between(strong, mill, test::on(ground, question))),
               Catch::StartsWith("it hears the relay but the relay does not hear it"));
}

TEST_CASE("a site tells its weakest link, and whom holding the radio would bring in",
          "[relay_search]") {
    const terrain::HeightGrid ground = test::rough_ground(300, 100, 0.0);
    RelayQuestion question = question_for(0.0, 1);
    const auto place = [&](const char* name, double column, double body_db) {
        ServedPlace served;
        served.station.name = name;
        served.station.position = ground.georeference.position_of({column, 50.0});
        served.station.antenna_height_m = 1.5;
        served.station.radio.body_loss_db = body_db;
        return served;
    };
    // On the belt 16 dB, at the face 3 dB at 146 MHz (docs/woods-and-noise.md).
    const std::vector<ServedPlace> places{place("Near", 40.0, 0.0), place("Far", 160.0, 3.0),
                                          place("Belt", 160.0, 16.0)};
    Candidate candidate;
    candidate.position = ground.georeference.position_of({20.0, 50.0});
    link::Station relay = question.relay;
    relay.position = candidate.position;
    question.wanted_margin_db = least_margin(ground, relay, places[1].station, question) - 5.0;
    const RelayAnswer answer = search_relays({&candidate, 1}, places, test::on(ground, question));
    REQUIRE(answer.sites.size() == 1);
    REQUIRE(answer.sites[0].weakest);
    CHECK(places[answer.sites[0].weakest->place].station.name == "Far");
    CHECK(answer.sites[0].weakest->margin_db == Approx(question.wanted_margin_db + 5.0));
    const std::string words = report::site_words(answer, 0, places);
    CHECK_THAT(words, Catch::Contains("hears 2 of 3; misses Belt because ") &&
                          Catch::Contains("; weakest link Far (margin ") &&
                          Catch::Contains(", chance ") &&
                          Catch::Contains("(served with the radio held at the face instead of on "
                                          "the belt)"));
}

TEST_CASE("an area is served cell by cell as a map shows it", "[relay_search]") {
    const terrain::HeightGrid ground = window(100, 100, 100, 100);
    terrain::Shapes area;
    area.label = "valley.geojson";
    const auto at = [&](double column, double row) {
        return ground.georeference.position_of({column, row});
    };
    area.polygons = {{{at(20.2, 20.2), at(80.2, 20.2), at(80.2, 80.2), at(20.2, 80.2)}}};
    link::Station person;
    person.antenna_height_m = 1.5;
    const ServiceArea service = service_area(ground, area, 1, nullptr, person);
    const auto cells = std::ranges::count_if(service.weight, [](double w) { return w > 0.0; });
    CHECK(cells == 60 * 60);

    CandidateOptions options;
    options.most = 12;
    const std::vector<Candidate> candidates = find_candidates(ground, {}, options).candidates;
    RelayQuestion question = question_for(45.0, 1);
    question.range_m = 20000.0;
    const RelayAnswer answer = search_relays(candidates, service, test::on(ground, question));
    REQUIRE(answer.sites.size() == 1);
    REQUIRE(answer.cover.proven);
    // Every candidate's own exact map: the best may differ by what a preview leaves out.
    double best = 0.0;
    double chosen = 0.0;
    for (std::size_t k = 0; k < candidates.size(); ++k) {
        coverage::SweepRequest request;
        request.site = candidates[k].position;
        request.site_antenna_m = 5.0;
        request.range_m = 20000.0;
        request.step_m = 90.0;
        request.engine = coverage::Engine::exact;
        const coverage::SweepResult map = coverage::sweep(service.map, test::on(ground, request));
        double served = 0.0;
        for (std::size_t cell = 0; cell < service.weight.size(); ++cell) {
            // 5 W into 0 dBi against -116 dBm, less the wanted margin.
            if (map.loss_db[cell] <= 36.99F + 116.0F - 45.0F) {
                served += service.weight[cell];
            }
        }
        best = std::max(best, served);
        if (k == answer.cover.chosen[0]) {
            chosen = served;
        }
    }
    CHECK(answer.served == Approx(chosen).epsilon(0.03));
    CHECK(chosen >= 0.98 * best);
    CHECK(answer.served < 0.99 * answer.total);
    // What of it hangs on the choice of the model, cell by cell.
    const RelayQuestion asked = test::on(ground, question);
    link::PathPredictor predictor(asked);
    double served = 0.0;
    double to_try = 0.0;
    for (std::size_t cell = 0; cell < service.weight.size(); ++cell) {
        person.position = service.map.centre_of(cell);
        if (service.weight[cell] > 0.0) {
            const link::PathMargins margins =
                predictor.margins(answer.sites[0].station, person, true);
            if (margins.least_db() >= 45.0) {
                served += service.weight[cell];
                to_try += link::try_first(margins.least_db(), margins.apart_db, 45.0)
                              ? service.weight[cell]
                              : 0.0;
            }
        }
    }
    REQUIRE(to_try > 0.0);
    REQUIRE(answer.sites[0].share_to_try);
    // From every fourth cell; the preview serves a few others.
    CHECK(*answer.sites[0].share_to_try == Approx(to_try / served).margin(0.05));
    CHECK_THAT(report::site_words(answer, 0, {}), Catch::Contains("% of what it serves: test"));
}

TEST_CASE("sifting on larger cells first loses little", "[relay_search]") {
    const terrain::HeightGrid ground = window(60, 60, 240, 240);
    terrain::Shapes area;
    area.label = "valley.geojson";
    const auto at = [&](double column, double row) {
        return ground.georeference.position_of({column, row});
    };
    area.polygons = {{{at(20, 20), at(220, 20), at(220, 220), at(20, 220)}}};
    link::Station person;
    person.antenna_height_m = 1.5;
    const ServiceArea fine = service_area(ground, area, 2, nullptr, person);
    const ServiceArea coarse = service_area(ground, area, 8, nullptr, person);
    CandidateOptions options;
    options.most = 150;
    const std::vector<Candidate> candidates = find_candidates(ground, {}, options).candidates;
    RelayQuestion question = question_for(40.0, 3);
    question.range_m = 20000.0;
    question.apart_m = 0.0;
    const RelayAnswer all = search_relays(candidates, fine, test::on(ground, question));
    const RelayAnswer sifted =
        search_relays_in_stages(candidates, coarse, fine, test::on(ground, question), 15);
    REQUIRE(all.sites.size() == 3);
    REQUIRE(sifted.sites.size() == 3);
    CHECK(all.served < 0.9 * all.total); // the question is not too easy
    CHECK(sifted.served <= all.cover.bound);
    CHECK(sifted.served >= 0.97 * all.served);
    CHECK(sifted.candidates == candidates.size());
    CHECK_THAT(report::relay_words(sifted), Catch::Contains("the 15 most promising of "));
    for (std::size_t k = 0; k < 3; ++k) {
        const Candidate& chosen = candidates[sifted.cover.chosen[k]];
        CHECK(
            geo::geodesic_between(chosen.position, sifted.sites[k].candidate.position).distance_m <
            0.01);
    }
    // Few candidates, or links, are searched at once.
    CHECK(search_relays_in_stages({candidates.data(), 12}, coarse, fine, test::on(ground, question),
                                  15)
              .served ==
          search_relays({candidates.data(), 12}, fine, test::on(ground, question)).served);
}

TEST_CASE("an area weighed by people counts them", "[relay_search]") {
    const terrain::HeightGrid ground = window(100, 100, 40, 40);
    const auto at = [&](double column, double row) {
        return ground.georeference.position_of({column, row});
    };
    terrain::Shapes area;
    area.label = "district.geojson";
    area.polygons = {{{at(9.5, 9.5), at(29.5, 9.5), at(29.5, 29.5), at(9.5, 29.5)}}};
    terrain::HeightGrid people = ground;
    std::ranges::fill(people.height_m, 0.0F);
    people.height_m[15 * 40 + 15] = 120.0F;
    people.height_m[15 * 40 + 16] = 30.0F;
    people.height_m[5 * 40 + 5] = 1000.0F; // outside
    people.height_m[20 * 40 + 20] = NAN;
    const ServiceArea service = service_area(ground, area, 2, &people, {});
    double sum = 0.0;
    for (const double w : service.weight) {
        sum += w;
    }
    CHECK(sum == Approx(150.0));
    std::ranges::fill(people.height_m, 0.0F);
    CHECK_THROWS_WITH(service_area(ground, area, 2, &people, {}),
                      Catch::Contains("district.geojson"));
    CHECK_THROWS_WITH(service_area(ground, area, 0, nullptr, {}), Catch::Contains("at least one"));
    area.polygons = {{{{0.0, 0.0}, {0.0, 1.0}, {1.0, 1.0}}}};
    CHECK_THROWS_WITH(service_area(ground, area, 2, nullptr, {}),
                      Catch::Contains("no cell of the elevation lies inside district.geojson"));
}

namespace {

/// Asks to stop once a few candidates are done, as Ctrl-C would.
class StopsSoon : public Task {
public:
    void advance(std::uint64_t steps) override { done_ += steps; }
    [[nodiscard]] bool stop_requested() const noexcept override { return done_ >= 40; }

private:
    std::uint64_t done_ = 0;
};

} // namespace

TEST_CASE("stopped by the user, the search gives the best so far", "[relay_search]") {
    const std::vector<ServedPlace> places = scattered(cumberland(), 10, 1);
    CandidateOptions options;
    options.most = 400;
    const std::vector<Candidate> candidates = find_candidates(cumberland(), {}, options).candidates;
    const RelayQuestion question = question_for(20.0, 2);
    StopsSoon task;
    const RelayAnswer answer =
        search_relays(candidates, places, test::on(cumberland(), question), task);
    CHECK(answer.stopped);
    CHECK(answer.evaluated == 40);
    CHECK_FALSE(answer.sites.empty());
    CHECK(answer.served > 0.0);
    CHECK_THAT(report::relay_words(answer), Catch::Contains("stopped after 40 of"));
}

TEST_CASE("stopped while candidates are found, the likeliest so far are there", "[relay_search]") {
    CandidateOptions options;
    options.most = 3000;
    StopsSoon task;
    const CandidateSet set = find_candidates(cumberland(), {}, options, task);
    const auto highest =
        std::max_element(cumberland().height_m.begin(), cumberland().height_m.end());
    CHECK(set.stopped);
    CHECK(set.candidates.size() == 40);
    CHECK(std::any_of(set.candidates.begin(), set.candidates.end(), [&](const Candidate& c) {
        return c.ground_m == static_cast<double>(*highest);
    }));
}

TEST_CASE("the words tell how far a choice may be from the best", "[relay_search]") {
    maths::CoverAnswer answer;
    answer.covered = 7.0;
    answer.coverable = answer.bound = 8.0;
    CHECK_THAT(report::choice_words(answer), Catch::Contains("at least 87 %"));
    answer.method = maths::CoverMethod::exact;
    answer.stopped = answer.timed_out = true;
    CHECK_THAT(report::choice_words(answer),
               Catch::Contains("stopped at its time limit: at least ") &&
                   Catch::Contains(" % of the best possible"));
    answer.stopped = answer.timed_out = false;
    answer.proven = true;
    CHECK_THAT(report::choice_words(answer), Catch::Contains("no choice among these"));
}

TEST_CASE("questions that cannot be answered are refused", "[relay_search]") {
    const terrain::HeightGrid ground = window(100, 100, 40, 40);
    const std::vector<ServedPlace> places = scattered(ground, 3, 1);
    const std::vector<Candidate> candidates = find_candidates(ground, {}, {}).candidates;
    const auto refused = [&](auto change, const char* words) {
        std::vector<ServedPlace> own = places;
        std::vector<Candidate> where = candidates;
        RelayQuestion question = question_for(0.0, 1);
        change(question, own, where);
        CHECK_THROWS_WITH(search_relays(where, own, test::on(ground, question)),
                          Catch::Contains(words));
    };
    using Places = std::vector<ServedPlace>;
    using Where = std::vector<Candidate>;
    refused([](RelayQuestion&, Places& p, Where&) { p.clear(); }, "no place to serve");
    refused([](RelayQuestion&, Places&, Where& w) { w.clear(); }, "no candidate");
    refused([](RelayQuestion& q, Places&, Where&) { q.sites = 0; }, "0 relays");
    refused([](RelayQuestion& q, Places&, Where&) { q.step_m = -1.0; }, "step of profiles");
    refused([](RelayQuestion& q, Places&, Where&) { q.wanted_margin_db = NAN; }, "wanted margins");
    refused([](RelayQuestion& q, Places&, Where&) { q.relay.antenna_height_m = -1.0; },
            "relay's antenna");
    refused([](RelayQuestion&, Places& p, Where&) { p[1].weight = -2.0; }, "weight -2 of place 1");
    refused(
        [](RelayQuestion&, Places& p, Where&) {
            p[2].station.position = {0.0, 0.0};
        },
        "the place place 2 (0.00000, 0.00000) is off");
    refused(
        [](RelayQuestion&, Places&, Where& w) {
            w[0].position = {0.0, 0.0};
        },
        "the candidate at 0.00000");
    refused(
        [](RelayQuestion& q, Places&, Where&) {
            q.bases.emplace_back();
            q.bases[0].name = "HQ";
        },
        "the base HQ");
}
