#include "plan/relay_search.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"
#include "geo/units.hpp"
#include "plan/foot_range.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <memory>
#include <numbers>
#include <optional>

namespace earshot::plan {

double margin_without_path_db(const link::Radio& a, const link::Radio& b) {
    return std::min(link::received_without_path_dbm(a, b) - b.threshold_dbm,
                    link::received_without_path_dbm(b, a) - a.threshold_dbm);
}

std::string miss_words(const link::Station& relay, const link::Station& place,
                       const RelayQuestion& question) {
    const double wanted_margin_db = question.wanted_margin_db;
    if (geo::geodesic_between(relay.position, place.position).distance_m < link::least_distance_m) {
        return "these radios cannot hear each other even side by side";
    }
    if (terrain::sample_profile(*question.ground, relay.position, place.position, question.step_m)
            .has_void()) {
        return "the height of the ground between them is not known";
    }
    const link::TwoWayPath path = link::two_way_path(question, relay, place);
    const double out_db = path.outward.budget.margin_db;
    const double back_db = path.backward.budget.margin_db;
    std::string one_sided;
    if (out_db >= wanted_margin_db) {
        one_sided = "it hears the relay but the relay does not hear it: ";
    } else if (back_db >= wanted_margin_db) {
        one_sided = "the relay hears it but it does not hear the relay: ";
    }
    const propagation::Sight& sight = path.outward.loss.sight;
    const double above_m = sight.closest.height_above_line_m;
    const std::string at = geo::format_distance(1000.0 * sight.closest.distance_km);
    if (!sight.clear) {
        return fmt::format("{}the ground {} from the relay stands {:.0f} m above the line",
                           one_sided, at, std::max(1.0, std::round(above_m)));
    }
    const std::string lacking =
        fmt::format("{:.0f} dB short", std::max(1.0, wanted_margin_db - std::min(out_db, back_db)));
    if (coverage::sight_class(sight) == coverage::SightClass::grazing) {
        return fmt::format("{}the line passes only {:.0f} m over the ground {} from the relay ({})",
                           one_sided, std::max(0.0, -above_m), at, lacking);
    }
    return fmt::format("{}the {} between them are too far for these radios ({})", one_sided,
                       geo::format_distance(path.line.distance_m), lacking);
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
                    linked[k] = std::ranges::binary_search(*rows_[k], site) ? 1 : 0;
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
            at_base_[site] = std::ranges::any_of(question_.bases, [&](const link::Station& base) {
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
    if (std::ranges::find(done, 1) == done.end()) {
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
    std::ranges::sort(order, [&](std::size_t a, std::size_t b) {
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
        const bool crowded = std::ranges::any_of(listed, [&](const geo::LatLon& other) {
            return geo::geodesic_between(here, other).distance_m < question.apart_m;
        });
        if (!crowded) {
            best.push_back(all[k]);
            listed.push_back(here);
        }
    }
    return best;
}

/// Chooses sites among what was evaluated, and fills in all that does not depend on what the items
/// are.
RelayAnswer choose(std::size_t candidates, const Evaluated& evaluated,
                   const std::vector<double>& weight, const RelayQuestion& question, Task& task) {
    std::unique_ptr<PredictedLinks> links;
    if (question.connected) {
        links = std::make_unique<PredictedLinks>(evaluated.candidates, question, task);
    }
    maths::CoverProblem problem;
    problem.serves = &evaluated.serves;
    problem.weight = weight;
    problem.merit = evaluated.merit;
    problem.sites = question.sites;
    problem.fewest = question.fewest;
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
        link::PathPredictor predictor(question);
        for (RelaySite& site : answer.sites) {
            const auto add = [&](const link::Station& other) {
                const link::PathMargins margins = predictor.margins(site.station, other);
                if (margins.least_db() >= question.backbone_margin_db) {
                    site.links.push_back({other.name, margins});
                }
            };
            std::ranges::for_each(question.bases, add);
            for (const RelaySite& other : answer.sites) {
                if (&other != &site) {
                    add(other.station);
                }
            }
        }
    }
    for (std::size_t& chosen : answer.cover.chosen) {
        chosen = evaluated.original[chosen];
    }
    answer.words = maths::cover_words(answer.cover, question.fewest);
    if (answer.evaluated < candidates) {
        answer.words += fmt::format("; the search was stopped after {} of {} candidates, so this "
                                    "is the best so far",
                                    answer.evaluated, candidates);
    }
    return answer;
}

std::string link_words(const RelaySite& site) {
    if (site.links.empty()) {
        return {};
    }
    std::vector<std::string> names;
    for (const BackboneLink& link : site.links) {
        names.push_back(fmt::format("{} ({:+.0f} dB)", link.with, link.margins.least_db()));
    }
    return fmt::format("; linked with {}", fmt::join(names, ", "));
}

/// What of the places is heard from a station, and the reasons for what is not.
class Explainer {
public:
    Explainer(std::span<const ServedPlace> places, const RelayQuestion& question)
        : places_(places), question_(question), predictor_(question) {
        for (const ServedPlace& place : places) {
            total_ += place.weight;
        }
    }

    /// Fills `services`, one for each place, and returns the reason in words.
    [[nodiscard]] std::string explain(const link::Station& relay,
                                      std::vector<PlaceService>& services) {
        constexpr std::size_t told = 3;
        std::vector<std::string> misses;
        std::size_t more = 0;
        std::size_t served = 0;
        double weight = 0.0;
        for (std::size_t k = 0; k < places_.size(); ++k) {
            PlaceService service;
            service.place = k;
            const link::Station& place = places_[k].station;
            service.margins = predictor_.margins(relay, place);
            service.served = service.margins.least_db() >= question_.wanted_margin_db;
            if (service.served) {
                ++served;
                weight += places_[k].weight;
            } else {
                service.why = miss_words(relay, place, question_);
                if (misses.size() < told) {
                    misses.push_back(fmt::format("{} because {}", place.name, service.why));
                } else {
                    ++more;
                }
            }
            services.push_back(std::move(service));
        }
        std::string reason =
            fmt::format("hears {}", served_words(served, places_.size(), weight, total_));
        if (!misses.empty()) {
            reason += fmt::format("; misses {}{}", fmt::join(misses, "; "),
                                  more > 0 ? fmt::format("; and {} more", more) : "");
        }
        return reason;
    }

private:
    std::span<const ServedPlace> places_;
    const RelayQuestion& question_;
    link::PathPredictor predictor_;
    double total_ = 0.0;
};

} // namespace

std::string served_words(std::size_t served, std::size_t places, double weight, double total) {
    const std::string count = fmt::format("{} of {}", served, places);
    return total == static_cast<double>(places)
               ? count
               : fmt::format("{} ({:.10g} of {:.10g} people)", count, weight, total);
}

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
    Explainer explainer(places, question);
    for (RelaySite& site : answer.sites) {
        site.reason = explainer.explain(site.station, site.services) + link_words(site);
    }
    for (RankedCandidate& single : answer.ranking) {
        std::vector<PlaceService> services;
        single.reason =
            explainer.explain(relay_at(candidates[single.candidate], question), services);
    }
    return answer;
}

ServiceArea service_area(const terrain::HeightGrid& ground, const Shapes& area, int cells_per_side,
                         const terrain::HeightGrid* people, link::Station person,
                         const Task& task) {
    if (cells_per_side < 1) {
        throw_usage("a cell of the area must be at least one cell of the elevation wide");
    }
    const terrain::Georeference& fine = ground.georeference;
    const double half = (cells_per_side - 1) / 2.0;
    ServiceArea service;
    service.person = std::move(person);
    service.unit = people == nullptr ? "km2" : "people";
    service.map.columns = std::max(1, ground.columns / cells_per_side);
    service.map.rows = std::max(1, ground.rows / cells_per_side);
    service.map.georeference = terrain::Georeference(
        fine.crs_wkt(), fine.x0() + half * fine.dx(), fine.y0() + half * fine.dy(),
        fine.dx() * cells_per_side, fine.dy() * cells_per_side);
    service.map.georeference.set_columns(service.map.columns);
    // The map's cells as a grid of zeros, so that the sieve for relays' places serves here too.
    terrain::HeightGrid zeros;
    zeros.columns = service.map.columns;
    zeros.rows = service.map.rows;
    zeros.georeference = service.map.georeference;
    zeros.height_m.assign(
        static_cast<std::size_t>(zeros.columns) * static_cast<std::size_t>(zeros.rows), 0.0F);
    const Constraint inside = inside_of(area);
    service.weight.assign(zeros.height_m.size(), 0.0);
    std::vector<char> within(zeros.height_m.size(), 0);
    const auto index_of = [&](geo::LatLon position) -> std::optional<std::size_t> {
        const terrain::CellPosition cell = service.map.georeference.cell_of(position);
        if (!zeros.covers(cell)) {
            return std::nullopt;
        }
        const double column = std::min(std::floor(cell.column + 0.5), zeros.columns - 1.0);
        const double row = std::min(std::floor(cell.row + 0.5), zeros.rows - 1.0);
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(zeros.columns) +
               static_cast<std::size_t>(column);
    };
    CandidateSet cells;
    try {
        cells = all_cells(zeros, {&inside, 1}, task);
    } catch (const Error&) {
        task.throw_if_stopped();
        throw_input(fmt::format("no cell of the elevation lies inside {}; give a polygon that "
                                "holds some",
                                area.label));
    }
    task.throw_if_stopped();
    for (const Candidate& cell : cells.candidates) {
        const std::optional<std::size_t> index = index_of(cell.position);
        const double ground_m = ground.sample(cell.position);
        if (!index || std::isnan(ground_m)) {
            continue;
        }
        within[*index] = 1;
        const auto size = service.map.georeference.cell_size_at(cell.position);
        service.weight[*index] = people == nullptr ? size.across_m * size.down_m / 1e6 : 0.0;
    }
    if (people != nullptr) {
        for (int row = 0; row < people->rows; ++row) {
            for (int column = 0; column < people->columns; ++column) {
                const auto count = static_cast<double>(people->at(column, row));
                if (!(count > 0.0)) {
                    continue;
                }
                const std::optional<std::size_t> index =
                    index_of(people->georeference.position_of({1.0 * column, 1.0 * row}));
                if (index && within[*index] != 0) {
                    service.weight[*index] += count;
                }
            }
        }
    }
    if (std::ranges::none_of(service.weight, [](double w) { return w > 0.0; })) {
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

/// In which direction most of what a site misses lies, if it misses anything.
std::string missed_side(const ServiceArea& area, const AreaItems& items,
                        const maths::BitRows& serves, std::size_t row, geo::LatLon site) {
    std::map<std::string, double> missed;
    const auto columns = static_cast<std::size_t>(area.map.columns);
    const terrain::CellPosition here = area.map.georeference.cell_of(site);
    const auto size = area.map.georeference.cell_size_at(site);
    for (std::size_t cell = 0; cell < area.weight.size(); ++cell) {
        if (area.weight[cell] > 0.0 && !serves.test(row, items.of_cell[cell])) {
            const terrain::CellPosition there = {
                static_cast<double>(cell % columns),
                std::floor(static_cast<double>(cell) / static_cast<double>(columns))};
            const double east = there.column - here.column;
            const double south = there.row - here.row;
            missed[compass_word(std::atan2(east * size.across_m, -south * size.down_m) * 180.0 /
                                std::numbers::pi)] += area.weight[cell];
        }
    }
    if (missed.empty()) {
        return {};
    }
    const auto most = std::ranges::max_element(missed, {}, [](const auto& m) { return m.second; });
    return fmt::format("; most of what it misses lies to the {}", most->first);
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
    const char* of_what = area.unit == "people" ? "people" : "area";
    const auto share = [&](double weight) { return 100.0 * weight / answer.total; };
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        RelaySite& site = answer.sites[k];
        site.reason = fmt::format("covers {:.0f} % of the {}", share(site.alone), of_what);
        if (k > 0) {
            site.reason += fmt::format(", {:.0f} % that no site before it does", share(site.added));
        }
        const auto row = std::ranges::lower_bound(evaluated.original, answer.cover.chosen[k]) -
                         evaluated.original.begin();
        site.reason += missed_side(area, items, evaluated.serves, static_cast<std::size_t>(row),
                                   site.candidate.position) +
                       link_words(site);
    }
    for (RankedCandidate& single : answer.ranking) {
        single.reason = fmt::format("covers {:.0f} % of the {}", share(single.weight), of_what);
    }
    return answer;
}

std::vector<std::size_t> shortlist(const Evaluated& evaluated, const std::vector<double>& weight,
                                   const RelayQuestion& question, std::size_t count, Task& task) {
    maths::CoverProblem problem;
    problem.serves = &evaluated.serves;
    problem.weight = weight;
    problem.merit = evaluated.merit;
    problem.sites = question.sites;
    problem.fewest = question.fewest;
    return maths::promising_sites(problem, count, task);
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
    for (const std::size_t k : shortlist(rough, items.weight, question, listed, task)) {
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
            answer.words +=
                fmt::format("; these are the {} most promising of {} on cells of {}", likely.size(),
                            candidates.size(), geo::format_distance(cell_side_m(coarse)));
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
    answer.words += fmt::format("; on cells of {}", geo::format_distance(cell_side_m(coarse)));
    return answer;
}

} // namespace earshot::plan
