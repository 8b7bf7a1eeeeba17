#include "earshot/terrain/height_grid.hpp"
#include "terrain/voids.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

namespace earshot::terrain {
namespace {

constexpr float hole = std::numeric_limits<float>::quiet_NaN();

HeightGrid grid_of(int columns, int rows, std::vector<float> heights) {
    HeightGrid grid;
    grid.columns = columns;
    grid.rows = rows;
    grid.height_m = std::move(heights);
    return grid;
}

HeightGrid plane(int columns, int rows) {
    HeightGrid grid = grid_of(columns, rows, {});
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            grid.height_m.push_back(static_cast<float>(10 * column + 100 * row));
        }
    }
    return grid;
}

void punch(HeightGrid& grid, int column, int row) {
    grid.height_m[static_cast<std::size_t>(row * grid.columns + column)] = hole;
}

} // namespace

TEST_CASE("a height between four centres is bilinear") {
    const HeightGrid grid = grid_of(2, 2, {0, 10, 20, 50});
    // By hand: rows at a quarter are 2.5 and 27.5, halfway down 15.
    CHECK(grid.sample(CellPosition{0.25, 0.5}) == Approx(15.0));
    CHECK(grid.sample(CellPosition{1.0, 1.0}) == Approx(50.0));
    CHECK(grid.sample(CellPosition{0.0, 0.0}) == Approx(0.0));
}

TEST_CASE("the edge value is carried out by half a cell and no farther") {
    const HeightGrid grid = grid_of(2, 2, {0, 10, 20, 50});
    CHECK(grid.sample(CellPosition{-0.5, 0.0}) == Approx(0.0));
    CHECK(grid.sample(CellPosition{1.5, 1.5}) == Approx(50.0));
    CHECK(grid.sample(CellPosition{1.4, 0.5}) == Approx(30.0));
    CHECK(std::isnan(grid.sample(CellPosition{-0.51, 0.0})));
    CHECK(std::isnan(grid.sample(CellPosition{0.0, 1.51})));
    CHECK(std::isnan(grid.sample(CellPosition{std::nan(""), 0.0})));
    CHECK(grid.covers({1.5, -0.5}));
    CHECK_FALSE(grid.covers({1.6, 0.0}));
    CHECK_FALSE(grid.covers({std::nan(""), 0.0}));
}

TEST_CASE("a void that carries weight makes the height unknown") {
    const HeightGrid grid = grid_of(2, 2, {0, hole, 20, 50});
    CHECK(std::isnan(grid.sample(CellPosition{0.01, 0.01})));
    CHECK(grid.sample(CellPosition{0.0, 0.5}) == Approx(10.0));
}

TEST_CASE("a raster of one cell can be sampled") {
    const HeightGrid grid = grid_of(1, 1, {7});
    CHECK(grid.sample(CellPosition{0.3, -0.3}) == Approx(7.0));
}

TEST_CASE("a void of one cell on a plane gets the plane's height") {
    HeightGrid grid = plane(9, 9);
    punch(grid, 4, 4);
    HeightSummary summary;
    fill_small_voids(grid, 25, summary);
    // The rim is symmetric about the void, so any weighting by distance gives the plane.
    CHECK(grid.at(4, 4) == Approx(440.0));
    CHECK(summary.void_cells == 1);
    CHECK(summary.filled_cells == 1);
    CHECK(summary.voids == 1);
}

TEST_CASE("filled heights stay within the heights of the rim") {
    HeightGrid grid = plane(9, 9);
    for (int column = 3; column < 6; ++column) {
        punch(grid, column, 4);
    }
    HeightSummary summary;
    fill_small_voids(grid, 3, summary);
    for (int column = 3; column < 6; ++column) {
        CHECK(grid.at(column, 4) > 320.0F);
        CHECK(grid.at(column, 4) < 560.0F);
    }
    CHECK(grid.at(3, 4) < grid.at(4, 4));
    CHECK(grid.at(4, 4) < grid.at(5, 4));
    CHECK(summary.filled_cells == 3);
}

TEST_CASE("voids that touch by a corner are one, and large ones stay") {
    HeightGrid grid = plane(12, 12);
    // A staircase that only corners join, and a U whose arms meet below.
    punch(grid, 2, 2);
    punch(grid, 3, 3);
    punch(grid, 2, 4);
    punch(grid, 6, 5);
    punch(grid, 8, 5);
    punch(grid, 6, 6);
    punch(grid, 8, 6);
    punch(grid, 7, 7);
    HeightSummary summary;
    fill_small_voids(grid, 3, summary);
    CHECK(summary.voids == 2);
    CHECK(summary.void_cells == 8);
    CHECK(summary.largest_void_cells == 5);
    CHECK(summary.filled_cells == 3);
    CHECK_FALSE(std::isnan(grid.at(3, 3)));
    CHECK(std::isnan(grid.at(7, 7)));
    CHECK(std::isnan(grid.at(6, 5)));
}

TEST_CASE("a void at the edge is not filled however small") {
    for (const auto& [column, row] : {std::pair{0, 3}, {8, 3}, {3, 0}, {3, 8}}) {
        HeightGrid grid = plane(9, 9);
        punch(grid, column, row);
        HeightSummary summary;
        fill_small_voids(grid, 25, summary);
        CHECK(std::isnan(grid.at(column, row)));
        CHECK(summary.filled_cells == 0);
        CHECK(summary.void_cells == 1);
    }
}

} // namespace earshot::terrain
