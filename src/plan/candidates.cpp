#include "plan/candidates.hpp"

#include "base/parallel.hpp"
#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "propagation/basic.hpp"
#include "terrain/off_ground.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <limits>
#include <numbers>
#include <numeric>
#include <optional>
#include <utility>

namespace earshot::plan {
namespace {

using terrain::CellPosition;
using terrain::GroundScale;
using terrain::HeightGrid;

/// Slope of the ground at a cell, degrees (B. K. P. Horn, "Hill shading and the reflectance map",
/// Proc. IEEE 69, 1981). At the rim and beside voids the nearest known cells are used.
double slope_deg(const HeightGrid& ground, const GroundScale& scale, CellPosition position) {
    const int column =
        std::clamp(static_cast<int>(std::lround(position.column)), 0, ground.columns - 1);
    const int row = std::clamp(static_cast<int>(std::lround(position.row)), 0, ground.rows - 1);
    const double middle = static_cast<double>(ground.at(column, row));
    const auto height = [&](int dx, int dy) {
        const float h = ground.at(std::clamp(column + dx, 0, ground.columns - 1),
                                  std::clamp(row + dy, 0, ground.rows - 1));
        return std::isnan(h) ? middle : static_cast<double>(h);
    };
    const double east = height(1, -1) + 2.0 * height(1, 0) + height(1, 1);
    const double west = height(-1, -1) + 2.0 * height(-1, 0) + height(-1, 1);
    const double south = height(-1, 1) + 2.0 * height(0, 1) + height(1, 1);
    const double north = height(-1, -1) + 2.0 * height(0, -1) + height(1, -1);
    const auto size = scale.at(position.row);
    return std::atan(std::hypot((east - west) / (8.0 * size.across_m),
                                (south - north) / (8.0 * size.down_m))) *
           180.0 / std::numbers::pi;
}

using Test = std::function<bool(CellPosition cell, double ground_m)>;

/// A constraint made ready for many positions.
Test test_of(const Constraint& constraint, const HeightGrid& ground, const GroundScale& scale) {
    const double limit = constraint.value;
    switch (constraint.kind) {
    case Constraint::Kind::near:
        return [test = terrain::NearTest(constraint.shapes, limit, ground, scale)](
                   CellPosition cell, double) { return test(cell); };
    case Constraint::Kind::inside:
    case Constraint::Kind::outside:
        return [test = terrain::InsideTest(constraint.shapes.polygons, ground.georeference,
                                           ground.rows),
                wanted = constraint.kind == Constraint::Kind::inside](CellPosition cell, double) {
            return test(cell) == wanted;
        };
    case Constraint::Kind::above:
        return [=](CellPosition, double ground_m) { return ground_m >= limit; };
    case Constraint::Kind::gentle:
        return [=, &ground, &scale](CellPosition cell, double) {
            return slope_deg(ground, scale, cell) <= limit;
        };
    }
    throw Error(Fault::internal, "unknown constraint");
}

class Sieve {
public:
    Sieve(std::span<const Constraint> constraints, const HeightGrid& ground,
          const GroundScale& scale) {
        for (const Constraint& constraint : constraints) {
            tests_.push_back(test_of(constraint, ground, scale));
            removals_.push_back({constraint.label, 0, 0});
        }
    }
    bool passes(CellPosition cell, double ground_m) {
        bool passed = true;
        for (std::size_t k = 0; k < tests_.size(); ++k) {
            if (!tests_[k](cell, ground_m)) {
                ++removals_[k].alone;
                removals_[k].removed += passed ? 1 : 0;
                passed = false;
            }
        }
        return passed;
    }
    [[nodiscard]] const std::vector<Removal>& removals() const { return removals_; }

private:
    std::vector<Test> tests_;
    std::vector<Removal> removals_;
};

// ---- prominent cells ----------------------------------------------------------------------------

struct Allowed {
    std::vector<std::uint8_t> mask; ///< cell by cell
    CandidateSet set;               ///< without candidates
};

Allowed allowed_cells(const HeightGrid& ground, std::span<const Constraint> constraints,
                      const GroundScale& scale, const Task& task) {
    Allowed allowed;
    allowed.set.unit = "cells";
    allowed.mask.assign(ground.height_m.size(), 0);
    Sieve sieve(constraints, ground, scale);
    std::size_t index = 0;
    for (int row = 0; row < ground.rows && !allowed.set.stopped; ++row) {
        allowed.set.stopped = task.stop_requested();
        for (int column = 0; column < ground.columns; ++column, ++index) {
            const auto height = static_cast<double>(ground.height_m[index]);
            if (std::isnan(height)) {
                continue;
            }
            ++allowed.set.considered;
            if (sieve.passes({1.0 * column, 1.0 * row}, height)) {
                allowed.mask[index] = 1;
                ++allowed.set.allowed;
            }
        }
    }
    allowed.set.removals = sieve.removals();
    if (allowed.set.stopped && allowed.set.allowed == 0) {
        task.throw_if_stopped();
    }
    require_candidates(allowed.set);
    return allowed;
}

/// Whether cell `other` outranks cell `index`: higher, or as high and earlier in the raster.
bool outranks(const HeightGrid& ground, std::size_t other, std::size_t index) {
    const float a = ground.height_m[other];
    const float b = ground.height_m[index];
    return a > b || (a == b && other < index);
}

CellPosition position_in(std::size_t index, std::size_t columns) {
    const std::size_t row = index / columns;
    return {static_cast<double>(index % columns), static_cast<double>(row)};
}

/// Distances to look at, and the step from each to the next: a cell at first, then growing with
/// distance.
std::vector<std::pair<double, double>> rings_within(double range_m, double cell_m) {
    constexpr double growth = 0.04;
    std::vector<std::pair<double, double>> rings;
    double distance_m = cell_m;
    while (distance_m <= range_m) {
        const double step_m = std::max(cell_m, growth * distance_m);
        rings.emplace_back(distance_m, step_m);
        distance_m += step_m;
    }
    return rings;
}

class Terrain {
public:
    Terrain(const HeightGrid& ground, const std::vector<std::uint8_t>& mask,
            const GroundScale& scale)
        : ground_(ground), mask_(mask), scale_(scale) {}

    /// Distance to the nearest allowed cell that outranks this one, looking `rings` cells far.
    [[nodiscard]] double isolation_m(std::size_t index, int rings) const {
        const auto size = scale_.at(position_in(index, columns()).row);
        const double per_ring = std::min(size.across_m, size.down_m);
        double nearest = per_ring * rings;
        // A ring may hold a corner farther than the next ring's side: go on until none can be
        // nearer.
        for (int ring = 1; ring <= rings && per_ring * ring <= nearest; ++ring) {
            higher_on_ring(index, ring, [&](int across, int down) {
                nearest = std::min(nearest, std::hypot(across * size.across_m, down * size.down_m));
            });
        }
        return nearest;
    }

    [[nodiscard]] bool top(std::size_t index) const {
        bool highest = true;
        higher_on_ring(index, 1, [&](int, int) { highest = false; });
        return highest;
    }

    /// Share of the area within `range_m` that a person there and the antenna have in sight, by
    /// rays in 32 directions at steps that grow with distance: a thousandth of the work of a sight
    /// map, and thousands of candidates wait.
    [[nodiscard]] double view_share(std::size_t index, double range_m, double antenna_m) const {
        constexpr int directions = 32;
        constexpr double person_m = 1.5;
        const double radius_km =
            propagation::effective_earth_radius_km(propagation::standard_k_factor);
        const CellPosition here = position_in(index, columns());
        const auto size = scale_.at(here.row);
        const double cell_m = std::min(size.across_m, size.down_m);
        const double eye_m = static_cast<double>(ground_.height_m[index]) + antenna_m;
        const std::vector<std::pair<double, double>> rings = rings_within(range_m, cell_m);
        double seen = 0.0;
        double all = 0.0;
        for (int k = 0; k < directions; ++k) {
            const double bearing = 2.0 * std::numbers::pi * k / directions;
            const double per_m_column = std::sin(bearing) / size.across_m;
            const double per_m_row = -std::cos(bearing) / size.down_m;
            double steepest = -std::numeric_limits<double>::infinity();
            for (const auto& [d, step_m] : rings) {
                all += d * step_m;
                const double c = here.column + d * per_m_column;
                const double r = here.row + d * per_m_row;
                if (!ground_.covers({c, r})) {
                    continue;
                }
                const auto height = static_cast<double>(
                    ground_.at(std::clamp(static_cast<int>(std::lround(c)), 0, ground_.columns - 1),
                               std::clamp(static_cast<int>(std::lround(r)), 0, ground_.rows - 1)));
                const double low_m =
                    height - propagation::earth_bulge_m(d / 1000.0, d / 1000.0, radius_km);
                if ((low_m + person_m - eye_m) / d >= steepest) {
                    seen += d * step_m;
                }
                if (!std::isnan(low_m)) {
                    steepest = std::max(steepest, (low_m - eye_m) / d);
                }
            }
        }
        return all > 0.0 ? seen / all : 0.0;
    }

    /// The highest allowed cell of each square of `side` cells.
    [[nodiscard]] std::vector<std::size_t> square_tops(int side) const {
        std::vector<std::size_t> tops;
        for (int top = 0; top < ground_.rows; top += side) {
            for (int left = 0; left < ground_.columns; left += side) {
                std::optional<std::size_t> best;
                for (int r = top; r < std::min(top + side, ground_.rows); ++r) {
                    for (int c = left; c < std::min(left + side, ground_.columns); ++c) {
                        const std::size_t index = ground_.index(c, r);
                        if (mask_[index] != 0 && (!best || outranks(ground_, index, *best))) {
                            best = index;
                        }
                    }
                }
                if (best) {
                    tops.push_back(*best);
                }
            }
        }
        return tops;
    }

private:
    [[nodiscard]] std::size_t columns() const { return static_cast<std::size_t>(ground_.columns); }

    /// Calls `visit(columns across, rows down)` for each allowed cell that outranks this one, on
    /// the square so many cells around it.
    template <typename Visit>
    void higher_on_ring(std::size_t index, int ring, const Visit& visit) const {
        const int column = static_cast<int>(index % columns());
        const int row = static_cast<int>(index / columns());
        const auto look = [&](int across, int down) {
            const int c = column + across;
            const int r = row + down;
            if (c < 0 || r < 0 || c >= ground_.columns || r >= ground_.rows) {
                return;
            }
            const std::size_t other = ground_.index(c, r);
            if (mask_[other] != 0 && outranks(ground_, other, index)) {
                visit(across, down);
            }
        };
        for (int k = -ring; k <= ring; ++k) {
            look(k, -ring);
            look(k, ring);
        }
        for (int k = 1 - ring; k < ring; ++k) {
            look(-ring, k);
            look(ring, k);
        }
    }

    const HeightGrid& ground_;
    const std::vector<std::uint8_t>& mask_;
    const GroundScale& scale_;
};

struct Rated {
    std::size_t index = 0;
    double isolation_m = 0.0;
    double view_share = 0.0;
    [[nodiscard]] double worth() const { return isolation_m * view_share; }
};

} // namespace

Constraint within_distance(terrain::Shapes shapes, double distance_m) {
    require_usage(distance_m > 0.0 && std::isfinite(distance_m),
                  "a distance of {} m from {} allows nothing; give more than 0 m", distance_m,
                  shapes.label);
    return {Constraint::Kind::near,
            fmt::format("within {} of {}", geo::format_distance(distance_m), shapes.label),
            std::move(shapes), distance_m};
}

Constraint inside_of(terrain::Shapes shapes) {
    require_polygons(shapes);
    return {Constraint::Kind::inside, fmt::format("inside {}", shapes.label), std::move(shapes)};
}

Constraint outside_of(terrain::Shapes shapes) {
    require_polygons(shapes);
    return {Constraint::Kind::outside, fmt::format("outside {}", shapes.label), std::move(shapes)};
}

Constraint above_height(double height_m) {
    require_usage(std::isfinite(height_m), "the least height of the ground must be a number");
    return {Constraint::Kind::above, fmt::format("ground above {:.0f} m", height_m), {}, height_m};
}

Constraint gentler_than(double slope_deg) {
    require_usage(slope_deg > 0.0 && slope_deg <= 90.0,
                  "a slope limit of {} degrees is not possible; give more than 0 and at most 90",
                  slope_deg);
    return {Constraint::Kind::gentle,
            fmt::format("slope up to {:g} degrees", slope_deg),
            {},
            slope_deg};
}

void require_known_ground(const HeightGrid& ground, geo::LatLon position, std::string_view what) {
    if (!std::isnan(ground.sample(position))) {
        return;
    }
    throw_input("{} ({}) is {}", what, geo::format_decimal(position),
                terrain::no_height_words(ground, position));
}

CandidateSet find_candidates(const HeightGrid& ground, std::span<const Constraint> constraints,
                             const CandidateOptions& options, Task& task) {
    require_usage(options.most > 0, "at least one candidate must be allowed");
    const GroundScale scale(ground);
    Allowed allowed = allowed_cells(ground, constraints, scale, task);
    const Terrain terrain(ground, allowed.mask, scale);
    std::vector<Rated> rated;
    for (std::size_t index = 0; index < allowed.mask.size(); ++index) {
        if (allowed.mask[index] != 0 && terrain.top(index)) {
            rated.push_back({index});
        }
    }
    allowed.set.tops = rated.size();
    if (!task.stop_requested() && rated.size() < options.most &&
        rated.size() < allowed.set.allowed) {
        const std::size_t room = options.most - rated.size();
        // The squares' tops may be local maxima too, so there are never more than fit.
        int side = static_cast<int>(
            std::sqrt(static_cast<double>(allowed.set.allowed) / static_cast<double>(room)));
        side = std::max(side, 1);
        std::vector<std::size_t> extra;
        do {
            extra = terrain.square_tops(side++);
            std::erase_if(extra, [&](std::size_t index) { return terrain.top(index); });
        } while (extra.size() > room);
        for (const std::size_t index : extra) {
            rated.push_back({index});
        }
    }
    // The highest first, so that a search that is stopped has looked at the likeliest.
    std::stable_sort(rated.begin(), rated.end(), [&](const Rated& a, const Rated& b) {
        return outranks(ground, a.index, b.index);
    });
    task.begin("candidates", rated.size());
    constexpr int rings = 128;
    constexpr std::size_t rated_in_any_case = 32; // a matter of milliseconds
    parallel_for(rated.size(), task.threads(), [&](std::size_t k, unsigned) {
        if (k >= rated_in_any_case && task.stop_requested()) {
            return;
        }
        rated[k].isolation_m = terrain.isolation_m(rated[k].index, rings);
        rated[k].view_share =
            terrain.view_share(rated[k].index, options.view_range_m, options.antenna_m);
        task.advance(1);
    });
    std::stable_sort(rated.begin(), rated.end(),
                     [](const Rated& a, const Rated& b) { return a.worth() > b.worth(); });
    // Those that were not looked at have no worth and come last.
    if (const auto unrated = std::find_if(rated.begin(), rated.end(),
                                          [](const Rated& r) { return r.isolation_m == 0.0; });
        unrated != rated.end()) {
        rated.erase(unrated, rated.end());
        allowed.set.stopped = true;
    }
    rated.resize(std::min(rated.size(), options.most));
    CandidateSet set = std::move(allowed.set);
    for (const Rated& one : rated) {
        const CellPosition cell = position_in(one.index, static_cast<std::size_t>(ground.columns));
        set.candidates.push_back({"", ground.georeference.position_of(cell),
                                  static_cast<double>(ground.height_m[one.index]), one.isolation_m,
                                  one.view_share});
    }
    return set;
}

CandidateSet listed_candidates(const HeightGrid& ground, std::span<const scenario::Place> places,
                               std::span<const Constraint> constraints) {
    const GroundScale scale(ground);
    Sieve sieve(constraints, ground, scale);
    CandidateSet set;
    set.unit = "listed places";
    for (const scenario::Place& place : places) {
        const CellPosition cell = ground.georeference.cell_of(place.position);
        const double height = ground.sample(cell);
        require_input(!std::isnan(height),
                      "the listed place {} ({}) is off the elevation or in a void of it; take it "
                      "off the list or give elevation that covers it",
                      place.name, geo::format_decimal(place.position));
        ++set.considered;
        if (sieve.passes(cell, height)) {
            ++set.allowed;
            set.candidates.push_back({place.name, place.position, height, 0.0, 0.0});
        }
    }
    set.removals = sieve.removals();
    require_candidates(set);
    return set;
}

std::vector<std::string> removal_words(const CandidateSet& set) {
    std::vector<std::string> words;
    std::size_t left = set.considered;
    for (const Removal& removal : set.removals) {
        left -= removal.removed;
        words.push_back(fmt::format("'{}' removed {} {} and left {} (alone it would remove {})",
                                    removal.label, removal.removed, set.unit, left, removal.alone));
    }
    return words;
}

void require_candidates(const CandidateSet& set) {
    if (set.allowed > 0) {
        return;
    }
    require_input(set.considered > 0, "there is no place to look at for a relay: the elevation "
                                      "holds no known ground, or the list is empty");
    throw_input("no place is left for a relay: of {} {}, {}; relax one of these", set.considered,
                set.unit, fmt::join(removal_words(set), "; "));
}

} // namespace earshot::plan
