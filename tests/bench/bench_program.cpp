#include "benchmarks.hpp"
#include "earshot/geo/position.hpp"
#include "maps.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <fstream>

namespace earshot::bench {
namespace {

/// Runs of `earshot map`: medians of the whole program's time, of its sweep, and of its memory.
std::vector<std::string> map_row(Workshop& shop, const std::string& what, const std::string& file,
                                 geo::LatLon site, double range_m,
                                 const std::vector<std::string>& more = {}) {
    const std::string printed = shop.scratch.file("map.json");
    double peak_mib = 0.0;
    double cells = 0.0;
    std::vector<double> sweeps;
    const Timing whole = median_of_runs([&] {
        std::vector<std::string> words{EARSHOT_PROGRAM,
                                       "map",
                                       "--frequency",
                                       "146MHz",
                                       "--terrain",
                                       file,
                                       "--at",
                                       geo::format_decimal(site),
                                       "--antenna-height",
                                       fmt::format("{}m", site_antenna_m),
                                       "--range",
                                       fmt::format("{:.0f}m", range_m),
                                       "--threads",
                                       std::to_string(shop.threads),
                                       "--out",
                                       shop.scratch.file("map.tif"),
                                       "--json"};
        words.insert(words.end(), more.begin(), more.end());
        const Launched launched = launch(words, printed);
        peak_mib = std::max(peak_mib, launched.peak_mib);
        std::ifstream stream(printed);
        const nlohmann::json summary = nlohmann::json::parse(stream);
        cells = summary.at("cells_predicted").get<double>();
        sweeps.push_back(summary.at("sweep_seconds").get<double>());
        return launched.seconds;
    });
    std::ranges::sort(sweeps);
    const double sweep_s = sweeps[sweeps.size() / 2];
    return {what,
            format_count(cells),
            format_timing(whole),
            format_seconds(sweep_s),
            format_seconds(whole.seconds - sweep_s),
            fmt::format("{:.0f} MiB", peak_mib)};
}

} // namespace

std::vector<Table> bench_program(Workshop& shop) {
    Table program{fmt::format("The whole program, `earshot map` with its default band, {} threads",
                              shop.threads),
                  {"map", "cells", "start to end", "of which prediction",
                   "reading, writing and the rest", "peak memory"},
                  {},
                  {}};
    const Ground& real = shop.grounds.real();
    const Map real_map = map_of(real.heights, shop.threads);
    program.rows.push_back(
        map_row(shop, "small: 2 km around", real.file, real_map.request.site, 2000.0));
    program.rows.push_back(
        map_row(shop, "the real sample: 14 km around", real.file, real_map.request.site, 14000.0));
    const Ground& thirty = shop.grounds.thirty_metre();
    const Map own_map = map_of(thirty.heights, shop.threads);
    const std::string cover = shop.scratch.file("patches.tif");
    static_cast<void>(patches(thirty.heights, cover));
    const std::string own = "a user's own map: 20 km around, 30 m";
    program.rows.push_back(map_row(shop, own, thirty.file, own_map.request.site, 20000.0));
    program.rows.push_back(map_row(shop, own + ", woods and houses (invented)", thirty.file,
                                   own_map.request.site, 20000.0, {"--cover", cover}));
    const Ground& nine = shop.grounds.nine_metre();
    const Map nine_map = map_of(nine.heights, shop.threads);
    program.rows.push_back(map_row(shop, "4,000 x 2,100 cells of 9 m", nine.file,
                                   nine_map.request.site, nine_map.request.range_m));

    Table preview{fmt::format("Preview: 500 x 500 cells of the 9 m ground, P.1812, {} threads, "
                              "heights in memory",
                              shop.threads),
                  {"cells", "step", "time", "cells predicted", "radials per rim cell"},
                  {},
                  {}};
    constexpr int side = 500;
    const auto add = [&](const std::string& what, const coverage::MapGrid& grid,
                         const coverage::SweepRequest& request) {
        coverage::SweepResult result;
        ThreadedTask task(shop.threads);
        const Timing timing = time_runs([&] { result = coverage::sweep(grid, request, task); });
        preview.rows.push_back(
            {what, request.step_m > 0.0 ? fmt::format("{:.0f} m", request.step_m) : "none",
             format_timing(timing), format_count(static_cast<double>(result.cells_predicted)),
             fmt::format("{:g}", result.radials_per_rim_cell)});
    };
    const terrain::HeightGrid part = crop(nine.heights, nine.heights.columns / 2 - side / 2,
                                          nine.heights.rows / 2 - side / 2, side, side);
    const Map near = map_of(part, shop.threads);
    add("its own, 4.5 km square around the station", near.grid, near.request);
    // As wide as the ground is high, in coarser cells.
    const double cells_each = nine.heights.rows / static_cast<double>(side);
    const double left = (nine.heights.columns - nine.heights.rows) / 2.0;
    const terrain::Georeference& fine = nine.heights.georeference;
    const terrain::Georeference shifted =
        fine.shifted(left + cells_each / 2.0 - 0.5, cells_each / 2.0 - 0.5);
    const coverage::MapGrid coarse{side, side,
                                   terrain::Georeference(fine.crs_wkt(), shifted.x0(), shifted.y0(),
                                                         fine.dx() * cells_each,
                                                         fine.dy() * cells_each)};
    coverage::SweepRequest request = nine_map.request;
    add("38 m, 19 km square", coarse, request);
    request.step_m = nine_map.cell_m * cells_each;
    add("38 m, 19 km square", coarse, request);
    return {program, preview};
}

} // namespace earshot::bench
