#include "plan/relay_search.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "base/require.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/geo/position.hpp"
#include "link/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <numbers>

namespace earshot::plan {

double margin_without_path_db(const link::Radio& a, const link::Radio& b) {
    return std::min(link::received_without_path_dbm(a, b) - b.threshold_dbm,
                    link::received_without_path_dbm(b, a) - a.threshold_dbm);
}

namespace {

/// What a relay and a place give each other. The ways of a repeater lie on two frequencies.
class RelayLegs {
public:
    explicit RelayLegs(const RelayQuestion& question) : question_(question), out_(question) {
        if (question.taken_in) {
            auto setting = link::made_in<link::Setting>(question);
            setting.conditions = question.taken_in->conditions;
            in_.emplace(setting);
        }
    }

    [[nodiscard]] link::PathMargins margins(const link::Station& relay, const ServedPlace& place,
                                            bool with_second = false) {
        link::PathMargins margins = out_.margins(relay, place.station, with_second);
        if (in_) {
            margins.back_db = in_->margins(taking(relay), talking(place)).back_db;
        }
        return margins;
    }

    /// Of the weaker way.
    [[nodiscard]] double chance_percent(const link::Station& relay, const ServedPlace& place) {
        const link::TwoWayPath path = out_.path(relay, place.station);
        const double back_percent =
            in_ ? in_->path(taking(relay), talking(place)).backward.chance_percent
                : path.backward.chance_percent;
        return std::min(path.outward.chance_percent, back_percent);
    }

private:
    [[nodiscard]] link::Station taking(link::Station relay) const {
        relay.radio = question_.taken_in->relay;
        return relay;
    }
    [[nodiscard]] static link::Station talking(const ServedPlace& place) {
        link::Station station = place.station;
        station.radio = place.talking.value_or(station.radio);
        return station;
    }

    const RelayQuestion& question_;
    link::PathPredictor out_;
    std::optional<link::PathPredictor> in_;
};

/// The place with what is worn there held at the face.
std::optional<link::HeldAtFace> hold_at_face(ServedPlace& place, const RelayQuestion& question) {
    if (place.talking && question.taken_in) {
        link::Station talker = place.station;
        talker.radio = *place.talking;
        (void)link::hold_at_face(talker, question.taken_in->conditions.frequency_mhz);
        place.talking = talker.radio;
    }
    return link::hold_at_face(place.station, question.conditions.frequency_mhz);
}

} // namespace

Miss miss_between(const link::Station& relay, const ServedPlace& served,
                  const RelayQuestion& question) {
    const link::Station& place = served.station;
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
    RelayLegs legs(question);
    const link::PathMargins margins = legs.margins(relay, served);
    miss.relay_heard = margins.out_db >= question.wanted_margin_db;
    miss.place_heard = margins.back_db >= question.wanted_margin_db;
    miss.short_db = question.wanted_margin_db - margins.least_db();
    ServedPlace held = served;
    miss.worn = hold_at_face(held, question);
    if (miss.worn) {
        miss.held_is_enough = legs.margins(relay, held).least_db() >= question.wanted_margin_db;
    }
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
    require_known_ground(ground, station.position, fmt::format("{} {}", what, station.name));
    require_usage(station.antenna_height_m >= 0.0,
                  "the antenna of {} {} must be 0 m or more above the ground", what, station.name);
}

void check(std::span<const Candidate> candidates, const RelayQuestion& question) {
    require_input(!candidates.empty(), "there is no candidate for a relay; relax the constraints");
    require_usage(question.sites >= 1 && question.sites <= 1000,
                  "{} relays are not possible; ask for 1 to 1000", question.sites);
    require_usage(question.step_m >= 0.0, "the step of profiles must be 0 m or more");
    require_usage(question.relay.antenna_height_m >= 0.0,
                  "the relay's antenna must be 0 m or more above the ground");
    require_usage(std::isfinite(question.wanted_margin_db) &&
                      std::isfinite(question.backbone_margin_db),
                  "the wanted margins must be numbers of dB");
    for (const link::Station& base : question.bases) {
        require_on_ground(*question.ground, base, "the base");
    }
    for (const Candidate& candidate : candidates) {
        require_input(!std::isnan(question.ground->sample(candidate.position)),
                      "the candidate at {} is off the elevation or in a void of it",
                      geo::format_decimal(candidate.position));
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
    PredictedLinks(std::span<const Candidate> candidates, const RelayQuestion& question,
                   const Task& task)
        : candidates_(candidates), question_(question), threads_(task.threads()),
          workers_(link::predictors(question, threads_)), rows_(candidates.size()),
          at_base_(candidates.size(), -1) {}

    const std::vector<std::size_t>& neighbours(std::size_t site) override {
        if (!rows_[site]) {
            std::vector<char> linked(candidates_.size(), 0);
            const link::Station here = relay_at(candidates_[site], question_);
            parallel_for(candidates_.size(), threads_, [&](std::size_t k, unsigned w) {
                if (k != site) {
                    linked[k] = rows_[k]
                                    ? std::binary_search(rows_[k]->begin(), rows_[k]->end(), site)
                                    : are_linked(here, relay_at(candidates_[k], question_), w);
                }
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
            at_base_[site] =
                std::any_of(question_.bases.begin(), question_.bases.end(),
                            [&](const link::Station& base) { return are_linked(here, base, 0); });
        }
        return at_base_[site] > 0;
    }

private:
    [[nodiscard]] bool are_linked(const link::Station& a, const link::Station& b, unsigned worker) {
        return workers_[worker].margins(a, b).least_db() >= question_.backbone_margin_db;
    }

    std::span<const Candidate> candidates_;
    const RelayQuestion& question_;
    unsigned threads_;
    std::vector<link::PathPredictor> workers_;
    std::vector<std::optional<std::vector<std::size_t>>> rows_;
    std::vector<int> at_base_;
};

/// What evaluating the candidates gave. One that was not reached before the user stopped it serves
/// nothing.
struct Evaluated {
    Evaluated(std::size_t candidates, std::size_t items)
        : serves(candidates, items), merit(candidates, 0.0) {}

    maths::BitRows serves;
    std::vector<double> merit;
    std::size_t count = 0; ///< of those that were reached
};

/// Calls `evaluate(k, worker)` for every candidate until the user stops it. Returns how many were
/// done.
std::size_t evaluate_all(std::size_t count, Task& task,
                         const std::function<void(std::size_t, unsigned)>& evaluate) {
    std::atomic<std::size_t> done{0};
    task.begin("relay candidates", count);
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
        ++done;
        task.advance(1);
    });
    if (done == 0) {
        task.throw_if_stopped();
    }
    return done;
}

/// The candidates that serve the most, each at least `apart_m` from those before it.
std::vector<RankedCandidate> ranked(std::span<const Candidate> candidates,
                                    const Evaluated& evaluated, const std::vector<double>& weight,
                                    const RelayQuestion& question) {
    std::vector<RankedCandidate> all(candidates.size());
    for (std::size_t k = 0; k < all.size(); ++k) {
        all[k].candidate = k;
        maths::for_each_bit(evaluated.serves.row(k), [&](std::size_t item) {
            all[k].weight += weight[item];
            ++all[k].served;
        });
    }
    std::sort(all.begin(), all.end(), [&](const RankedCandidate& a, const RankedCandidate& b) {
        return std::pair(a.weight, evaluated.merit[a.candidate]) >
               std::pair(b.weight, evaluated.merit[b.candidate]);
    });
    std::vector<RankedCandidate> best;
    for (const RankedCandidate& one : all) {
        if (best.size() >= question.ranking || one.served == 0) {
            break;
        }
        const geo::LatLon here = candidates[one.candidate].position;
        const bool crowded =
            std::any_of(best.begin(), best.end(), [&](const RankedCandidate& other) {
                const geo::LatLon there = candidates[other.candidate].position;
                return geo::geodesic_between(here, there).distance_m < question.apart_m;
            });
        if (!crowded) {
            best.push_back(one);
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
            const link::PathMargins margins = predictor.margins(site.station, other, true);
            if (margins.least_db() >= question.backbone_margin_db) {
                site.links.push_back({other.name, margins,
                                      link::try_first(margins.least_db(), margins.apart_db,
                                                      question.backbone_margin_db)});
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
RelayAnswer choose(std::span<const Candidate> candidates, const Evaluated& evaluated,
                   const std::vector<double>& weight, const RelayQuestion& question, Task& task) {
    std::unique_ptr<PredictedLinks> links;
    if (question.connected) {
        links = std::make_unique<PredictedLinks>(candidates, question, task);
    }
    maths::CoverProblem problem = problem_of(evaluated, weight, question);
    problem.links = links.get();
    RelayAnswer answer;
    answer.cover = maths::choose_sites(problem, question.limits, task);
    answer.candidates = candidates.size();
    answer.evaluated = evaluated.count;
    answer.stopped = answer.evaluated < answer.candidates || task.stop_requested();
    answer.ranking = ranked(candidates, evaluated, weight, question);
    answer.places = weight.size();
    for (const double w : weight) {
        answer.total += w;
    }
    std::vector<bool> served(weight.size(), false);
    for (const std::size_t chosen : answer.cover.chosen) {
        RelaySite site;
        site.candidate = candidates[chosen];
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
    return answer;
}

/// Which of the places a relay serves, and why it does not serve the others.
std::vector<PlaceService> services_of(std::span<const ServedPlace> places,
                                      const link::Station& relay, const RelayQuestion& question,
                                      RelayLegs& legs) {
    std::vector<PlaceService> services;
    for (std::size_t k = 0; k < places.size(); ++k) {
        PlaceService service{k, legs.margins(relay, places[k], true), std::nullopt};
        service.try_first = link::try_first(service.margins.least_db(), service.margins.apart_db,
                                            question.wanted_margin_db);
        if (!(service.margins.least_db() >= question.wanted_margin_db)) {
            service.miss = miss_between(relay, places[k], question);
        }
        services.push_back(service);
    }
    return services;
}

/// The served place with the least margin.
std::optional<WeakestLink> weakest_of(const std::vector<PlaceService>& services,
                                      std::span<const ServedPlace> places,
                                      const link::Station& relay, RelayLegs& legs) {
    const PlaceService* weakest = nullptr;
    for (const PlaceService& service : services) {
        if (!service.miss &&
            (weakest == nullptr || service.margins.least_db() < weakest->margins.least_db())) {
            weakest = &service;
        }
    }
    if (weakest == nullptr) {
        return std::nullopt;
    }
    return WeakestLink{weakest->place, weakest->margins.least_db(),
                       legs.chance_percent(relay, places[weakest->place])};
}

} // namespace

RelayAnswer search_relays(std::span<const Candidate> candidates,
                          std::span<const ServedPlace> places, const RelayQuestion& question,
                          Task& task) {
    check(candidates, question);
    require_input(!places.empty(), "there is no place to serve; name at least one");
    std::vector<double> weight;
    for (const ServedPlace& place : places) {
        require_on_ground(*question.ground, place.station, "the place");
        require_usage(place.weight > 0.0 && std::isfinite(place.weight),
                      "the weight {} of {} is not possible; it must be more than 0", place.weight,
                      place.station.name);
        weight.push_back(place.weight);
    }
    Evaluated evaluated(candidates.size(), places.size());
    std::vector<RelayLegs> workers;
    for (unsigned k = 0; k < std::max(1U, task.threads()); ++k) {
        workers.emplace_back(question);
    }
    evaluated.count = evaluate_all(candidates.size(), task, [&](std::size_t k, unsigned worker) {
        const link::Station relay = relay_at(candidates[k], question);
        constexpr double ample_db = 20.0; // more makes no difference to people
        double spare = 0.0;
        double weakest_db = ample_db;
        for (std::size_t p = 0; p < places.size(); ++p) {
            const double margin = workers[worker].margins(relay, places[p]).least_db();
            if (margin >= question.wanted_margin_db) {
                evaluated.serves.set(k, p);
                spare += std::min(margin - question.wanted_margin_db, ample_db);
                weakest_db = std::min(weakest_db, margin - question.wanted_margin_db);
            }
        }
        // Of those that serve alike, the one whose weakest link is the best.
        evaluated.merit[k] = (0.999 * (spare > 0.0 ? weakest_db : 0.0) +
                              0.001 * spare / static_cast<double>(places.size())) /
                             ample_db;
    });
    RelayAnswer answer = choose(candidates, evaluated, weight, question, task);
    RelayLegs legs(question);
    for (RelaySite& site : answer.sites) {
        site.services = services_of(places, site.station, question, legs);
        site.weakest = weakest_of(site.services, places, site.station, legs);
    }
    for (RankedCandidate& single : answer.ranking) {
        const link::Station relay = relay_at(candidates[single.candidate], question);
        single.services = services_of(places, relay, question, legs);
        single.weakest = weakest_of(single.services, places, relay, legs);
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
            if (!terrain::covers(map.columns, map.rows, cell)) {
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
    require_usage(cells_per_side >= 1,
                  "a cell of the area must be at least one cell of the elevation wide");
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
    require_input(any, "no cell of the elevation lies inside {}; give a polygon that holds some",
                  area.label);
    if (people != nullptr) {
        count_people(*people, within, service);
    }
    if (std::none_of(service.weight.begin(), service.weight.end(),
                     [](double w) { return w > 0.0; })) {
        throw_input("nothing in {} is to be served: no known ground, or no people, there",
                    area.label);
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

/// The share of what a site serves by link::try_first(), from a thousand of its cells at most,
/// evenly chosen: as good as all of them for a word to people.
double share_to_try(const ServiceArea& area, const AreaItems& items, const maths::BitRows& serves,
                    std::size_t row, const link::Station& relay, const RelayQuestion& question) {
    constexpr std::size_t most_cells = 1000;
    std::vector<std::size_t> served;
    for (std::size_t cell = 0; cell < area.weight.size(); ++cell) {
        if (area.weight[cell] > 0.0 && serves.test(row, items.of_cell[cell])) {
            served.push_back(cell);
        }
    }
    link::PathPredictor predictor(question);
    link::Station person = area.person;
    double looked_at = 0.0;
    double to_try = 0.0;
    const std::size_t every = 1 + served.size() / most_cells;
    for (std::size_t k = 0; k < served.size(); k += every) {
        person.position = area.map.centre_of(served[k]);
        const link::PathMargins margins = predictor.margins(relay, person, true);
        const double weight = area.weight[served[k]];
        looked_at += weight;
        to_try += link::try_first(margins.least_db(), margins.apart_db, question.wanted_margin_db)
                      ? weight
                      : 0.0;
    }
    return looked_at > 0.0 ? to_try / looked_at : 0.0;
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
    Evaluated evaluated(candidates.size(), items.weight.size());
    const double limit_db =
        margin_without_path_db(question.relay.radio, area.person.radio) - question.wanted_margin_db;
    evaluated.count = evaluate_all(candidates.size(), task, [&](std::size_t k, unsigned) {
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
                evaluated.serves.set(k, items.of_cell[cell]);
            }
        }
        evaluated.merit[k] = candidates[k].view_share;
    });
    return evaluated;
}

RelayAnswer answer_for_area(std::span<const Candidate> candidates, const Evaluated& evaluated,
                            const ServiceArea& area, const AreaItems& items,
                            const RelayQuestion& question, Task& task) {
    RelayAnswer answer = choose(candidates, evaluated, items.weight, question, task);
    answer.unit = area.unit;
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        answer.sites[k].missed_bearing_deg =
            missed_bearing_deg(area, items, evaluated.serves, answer.cover.chosen[k],
                               answer.sites[k].candidate.position);
        answer.sites[k].share_to_try =
            share_to_try(area, items, evaluated.serves, answer.cover.chosen[k],
                         answer.sites[k].station, question);
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
    require_usage(question.range_m > 0.0, "the range of a relay must be longer than 0 m");
    const AreaItems items = items_of(area);
    return answer_for_area(candidates, evaluate_area(candidates, area, items, question, task), area,
                           items, question, task);
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
    const std::vector<std::size_t> original =
        maths::promising_sites(problem_of(rough, items.weight, question), listed, task);
    std::vector<Candidate> likely;
    likely.reserve(original.size());
    for (const std::size_t k : original) {
        likely.push_back(candidates[k]);
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
    RelayAnswer answer = answer_for_area(candidates, rough, coarse, items, question, task);
    answer.sifted_on_m = cell_side_m(coarse);
    return answer;
}

} // namespace earshot::plan
