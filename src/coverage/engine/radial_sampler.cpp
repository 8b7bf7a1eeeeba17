#include "coverage/engine/radial_sampler.hpp"

#include "terrain/profile_sampler.hpp"

#include <limits>

namespace earshot::coverage {

void RadialSampler::Crossings::make_room(std::size_t crossings) {
    if (distance_m.size() < crossings + 1) {
        distance_m.resize(crossings + 1);
        ground_m.resize(crossings + 1);
        beside.resize(crossings + 1);
    }
}

RadialGround RadialSampler::sample(double bearing_rad, double reach_m) {
    make_room(1);
    x_km_[0] = 0.0;
    ground_m_[0] = static_cast<float>(plan_.site.ground_m);
    left_out_km_[0] = 0.0;
    size_ = 1;
    cover_m_.clear();
    wooded_.clear();
    bulge_m_.assign(1, 0.0F);
    middle_.assign(1, 0);
    // A receiver between cells stands between two crossings, with a middle perhaps.
    const double beyond_m = plan_.site.between_cells ? 3.0 * plan_.spacing_m : 0.0;
    for_each_chord(bearing_rad, reach_m + beyond_m, [&](const Chord& chord, std::size_t count) {
        met_.make_room(1);
        met_.distance_m[0] = static_cast<float>(1000.0 * x_km_[size_ - 1] - chord.start_m);
        met_.ground_m[0] = ground_m_[size_ - 1];
        const bool crossed = find_points(chord, count);
        const bool bulging = crossed && may_bulge(chord);
        put_in_order(chord, bulging || plan_.request.layers.cover != nullptr);
        if (bulging) {
            sample_middles(chord);
        }
        add_met(chord, bulging);
        if (plan_.request.layers.cover != nullptr) {
            add_cover(chord);
        }
    });
    return {std::span(x_km_).first(size_),
            std::span(ground_m_).first(size_),
            cover_m_,
            wooded_,
            bulge_m_,
            middle_,
            std::span(left_out_km_).first(size_)};
}

/// Whether all of a chord has four cells around it. NaN, where the CRS has no coordinates, has not.
bool RadialSampler::inside(const Chord& chord) const {
    const auto within = [this](const terrain::CellPosition& cell) {
        return cell.column >= 0.0 && cell.row >= 0.0 &&
               cell.column < plan_.ground.columns - 1.001 && cell.row < plan_.ground.rows - 1.001;
    };
    return within(chord.from) && within(chord.to);
}

/// A radial that runs along the rim of the elevation may stray past it between cells that lie on
/// it, by as much as it is away from its neighbour: the rim's height is carried that far.
float RadialSampler::beside(terrain::CellPosition cell) const {
    constexpr double spare = 1.5;
    const auto carried = [](double value, int count) {
        const double kept = std::clamp(value, 0.0, count - 1.0);
        return std::abs(value - kept) <= spare ? kept : value;
    };
    return static_cast<float>(plan_.ground.sample(terrain::CellPosition{
        carried(cell.column, plan_.ground.columns), carried(cell.row, plan_.ground.rows)}));
}

/// Finds a chord's points, but for middles: its crossings, if it has any to have.
bool RadialSampler::find_points(const Chord& chord, std::size_t count) {
    const bool crossed =
        !(plan_.request.step_m > 0.0) &&
        std::isfinite(chord.from.column + chord.from.row + chord.to.column + chord.to.row);
    if (crossed) {
        cross(chord, true, columns_);
        cross(chord, false, rows_);
    } else {
        step_along(chord, count, columns_);
        rows_.count = 0;
    }
    return crossed;
}

void RadialSampler::step_along(const Chord& chord, std::size_t count, Crossings& steps) const {
    const double columns = (chord.to.column - chord.from.column) / static_cast<double>(count);
    const double rows = (chord.to.row - chord.from.row) / static_cast<double>(count);
    steps.make_room(count);
    steps.count = count;
    for (std::size_t k = 0; k < count; ++k) {
        steps.distance_m[k] = static_cast<float>(static_cast<double>(k + 1) * plan_.spacing_m);
    }
    if (inside(chord)) {
        kernels::sample_line(plan_.ground.height_m.data(),
                             static_cast<std::size_t>(plan_.ground.columns),
                             chord.from.column + columns, chord.from.row + rows, columns, rows,
                             count, steps.ground_m.data());
        return;
    }
    for (std::size_t k = 0; k < count; ++k) {
        const auto taken = static_cast<double>(k + 1);
        steps.ground_m[k] =
            beside({chord.from.column + taken * columns, chord.from.row + taken * rows});
    }
}

/// Finds where a chord crosses whole columns, or whole rows, beyond its start and up to its end.
void RadialSampler::cross(const Chord& chord, bool columns, Crossings& crossings) const {
    const terrain::HeightGrid& ground = plan_.ground;
    const double from = columns ? chord.from.column : chord.from.row;
    const double to = columns ? chord.to.column : chord.to.row;
    const double beside_from = columns ? chord.from.row : chord.from.column;
    const double beside_to = columns ? chord.to.row : chord.to.column;
    const double way = to > from ? 1.0 : -1.0;
    const double first = way > 0.0 ? std::floor(from) + 1.0 : std::ceil(from) - 1.0;
    const double last = way > 0.0 ? std::floor(to) : std::ceil(to);
    const auto count = static_cast<std::size_t>(std::max(0.0, way * (last - first) + 1.0));
    const double base = std::floor(std::min(beside_from, beside_to));
    crossings.make_room(count);
    crossings.count = count;
    crossings.rising = beside_to > beside_from;
    crossings.beside_start = static_cast<float>(
        (crossings.rising ? std::floor(beside_from) : std::ceil(beside_from)) - base);
    if (count > 0 && inside(chord)) {
        const std::ptrdiff_t next_line = columns ? 1 : ground.columns;
        const std::ptrdiff_t next_cell = columns ? ground.columns : 1;
        kernels::Lines lines{};
        lines.first = ground.height_m.data() + static_cast<std::ptrdiff_t>(first) * next_line +
                      static_cast<std::ptrdiff_t>(base) * next_cell;
        lines.next_line = static_cast<std::int32_t>(way) * static_cast<std::int32_t>(next_line);
        lines.next_cell = static_cast<std::int32_t>(next_cell);
        lines.share0 = static_cast<float>((first - from) / (to - from));
        lines.share_step = static_cast<float>(way / (to - from));
        lines.cell0 = static_cast<float>(beside_from - base);
        lines.cells = static_cast<float>(beside_to - beside_from);
        lines.length_m = static_cast<float>(chord.length_m);
        kernels::cross_lines(
            lines, count,
            {crossings.distance_m.data(), crossings.ground_m.data(), crossings.beside.data()});
    } else {
        for (std::size_t k = 0; k < count; ++k) {
            const double line = first + way * static_cast<double>(k);
            const double share = (line - from) / (to - from);
            const double cell = std::lerp(beside_from, beside_to, share);
            crossings.distance_m[k] = static_cast<float>(share * chord.length_m);
            crossings.ground_m[k] = columns ? beside({line, cell}) : beside({cell, line});
            crossings.beside[k] = static_cast<float>(cell - base);
        }
    }
    crossings.distance_m[count] = std::numeric_limits<float>::infinity();
}

/// Puts a chord's points in order behind the one before it. Between two crossings of the lines it
/// crosses `more` often there is at most one of the others, and where it passed those lines tells
/// whether: so without branches, which could not be foretold. Where two points are nearer to each
/// other than a profile has them, one of the others is left out; and unless the whole is wanted, so
/// is one on the straight line between its neighbours, which changes nothing farther on.
void RadialSampler::put_in_order(const Chord& chord, bool whole) {
    constexpr auto least_gap_m = static_cast<float>(terrain::ProfileSampler::least_gap_m);
    const float above_m = whole ? -1.0F : 0.005F; // of such a line, at most
    const float below_m = whole ? -1.0F : 0.05F;  // hides nothing, but counts in the mean
    const bool by_columns = rows_.count == 0 || std::abs(chord.to.column - chord.from.column) >=
                                                    std::abs(chord.to.row - chord.from.row);
    const Crossings& more = by_columns ? columns_ : rows_;
    const Crossings& others = by_columns ? rows_ : columns_;
    met_.make_room(more.count + others.count);
    float* distance_m = met_.distance_m.data();
    float* ground_m = met_.ground_m.data();
    float* left_out_m = met_.beside.data();
    left_out_m[0] = 0.0F;
    float before_m = distance_m[0];
    std::size_t size = 1;
    std::size_t passed = 0;
    const float way = more.rising ? 1.0F : -1.0F;
    const auto add_other = [&](bool wanted, float after_m, float after_ground_m) {
        const float way_m = others.distance_m[passed] - before_m;
        const float whole_m = after_m - before_m;
        const float before_ground_m = ground_m[size - 1];
        const float over = (others.ground_m[passed] - before_ground_m) * whole_m -
                           (after_ground_m - before_ground_m) * way_m;
        const bool straight = (over <= above_m * whole_m) & (over >= -below_m * whole_m);
        const bool apart = wanted & (way_m >= least_gap_m) & (whole_m - way_m >= least_gap_m);
        left_out_m[size - 1] = (apart & straight) ? others.distance_m[passed] : 0.0F;
        distance_m[size] = others.distance_m[passed];
        ground_m[size] = others.ground_m[passed];
        left_out_m[size] = 0.0F;
        size += static_cast<std::size_t>(apart & !straight);
    };
    const bool near_before = more.count > 0 && more.distance_m[0] - before_m < least_gap_m;
    for (std::size_t k = near_before ? 1 : 0; k < more.count; ++k) {
        const float here_m = more.distance_m[k];
        if (others.count > 0) {
            const auto now =
                std::min(others.count,
                         static_cast<std::size_t>(std::max(
                             0, static_cast<int>(way * (more.beside[k] - more.beside_start)))));
            add_other(now > passed, here_m, more.ground_m[k]);
            passed = now;
        }
        distance_m[size] = here_m;
        ground_m[size] = more.ground_m[k];
        left_out_m[size] = 0.0F;
        ++size;
        before_m = here_m;
    }
    for (; passed < others.count; ++passed) {
        if (others.distance_m[passed] - before_m >= least_gap_m) {
            before_m = distance_m[size] = others.distance_m[passed];
            ground_m[size] = others.ground_m[passed];
            left_out_m[size] = 0.0F;
            ++size;
        }
    }
    met_.count = size;
}

/// Whether the ground may rise half way between two of a chord's points.
bool RadialSampler::may_bulge(const Chord& chord) const {
    return plan_.site.between_cells || !inside(chord) || plan_.bulges->along(chord.from, chord.to);
}

/// Finds the ground half way from each of the points met to the one before.
void RadialSampler::sample_middles(const Chord& chord) {
    // The first may lie before the chord.
    const bool quick = inside(chord) && met_.count > 2;
    const std::size_t size = met_.count;
    shares_.resize(size);
    middle_m_.resize(size);
    const float scale = 0.5F / static_cast<float>(chord.length_m);
    for (std::size_t k = 1; k < size; ++k) {
        shares_[k] = (met_.distance_m[k - 1] + met_.distance_m[k]) * scale;
    }
    const double columns = chord.to.column - chord.from.column;
    const double rows = chord.to.row - chord.from.row;
    for (std::size_t k = 1; k < (quick ? 2 : size); ++k) {
        const auto share = static_cast<double>(shares_[k]);
        middle_m_[k] = beside({chord.from.column + share * columns, chord.from.row + share * rows});
    }
    if (quick) {
        kernels::sample_shares(plan_.ground.height_m.data(),
                               static_cast<std::size_t>(plan_.ground.columns), chord.from.column,
                               chord.from.row, columns, rows, &shares_[2], size - 2, &middle_m_[2]);
    }
}

/// Adds the points met to the radial, with middles where the ground rises there.
void RadialSampler::add_met(const Chord& chord, bool with_middles) {
    constexpr auto least_bulge_m = static_cast<float>(terrain::ProfileSampler::least_bulge_m);
    make_room(2 * met_.count);
    if (!with_middles) {
        const std::size_t added = met_.count - 1;
        for (std::size_t k = 0; k <= added; ++k) {
            const auto left_out_m = static_cast<double>(met_.beside[k]);
            left_out_km_[size_ - 1 + k] =
                left_out_m > 0.0 ? (chord.start_m + left_out_m) * 0.001 : 0.0;
        }
        for (std::size_t k = 0; k < added; ++k) {
            x_km_[size_ + k] =
                (chord.start_m + static_cast<double>(met_.distance_m[k + 1])) * 0.001;
        }
        std::copy_n(&met_.ground_m[1], added, &ground_m_[size_]);
        size_ += added;
        return;
    }
    const bool tell_bulges = plan_.site.between_cells;
    const auto add = [&](double distance_m, float ground_m, float bulge_m, bool middle) {
        x_km_[size_] = (chord.start_m + distance_m) * 0.001;
        ground_m_[size_] = ground_m;
        left_out_km_[size_] = 0.0;
        ++size_;
        if (tell_bulges) {
            bulge_m_.push_back(bulge_m);
            middle_.push_back(middle ? 1 : 0);
        }
    };
    for (std::size_t k = 1; k < met_.count; ++k) {
        const float bulge_m = middle_m_[k] - (met_.ground_m[k - 1] + met_.ground_m[k]) / 2.0F;
        const bool middle = bulge_m > least_bulge_m;
        // Each half of a parabola bulges a quarter as much as the whole.
        const float half_bulge_m = middle ? bulge_m / 4.0F : bulge_m;
        if (middle) {
            add((static_cast<double>(met_.distance_m[k - 1]) +
                 static_cast<double>(met_.distance_m[k])) /
                    2.0,
                middle_m_[k], half_bulge_m, true);
        }
        add(static_cast<double>(met_.distance_m[k]), met_.ground_m[k], half_bulge_m, false);
    }
}

/// Makes room for so many points more.
void RadialSampler::make_room(std::size_t points) {
    if (x_km_.size() < size_ + points) {
        x_km_.resize(2 * (size_ + points));
        ground_m_.resize(x_km_.size());
        left_out_km_.resize(x_km_.size());
    }
}

/// The class of the cell that each of a chord's points lies in.
void RadialSampler::add_cover(const Chord& chord) {
    for (std::size_t k = cover_m_.size(); k < size_; ++k) {
        const double share = (1000.0 * x_km_[k] - chord.start_m) / chord.length_m;
        const terrain::CoverClass& found =
            plan_.request.layers.cover->at({std::lerp(chord.from.column, chord.to.column, share),
                                            std::lerp(chord.from.row, chord.to.row, share)});
        const bool stands =
            found.woodland || plan_.request.conditions.houses == propagation::Houses::obstacles;
        cover_m_.push_back(stands ? static_cast<float>(found.height_m) : 0.0F);
        wooded_.push_back(found.woodland ? 1 : 0);
    }
}

} // namespace earshot::coverage
