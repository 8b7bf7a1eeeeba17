// Compiled once for every vector instruction set; see propagation/p1812/batch.cpp. The order of the
// includes matters.
// clang-format off
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "coverage/engine/kernels.cpp"
#include <hwy/foreach_target.h>

#include <hwy/highway.h>
// clang-format on

#include "coverage/engine/kernels.hpp"

#include <cmath>

HWY_BEFORE_NAMESPACE();
namespace earshot::coverage::kernels {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using Floats = hn::ScalableTag<float>;
using Ints = hn::RebindToSigned<Floats>;
using Vec = hn::Vec<Floats>;

/// Ranges this near to a limit, m, may lie on either side of it in double precision.
constexpr float doubtful_m = 1.0F;

HWY_INLINE Vec set(float value) {
    return hn::Set(Floats(), value);
}

/// Lane numbers counted from `first`.
HWY_INLINE Vec lanes_from(std::size_t first) {
    return hn::Iota(Floats(), static_cast<float>(first));
}

/// Bilinear heights at places along a line that starts at (column0, row0) and of which a whole
/// place is (column_step, row_step) long. `place(k)` gives the places of the lanes from k on.
template <typename PlaceOf>
HWY_INLINE void sample_places(const float* heights, std::size_t columns, double column0,
                              double row0, double column_step, double row_step, std::size_t count,
                              PlaceOf place_of, float* out) {
    const Floats tag;
    const Ints itag;
    const std::size_t lanes = hn::Lanes(tag);
    // Whole cells are split off first: single precision then has only a short way to cover.
    const double whole_column = std::floor(column0);
    const double whole_row = std::floor(row0);
    const float* base = heights + static_cast<std::size_t>(whole_row) * columns +
                        static_cast<std::size_t>(whole_column);
    const Vec c0 = set(static_cast<float>(column0 - whole_column));
    const Vec r0 = set(static_cast<float>(row0 - whole_row));
    const Vec dc = set(static_cast<float>(column_step));
    const Vec dr = set(static_cast<float>(row_step));
    const auto width = hn::Set(itag, static_cast<std::int32_t>(columns));
    const auto one = hn::Set(itag, 1);
    for (std::size_t k = 0; k < count; k += lanes) {
        const Vec lane = place_of(k);
        const Vec column = hn::MulAdd(lane, dc, c0);
        const Vec row = hn::MulAdd(lane, dr, r0);
        const Vec left = hn::Floor(column);
        const Vec top = hn::Floor(row);
        const Vec s = hn::Sub(column, left);
        const Vec t = hn::Sub(row, top);
        const auto index =
            hn::Add(hn::Mul(hn::ConvertTo(itag, top), width), hn::ConvertTo(itag, left));
        const auto below = hn::Add(index, width);
        const Vec a = hn::GatherIndex(tag, base, index);
        const Vec b = hn::GatherIndex(tag, base, hn::Add(index, one));
        const Vec c = hn::GatherIndex(tag, base, below);
        const Vec d = hn::GatherIndex(tag, base, hn::Add(below, one));
        const Vec upper = hn::MulAdd(s, hn::Sub(b, a), a);
        const Vec lower = hn::MulAdd(s, hn::Sub(d, c), c);
        const Vec height = hn::MulAdd(t, hn::Sub(lower, upper), upper);
        if (k + lanes <= count) {
            hn::StoreU(height, tag, out + k);
        } else {
            hn::BlendedStore(height, hn::FirstN(tag, count - k), tag, out + k);
        }
    }
}

void SampleLine(const float* heights, std::size_t columns, double column0, double row0,
                double column_step, double row_step, std::size_t count, float* out) {
    // The last lanes may pass the end; they look at the last position instead.
    const auto place = [=](std::size_t k) HWY_ATTR {
        return hn::Min(lanes_from(k), set(static_cast<float>(count - 1)));
    };
    sample_places(heights, columns, column0, row0, column_step, row_step, count, place, out);
}

void SampleShares(const float* heights, std::size_t width, double column0, double row0,
                  double columns, double rows, const float* share, std::size_t count, float* out) {
    // Lanes past the end look at the start.
    const auto place = [=](std::size_t k) HWY_ATTR {
        return hn::MaskedLoad(hn::FirstN(Floats(), count - k), Floats(), share + k);
    };
    sample_places(heights, width, column0, row0, columns, rows, count, place, out);
}

void CrossLines(const Lines& lines, std::size_t count, const Crossed& crossed) {
    const Floats tag;
    const Ints itag;
    const std::size_t lanes = hn::Lanes(tag);
    const auto next_line = hn::Set(itag, lines.next_line);
    const auto next_cell = hn::Set(itag, lines.next_cell);
    for (std::size_t k = 0; k < count; k += lanes) {
        // The last lanes may pass the end; they look at the last crossing instead.
        const Vec lane = hn::Min(lanes_from(k), set(static_cast<float>(count - 1)));
        const Vec share = hn::MulAdd(lane, set(lines.share_step), set(lines.share0));
        // Rounding must not lead to the cell before the first.
        const Vec cell =
            hn::Max(hn::MulAdd(share, set(lines.cells), set(lines.cell0)), hn::Zero(tag));
        const Vec before = hn::Floor(cell);
        const auto index = hn::Add(hn::Mul(hn::ConvertTo(itag, lane), next_line),
                                   hn::Mul(hn::ConvertTo(itag, before), next_cell));
        const Vec a = hn::GatherIndex(tag, lines.first, index);
        const Vec b = hn::GatherIndex(tag, lines.first, hn::Add(index, next_cell));
        const Vec height = hn::MulAdd(hn::Sub(cell, before), hn::Sub(b, a), a);
        const Vec distance = hn::Mul(share, set(lines.length_m));
        if (k + lanes <= count) {
            hn::StoreU(height, tag, crossed.height_m + k);
            hn::StoreU(distance, tag, crossed.distance_m + k);
            hn::StoreU(cell, tag, crossed.cell + k);
        } else {
            const auto valid = hn::FirstN(tag, count - k);
            hn::BlendedStore(height, valid, tag, crossed.height_m + k);
            hn::BlendedStore(distance, valid, tag, crossed.distance_m + k);
            hn::BlendedStore(cell, valid, tag, crossed.cell + k);
        }
    }
}

struct Placed {
    Vec range_m, place;
};

HWY_INLINE Placed place(const CellRow& row, const WedgeFrame& wedge, Vec lane) {
    const Floats tag;
    const Vec along = hn::MulAdd(lane, set(row.along_step), set(row.along0));
    const Vec across = hn::MulAdd(lane, set(row.across_step), set(row.across0));
    const Vec range = hn::Sqrt(hn::MulAdd(along, along, hn::Mul(across, across)));
    // The angle from the wedge's middle is small inside the wedge, so three terms of its series
    // do; far outside it comes out wrong, but never so wrong as to fall inside.
    const Vec t = hn::Div(across, along);
    const Vec t2 = hn::Mul(t, t);
    const Vec series = hn::MulAdd(t2, hn::MulAdd(t2, set(0.2F), set(-1.0F / 3.0F)), set(1.0F));
    const Vec angle = hn::Mul(t, series);
    const Vec sector = hn::Mul(hn::Add(angle, set(wedge.half_width_rad)), set(wedge.per_sector));
    const auto ahead = hn::And(hn::Gt(along, hn::Zero(tag)), hn::Lt(hn::Abs(t), set(0.25F)));
    return {range, hn::IfThenElse(ahead, sector, set(-1.0F))};
}

void PlaceCells(const CellRow& row, const WedgeFrame& wedge, std::size_t count, float* range_m,
                float* places) {
    const Floats tag;
    const std::size_t lanes = hn::Lanes(tag);
    for (std::size_t k = 0; k < count; k += lanes) {
        const Placed placed = place(row, wedge, lanes_from(k));
        const auto valid = hn::FirstN(tag, count - k);
        hn::BlendedStore(placed.range_m, valid, tag, range_m + k);
        hn::BlendedStore(placed.place, valid, tag, places + k);
    }
}

void SeeCells(const CellRow& row, const WedgeFrame& wedge, const Horizons& horizons,
              float doubtful_sectors, const float* ground_m, std::size_t count,
              std::uint8_t* sight) {
    const Floats tag;
    const Ints itag;
    const hn::Rebind<std::uint8_t, Floats> bytes;
    const std::size_t lanes = hn::Lanes(tag);
    const Vec zero = hn::Zero(tag);
    const Vec least_place = set(-doubtful_sectors);
    const Vec most_place = set(horizons.sectors + doubtful_sectors);
    const Vec last_sector = set(horizons.sectors - 1.0F);
    const auto stride = hn::Set(itag, static_cast<std::int32_t>(horizons.stride));
    for (std::size_t k = 0; k < count; k += lanes) {
        const auto valid = hn::FirstN(tag, count - k);
        const Placed placed = place(row, wedge, lanes_from(k));
        const auto wanted =
            hn::And(hn::And(valid, hn::And(hn::Ge(placed.place, least_place),
                                           hn::Le(placed.place, most_place))),
                    hn::And(hn::Ge(placed.range_m, set(horizons.nearest_m - doubtful_m)),
                            hn::Le(placed.range_m, set(horizons.farthest_m + doubtful_m))));
        auto state = hn::Set(itag, 255);
        if (!hn::AllFalse(tag, wanted)) {
            const Vec inside = hn::IfThenElse(wanted, placed.place, zero);
            const Vec sector = hn::Min(hn::Max(hn::Floor(inside), zero), last_sector);
            const Vec share = hn::Sub(inside, sector);
            const Vec ring = hn::IfThenElse(
                wanted,
                hn::Floor(hn::MulAdd(placed.range_m, set(horizons.rings_per_m), set(-1.0F))), zero);
            const auto index =
                hn::Add(hn::Mul(hn::ConvertTo(itag, sector), stride), hn::ConvertTo(itag, ring));
            const Vec first = hn::GatherIndex(tag, horizons.steepest, index);
            const Vec second = hn::GatherIndex(tag, horizons.steepest, hn::Add(index, stride));
            const Vec steepest = hn::MulAdd(share, hn::Sub(second, first), first);
            const Vec ground = hn::MaskedLoad(valid, tag, ground_m + k);
            const Vec rise =
                hn::Sub(ground, set(horizons.transmitter_m - horizons.receiver_antenna_m));
            // Slopes are per km, ranges in m.
            const Vec direct = hn::Div(hn::Mul(rise, set(1000.0F)), placed.range_m);
            const Vec needed = hn::NegMulAdd(placed.range_m, set(horizons.curvature_per_m), direct);
            // A comparison with NaN is false, which leaves cells over unknown ground unknown.
            const auto hidden = hn::And(wanted, hn::Gt(steepest, needed));
            const auto seen = hn::And(wanted, hn::Le(steepest, needed));
            const auto at_side =
                hn::Or(hn::Lt(placed.place, set(doubtful_sectors)),
                       hn::Gt(placed.place, set(horizons.sectors - doubtful_sectors)));
            const auto at_end =
                hn::Or(hn::Lt(placed.range_m, set(horizons.nearest_m + doubtful_m)),
                       hn::Gt(placed.range_m, set(horizons.farthest_m - doubtful_m)));
            const auto at_edge = hn::Or(at_side, at_end);
            const auto marked = hn::IfThenElseZero(hn::RebindMask(itag, at_edge),
                                                   hn::Set(itag, static_cast<int>(doubtful)));
            state = hn::IfThenElse(hn::RebindMask(itag, hidden), marked, state);
            state =
                hn::IfThenElse(hn::RebindMask(itag, seen), hn::Or(marked, hn::Set(itag, 2)), state);
        }
        const auto small = hn::DemoteTo(bytes, state);
        if (k + lanes <= count) {
            hn::StoreU(small, bytes, sight + k);
        } else {
            hn::BlendedStore(small, hn::FirstN(bytes, count - k), bytes, sight + k);
        }
    }
}

} // namespace HWY_NAMESPACE
} // namespace earshot::coverage::kernels
HWY_AFTER_NAMESPACE();

#if HWY_ONCE

namespace earshot::coverage::kernels {

HWY_EXPORT(SampleLine);
HWY_EXPORT(SampleShares);
HWY_EXPORT(CrossLines);
HWY_EXPORT(PlaceCells);
HWY_EXPORT(SeeCells);

void sample_line(const float* heights, std::size_t columns, double column0, double row0,
                 double column_step, double row_step, std::size_t count, float* out) {
    HWY_DYNAMIC_DISPATCH(SampleLine)
    (heights, columns, column0, row0, column_step, row_step, count, out);
}

void sample_shares(const float* heights, std::size_t width, double column0, double row0,
                   double columns, double rows, const float* share, std::size_t count, float* out) {
    HWY_DYNAMIC_DISPATCH(SampleShares)
    (heights, width, column0, row0, columns, rows, share, count, out);
}

void cross_lines(const Lines& lines, std::size_t count, const Crossed& crossed) {
    HWY_DYNAMIC_DISPATCH(CrossLines)(lines, count, crossed);
}

void place_cells(const CellRow& row, const WedgeFrame& wedge, std::size_t count, float* range_m,
                 float* place) {
    HWY_DYNAMIC_DISPATCH(PlaceCells)(row, wedge, count, range_m, place);
}

void see_cells(const CellRow& row, const WedgeFrame& wedge, const Horizons& horizons,
               float doubtful_sectors, const float* ground_m, std::size_t count,
               std::uint8_t* sight) {
    HWY_DYNAMIC_DISPATCH(SeeCells)
    (row, wedge, horizons, doubtful_sectors, ground_m, count, sight);
}

} // namespace earshot::coverage::kernels

#endif
