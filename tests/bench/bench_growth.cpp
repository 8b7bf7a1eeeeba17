#include "benchmarks.hpp"
#include "maps.hpp"

#include <fmt/format.h>

namespace earshot::bench {
namespace {

double per_cell_s(const Map& map, const coverage::SweepRequest& request, double* radials) {
    coverage::SweepResult result;
    ThreadedTask task(map.threads);
    const Timing timing = time_runs([&] { result = coverage::sweep(map.grid, request, task); });
    if (radials != nullptr) {
        *radials = result.radials_per_rim_cell;
    }
    return timing.seconds / static_cast<double>(result.cells_predicted);
}

} // namespace

std::vector<Table> bench_growth(Workshop& shop) {
    constexpr double given_radials = 2.0;
    constexpr std::size_t exact_sample = 1500;
    const Ground large = shop.grounds.large_rough();
    Table growth{
        fmt::format("Time per cell as radials grow: round maps in squares of rough ground ({}), "
                    "P.1812, {} threads",
                    large.what, shop.threads),
        {"cells a radial", "cells", "radials per rim cell", "per cell",
         fmt::format("per cell at {:g} radials", given_radials), "per cell, exact",
         "exact / carried"},
        {},
        {}};
    std::vector<double> chosen_s;
    std::vector<double> given_s;
    for (const int points : {500, 1000, 2000, 4000}) {
        const int spare = 2; // cells beyond the rim, so that no cell of it is interpolated outward
        const int half = points + spare;
        const terrain::HeightGrid ground =
            crop(large.heights, large.heights.columns / 2 - half, large.heights.rows / 2 - half,
                 2 * half + 1, 2 * half + 1);
        Map map = map_of(ground, shop.threads);
        map.request.range_m = points * map.cell_m;
        double radials = 0.0;
        chosen_s.push_back(per_cell_s(map, map.request, &radials));
        coverage::SweepRequest given = map.request;
        given.radials_per_rim_cell = given_radials;
        given_s.push_back(per_cell_s(map, given, nullptr));
        const std::vector<Cell> sample = random_cells(map, exact_sample);
        coverage::SweepResult exact;
        const Timing timing = time_runs([&] { exact = exact_cells(map, sample, map.request); });
        const double exact_s = timing.seconds / static_cast<double>(exact.cells_predicted);
        constexpr double pi = 3.14159265358979;
        growth.rows.push_back({format_count(points), format_count(pi * points * points),
                               fmt::format("{:g}", radials), format_seconds(chosen_s.back()),
                               format_seconds(given_s.back()), format_seconds(exact_s),
                               fmt::format("{:.0f}", exact_s / chosen_s.back())});
    }
    growth.notes.push_back(fmt::format(
        "From 500 to 4,000 cells a radial the time per cell grows by a factor of {:.2f}, with the "
        "number of radials given by a factor of {:.2f}. The exact engine was timed over {} random "
        "cells of each map.",
        chosen_s.back() / chosen_s.front(), given_s.back() / given_s.front(),
        format_count(static_cast<double>(exact_sample))));
    return {growth};
}

} // namespace earshot::bench
