#include "coverage/engine/kernels.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>
#include <hwy/targets.h>

#include <cmath>
#include <vector>

using namespace earshot;
namespace kernels = earshot::coverage::kernels;

namespace {

/// Runs a check on every vector instruction set that the processor has.
template <typename Check>
void on_every_instruction_set(Check check) {
    const auto usable = hwy::SupportedTargets();
    for (auto rest = usable; rest != 0; rest &= rest - 1) {
        hwy::SetSupportedTargetsForTest(rest & -rest);
        hwy::GetChosenTarget().Update(rest & -rest);
        CAPTURE(hwy::TargetName(rest & -rest));
        check();
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

} // namespace

TEST_CASE("heights along a line are the grid's own bilinear heights", "[kernels]") {
    const terrain::HeightGrid grid = test::rough_ground(120, 90, 200.0);
    on_every_instruction_set([&] {
        for (const std::size_t count : {1U, 7U, 16U, 32U, 45U}) {
            std::vector<float> heights(count + 1, -1.0F);
            kernels::sample_line(grid.height_m.data(), 120, 70.3, 61.8, -0.61, -0.53, count,
                                 heights.data());
            for (std::size_t k = 0; k < count; ++k) {
                const auto i = static_cast<double>(k);
                CHECK(static_cast<double>(heights[k]) ==
                      Approx(grid.sample(terrain::CellPosition{70.3 - 0.61 * i, 61.8 - 0.53 * i}))
                          .margin(2e-3));
            }
            CHECK(heights[count] == -1.0F); // nothing is written past the end
        }
    });
}

TEST_CASE("heights where lines are crossed are those between two cells", "[kernels]") {
    const terrain::HeightGrid grid = test::rough_ground(120, 90, 200.0);
    on_every_instruction_set([&] {
        for (const std::size_t count : {1U, 7U, 16U, 33U}) {
            std::vector<float> distances(count + 1, -1.0F);
            std::vector<float> heights(count + 1, -1.0F);
            std::vector<float> cells(count + 1, -1.0F);
            // From column 70.25 and row 61.5 on, west and north: 40 columns and 20 rows in 1200 m.
            kernels::Lines columns{};
            columns.first = &grid.height_m[41 * 120 + 70];
            columns.next_line = -1;
            columns.next_cell = 120;
            columns.share0 = 0.25F / 40.0F;
            columns.share_step = 1.0F / 40.0F;
            columns.cell0 = 61.5F - 41.0F;
            columns.cells = -20.0F;
            columns.length_m = 1200.0F;
            kernels::cross_lines(columns, count, {distances.data(), heights.data(), cells.data()});
            for (std::size_t k = 0; k < count; ++k) {
                const double share = (0.25 + static_cast<double>(k)) / 40.0;
                CHECK(static_cast<double>(distances[k]) == Approx(1200.0 * share).margin(1e-3));
                CHECK(static_cast<double>(cells[k]) == Approx(20.5 - 20.0 * share).margin(1e-4));
                CHECK(static_cast<double>(heights[k]) ==
                      Approx(grid.sample(terrain::CellPosition{70.0 - static_cast<double>(k),
                                                               61.5 - 20.0 * share}))
                          .margin(2e-3));
            }
            CHECK(distances[count] == -1.0F); // nothing is written past the end
            CHECK(heights[count] == -1.0F);
            CHECK(cells[count] == -1.0F);
        }
    });
}

TEST_CASE("cells are placed by range and bearing", "[kernels]") {
    // A row of cells that crosses a wedge of 0.04 rad with 8 sectors, 1 km out.
    const kernels::CellRow row{1000.0F, 0.5F, -60.0F, 4.0F};
    const kernels::WedgeFrame wedge{0.02F, 200.0F};
    on_every_instruction_set([&] {
        std::vector<float> range(31, -1.0F);
        std::vector<float> place(31, -1.0F);
        kernels::place_cells(row, wedge, 30, range.data(), place.data());
        for (std::size_t k = 0; k < 30; ++k) {
            const double along = 1000.0 + 0.5 * static_cast<double>(k);
            const double across = -60.0 + 4.0 * static_cast<double>(k);
            CHECK(static_cast<double>(range[k]) == Approx(std::hypot(along, across)));
            CHECK(static_cast<double>(place[k]) ==
                  Approx((std::atan2(across, along) + 0.02) * 200.0).margin(1e-3));
        }
        CHECK(range[30] == -1.0F);
        CHECK(place[30] == -1.0F);
        const kernels::CellRow behind{-1000.0F, 0.0F, 0.0F, 1.0F};
        kernels::place_cells(behind, wedge, 5, range.data(), place.data());
        CHECK(place[2] == -1.0F);
    });
}
