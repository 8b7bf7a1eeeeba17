#include "plan/relay_search.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <numbers>
#include <optional>

namespace earshot::plan {

double margin_without_path_db(const link::Radio& a, const link::Radio& b) {
    return std::min(link::received_without_path_dbm(a, b) - b.threshold_dbm,
                    link::received_without_path_dbm(b, a) - a.threshold_dbm);
}

Miss miss_between(const link::Station& relay, const link::Station& place,
                  const RelayQuestion& question) {
    Miss miss;
    miss.distance_m = geo::geodesic_between(relay.position, place.position).distance_m;
    if (miss.distance_m < link::least_distance_m) {
        miss.cause = MissCause::radios;
        return miss;
    }
    if (terrain::sample_profile(*question.ground, relay.position, place.position, question.step_m)
            .has_void()) {
        miss.cause = MissCause::unknown_ground;
        return miss;
    }
    const link::TwoWayPath path = link::two_way_path(question, relay, place);
    const double out_db = path.outward.budget.margin_db;
    const double back_db = path.backward.budget.margin_db;
    miss.relay_heard = out_db >= question.wanted_margin_db;
    miss.place_heard = back_db >= question.wanted_margin_db;
    miss.short_db = question.wanted_margin_db - std::min(out_db, back_db);
    const propagation::Sight& sight = path.outward.loss.sight;
    miss.ground_at_m = 1000.0 * sight.closest.distance_km;
    miss.above_line_m = sight.closest.height_above_line_m;
    if (!sight.clear) {
        miss.cause = MissCause::blocked;
    } else if (coverage::sight_class(sight) == coverage::SightClass::grazing) {
        miss.cause = MissCause::grazing;
    }
    return miss;
}

namespace {

void require_on_ground(const terrain::HeightGrid& ground, const link::Station& station,
                       const char* what) {
    if (std::isnan(ground.sample(station.position))) {
        throw_input(fmt::format("{} {} ({}) is off the elevation or in a void of it; move it or "
                                "give elevation that covers it",
                                what, station.name, geo::format_decimal(station.position)));
    }
    if (!(station.antenna_height_m >= 0.0)) {
        throw_usage(fmt::format("the antenna of {} {} must be 0 m or more above the ground", what,
                                station.name));
    }
}

void check(std::span<const Candidate> candidates, const RelayQuestion& question) {
    if (candidates.empty()) {
        throw_input("there is no candidate for a relay; relax the constraints");
    }
    if (question.sites < 1 || question.sites > 1000) {
        throw_usage(fmt::format("{} relays are not possible; ask for 1 to 1000", question.sites));
    }
    if (!(question.step_m > 0.0)) {
        throw_usage("the step of profiles must be longer than 0 m");
    }
    if (!(question.relay.antenna_height_m >= 0.0)) {
        throw_usage("the relay's antenna must be 0 m or more above the ground");
    }
    if (!std::isfinite(question.wanted_margin_db) || !std::isfinite(question.backbone_margin_db)) {
        throw_usage("the wanted margins must be numbers of dB");
    }
    for (const link::Station& base : question.bases) {
        require_on_ground(*question.ground, base, "the base");
    }
    for (const Candidate& candidate : candidates) {
        if (std::isnan(question.ground->sample(candidate.position))) {
            throw_input(fmt::format("the candidate at {} is off the elevation or in a void of it",
                                    geo::format_decimal(candidate.position)));
        }
    }
}

link::Station relay_at(const Candidate& candidate, const RelayQuestion& question) {
    link::Station station = question.relay;
    station.position = candidate.position;
    station.name = candidate.name;
    return station;
}

/// Links among candidates and with the bases, predicted when asked for.
class PredictedLinks : public maths::SiteLinks {
public:
    PredictedLinks(const std::vector<Candidate>& candidates, const RelayQuestion& question,
                   const Task& task)
        : candidates_(candidates), question_(question), threads_(task.threads()),
          workers_(link::predictors(question, threads_)), rows_(candidates.size()),
          at_base_(candidates.size(), -1) {}

    const std::vector<std::size_t>& neighbours(std::size_t site) override {
        if (!rows_[site]) {
            std::vector<char> linked(candidates_.size(), 0);
            const link::Station here = relay_at(candidates_[site], question_);
            parallel_for(candidates_.size(), threads_, [&](std::size_t k, unsigned w) {
                if (k == site) {
                    return;
                }
                if (rows_[k]) {
                    linked[k] =
                        std::binary_search(rows_[k]->begin(), rows_[k]->end(), site) ? 1 : 0;
                    return;
                }
                linked[k] =
                    workers_[w].margins(here, relay_at(candidates_[k], question_)).least_db() >=
                            question_.backbone_margin_db
                        ? 1
                        : 0;
            });
            std::vector<std::size_t> row;
            for (std::size_t k = 0; k < linked.size(); ++k) {
                if (linked[k] != 0) {
                    row.push_back(k);
                }
            }
            rows_[site] = std::move(row);
        }
        return *rows_[site];
    }
    bool has_base() const override { return !question_.bases.empty(); }
    bool at_base(std::size_t site) override {
        if (at_base_[site] < 0) {
            const link::Station here = relay_at(candidates_[site], question_);
            at_base_[site] = std::any_of(
                question_.bases.begin(), question_.bases.end(), [&](const link::Station& base) {
                    return workers_.front().margins(here, base).least_db() >=
                           question_.backbone_margin_db;
                });
        }
        return at_base_[site] > 0;
    }

private:
    const std::vector<Candidate>& candidates_;
    const RelayQuestion& question_;
    unsigned threads_;
    std::vector<link::PathPredictor> workers_;
    std::vector<std::optional<std::vector<std::size_t>>> rows_;
    std::vector<int> at_base_;
};

/// What evaluating the candidates gave: only those that were reached before the user stopped it.
struct Evaluated {
    std::vector<Candidate> candidates;
    std::vector<std::size_t> original; ///< their indices in the caller's list
    maths::BitRows serves;
    std::vector<double> merit;
};

/// Calls `evaluate(k, worker)` for every candidate until the user stops it, and tells which were
/// done.
std::vector<char> evaluate_all(std::size_t count, std::string_view stage, Task& task,
                               const std::function<void(std::size_t, unsigned)>& evaluate) {
    std::vector<char> done(count, 0);
    task.begin(stage, count);
    parallel_for(count, task.threads(), [&](std::size_t k, unsigned worker) {
        if (task.stop_requested()) {
            return;
        }
        try {
            evaluate(k, worker);
        } catch (const Error& error) {
            if (error.fault() == Fault::stopped) {
                return;
            }
            throw;
        }
        done[k] = 1;
        task.advance(1);
    });
    if (std::find(done.begin(), done.end(), 1) == done.end()) {
        task.throw_if_stopped();
    }
    return done;
}

/// Leaves out candidates that were not evaluated.
Evaluated only_done(std::span<const Candidate> candidates, const std::vector<char>& done,
                    maths::BitRows serves, const std::vector<double>& merit) {
    Evaluated evaluated;
    for (std::size_t k = 0; k < candidates.size(); ++k) {
        if (done[k] != 0) {
            evaluated.candidates.push_back(candidates[k]);
            evaluated.original.push_back(k);
            evaluated.merit.push_back(merit[k]);
        }
    }
    if (evaluated.candidates.size() == candidates.size()) {
        evaluated.serves = std::move(serves);
        return evaluated;
    }
    evaluated.serves = maths::BitRows(evaluated.candidates.size(), serves.columns());
    for (std::size_t k = 0; k < evaluated.original.size(); ++k) {
        maths::for_each_bit(serves.row(evaluated.original[k]),
                            [&](std::size_t item) { evaluated.serves.set(k, item); });
    }
    return evaluated;
}

double weight_of(std::span<const std::uint64_t> row, const std::vector<double>& weight) {
    double sum = 0.0;
    maths::for_each_bit(row, [&](std::size_t item) { sum += weight[item]; });
    return sum;
}

/// The candidates that serve the most, each at least `apart_m` from those before it.
std::vector<RankedCandidate> ranked(const Evaluated& evaluated, const std::vector<double>& weight,
                                    const RelayQuestion& question) {
    std::vector<RankedCandidate> all(evaluated.candidates.size());
    std::vector<std::size_t> order(all.size());
    for (std::size_t k = 0; k < all.size(); ++k) {
        order[k] = k;
        all[k].candidate = evaluated.original[k];
        const auto row = evaluated.serves.row(k);
        all[k].weight = weight_of(row, weight);
        maths::for_each_bit(row, [&](std::size_t) { ++all[k].served; });
    }
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return std::pair(all[a].weight, evaluated.merit[a]) >
               std::pair(all[b].weight, evaluated.merit[b]);
    });
    std::vector<RankedCandidate> best;
    std::vector<geo::LatLon> listed;
    for (const std::size_t k : order) {
        if (best.size() >= question.ranking || all[k].served == 0) {
            break;
        }
        const geo::LatLon here = evaluated.candidates[k].position;
        const bool crowded =
            std::any_of(listed.begin(), listed.end(), [&](const geo::LatLon& other) {
                return geo::geodesic_between(here, other).distance_m < question.apart_m;
            });
        if (!crowded) {
            best.push_back(all[k]);
            listed.push_back(here);
        }
    }
    return best;
}

maths::CoverProblem problem_of(const Evaluated& evaluated, const std::vector<double>& weight,
                               const RelayQuestion& question) {
    maths::CoverProblem problem;
    problem.serves = &evaluated.serves;
    problem.weight = weight;
    problem.merit = evaluated.merit;
    problem.sites = question.sites;
    problem.fewest = question.fewest;
    return problem;
}

/// The links of each site with bases and with the other sites.
void add_links(const RelayQuestion& question, std::vector<RelaySite>& sites) {
    link::PathPredictor predictor(question);
    for (RelaySite& site : sites) {
        const auto add = [&](const link::Station& other) {
            const link::PathMargins margins = predictor.margins(site.station, other);
            if (margins.least_db() >= question.backbone_margin_db) {
                site.links.push_back({other.name, margins});
            }
        };
        for (const link::Station& base : question.bases) {
            add(base);
        }
        for (const RelaySite& other : sites) {
            if (&other != &site) {
                add(other.station);
            }
        }
    }
}

/// Chooses sites among what was evaluated, and fills in all that does not depend on what the items
/// are.
RelayAnswer choose(std::size_t candidates, const Evaluated& evaluated,
                   const std::vector<double>& weight, const RelayQuestion& question, Task& task) {
    std::unique_ptr<PredictedLinks> links;
    if (question.connected) {
        links = std::make_unique<PredictedLinks>(evaluated.candidates, question, task);
    }
    maths::CoverProblem problem = problem_of(evaluated, weight, question);
    problem.links = links.get();
    RelayAnswer answer;
    answer.cover = maths::choose_sites(problem, question.limits, task);
    answer.candidates = candidates;
    answer.evaluated = evaluated.candidates.size();
    answer.stopped = answer.evaluated < candidates || task.stop_requested();
    answer.ranking = ranked(evaluated, weight, question);
    answer.places = weight.size();
    for (const double w : weight) {
        answer.total += w;
    }
    std::vector<bool> served(weight.size(), false);
    for (const std::size_t chosen : answer.cover.chosen) {
        RelaySite site;
        site.candidate = evaluated.candidates[chosen];
        site.station = relay_at(site.candidate, question);
        if (site.station.name.empty()) {
            site.station.name = fmt::format("relay {}", answer.sites.size() + 1);
        }
        maths::for_each_bit(evaluated.serves.row(chosen), [&](std::size_t item) {
            ++site.places_served;
            site.alone += weight[item];
            if (!served[item]) {
                served[item] = true;
                site.added += weight[item];
                ++answer.places_served;
            }
        });
        answer.served += site.added;
        answer.sites.push_back(std::move(site));
    }
    if (question.connected) {
        add_links(question, answer.sites);
    }
    for (std::size_t& chosen : answer.cover.chosen) {
        chosen = evaluated.original[chosen];
    }
    return answer;
}

/// Which of the places a relay serves, and why it does not serve the others.
std::vector<PlaceService> services_of(std::span<const ServedPlace> places,
                                      const link::Station& relay, const RelayQuestion& question,
                                      link::PathPredictor& predictor) {
    std::vector<PlaceService> services;
    for (std::size_t k = 0; k < places.size(); ++k) {
        const link::Station& place = places[k].station;
        PlaceService service{k, predictor.margins(relay, place), std::nullopt};
        if (!(service.margins.least_db() >= question.wanted_margin_db)) {
            service.miss = miss_between(relay, place, question);
        }
        services.push_back(service);
    }
    return services;
}

} // namespace

RelayAnswer search_relays(std::span<const Candidate> candidates,
                          std::span<const ServedPlace> places, const RelayQuestion& question,
                          Task& task) {
    check(candidates, question);
    if (places.empty()) {
        throw_input("there is no place to serve; name at least one");
    }
    std::vector<double> weight;
    for (const ServedPlace& place : places) {
        require_on_ground(*question.ground, place.station, "the place");
        if (!(place.weight > 0.0 && std::isfinite(place.weight))) {
            throw_usage(fmt::format("the weight {} of {} is not possible; it must be more than 0",
                                    place.weight, place.station.name));
        }
        weight.push_back(place.weight);
    }
    maths::BitRows serves(candidates.size(), places.size());
    std::vector<double> merit(candidates.size(), 0.0);
    std::vector<link::PathPredictor> workers = link::predictors(question, task.threads());
    const std::vector<char> done = evaluate_all(
        candidates.size(), "relay candidates", task, [&](std::size_t k, unsigned worker) {
            const link::Station relay = relay_at(candidates[k], question);
            constexpr double ample_db = 20.0; // more makes no difference to people
            double spare = 0.0;
            for (std::size_t p = 0; p < places.size(); ++p) {
                const double margin = workers[worker].margins(relay, places[p].station).least_db();
                if (margin >= question.wanted_margin_db) {
                    serves.set(k, p);
                    spare += std::min(margin - question.wanted_margin_db, ample_db);
                }
            }
            merit[k] = spare / (ample_db * static_cast<double>(places.size()));
        });
    const Evaluated evaluated = only_done(candidates, done, std::move(serves), merit);
    RelayAnswer answer = choose(candidates.size(), evaluated, weight, question, task);
    link::PathPredictor predictor(question);
    for (RelaySite& site : answer.sites) {
        site.services = services_of(places, site.station, question, predictor);
    }
    for (RankedCandidate& single : answer.ranking) {
        single.services = services_of(places, relay_at(candidates[single.candidate], question),
                                      question, predictor);
    }
    return answer;
}

namespace {

/// Adds the values of a raster to the cells within in which its cell centres lie.
void count_people(const terrain::HeightGrid& people, const std::vector<char>& within,
                  ServiceArea& service) {
    const coverage::MapGrid& map = service.map;
    for (int row = 0; row < people.rows; ++row) {
        for (int column = 0; column < people.columns; ++column) {
            const auto count = static_cast<double>(people.at(column, row));
            if (!(count > 0.0)) {
                continue;
            }
            const terrain::CellPosition cell = map.georeference.cell_of(
                people.georeference.position_of({1.0 * column, 1.0 * row}));
            // NaN is off the map too.
            if (!(cell.column >= -0.5 && cell.row >= -0.5 && cell.column <= map.columns - 0.5 &&
                  cell.row <= map.rows - 0.5)) {
                continue;
            }
            const double nearest_row = std::min(std::floor(cell.row + 0.5), map.rows - 1.0);
            const double nearest = std::min(std::floor(cell.column + 0.5), map.columns - 1.0);
            const std::size_t index =
                static_cast<std::size_t>(nearest_row) * static_cast<std::size_t>(map.columns) +
                static_cast<std::size_t>(nearest);
            if (within[index] != 0) {
                service.weight[index] += count;
            }
        }
    }
}

} // namespace

ServiceArea service_area(const terrain::HeightGrid& ground, const terrain::Shapes& area,
                         int cells_per_side, const terrain::HeightGrid* people,
                         link::Station person, const Task& task) {
    if (cells_per_side < 1) {
        throw_usage("a cell of the area must be at least one cell of the elevation wide");
    }
    const terrain::Georeference& fine = ground.georeference;
    const double half = (cells_per_side - 1) / 2.0;
    ServiceArea service;
    service.person = std::move(person);
    service.unit = people == nullptr ? ServedUnit::km2 : ServedUnit::people;
    service.map.columns = std::max(1, ground.columns / cells_per_side);
    service.map.rows = std::max(1, ground.rows / cells_per_side);
    service.map.georeference = terrain::Georeference(
        fine.crs_wkt(), fine.x0() + half * fine.dx(), fine.y0() + half * fine.dy(),
        fine.dx() * cells_per_side, fine.dy() * cells_per_side);
    service.map.georeference.set_columns(service.map.columns);
    terrain::require_polygons(area);
    const terrain::InsideTest inside(area.polygons, service.map.georeference, service.map.rows);
    const auto columns = static_cast<std::size_t>(service.map.columns);
    std::vector<char> within(columns * static_cast<std::size_t>(service.map.rows), 0);
    service.weight.assign(within.size(), 0.0);
    bool any = false;
    for (std::size_t index = 0; index < within.size(); ++index) {
        if (index % columns == 0) {
            task.throw_if_stopped();
        }
        const std::size_t row = index / columns;
        const terrain::CellPosition cell{static_cast<double>(index % columns),
                                         static_cast<double>(row)};
        if (!inside(cell)) {
            continue;
        }
        any = true;
        const geo::LatLon position = service.map.georeference.position_of(cell);
        if (!std::isnan(ground.sample(position))) {
            within[index] = 1;
            const auto size = service.map.georeference.cell_size_at(position);
            service.weight[index] = people == nullptr ? size.across_m * size.down_m / 1e6 : 0.0;
        }
    }
    if (!any) {
        throw_input(fmt::format("no cell of the elevation lies inside {}; give a polygon that "
                                "holds some",
                                area.label));
    }
    if (people != nullptr) {
        count_people(*people, within, service);
    }
    if (std::none_of(service.weight.begin(), service.weight.end(),
                     [](double w) { return w > 0.0; })) {
        throw_input(fmt::format("nothing in {} is to be served: no known ground, or no people, "
                                "there",
                                area.label));
    }
    return service;
}

namespace {

/// The cells with weight, so that empty ground costs no memory.
struct AreaItems {
    static constexpr std::uint32_t none = std::numeric_limits<std::uint32_t>::max();
    std::vector<std::uint32_t> of_cell; ///< `none` for a cell without weight
    std::vector<double> weight;
};

AreaItems items_of(const ServiceArea& area) {
    AreaItems items;
    items.of_cell.assign(area.weight.size(), AreaItems::none);
    for (std::size_t cell = 0; cell < area.weight.size(); ++cell) {
        if (area.weight[cell] > 0.0) {
            items.of_cell[cell] = static_cast<std::uint32_t>(items.weight.size());
            items.weight.push_back(area.weight[cell]);
        }
    }
    return items;
}

/// In which of eight directions most of what a site misses lies, if it misses anything.
std::optional<double> missed_bearing_deg(const ServiceArea& area, const AreaItems& items,
                                         const maths::BitRows& serves, std::size_t row,
                                         geo::LatLon site) {
    constexpr double turn_deg = 45.0;
    std::array<double, 8> missed{};
    const auto columns = static_cast<std::size_t>(area.map.columns);
    const terrain::CellPosition here = area.map.georeference.cell_of(site);
    const auto size = area.map.georeference.cell_size_at(site);
    for (std::size_t cell = 0; cell < area.weight.size(); ++cell) {
        if (area.weight[cell] > 0.0 && !serves.test(row, items.of_cell[cell])) {
            const double east = static_cast<double>(cell % columns) - here.column;
            const double south =
                std::floor(static_cast<double>(cell) / static_cast<double>(columns)) - here.row;
            const double bearing_deg =
                std::atan2(east * size.across_m, -south * size.down_m) * 180.0 / std::numbers::pi;
            const double turned = geo::normalize_bearing_deg(bearing_deg + 0.5 * turn_deg);
            missed[static_cast<std::size_t>(turned / turn_deg) % missed.size()] +=
                area.weight[cell];
        }
    }
    const auto most = std::max_element(missed.begin(), missed.end());
    return *most > 0.0 ? std::optional(turn_deg * static_cast<double>(most - missed.begin()))
                       : std::nullopt;
}

Evaluated evaluate_area(std::span<const Candidate> candidates, const ServiceArea& area,
                        const AreaItems& items, const RelayQuestion& question, Task& task) {
    require_memory(candidates.size() * (items.weight.size() + 63) / 8,
                   fmt::format("the search over {} candidates and {} cells", candidates.size(),
                               items.weight.size()));
    maths::BitRows serves(candidates.size(), items.weight.size());
    std::vector<double> merit(candidates.size(), 0.0);
    const double limit_db =
        margin_without_path_db(question.relay.radio, area.person.radio) - question.wanted_margin_db;
    const auto evaluate = [&](std::size_t k, unsigned) {
        QuietTask part(task, 1);
        auto request = link::made_in<coverage::SweepRequest>(question);
        request.site = candidates[k].position;
        request.site_antenna_m = question.relay.antenna_height_m;
        request.receiver_antenna_m = area.person.antenna_height_m;
        request.range_m = question.range_m;
        request.with_sight = false;
        request.radials_per_rim_cell = 1.0; // thousands of candidates wait
        const coverage::SweepResult result = coverage::sweep(area.map, request, part);
        for (std::size_t cell = 0; cell < items.of_cell.size(); ++cell) {
            if (items.of_cell[cell] != AreaItems::none &&
                static_cast<double>(result.loss_db[cell]) <= limit_db) {
                serves.set(k, items.of_cell[cell]);
            }
        }
        merit[k] = candidates[k].view_share;
    };
    const std::vector<char> done =
        evaluate_all(candidates.size(), "relay candidates", task, evaluate);
    return only_done(candidates, done, std::move(serves), merit);
}

RelayAnswer answer_for_area(std::size_t candidates, const Evaluated& evaluated,
                            const ServiceArea& area, const AreaItems& items,
                            const RelayQuestion& question, Task& task) {
    RelayAnswer answer = choose(candidates, evaluated, items.weight, question, task);
    answer.unit = area.unit;
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const auto row = std::lower_bound(evaluated.original.begin(), evaluated.original.end(),
                                          answer.cover.chosen[k]) -
                         evaluated.original.begin();
        answer.sites[k].missed_bearing_deg =
            missed_bearing_deg(area, items, evaluated.serves, static_cast<std::size_t>(row),
                               answer.sites[k].candidate.position);
    }
    return answer;
}

double cell_side_m(const ServiceArea& area) {
    const coverage::MapGrid& map = area.map;
    return map.georeference
        .cell_size_at(map.georeference.position_of({map.columns / 2.0, map.rows / 2.0}))
        .down_m;
}

} // namespace

RelayAnswer search_relays(std::span<const Candidate> candidates, const ServiceArea& area,
                          const RelayQuestion& question, Task& task) {
    check(candidates, question);
    if (!(question.range_m > 0.0)) {
        throw_usage("the range of a relay must be longer than 0 m");
    }
    const AreaItems items = items_of(area);
    return answer_for_area(candidates.size(),
                           evaluate_area(candidates, area, items, question, task), area, items,
                           question, task);
}

RelayAnswer search_relays_in_stages(std::span<const Candidate> candidates,
                                    const ServiceArea& coarse, const ServiceArea& fine,
                                    const RelayQuestion& question, std::size_t listed, Task& task) {
    if (question.connected || candidates.size() <= listed) {
        return search_relays(candidates, fine, question, task);
    }
    check(candidates, question);
    const AreaItems items = items_of(coarse);
    const Evaluated rough = evaluate_area(candidates, coarse, items, question, task);
    std::vector<Candidate> likely;
    std::vector<std::size_t> original;
    for (const std::size_t k :
         maths::promising_sites(problem_of(rough, items.weight, question), listed, task)) {
        likely.push_back(rough.candidates[k]);
        original.push_back(rough.original[k]);
    }
    if (!task.stop_requested() && !likely.empty()) {
        try {
            RelayAnswer answer = search_relays(likely, fine, question, task);
            for (std::size_t& chosen : answer.cover.chosen) {
                chosen = original[chosen];
            }
            for (RankedCandidate& single : answer.ranking) {
                single.candidate = original[single.candidate];
            }
            answer.sifted_on_m = cell_side_m(coarse);
            answer.sifted_to = likely.size();
            answer.candidates = candidates.size();
            answer.evaluated = candidates.size() - likely.size() + answer.evaluated;
            return answer;
        } catch (const Error& error) {
            if (error.fault() != Fault::stopped) {
                throw;
            }
        }
    }
    RelayAnswer answer = answer_for_area(candidates.size(), rough, coarse, items, question, task);
    answer.sifted_on_m = cell_side_m(coarse);
    return answer;
}

} // namespace earshot::plan
