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

/// Wedges with their reach; the number of radials in each comes later.
std::array<Wedge, wedge_count> cut_wedges(const Plan& plan) {
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
    }
    return wedges;
}

/// Radials in a wedge at so many for each cell's width at its rim.
std::size_t sectors_at(const Plan& plan, const Wedge& wedge, double radials_per_rim_cell) {
    const double cell_m = cell_side_m(plan.map.georeference, plan.request.site);
    return 1 + static_cast<std::size_t>(radials_per_rim_cell * wedge_rad * wedge.reach_m / cell_m);
}

/// Ground along a bearing at every step, to one step beyond the farthest cell.
void sample_ground(const Plan& plan, double bearing_rad, double reach_m,
                   std::vector<double>& ground_m) {
    constexpr std::size_t stride = 16; // points from one exact position to the next
    const double step_m = plan.request.step_m;
    const auto points = static_cast<std::size_t>(std::ceil(reach_m / step_m)) + 1;
    const std::size_t pieces = (points + stride - 1) / stride;
    ground_m.resize(pieces * stride);
    const double sine = std::sin(bearing_rad);
    const double cosine = std::cos(bearing_rad);
    const auto position = [&](std::size_t index) {
        const double x = static_cast<double>(index) * step_m;
        return plan.ground_frame.at({x * sine, x * cosine});
    };
    terrain::CellPosition here = position(0);
    for (std::size_t piece = 0; piece < pieces; ++piece) {
        const terrain::CellPosition next = position((piece + 1) * stride);
        const double columns = (next.column - here.column) / stride;
        const double rows = (next.row - here.row) / stride;
        for (std::size_t k = 0; k < stride; ++k) {
            ground_m[piece * stride + k] = plan.ground.sample(
                terrain::CellPosition{here.column + static_cast<double>(k) * columns,
                                      here.row + static_cast<double>(k) * rows});
        }
        here = next;
    }
    ground_m.resize(points);
}

double between(double a, double b, double share) {
    return a + share * (b - a);
}

/// The paths whose losses, weighted, are the answer for a cell between two radials.
struct Question {
    std::array<propagation::P1812Row, 2> rows;
    std::array<double, 2> weights;
    std::size_t count;
};

/// One path between the two where they are alike, else both.
Question question_between(const CarriedRadial::Path& a, const CarriedRadial::Path& b, double share,
                          double step_km) {
    const auto near = [&](double x, double y) { return std::abs(x - y) <= alike_steps * step_km; };
    const bool hidden = a.hidden_by > 0.0;
    const bool alike =
        hidden == (b.hidden_by > 0.0) &&
        (!hidden || (near(a.row.transmitter_horizon_km, b.row.transmitter_horizon_km) &&
                     near(a.row.receiver_horizon_km, b.row.receiver_horizon_km)));
    if (!alike) {
        return {{a.row, b.row}, {1.0 - share, share}, 2};
    }
    using Values = std::array<double, propagation::p1812_columns>;
    auto values = std::bit_cast<Values>(a.row);
    const auto others = std::bit_cast<Values>(b.row);
    for (std::size_t k = 0; k < values.size(); ++k) {
        values[k] = between(values[k], others[k], share);
    }
    return {{std::bit_cast<propagation::P1812Row>(values), {}}, {1.0, 0.0}, 1};
}

/// The loss of a path by the methods that need no batch.
double simple_loss_db(const Plan& plan, const propagation::P1812Row& row) {
    const propagation::PathSettings& settings = plan.request.settings;
    const double rise_m = row.receiver_asl_m - plan.site.ground_m - plan.site.antenna_m;
    const double free_space_db = propagation::free_space_loss_db(
        std::hypot(row.distance_km, rise_m / 1000.0), settings.frequency_mhz);
    if (settings.method == propagation::Method::free_space) {
        return free_space_db;
    }
    const double direct = rise_m / row.distance_km;
    const double nu = row.median_transmitter_slope < direct
                          ? row.median_scaled_nu / std::sqrt(plan.site.wavelength_m)
                          : propagation::equivalent_edge(row.median_transmitter_slope, direct,
                                                         row.median_receiver_slope, row.distance_km,
                                                         plan.site.wavelength_m)
                                .nu;
    const double edge_db = nu > propagation::least_nu_with_loss
                               ? propagation::knife_edge_loss_db(nu, settings.knife_edge)
                               : 0.0;
    const bool corrected = settings.method == propagation::Method::bullington_p526;
    return free_space_db + edge_db +
           (corrected ? propagation::bullington_correction_db(edge_db, row.distance_km) : 0.0);
}

/// Collects questions and hands on their losses, many at a time.
class LossDesk {
public:
    explicit LossDesk(const Plan& plan) : plan_(plan) {}

    /// `answer(place, weighted_loss_db)` is called for each row asked, now or later.
    template <typename Answer>
    void ask(std::size_t place, const Question& question, Answer answer) {
        for (std::size_t k = 0; k < question.count; ++k) {
            if (plan_.request.settings.method != propagation::Method::p1812) {
                answer(place, question.weights[k] * simple_loss_db(plan_, question.rows[k]));
                continue;
            }
            if (batch_.full()) {
                settle(answer);
            }
            pending_[batch_.size()] = {place, question.weights[k]};
            batch_.push(question.rows[k]);
        }
    }

    /// Answers all that was asked.
    template <typename Answer>
    void settle(Answer answer) {
        plan_.p1812.predict(batch_);
        for (std::size_t row = 0; row < batch_.size(); ++row) {
            answer(pending_[row].place, pending_[row].weight * batch_.loss_db[row]);
        }
        batch_.clear();
    }

private:
    struct Pending {
        std::size_t place;
        double weight;
    };

    const Plan& plan_;
    propagation::P1812Batch batch_;
    std::array<Pending, propagation::P1812Batch::capacity> pending_{};
};

/// Mean latitude of paths to the ranges of a radial.
class CentreLatitude {
public:
    CentreLatitude(const Plan& plan, double bearing_rad)
        : site_deg_(plan.request.site.lat_deg),
          per_km_(std::cos(bearing_rad) / 2.0 / km_per_degree) {}
    [[nodiscard]] double at(double range_km) const { return site_deg_ + per_km_ * range_km; }

private:
    double site_deg_, per_km_;
};

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

/// Adds the losses answered to what their cells have gathered.
struct Answer {
    std::vector<Gathered>& gathered;
    void operator()(std::size_t cell, double loss_db) const {
        gathered[cell].loss_db += static_cast<float>(loss_db);
    }
};

/// One thread's work on wedges; keeps its memory from one to the next.
class WedgeSweep {
public:
    WedgeSweep(const Plan& plan, SweepResult& result)
        : plan_(plan), result_(result), spans_(plan.map), desk_(plan) {}

    void run(const Wedge& wedge) {
        list_cells(wedge);
        gathered_.assign(cells_.size(), Gathered{});
        for (std::size_t r = 0; r <= wedge.sectors; ++r) {
            sweep_radial(wedge, r);
        }
        desk_.settle(Answer{gathered_});
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
        sample_ground(plan_, bearing_rad, static_cast<double>(reach_m), ground_m_);
        radial_.start(plan_.site, ground_m_);
        const CentreLatitude latitude(plan_, bearing_rad);
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
            path.row.centre_latitude_deg = latitude.at(range_km);
            take(i, take_left, path);
        }
    }

    /// Takes one radial's path to a cell. The second of the two to come settles what is asked.
    void take(std::size_t i, bool second, const CarriedRadial::Path& path) {
        if (!second) {
            held_next_[i - next_offset_] = path;
            return;
        }
        const CarriedRadial::Path& before = held_[i - held_offset_];
        const double share = static_cast<double>(cells_[i].share);
        gathered_[i].hidden_by =
            static_cast<float>(between(before.hidden_by, path.hidden_by, share));
        gathered_[i].clearance_f1 =
            static_cast<float>(between(before.clearance_f1, path.clearance_f1, share));
        desk_.ask(i, question_between(before, path, share, plan_.site.step_km), Answer{gathered_});
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
            result_.loss_db[cells_[i].cell] = gathered.loss_db;
            result_.sight[cells_[i].cell] = sight_class(sight);
        }
    }

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
    LossDesk desk_;
    std::uint64_t predicted_ = 0, off_terrain_ = 0, behind_void_ = 0;
};

/// Finds how many radials the ground at hand asks for: cells here and there are predicted by the
/// exact engine and between two radials as far apart as they would be, until the promise is kept
/// with a little to spare.
double choose_density(const Plan& plan, const std::array<Wedge, wedge_count>& wedges) {
    constexpr std::size_t samples = 600;
    constexpr std::array densities{1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0};
    constexpr double wanted_within_tenth = 0.965; // promised: 0.95 within 0.1 dB
    constexpr double wanted_within_half = 0.993;  // promised: 0.99 within 0.5 dB
    struct Sample {
        double range_m, bearing_rad, reach_m, ground_m, exact_db;
    };
    const MapGrid& map = plan.map;
    const double near_m = near_steps * plan.request.step_m;
    std::vector<Sample> chosen;
    std::vector<std::pair<int, int>> cells;
    std::uint64_t state = 0x9e3779b97f4a7c15ULL;
    for (std::size_t trial = 0; trial < 4 * samples && chosen.size() < samples; ++trial) {
        state = state * 6364136223846793005ULL + 1442695040888963407ULL;
        const int column = static_cast<int>((state >> 33) % static_cast<unsigned>(map.columns));
        state = state * 6364136223846793005ULL + 1442695040888963407ULL;
        const int row = static_cast<int>((state >> 33) % static_cast<unsigned>(map.rows));
        const LocalPoint point = plan.cells.at(column, row);
        const double range_m = std::hypot(point.east_m, point.north_m);
        const double ground_m = plan.ground.sample(plan.ground_frame.at(point));
        if (range_m < near_m || range_m > plan.request.range_m || std::isnan(ground_m)) {
            continue;
        }
        double bearing = std::atan2(point.east_m, point.north_m);
        bearing += bearing < 0.0 ? full_circle : 0.0;
        const std::size_t k = static_cast<std::size_t>(bearing / wedge_rad) % wedge_count;
        chosen.push_back({range_m, bearing, wedges[k].reach_m, ground_m, 0.0});
        cells.emplace_back(column, row);
    }
    const unsigned threads = std::max(1U, plan.request.threads);
    std::vector<ExactCell> exact;
    exact.reserve(threads);
    for (unsigned k = 0; k < threads; ++k) {
        exact.emplace_back(plan.ground, plan.map, plan.request);
    }
    parallel_for(chosen.size(), threads, [&](std::size_t i, unsigned worker) {
        chosen[i].exact_db = exact[worker].loss_db(cells[i].first, cells[i].second);
    });

    const double cell_m = cell_side_m(map.georeference, plan.request.site);
    std::vector<double> carried_db(chosen.size());
    for (const double density : densities) {
        const auto predict = [&](std::size_t i, unsigned) {
            const Sample& sample = chosen[i];
            const double spacing_rad = cell_m / (density * sample.reach_m);
            // Shares spread evenly over (0, 1) by the golden ratio.
            const double share = std::fmod(0.5 + 0.61803398875 * static_cast<double>(i), 1.0);
            std::vector<double> ground_m;
            std::array<CarriedRadial::Path, 2> paths;
            for (std::size_t side = 0; side < 2; ++side) {
                const double bearing_rad =
                    sample.bearing_rad + (static_cast<double>(side) - share) * spacing_rad;
                sample_ground(plan, bearing_rad, sample.range_m, ground_m);
                CarriedRadial radial;
                radial.start(plan.site, ground_m);
                const double range_km = sample.range_m / 1000.0;
                if (radial.last_point_before(range_km) >= radial.known_points()) {
                    carried_db[i] = std::numeric_limits<double>::quiet_NaN();
                    return;
                }
                paths[side] = radial.path_to(range_km, sample.ground_m);
                paths[side].row.centre_latitude_deg =
                    CentreLatitude(plan, bearing_rad).at(range_km);
            }
            carried_db[i] = 0.0;
            const auto answer = [&](std::size_t, double loss_db) { carried_db[i] += loss_db; };
            LossDesk desk(plan);
            desk.ask(i, question_between(paths[0], paths[1], share, plan.site.step_km), answer);
            desk.settle(answer);
        };
        parallel_for(chosen.size(), threads, predict);
        std::size_t known = 0;
        std::size_t within_tenth = 0;
        std::size_t within_half = 0;
        for (std::size_t i = 0; i < chosen.size(); ++i) {
            const double difference = std::abs(carried_db[i] - chosen[i].exact_db);
            known += std::isnan(difference) ? 0U : 1U;
            within_tenth += difference <= 0.1 ? 1U : 0U;
            within_half += difference <= 0.5 ? 1U : 0U;
        }
        const auto all = static_cast<double>(known);
        if (static_cast<double>(within_tenth) >= wanted_within_tenth * all &&
            static_cast<double>(within_half) >= wanted_within_half * all) {
            return density;
        }
    }
    return densities.back();
}

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
    std::array<Wedge, wedge_count> wedges = cut_wedges(plan);
    result.radials_per_rim_cell = request.radials_per_rim_cell > 0.0 ? request.radials_per_rim_cell
                                                                     : choose_density(plan, wedges);
    for (Wedge& wedge : wedges) {
        wedge.sectors = sectors_at(plan, wedge, result.radials_per_rim_cell);
    }

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
