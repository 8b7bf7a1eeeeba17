#include "coverage/engine/radial_sampler.hpp"

#include "terrain/profile_sampler.hpp"

#include <limits>

namespace earshot::coverage {
namespace {

/// Cells, or steps, in a chord.
constexpr std::size_t chord_points = 32;

} // namespace

RadialGround RadialSampler::sample(double bearing_rad, double reach_m) {
    const double sine = std::sin(bearing_rad);
    const double cosine = std::cos(bearing_rad);
    const auto position = [&](double x_m) {
        return plan_.ground_frame.at({x_m * sine, x_m * cosine});
    };
    x_km_.assign(1, 0.0);
    ground_m_.assign(1, static_cast<float>(plan_.site.ground_m));
    cover_m_.clear();
    wooded_.clear();
    const auto points = static_cast<std::size_t>(std::ceil(reach_m / plan_.spacing_m));
    Chord chord;
    chord.to = position(0.0);
    for (std::size_t first = 0; first < points; first += chord_points) {
        const std::size_t count = std::min(chord_points, points - first);
        chord.from = chord.to;
        chord.start_m = static_cast<double>(first) * plan_.spacing_m;
        chord.length_m = static_cast<double>(count) * plan_.spacing_m;
        chord.to = position(chord.start_m + chord.length_m);
        if (plan_.request.step_m > 0.0) {
            add_steps(chord, count);
        } else {
            add_crossings(chord);
        }
        if (plan_.request.layers.cover != nullptr) {
            add_cover(chord);
        }
    }
    return {x_km_, ground_m_, cover_m_, wooded_};
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

void RadialSampler::add_steps(const Chord& chord, std::size_t count) {
    const double columns = (chord.to.column - chord.from.column) / static_cast<double>(count);
    const double rows = (chord.to.row - chord.from.row) / static_cast<double>(count);
    const std::size_t size = x_km_.size();
    x_km_.resize(size + count);
    ground_m_.resize(size + count);
    for (std::size_t k = 0; k < count; ++k) {
        x_km_[size + k] = (chord.start_m + static_cast<double>(k + 1) * plan_.spacing_m) / 1000.0;
    }
    if (inside(chord)) {
        kernels::sample_line(plan_.ground.height_m.data(),
                             static_cast<std::size_t>(plan_.ground.columns),
                             chord.from.column + columns, chord.from.row + rows, columns, rows,
                             count, &ground_m_[size]);
        return;
    }
    for (std::size_t k = 0; k < count; ++k) {
        const auto steps = static_cast<double>(k + 1);
        ground_m_[size + k] =
            beside({chord.from.column + steps * columns, chord.from.row + steps * rows});
    }
}

/// Finds where a chord crosses whole columns, or whole rows, beyond its start and up to its end.
/// Says how many there are.
std::size_t RadialSampler::cross(const Chord& chord, bool columns, Crossings& crossings) const {
    const terrain::HeightGrid& ground = plan_.ground;
    const double from = columns ? chord.from.column : chord.from.row;
    const double to = columns ? chord.to.column : chord.to.row;
    const double beside_from = columns ? chord.from.row : chord.from.column;
    const double beside_to = columns ? chord.to.row : chord.to.column;
    const double way = to > from ? 1.0 : -1.0;
    const double first = way > 0.0 ? std::floor(from) + 1.0 : std::ceil(from) - 1.0;
    const double last = way > 0.0 ? std::floor(to) : std::ceil(to);
    const auto count = static_cast<std::size_t>(std::max(0.0, way * (last - first) + 1.0));
    crossings.distance_m.resize(count + 1);
    crossings.ground_m.resize(count + 1);
    if (count > 0 && inside(chord)) {
        const double base = std::floor(std::min(beside_from, beside_to));
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
        kernels::cross_lines(lines, count, crossings.distance_m.data(), crossings.ground_m.data());
    } else {
        for (std::size_t k = 0; k < count; ++k) {
            const double line = first + way * static_cast<double>(k);
            const double share = (line - from) / (to - from);
            const double cell = std::lerp(beside_from, beside_to, share);
            crossings.distance_m[k] = static_cast<float>(share * chord.length_m);
            crossings.ground_m[k] = columns ? beside({line, cell}) : beside({cell, line});
        }
    }
    crossings.distance_m[count] = std::numeric_limits<float>::infinity();
    return count;
}

void RadialSampler::add_crossings(const Chord& chord) {
    constexpr auto least_gap_m = static_cast<float>(terrain::ProfileSampler::least_gap_m);
    constexpr auto least_bulge_m = static_cast<float>(terrain::ProfileSampler::least_bulge_m);
    if (!std::isfinite(chord.from.column + chord.from.row + chord.to.column + chord.to.row)) {
        x_km_.push_back((chord.start_m + chord.length_m) / 1000.0);
        ground_m_.push_back(std::numeric_limits<float>::quiet_NaN());
        return;
    }
    const std::size_t all = cross(chord, true, columns_) + cross(chord, false, rows_);
    // The point before the chord, and then those of the chord.
    met_.distance_m.resize(all + 1);
    met_.ground_m.resize(all + 1);
    float before_m = static_cast<float>(1000.0 * x_km_.back() - chord.start_m);
    met_.distance_m[0] = before_m;
    met_.ground_m[0] = ground_m_.back();
    std::size_t size = 1;
    std::size_t column = 0;
    std::size_t row = 0;
    // Without branches: which of the two comes next cannot be foretold.
    for (std::size_t k = 0; k < all; ++k) {
        const bool take_column = columns_.distance_m[column] <= rows_.distance_m[row];
        const float distance_m = take_column ? columns_.distance_m[column] : rows_.distance_m[row];
        met_.distance_m[size] = distance_m;
        met_.ground_m[size] = take_column ? columns_.ground_m[column] : rows_.ground_m[row];
        column += take_column ? 1 : 0;
        row += take_column ? 0 : 1;
        const bool apart = distance_m - before_m >= least_gap_m;
        before_m = apart ? distance_m : before_m;
        size += apart ? 1 : 0;
    }
    met_.distance_m.resize(size);
    met_.ground_m.resize(size);
    sample_middles(chord);
    x_km_.reserve(x_km_.size() + 2 * size);
    ground_m_.reserve(ground_m_.size() + 2 * size);
    const auto add = [&](double distance_m, float ground_m) {
        x_km_.push_back((chord.start_m + distance_m) * 0.001);
        ground_m_.push_back(ground_m);
    };
    for (std::size_t k = 1; k < size; ++k) {
        const float between_m = (met_.ground_m[k - 1] + met_.ground_m[k]) / 2.0F;
        if (middle_m_[k] - between_m > least_bulge_m) {
            add((static_cast<double>(met_.distance_m[k - 1]) +
                 static_cast<double>(met_.distance_m[k])) /
                    2.0,
                middle_m_[k]);
        }
        add(static_cast<double>(met_.distance_m[k]), met_.ground_m[k]);
    }
}

/// The ground half way from each of the points met to the one before.
void RadialSampler::sample_middles(const Chord& chord) {
    const std::size_t size = met_.distance_m.size();
    shares_.resize(size);
    middle_m_.resize(size);
    const float scale = 0.5F / static_cast<float>(chord.length_m);
    for (std::size_t k = 1; k < size; ++k) {
        shares_[k] = (met_.distance_m[k - 1] + met_.distance_m[k]) * scale;
    }
    const double columns = chord.to.column - chord.from.column;
    const double rows = chord.to.row - chord.from.row;
    // The first may lie before the chord.
    const bool quick = inside(chord) && size > 2;
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

/// The class of the cell that each of a chord's points lies in.
void RadialSampler::add_cover(const Chord& chord) {
    for (std::size_t k = cover_m_.size(); k < x_km_.size(); ++k) {
        const double share = (1000.0 * x_km_[k] - chord.start_m) / chord.length_m;
        const terrain::CoverClass& found =
            plan_.request.layers.cover->at({std::lerp(chord.from.column, chord.to.column, share),
                                            std::lerp(chord.from.row, chord.to.row, share)});
        cover_m_.push_back(static_cast<float>(found.height_m));
        wooded_.push_back(found.woodland ? 1 : 0);
    }
}

} // namespace earshot::coverage
