#include "coverage/engine/carried_sweep.hpp"

#include "base/parallel.hpp"
#include "coverage/engine/exact_cell.hpp"
#include "coverage/engine/loss_desk.hpp"
#include "coverage/engine/radial_sampler.hpp"
#include "coverage/engine/sweep_plan.hpp"
#include "coverage/engine/wedge_cells.hpp"
#include "earshot/base/task.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <span>

namespace earshot::coverage {
namespace {

/// Mean length of a degree of latitude, km; only the slow change of the standard's climate with
/// latitude hangs on it.
constexpr double km_per_degree = 111.195;

/// What a cell has gathered from its radials so far.
struct Gathered {
    float loss_db = 0.0F;
    float hidden_by = 0.0F;
    float clearance_f1 = 0.0F;
    bool by_itself = false; ///< takes a profile of its own
};

/// Mean latitude of paths to the ranges of a radial.
class CentreLatitude {
public:
    CentreLatitude(const SweepPlan& plan, double bearing_rad)
        : site_deg_(plan.request.site.lat_deg),
          per_km_(std::cos(bearing_rad) / 2.0 / km_per_degree) {}
    [[nodiscard]] double at(double range_km) const { return site_deg_ + per_km_ * range_km; }

private:
    double site_deg_, per_km_;
};

/// One for each of SweepPlan::receiver_heights_m.
using Models = std::vector<propagation::P1812BatchModel>;

std::vector<LossDesk> desks_for(const SweepPlan& plan, const Models& models) {
    std::vector<LossDesk> desks;
    desks.reserve(models.size());
    for (const propagation::P1812BatchModel& model : models) {
        desks.emplace_back(plan, model);
    }
    return desks;
}

/// Adds the losses answered to what their cells have gathered.
struct Answer {
    std::vector<Gathered>& gathered;
    void operator()(std::size_t cell, double loss_db) const {
        gathered[cell].loss_db += static_cast<float>(loss_db);
    }
};

/// One thread's work on wedges; keeps its memory from one to the next.
class WedgeSweep {
public:
    WedgeSweep(const SweepPlan& plan, const Models& models, SweepResult& result)
        : plan_(plan), result_(result), wedge_cells_(plan, !result.sight.empty()), sampler_(plan),
          desks_(desks_for(plan, models)), exact_(plan.map, plan.request) {}

    void run(const Wedge& wedge) {
        wedge_cells_.list(wedge);
        cells_ = wedge_cells_.cells();
        gathered_.assign(cells_.size(), Gathered{});
        for (std::size_t r = 0; r <= wedge.sectors; ++r) {
            sweep_radial(wedge, r);
        }
        for (LossDesk& desk : desks_) {
            desk.settle(Answer{gathered_});
        }
        write_cells();
    }

    void add_counts_to(SweepResult& result) const {
        result.cells_predicted += predicted_;
        result.cells_off_terrain += wedge_cells_.off_terrain();
        result.cells_behind_void += behind_void_;
        exact_.add_counts_to(result);
    }

private:
    /// Answers for the cells on either side of a radial, in order of range.
    void sweep_radial(const Wedge& wedge, std::size_t radial) {
        auto [left, left_end] = wedge_cells_.before_radial(radial);
        auto [right, right_end] = wedge_cells_.behind_radial(radial);
        std::swap(held_, held_next_);
        held_offset_ = left;
        next_offset_ = right;
        held_next_.resize(right_end - right);
        float reach_m = 0.0F;
        if (left < left_end) {
            reach_m = cells_[left_end - 1].range_m;
        }
        if (right < right_end) {
            reach_m = std::max(reach_m, cells_[right_end - 1].range_m);
        }
        if (reach_m == 0.0F) {
            return;
        }
        const double bearing_rad = wedge.bearing_rad(radial);
        radial_.start(plan_.site, sampler_.sample(bearing_rad, static_cast<double>(reach_m)));
        const CentreLatitude latitude(plan_, bearing_rad);
        while (left < left_end || right < right_end) {
            const bool take_left =
                right == right_end ||
                (left < left_end && cells_[left].range_m <= cells_[right].range_m);
            const std::size_t i = take_left ? left++ : right++;
            const double range_km = static_cast<double>(cells_[i].range_m) / 1000.0;
            if (radial_.last_point_before(range_km) >= radial_.known_points()) {
                gathered_[i].loss_db = std::numeric_limits<float>::quiet_NaN();
            }
            if (std::isnan(gathered_[i].loss_db) || gathered_[i].by_itself) {
                continue;
            }
            CarriedRadial::Path& path = take_left ? path_ : held_next_[i - next_offset_];
            if (!radial_.path_to({range_km, static_cast<double>(cells_[i].ground_m),
                                  plan_.receiver_heights_m[cells_[i].height],
                                  static_cast<double>(cells_[i].cover_m), cells_[i].wooded},
                                 path)) {
                gathered_[i].by_itself = true;
                continue;
            }
            path.row.centre_latitude_deg = latitude.at(range_km);
            if (take_left) {
                settle_cell(i, path);
            }
        }
    }

    /// Asks for a cell's loss once the second of its two radials has come to it.
    void settle_cell(std::size_t i, const CarriedRadial::Path& second) {
        const CarriedRadial::Path& before = held_[i - held_offset_];
        const double share =
            share_seen(plan_, before, second, static_cast<double>(cells_[i].share));
        const auto between = [&](double a, double b) {
            return static_cast<float>(a + share * (b - a));
        };
        gathered_[i].hidden_by = between(before.hidden_by, second.hidden_by);
        gathered_[i].clearance_f1 = between(before.clearance_f1, second.clearance_f1);
        if (cells_[i].for_loss) {
            desks_[cells_[i].height].ask(i, before, second, share, Answer{gathered_});
        }
    }

    void write_cells() {
        for (std::size_t i = 0; i < cells_.size(); ++i) {
            const Gathered& gathered = gathered_[i];
            const CellBetween& cell = cells_[i];
            if (gathered.by_itself || std::isnan(gathered.loss_db)) {
                if (cell.for_loss) { // once, and with its sight
                    write_by_itself(cell, gathered);
                }
                continue;
            }
            if (cell.for_loss) {
                ++predicted_;
                result_.loss_db[cell.cell] =
                    gathered.loss_db +
                    static_cast<float>(plan_.houses_db(cell.roofs_m(),
                                                       static_cast<double>(cell.range_m) / 1000.0));
            }
            if (cell.for_sight) {
                propagation::Sight sight;
                sight.clear = gathered.hidden_by <= 0.0F;
                sight.clearance_f1 = static_cast<double>(gathered.clearance_f1);
                result_.sight[cell.cell] = sight_class(sight);
            }
        }
    }

    void write_by_itself(const CellBetween& cell, const Gathered& gathered) {
        if (!gathered.by_itself) {
            ++behind_void_;
            return;
        }
        const auto columns = static_cast<std::uint32_t>(plan_.map.columns);
        exact_.predict(static_cast<int>(cell.cell % columns), static_cast<int>(cell.cell / columns),
                       plan_.request.range_m, result_);
    }

    const SweepPlan& plan_;
    SweepResult& result_;
    WedgeCells wedge_cells_;
    std::span<const CellBetween> cells_; ///< of the wedge
    std::vector<Gathered> gathered_;
    RadialSampler sampler_;
    CarriedRadial radial_;
    std::vector<CarriedRadial::Path> held_, held_next_; ///< paths of the radial before, and of this
    CarriedRadial::Path path_;                          ///< the last that is not held
    std::size_t held_offset_ = 0, next_offset_ = 0;
    std::vector<LossDesk> desks_; ///< one for each of SweepPlan::receiver_heights_m
    ExactCell exact_;
    std::uint64_t predicted_ = 0, behind_void_ = 0;
};

/// A cell that tells how many radials the ground asks for.
struct Sample {
    int column, row;
    Place place;
    double reach_m; ///< of its wedge, if radials are as far apart at the rim as cells
    double ground_m;
    std::optional<double> straight_db; ///< along a radial through the cell itself, once known
};

/// Cells here and there, chosen at random but always the same.
std::vector<Sample> choose_samples(const SweepPlan& plan) {
    constexpr std::size_t samples = 600;
    const MapGrid& map = plan.map;
    const Wedges wedges = plan.cut_wedges(1.0);
    const double near_m = plan.near_m();
    std::uint64_t state = 0x9e3779b97f4a7c15ULL;
    const auto below = [&](int limit) {
        state = state * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<int>((state >> 33) % static_cast<unsigned>(limit));
    };
    std::vector<Sample> chosen;
    for (std::size_t trial = 0; trial < 4 * samples && chosen.size() < samples; ++trial) {
        const int column = below(map.columns);
        const int row = below(map.rows);
        const Place place = plan.place_of(column, row);
        const double ground_m =
            plan.ground.sample(plan.ground_frame.at(plan.cells.at(column, row)));
        if (place.range_m >= near_m && place.range_m <= plan.request.range_m &&
            !std::isnan(ground_m)) {
            chosen.push_back({column, row, place, wedges[place.wedge()].reach_m, ground_m, {}});
        }
    }
    return chosen;
}

/// One thread's work on samples; keeps its memory from one to the next.
class TrialRadials {
public:
    TrialRadials(const SweepPlan& plan, const Models& models)
        : plan_(plan), sampler_(plan), desks_(desks_for(plan, models)) {}

    /// The loss to a sample that lies `share` of the way between two radials; NaN where not known.
    double loss_db(const Sample& sample, double spacing_rad, double share) {
        const double bearing_rad = sample.place.bearing_rad - share * spacing_rad;
        if (!find_path(sample, bearing_rad, before_)) {
            return std::numeric_limits<double>::quiet_NaN();
        }
        if (spacing_rad == 0.0) {
            after_ = before_;
        } else if (!find_path(sample, bearing_rad + spacing_rad, after_)) {
            return std::numeric_limits<double>::quiet_NaN();
        }
        double sum_db = 0.0;
        const auto answer = [&](std::size_t, double loss_db) { sum_db += loss_db; };
        LossDesk& desk = desks_[plan_.height_of(plan_.cell_cover(sample.column, sample.row))];
        desk.ask(0, before_, after_, share_seen(plan_, before_, after_, share), answer);
        desk.settle(answer);
        return sum_db;
    }

private:
    /// The path to a sample along a radial of its own; false where that cannot tell.
    bool find_path(const Sample& sample, double bearing_rad, CarriedRadial::Path& path) {
        radial_.start(plan_.site, sampler_.sample(bearing_rad, sample.place.range_m));
        const double range_km = sample.place.range_m / 1000.0;
        if (radial_.last_point_before(range_km) >= radial_.known_points()) {
            return false;
        }
        const terrain::CoverClass* cover = plan_.cell_cover(sample.column, sample.row);
        path.row.centre_latitude_deg = CentreLatitude(plan_, bearing_rad).at(range_km);
        return radial_.path_to(
            {range_km, sample.ground_m, plan_.receiver_heights_m[plan_.height_of(cover)],
             cover != nullptr ? cover->height_m : 0.0, cover != nullptr && cover->woodland},
            path);
    }

    const SweepPlan& plan_;
    RadialSampler sampler_;
    CarriedRadial radial_;
    CarriedRadial::Path before_, after_;
    std::vector<LossDesk> desks_;
};

/// Whether radials keep the promise, with a little to spare, as far as samples tell.
class Promise {
public:
    /// Where receivers stand between cells a few are off even on a radial of their own.
    Promise(std::size_t samples, bool between_cells)
        : samples_(static_cast<double>(samples)), spare_(between_cells ? 0.6 : 0.7) {}

    void add(double difference_db) {
        unknown_ += std::isnan(difference_db) ? 1.0 : 0.0;
        beyond_tenth_ += difference_db > 0.1 ? 1.0 : 0.0;
        beyond_half_ += difference_db > 0.5 ? 1.0 : 0.0;
    }
    /// No further sample mends what is broken.
    [[nodiscard]] bool kept() const {
        constexpr double beyond_tenth = 0.05; // of the cells may be off by more than 0.1 dB
        constexpr double beyond_half = 0.01;  // and by more than 0.5 dB
        const double known = spare_ * (samples_ - unknown_);
        return beyond_tenth_ <= beyond_tenth * known && beyond_half_ <= beyond_half * known;
    }

private:
    double samples_, spare_;
    double unknown_ = 0.0, beyond_tenth_ = 0.0, beyond_half_ = 0.0;
};

/// Finds how many radials the ground at hand asks for: cells here and there are predicted along a
/// radial of their own, which gives what a fresh profile does, and between two radials as far apart
/// as they would be, until the promise is kept.
double choose_density(const SweepPlan& plan, const Models& models, unsigned threads) {
    constexpr std::array densities{1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0};
    constexpr std::size_t at_a_time = 50; // most densities are ruled out by a few samples
    std::vector<Sample> samples = choose_samples(plan);
    std::vector<TrialRadials> workers(threads, TrialRadials(plan, models));
    std::vector<double> difference_db(at_a_time);
    for (const double density : densities) {
        Promise promise(samples.size(), plan.site.between_cells);
        for (std::size_t first = 0; first < samples.size() && promise.kept(); first += at_a_time) {
            const std::size_t count = std::min(at_a_time, samples.size() - first);
            parallel_for(count, threads, [&](std::size_t k, unsigned worker) {
                Sample& sample = samples[first + k];
                if (!sample.straight_db) {
                    sample.straight_db = workers[worker].loss_db(sample, 0.0, 0.0);
                }
                // Shares spread evenly over (0, 1) by the golden ratio.
                const double share =
                    std::fmod(0.5 + 0.61803398875 * static_cast<double>(first + k), 1.0);
                difference_db[k] =
                    std::abs(workers[worker].loss_db(
                                 sample, plan.map_cell_m / (density * sample.reach_m), share) -
                             *sample.straight_db);
            });
            std::for_each_n(difference_db.begin(), count,
                            [&](double difference) { promise.add(difference); });
        }
        if (promise.kept()) {
            return density;
        }
    }
    return densities.back();
}

} // namespace

bool carried_engine_knows(propagation::Method method) {
    using propagation::Method;
    return from_p1812(method) || method == Method::free_space || method == Method::bullington ||
           method == Method::bullington_p526;
}

void carried_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result, Task& task,
                   bool at_roofs) {
    const SweepPlan plan(map, request, at_roofs);
    Models models;
    for (const double height_m : plan.receiver_heights_m) {
        models.emplace_back(propagation::p1812_conditions(request.conditions),
                            plan.site.ground_m + plan.site.antenna_m,
                            propagation::AntennaHeights{plan.site.antenna_m, height_m});
    }
    result.radials_per_rim_cell = request.radials_per_rim_cell > 0.0
                                      ? request.radials_per_rim_cell
                                      : choose_density(plan, models, task.threads());
    const Wedges wedges = plan.cut_wedges(result.radials_per_rim_cell);
    std::vector<WedgeSweep> sweeps;
    sweeps.reserve(task.threads());
    for (unsigned k = 0; k < task.threads(); ++k) {
        sweeps.emplace_back(plan, models, result);
    }
    sweep_near_cells(plan, result);
    sweep_wedges(wedges, sweeps, task);
    for (const WedgeSweep& sweep : sweeps) {
        sweep.add_counts_to(result);
    }
}

} // namespace earshot::coverage
