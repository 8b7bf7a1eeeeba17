#include "agreement.hpp"
#include "benchmarks.hpp"

#include <fmt/format.h>

#include <optional>

namespace earshot::bench {
namespace {

struct Case {
    std::string what;
    const terrain::HeightGrid& ground;
    double time_percent;
    bool with_cover = false;
};

} // namespace

std::vector<Table> bench_agreement(Workshop& shop) {
    constexpr std::size_t cells = 6000;
    Table shares{fmt::format("The carried engine against the exact one, P.1812, {} random cells "
                             "of each map",
                             format_count(static_cast<double>(cells))),
                 {"ground", "time", "radials per rim cell", "within 0.1 dB", "within 0.5 dB",
                  "95 % below", "99 % below", "worst", "seen or hidden differs"},
                 {},
                 {}};
    Table causes{
        "Cells more than 0.5 dB off, by cause",
        {"ground", "time", "cells", "seen or hidden", "horizons", "smooth surface",
         "ground beside"},
        {},
        {"Exact predictions at the cell's range and ground height, half a radial's spacing "
         "to the left and right, tell: the station is seen from one and hidden from "
         "another; or a horizon lies more than 4 steps elsewhere; or the smooth-earth "
         "part of the diffraction loss is 0.5 dB or more off, because the standard's "
         "smooth surface is lowered differently; or none of these."}};
    Table worst{"The five worst cells of each",
                {"ground", "time", "column, row", "km", "exact dB", "carried dB", "cause",
                 "exact to the left, to the right"},
                {},
                {}};
    for (const Case& each :
         {Case{shop.grounds.real().what, shop.grounds.real().heights, 50.0},
          Case{shop.grounds.real().what, shop.grounds.real().heights, 10.0},
          Case{shop.grounds.nine_metre().what, shop.grounds.nine_metre().heights, 50.0},
          Case{shop.grounds.rough().what, shop.grounds.rough().heights, 50.0},
          Case{shop.grounds.flat().what, shop.grounds.flat().heights, 50.0},
          Case{shop.grounds.rough().what + ", woods and houses", shop.grounds.rough().heights, 50.0,
               true}}) {
        Map map = map_of(each.ground, shop.threads);
        const std::optional<terrain::GroundCover> cover =
            each.with_cover ? std::optional(patches(each.ground)) : std::nullopt;
        map.request.layers.cover = cover ? &*cover : nullptr;
        map.request.conditions.time_percent = each.time_percent;
        ThreadedTask task(map.threads);
        const coverage::SweepResult carried = coverage::sweep(map.grid, map.request, task);
        const Agreement agreement = compare_with_exact(map, carried, cells);
        const auto whole = static_cast<double>(agreement.cells);
        const std::string time = fmt::format("{:g} %", each.time_percent);
        shares.rows.push_back({each.what, time, fmt::format("{:g}", carried.radials_per_rim_cell),
                               format_share(agreement.within_tenth, whole),
                               format_share(agreement.within_half, whole),
                               fmt::format("{:.3f} dB", agreement.p95_db),
                               fmt::format("{:.3f} dB", agreement.p99_db),
                               fmt::format("{:.2f} dB", agreement.worst.front().size_db()),
                               format_share(static_cast<double>(agreement.other_sight), whole)});
        causes.rows.push_back({each.what, time, format_count(whole - agreement.within_half),
                               std::to_string(agreement.beyond_half_by_cause[0]),
                               std::to_string(agreement.beyond_half_by_cause[1]),
                               std::to_string(agreement.beyond_half_by_cause[2]),
                               std::to_string(agreement.beyond_half_by_cause[3])});
        for (const CellDifference& cell : agreement.worst) {
            worst.rows.push_back(
                {each.what, time, fmt::format("{}, {}", cell.cell.column, cell.cell.row),
                 fmt::format("{:.2f}", cell.range_km), fmt::format("{:.2f}", cell.exact_db),
                 fmt::format("{:.2f}", cell.carried_db), cause_name(cell.cause), cell.sides});
        }
    }
    return {shares, causes, worst};
}

} // namespace earshot::bench
