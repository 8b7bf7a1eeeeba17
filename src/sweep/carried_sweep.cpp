#include "carried_sweep.hpp"

#include "carried_radial.hpp"
#include "earshot/base/interrupt.hpp"
#include "earshot/base/parallel.hpp"
#include "earshot/propagation/p1812_batch.hpp"
#include "exact_cell.hpp"
#include "local_frame.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <numbers>

namespace earshot::sweep {
namespace {

constexpr double full_circle = 2.0 * std::numbers::pi;

/// Nearer than this many steps a cell is predicted over its own profile: a radial holds too few
/// points there for its terms to stand for the cell's.
constexpr double near_steps = 12.0;

/// Two neighbouring radials see a cell alike if their horizons differ by no more than this many
/// steps. Measured: see docs/performance.md.
constexpr double alike_steps = 4.0;

/// Mean length of a degree of latitude, km; only the slow change of the standard's climate with
/// latitude hangs on it.
constexpr double km_per_degree = 111.195;

/// A slice of the circle around the site, swept as one task. Its radials are evenly spaced, close
/// enough for its farthest cell.
struct Wedge {
    double from_rad = 0.0; ///< bearing of its first radial
    double reach_m = 0.0;  ///< range of its farthest cell
    std::size_t sectors = 0;
};

constexpr std::size_t wedge_count = 256;
constexpr double wedge_rad = full_circle / static_cast<double>(wedge_count);

/// A cell between two neighbouring radials.
struct CellBetween {
    std::uint32_t cell;
    float range_m;
    float ground_m;
    float share; ///< of the second radial in the cell's answer
};

/// What a cell has gathered from its radials so far.
struct Gathered {
    float loss_db = 0.0F;
    float hidden_by = 0.0F;
    float clearance_f1 = 0.0F;
};

/// Everything the threads share.
struct Plan {
    const terrain::HeightGrid& ground;
    const MapGrid& map;
    const SweepRequest& request;
    CellFrame cells;          ///< cells of the map to local points
    GroundFrame map_frame;    ///< and back
    GroundFrame ground_frame; ///< local points to cells of the ground
    RadialSite site;
    propagation::P1812BatchModel p1812;
};

double cell_side_m(const terrain::Georeference& georeference, geo::LatLon at) {
    const auto size = georeference.cell_size_at(at);
    return std::min(size.across_m, size.down_m);
}

std::array<Wedge, wedge_count> spread_radials(const Plan& plan) {
    std::array<Wedge, wedge_count> wedges;
    for (std::size_t k = 0; k < wedge_count; ++k) {
        wedges[k].from_rad = static_cast<double>(k) * wedge_rad;
    }
    const auto reach = [&](int column, int row) {
        const LocalPoint point = plan.cells.at(column, row);
        double bearing = std::atan2(point.east_m, point.north_m);
        bearing += bearing < 0.0 ? full_circle : 0.0;
        Wedge& wedge = wedges[static_cast<std::size_t>(bearing / wedge_rad) % wedge_count];
        wedge.reach_m = std::max(wedge.reach_m, std::hypot(point.east_m, point.north_m));
    };
    // The farthest cell of a wedge lies on the map's rim.
    for (int column = 0; column < plan.map.columns; ++column) {
        reach(column, 0);
        reach(column, plan.map.rows - 1);
    }
    for (int row = 0; row < plan.map.rows; ++row) {
        reach(0, row);
        reach(plan.map.columns - 1, row);
    }
    // A small map has fewer cells on its rim than there are wedges.
    const std::array<Wedge, wedge_count> found = wedges;
    const double cell_m = cell_side_m(plan.map.georeference, plan.request.site);
    for (std::size_t k = 0; k < wedge_count; ++k) {
        const double around = std::max({found[k].reach_m, found[(k + 1) % wedge_count].reach_m,
                                        found[(k + wedge_count - 1) % wedge_count].reach_m});
        wedges[k].reach_m = std::min(around + cell_m, plan.request.range_m);
        wedges[k].sectors = 1 + static_cast<std::size_t>(plan.request.radials_per_rim_cell *
                                                         wedge_rad * wedges[k].reach_m / cell_m);
    }
    return wedges;
}

/// Columns of the map, row by row, that a wedge may touch.
class RowSpans {
public:
    explicit RowSpans(const MapGrid& map) : map_(map) {}

    /// Covers the wedge's outline generously: every cell in the wedge lies in a span.
    void cover(const Plan& plan, const Wedge& wedge) {
        low_.assign(static_cast<std::size_t>(map_.rows), map_.columns);
        high_.assign(static_cast<std::size_t>(map_.rows), -1);
        first_row_ = map_.rows;
        last_row_ = -1;
        constexpr int pieces = 16;
        const auto corner = [&](double bearing_rad, double range_m) {
            return plan.map_frame.at(
                {range_m * std::sin(bearing_rad), range_m * std::cos(bearing_rad)});
        };
        const double to_rad = wedge.from_rad + wedge_rad;
        for (int k = 0; k < pieces; ++k) {
            const double near_m = wedge.reach_m * k / pieces;
            const double far_m = wedge.reach_m * (k + 1) / pieces;
            add_edge(corner(wedge.from_rad, near_m), corner(wedge.from_rad, far_m));
            add_edge(corner(to_rad, near_m), corner(to_rad, far_m));
            add_edge(corner(wedge.from_rad + wedge_rad * k / pieces, wedge.reach_m),
                     corner(wedge.from_rad + wedge_rad * (k + 1) / pieces, wedge.reach_m));
        }
    }

    template <typename Visit>
    void for_each_cell(Visit visit) const {
        for (int row = first_row_; row <= last_row_; ++row) {
            const auto k = static_cast<std::size_t>(row);
            for (int column = low_[k]; column <= high_[k]; ++column) {
                visit(column, row);
            }
        }
    }

private:
    void add_edge(terrain::CellPosition a, terrain::CellPosition b) {
        constexpr double spare = 1.5; // cells: the outline is a chain of chords
        const double top = std::min(a.row, b.row) - spare;
        const double bottom = std::max(a.row, b.row) + spare;
        const int from = static_cast<int>(std::clamp(std::ceil(top), 0.0, map_.rows - 1.0));
        const int to = static_cast<int>(std::clamp(std::floor(bottom), 0.0, map_.rows - 1.0));
        if (bottom < 0.0 || top > map_.rows - 1.0) {
            return;
        }
        const auto column_at = [&](double row) {
            const double share =
                a.row == b.row ? 0.0 : std::clamp((row - a.row) / (b.row - a.row), 0.0, 1.0);
            return a.column + share * (b.column - a.column);
        };
        for (int row = from; row <= to; ++row) {
            double low = std::min(column_at(row - spare), column_at(row + spare));
            double high = std::max(column_at(row - spare), column_at(row + spare));
            if (a.row == b.row) {
                low = std::min(a.column, b.column);
                high = std::max(a.column, b.column);
            }
            const auto k = static_cast<std::size_t>(row);
            low_[k] = std::min(low_[k], static_cast<int>(std::clamp(std::floor(low - spare), 0.0,
                                                                    1.0 * map_.columns)));
            high_[k] = std::max(high_[k], static_cast<int>(std::clamp(std::ceil(high + spare), -1.0,
                                                                      map_.columns - 1.0)));
        }
        first_row_ = std::min(first_row_, from);
        last_row_ = std::max(last_row_, to);
    }

    const MapGrid& map_;
    std::vector<int> low_, high_;
    int first_row_ = 0;
    int last_row_ = -1;
};

/// One thread's work on wedges; keeps its memory from one to the next.
class WedgeSweep {
public:
    WedgeSweep(const Plan& plan, SweepResult& result)
        : plan_(plan), result_(result), spans_(plan.map) {}

    void run(const Wedge& wedge) {
        list_cells(wedge);
        gathered_.assign(cells_.size(), Gathered{});
        for (std::size_t r = 0; r <= wedge.sectors; ++r) {
            sweep_radial(wedge, r);
        }
        settle_batch();
        write_cells();
    }

    void add_counts_to(SweepResult& result) const {
        result.cells_predicted += predicted_;
        result.cells_off_terrain += off_terrain_;
        result.cells_behind_void += behind_void_;
    }

private:
    /// Finds the wedge's cells and puts them in order of sector, and of range within a sector.
    void list_cells(const Wedge& wedge) {
        const SweepRequest& request = plan_.request;
        const double near_m = near_steps * request.step_m;
        const double middle = wedge.from_rad + wedge_rad / 2.0;
        const double sine = std::sin(middle);
        const double cosine = std::cos(middle);
        const double per_sector = static_cast<double>(wedge.sectors) / wedge_rad;
        found_.clear();
        sector_of_.clear();
        sector_start_.assign(wedge.sectors + 1, 0);
        spans_.cover(plan_, wedge);
        spans_.for_each_cell([&](int column, int row) {
            const LocalPoint point = plan_.cells.at(column, row);
            const double along = point.east_m * sine + point.north_m * cosine;
            const double across = point.east_m * cosine - point.north_m * sine;
            if (along <= 0.0 || std::abs(across) > along) {
                return;
            }
            // The angle from the wedge's middle is small, so three terms of its series do.
            const double t = across / along;
            const double t2 = t * t;
            const double angle = t * (1.0 - t2 * (1.0 / 3.0 - t2 * 0.2));
            const double place = (angle + wedge_rad / 2.0) * per_sector;
            if (place < 0.0 || place >= static_cast<double>(wedge.sectors)) {
                return;
            }
            const double range_m = std::sqrt(along * along + across * across);
            if (range_m > request.range_m || range_m < near_m) {
                return;
            }
            const auto ground_m =
                static_cast<float>(plan_.ground.sample(plan_.ground_frame.at(point)));
            if (std::isnan(ground_m)) {
                ++off_terrain_;
                return;
            }
            const auto sector = static_cast<std::uint32_t>(place);
            const std::size_t cell =
                static_cast<std::size_t>(row) * static_cast<std::size_t>(plan_.map.columns) +
                static_cast<std::size_t>(column);
            found_.push_back({static_cast<std::uint32_t>(cell), static_cast<float>(range_m),
                              ground_m, static_cast<float>(place - sector)});
            sector_of_.push_back(sector);
            ++sector_start_[sector + 1];
        });
        for (std::size_t s = 0; s < wedge.sectors; ++s) {
            sector_start_[s + 1] += sector_start_[s];
        }
        cells_.resize(found_.size());
        next_.assign(sector_start_.begin(), sector_start_.end() - 1);
        for (std::size_t i = 0; i < found_.size(); ++i) {
            cells_[next_[sector_of_[i]]++] = found_[i];
        }
        for (std::size_t s = 0; s < wedge.sectors; ++s) {
            std::sort(
                cells_.begin() + sector_start_[s], cells_.begin() + sector_start_[s + 1],
                [](const CellBetween& a, const CellBetween& b) { return a.range_m < b.range_m; });
        }
    }

    /// Answers for the cells on either side of a radial, in order of range.
    void sweep_radial(const Wedge& wedge, std::size_t radial) {
        std::size_t left = radial == 0 ? 0 : sector_start_[radial - 1];
        const std::size_t left_end = radial == 0 ? 0 : sector_start_[radial];
        std::size_t right = sector_start_[std::min(radial, wedge.sectors)];
        const std::size_t right_end = radial == wedge.sectors ? right : sector_start_[radial + 1];
        std::swap(held_, held_next_);
        held_offset_ = left;
        next_offset_ = right;
        held_next_.resize(right_end - right);
        float reach_m = 0.0F;
        if (left < left_end) {
            reach_m = cells_[left_end - 1].range_m;
        }
        if (right < right_end) {
            reach_m = std::max(reach_m, cells_[right_end - 1].range_m);
        }
        if (reach_m == 0.0F) {
            return;
        }
        const double bearing_rad = wedge.from_rad + static_cast<double>(radial) * wedge_rad /
                                                        static_cast<double>(wedge.sectors);
        sample_ground(bearing_rad, reach_m);
        radial_.start(plan_.site, ground_m_);
        const double latitude_per_km = std::cos(bearing_rad) / 2.0 / km_per_degree;
        while (left < left_end || right < right_end) {
            const bool take_left =
                right == right_end ||
                (left < left_end && cells_[left].range_m <= cells_[right].range_m);
            const std::size_t i = take_left ? left++ : right++;
            const double range_km = static_cast<double>(cells_[i].range_m) / 1000.0;
            if (radial_.last_point_before(range_km) >= radial_.known_points()) {
                gathered_[i].loss_db = std::numeric_limits<float>::quiet_NaN();
            }
            if (std::isnan(gathered_[i].loss_db)) {
                continue;
            }
            CarriedRadial::Path path =
                radial_.path_to(range_km, static_cast<double>(cells_[i].ground_m));
            path.row.centre_latitude_deg = plan_.request.site.lat_deg + latitude_per_km * range_km;
            take(i, take_left, path);
        }
    }

    /// Takes one radial's path to a cell. The second of the two to come settles what is asked of
    /// the model: one path between the two where they are alike, else both, weighted.
    void take(std::size_t i, bool second, const CarriedRadial::Path& path) {
        if (!second) {
            held_next_[i - next_offset_] = path;
            return;
        }
        const CarriedRadial::Path& before = held_[i - held_offset_];
        const double share = static_cast<double>(cells_[i].share);
        Gathered& gathered = gathered_[i];
        gathered.hidden_by = static_cast<float>(between(before.hidden_by, path.hidden_by, share));
        gathered.clearance_f1 =
            static_cast<float>(between(before.clearance_f1, path.clearance_f1, share));
        if (alike(before, path)) {
            ask(i, 1.0, mixed(before.row, path.row, share));
        } else {
            ask(i, 1.0 - share, before.row);
            ask(i, share, path.row);
        }
    }

    static double between(double a, double b, double share) { return a + share * (b - a); }

    /// Whether two paths are shaped by the same ground, so that one between them is meaningful.
    [[nodiscard]] bool alike(const CarriedRadial::Path& a, const CarriedRadial::Path& b) const {
        const auto near = [&](double x, double y) {
            return std::abs(x - y) <= alike_steps * plan_.site.step_km;
        };
        return (a.hidden_by <= 0.0) == (b.hidden_by <= 0.0) &&
               (a.hidden_by <= 0.0 ||
                (near(a.row.transmitter_horizon_km, b.row.transmitter_horizon_km) &&
                 near(a.row.receiver_horizon_km, b.row.receiver_horizon_km)));
    }

    static propagation::P1812Row mixed(const propagation::P1812Row& a,
                                       const propagation::P1812Row& b, double share) {
        using Values = std::array<double, propagation::p1812_columns>;
        auto values = std::bit_cast<Values>(a);
        const auto others = std::bit_cast<Values>(b);
        for (std::size_t k = 0; k < values.size(); ++k) {
            values[k] = between(values[k], others[k], share);
        }
        return std::bit_cast<propagation::P1812Row>(values);
    }

    void ask(std::size_t i, double weight, const propagation::P1812Row& row) {
        if (plan_.request.settings.method != propagation::Method::p1812) {
            gathered_[i].loss_db += static_cast<float>(weight * simple_loss_db(row));
            return;
        }
        if (batch_.full()) {
            settle_batch();
        }
        pending_[batch_.size()] = {i, static_cast<float>(weight)};
        batch_.push(row);
    }

    /// Works out the losses of the batch and hands them to their cells.
    void settle_batch() {
        plan_.p1812.predict(batch_);
        for (std::size_t row = 0; row < batch_.size(); ++row) {
            const auto [i, weight] = pending_[row];
            gathered_[i].loss_db += weight * static_cast<float>(batch_.loss_db[row]);
        }
        batch_.clear();
    }

    /// The loss of a path by the methods that need no batch.
    [[nodiscard]] double simple_loss_db(const propagation::P1812Row& row) const {
        const propagation::PathSettings& settings = plan_.request.settings;
        const double rise_m = row.receiver_asl_m - plan_.site.ground_m - plan_.site.antenna_m;
        const double free_space_db = propagation::free_space_loss_db(
            std::hypot(row.distance_km, rise_m / 1000.0), settings.frequency_mhz);
        if (settings.method == propagation::Method::free_space) {
            return free_space_db;
        }
        const double direct = rise_m / row.distance_km;
        const double nu = row.median_transmitter_slope < direct
                              ? row.median_scaled_nu / std::sqrt(plan_.site.wavelength_m)
                              : propagation::equivalent_edge(
                                    row.median_transmitter_slope, direct, row.median_receiver_slope,
                                    row.distance_km, plan_.site.wavelength_m)
                                    .nu;
        const double edge_db = nu > propagation::least_nu_with_loss
                                   ? propagation::knife_edge_loss_db(nu, settings.knife_edge)
                                   : 0.0;
        const bool corrected = settings.method == propagation::Method::bullington_p526;
        return free_space_db + edge_db +
               (corrected ? propagation::bullington_correction_db(edge_db, row.distance_km) : 0.0);
    }

    /// Ground along a bearing at every step, to one step beyond the farthest cell.
    void sample_ground(double bearing_rad, double reach_m) {
        constexpr std::size_t stride = 16; // points from one exact position to the next
        const double step_m = plan_.request.step_m;
        const auto points = static_cast<std::size_t>(std::ceil(reach_m / step_m)) + 1;
        const std::size_t pieces = (points + stride - 1) / stride;
        ground_m_.resize(pieces * stride);
        const double sine = std::sin(bearing_rad);
        const double cosine = std::cos(bearing_rad);
        const auto position = [&](std::size_t index) {
            const double x = static_cast<double>(index) * step_m;
            return plan_.ground_frame.at({x * sine, x * cosine});
        };
        terrain::CellPosition here = position(0);
        for (std::size_t piece = 0; piece < pieces; ++piece) {
            const terrain::CellPosition next = position((piece + 1) * stride);
            const double columns = (next.column - here.column) / stride;
            const double rows = (next.row - here.row) / stride;
            for (std::size_t k = 0; k < stride; ++k) {
                ground_m_[piece * stride + k] = plan_.ground.sample(
                    terrain::CellPosition{here.column + static_cast<double>(k) * columns,
                                          here.row + static_cast<double>(k) * rows});
            }
            here = next;
        }
        ground_m_.resize(points);
    }

    void write_cells() {
        for (std::size_t i = 0; i < cells_.size(); ++i) {
            const Gathered& gathered = gathered_[i];
            if (std::isnan(gathered.loss_db)) {
                ++behind_void_;
                continue;
            }
            ++predicted_;
            propagation::Sight sight;
            sight.clear = gathered.hidden_by <= 0.0F;
            sight.clearance_f1 = static_cast<double>(gathered.clearance_f1);
            result_.basic_loss_db[cells_[i].cell] = gathered.loss_db;
            result_.sight[cells_[i].cell] = sight_class(sight);
        }
    }

    struct Pending {
        std::size_t i;
        float weight;
    };

    const Plan& plan_;
    SweepResult& result_;
    RowSpans spans_;
    std::vector<CellBetween> found_, cells_;
    std::vector<std::uint32_t> sector_of_, sector_start_, next_;
    std::vector<Gathered> gathered_;
    std::vector<double> ground_m_;
    CarriedRadial radial_;
    std::vector<CarriedRadial::Path> held_, held_next_; ///< paths of the radial before, and of this
    std::size_t held_offset_ = 0, next_offset_ = 0;
    propagation::P1812Batch batch_;
    std::array<Pending, propagation::P1812Batch::capacity> pending_{};
    std::uint64_t predicted_ = 0, off_terrain_ = 0, behind_void_ = 0;
};

/// The cells nearest the site, by the exact engine.
void sweep_near_cells(const Plan& plan, SweepResult& result) {
    const double near_m = std::min(near_steps * plan.request.step_m, plan.request.range_m);
    ExactCell exact(plan.ground, plan.map, plan.request);
    const terrain::CellPosition site = plan.map.georeference.cell_of(plan.request.site);
    const auto size = plan.map.georeference.cell_size_at(plan.request.site);
    const double across = near_m / size.across_m + 2.0;
    const double down = near_m / size.down_m + 2.0;
    const auto clipped = [](double value, int count) {
        return static_cast<int>(std::clamp(value, 0.0, count - 1.0));
    };
    if (site.column + across < 0.0 || site.column - across > plan.map.columns ||
        site.row + down < 0.0 || site.row - down > plan.map.rows) {
        return;
    }
    for (int row = clipped(site.row - down, plan.map.rows);
         row <= clipped(site.row + down, plan.map.rows); ++row) {
        for (int column = clipped(site.column - across, plan.map.columns);
             column <= clipped(site.column + across, plan.map.columns); ++column) {
            const LocalPoint point = plan.cells.at(column, row);
            if (std::hypot(point.east_m, point.north_m) < near_m) {
                exact.predict(column, row, plan.request.range_m, result);
            }
        }
    }
    exact.add_counts_to(result);
}

} // namespace

bool carried_engine_knows(propagation::Method method) {
    using propagation::Method;
    return method == Method::p1812 || method == Method::free_space ||
           method == Method::bullington || method == Method::bullington_p526;
}

void carried_sweep(const terrain::HeightGrid& ground, const MapGrid& map,
                   const SweepRequest& request, SweepResult& result, Progress* progress) {
    RadialSite site;
    site.ground_m = ground.sample(request.site);
    site.antenna_m = request.site_antenna_m;
    site.receiver_antenna_m = request.receiver_antenna_m;
    site.step_km = request.step_m / 1000.0;
    site.wavelength_m = propagation::wavelength_m(request.settings.frequency_mhz);
    propagation::P1812Inputs inputs = request.settings.p1812;
    inputs.frequency_mhz = request.settings.frequency_mhz;
    const propagation::P1812BatchModel p1812(inputs, site.ground_m + site.antenna_m,
                                             {request.site_antenna_m, request.receiver_antenna_m},
                                             site.step_km);
    if (request.settings.method == propagation::Method::p1812) {
        site.radii = propagation::effective_radii(inputs.refractivity.delta_n);
        site.with_beta = p1812.needs_beta();
    } else {
        site.radii.median_km = propagation::effective_earth_radius_km(request.settings.k_factor);
    }
    const double map_cell_m = cell_side_m(map.georeference, request.site);
    const double ground_cell_m = cell_side_m(ground.georeference, request.site);
    const double reach_m = request.range_m + 20.0 * request.step_m;
    const Plan plan{ground,
                    map,
                    request,
                    CellFrame(map.georeference, map.columns, map.rows, request.site),
                    GroundFrame(map.georeference, request.site, reach_m, map_cell_m),
                    GroundFrame(ground.georeference, request.site, reach_m, ground_cell_m),
                    site,
                    p1812};
    const std::array<Wedge, wedge_count> wedges = spread_radials(plan);

    const unsigned threads = std::max(1U, request.threads);
    std::vector<WedgeSweep> sweeps;
    sweeps.reserve(threads);
    for (unsigned k = 0; k < threads; ++k) {
        sweeps.emplace_back(plan, result);
    }
    if (progress != nullptr) {
        progress->begin("sweep", wedge_count);
    }
    sweep_near_cells(plan, result);
    parallel_for(wedge_count, threads, [&](std::size_t k, unsigned worker) {
        throw_if_interrupted();
        sweeps[worker].run(wedges[k]);
        if (progress != nullptr) {
            progress->advance(1);
        }
    });
    for (const WedgeSweep& sweep : sweeps) {
        sweep.add_counts_to(result);
    }
}

} // namespace earshot::sweep
