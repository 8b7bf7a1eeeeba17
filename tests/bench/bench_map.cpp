#include "benchmarks.hpp"
#include "maps.hpp"
#include "viewsheds.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace earshot::bench {
namespace {

struct Swept {
    Timing timing;
    coverage::SweepResult result;
    unsigned threads;
};

Swept time_sweep(const Map& map, const coverage::SweepRequest& request, unsigned threads) {
    Swept swept{{}, {}, threads};
    ThreadedTask task(threads);
    swept.timing = time_runs([&] { swept.result = coverage::sweep(map.grid, request, task); });
    return swept;
}

std::vector<std::string> sweep_row(const std::string& what, const Swept& swept) {
    return {
        what, std::to_string(swept.threads), format_timing(swept.timing),
        format_seconds(swept.timing.seconds / static_cast<double>(swept.result.cells_predicted)),
        fmt::format("{:g}", swept.result.radials_per_rim_cell)};
}

std::vector<std::uint8_t> seen_by(const coverage::SweepResult& result) {
    std::vector<std::uint8_t> seen(result.sight.size());
    std::ranges::transform(result.sight, seen.begin(), [](coverage::SightClass sight) {
        return sight == coverage::SightClass::clear || sight == coverage::SightClass::grazing ? 1
                                                                                              : 0;
    });
    return seen;
}

/// Line of sight to single cells: ours and others' against profiles at the crossings of the grid
/// and of a fine spacing.
Table sight_agreement(const Map& map, const coverage::SweepRequest& sight_request,
                      const std::vector<std::pair<std::string, std::vector<std::uint8_t>>>& views) {
    constexpr std::size_t count = 20000;
    constexpr double finer = 3.0;
    const std::vector<Cell> sample = random_cells(map, count);
    coverage::SweepRequest coarse = sight_request;
    coarse.sight_only = false; // single cells are always predicted wholly
    coverage::SweepRequest fine = coarse;
    fine.step_m = map.cell_m / finer;
    const std::vector<std::uint8_t> exact = seen_by(exact_cells(map, sample, coarse));
    const std::vector<std::uint8_t> exact_fine = seen_by(exact_cells(map, sample, fine));
    Table table{fmt::format("Line of sight against a fresh profile to each of {} random cells",
                            format_count(static_cast<double>(count))),
                {"line of sight by", "seen", "agrees, points at crossings",
                 fmt::format("agrees, points every {:.1f} m", fine.step_m)},
                {},
                {}};
    const auto add = [&](const std::string& what, const std::vector<std::uint8_t>& seen) {
        double visible = 0.0;
        double same = 0.0;
        double same_fine = 0.0;
        for (const Cell cell : sample) {
            const std::size_t i = index_of(map, cell);
            visible += seen[i];
            same += seen[i] == exact[i] ? 1.0 : 0.0;
            same_fine += seen[i] == exact_fine[i] ? 1.0 : 0.0;
        }
        const auto whole = static_cast<double>(count);
        table.rows.push_back({what, format_share(visible, whole), format_share(same, whole),
                              format_share(same_fine, whole)});
    };
    for (const auto& [what, seen] : views) {
        add(what, seen);
    }
    add("exact profiles themselves", exact);
    return table;
}

} // namespace

std::vector<Table> bench_map(Workshop& shop) {
    const Ground& ground = shop.grounds.nine_metre();
    const Map map = map_of(ground.heights, shop.threads);
    coverage::SweepRequest whole = map.request;
    coverage::SweepRequest sight = map.request;
    sight.conditions.method = propagation::Method::free_space; // its earth radius is 4/3
    sight.sight_only = true;

    Table times{fmt::format("The map of {} x {} cells ({}), station {:g} m, receivers {:g} m, all "
                            "cells within range",
                            format_count(map.grid.columns), format_count(map.grid.rows),
                            ground.what, site_antenna_m, receiver_antenna_m),
                {"what", "threads", "time", "per cell", "radials per rim cell"},
                {},
                {}};
    const Swept whole_all = time_sweep(map, whole, shop.threads);
    const Swept whole_one = time_sweep(map, whole, 1);
    const Swept sight_all = time_sweep(map, sight, shop.threads);
    const Swept sight_one = time_sweep(map, sight, 1);
    const double cells = 1.0 * map.grid.columns * map.grid.rows;
    times.rows.push_back(sweep_row("P.1812, the default", whole_all));
    times.rows.push_back(sweep_row("P.1812, the default", whole_one));
    times.rows.push_back(sweep_row("line of sight alone", sight_all));
    times.rows.push_back(sweep_row("line of sight alone", sight_one));

    Viewshed program;
    Viewshed library;
    Viewshed grass;
    const auto time_viewshed = [&](const std::string& what, Viewshed& view, auto run) {
        const Timing timing = median_of_runs([&] {
            view = run();
            return view.seconds;
        });
        times.rows.push_back(
            {what, "1", format_timing(timing), format_seconds(timing.seconds / cells), "-"});
        return timing.seconds;
    };
    const double program_s = time_viewshed("gdal_viewshed, the command", program,
                                           [&] { return gdal_program(map, ground, shop.scratch); });
    const double library_s = time_viewshed("GDALViewshedGenerate, in memory", library,
                                           [&] { return gdal_library(map); });
    const double grass_s = time_viewshed("r.viewshed, without import and export", grass,
                                         [&] { return grass_program(map, ground, shop.scratch); });

    Table ratios{"How many times as long", {"this", "takes as long as", "times"}, {}, {}};
    const auto ratio = [&](const std::string& of, double of_s, const std::string& to, double to_s) {
        ratios.rows.push_back({of, to, fmt::format("{:.2f}", of_s / to_s)});
    };
    const std::string all = fmt::format("{} threads", shop.threads);
    const std::string whole_name = "P.1812, " + all;
    const std::string sight_name = "line of sight, " + all;
    ratio("gdal_viewshed, the command", program_s, sight_name, sight_all.timing.seconds);
    ratio("gdal_viewshed, the command", program_s, "line of sight, 1 thread",
          sight_one.timing.seconds);
    ratio("GDALViewshedGenerate, in memory", library_s, sight_name, sight_all.timing.seconds);
    ratio("GDALViewshedGenerate, in memory", library_s, "line of sight, 1 thread",
          sight_one.timing.seconds);
    ratio(whole_name, whole_all.timing.seconds, "gdal_viewshed, the command", program_s);
    ratio("r.viewshed", grass_s, sight_name, sight_all.timing.seconds);
    ratio("P.1812, 1 thread", whole_one.timing.seconds, whole_name, whole_all.timing.seconds);
    ratio("line of sight, 1 thread", sight_one.timing.seconds, sight_name,
          sight_all.timing.seconds);

    Table parts{fmt::format("Where the time goes on that map, {}", all),
                {"what", "threads", "time", "per cell", "radials per rim cell"},
                {},
                {"The first row less the second is the trial that chooses the number of radials."}};
    coverage::SweepRequest given = whole;
    given.radials_per_rim_cell = whole_all.result.radials_per_rim_cell;
    parts.rows.push_back(sweep_row("P.1812, the default", whole_all));
    const auto part = [&](const std::string& what, const coverage::SweepRequest& request) {
        parts.rows.push_back(sweep_row(what, time_sweep(map, request, shop.threads)));
    };
    part("P.1812, radials given", given);
    const terrain::GroundCover cover = patches(ground.heights);
    coverage::SweepRequest covered = given;
    covered.layers.cover = &cover;
    part("P.1812 over woods and houses, radials given", covered);
    coverage::SweepRequest seldom = given;
    seldom.conditions.time_percent = 10.0;
    part("P.1812 for 10 % of the time, radials given", seldom);
    coverage::SweepRequest edge = given;
    edge.conditions.method = propagation::Method::bullington;
    part("one equivalent edge (bullington), radials given", edge);
    coverage::SweepRequest sight_given = sight;
    sight_given.radials_per_rim_cell = given.radials_per_rim_cell;
    part("line of sight, as many radials", sight_given);

    return {times, ratios,
            sight_agreement(map, sight,
                            {{"line of sight alone", seen_by(sight_all.result)},
                             {"the sight band of P.1812", seen_by(whole_all.result)},
                             {"gdal_viewshed", program.seen},
                             {"GDALViewshedGenerate", library.seen},
                             {"r.viewshed", grass.seen}}),
            parts};
}

} // namespace earshot::bench
