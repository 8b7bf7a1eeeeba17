#pragma once

#include "propagation/p1812/constants.hpp"

#include <array>
#include <cstddef>
#include <string>
#include <utility>

namespace earshot::propagation {

/// What p1812_loss() needs of one path: inland (no sea). The meaning of each value is that of the
/// field of PathGeometry it is named after, but that smooth surfaces may still rise above the
/// ground at the ends.
struct P1812Row {
    double distance_km = 0.0;
    double first_point_km = 0.0; ///< of the profile's points between the ends
    double last_point_km = 0.0;
    double centre_latitude_deg = 0.0;
    double receiver_asl_m = 0.0;
    double receiver_cover_m = 0.0;
    double transmitter_horizon_km = 0.0;
    double receiver_horizon_km = 0.0;
    double transmitter_slope = 0.0; ///< tangent of transmitter_angle_mrad, times 1000
    double receiver_slope = 0.0;    ///< tangent of receiver_angle_mrad, times 1000
    double smooth_transmitter_m = 0.0;
    double smooth_receiver_m = 0.0;
    double diffraction_transmitter_m = 0.0;
    double diffraction_receiver_m = 0.0;
    double roughness_m = 0.0;
    double transmitter_arrival = 0.0;
    double receiver_arrival = 0.0;
    /// BullingtonTerms of the actual profile, median radius. The receiver's slope and nu of the
    /// case that does not apply may be anything finite.
    double median_transmitter_slope = 0.0;
    double median_receiver_slope = 0.0;
    double median_scaled_nu = 0.0;
    double beta_transmitter_slope = 0.0; ///< the same for a_beta; read only if needs_beta()
    double beta_receiver_slope = 0.0;
    double beta_scaled_nu = 0.0;
};

/// The values of a row, each the number of a column of P1812Batch.
inline constexpr std::array p1812_values{
    &P1812Row::distance_km,
    &P1812Row::first_point_km,
    &P1812Row::last_point_km,
    &P1812Row::centre_latitude_deg,
    &P1812Row::receiver_asl_m,
    &P1812Row::receiver_cover_m,
    &P1812Row::transmitter_horizon_km,
    &P1812Row::receiver_horizon_km,
    &P1812Row::transmitter_slope,
    &P1812Row::receiver_slope,
    &P1812Row::smooth_transmitter_m,
    &P1812Row::smooth_receiver_m,
    &P1812Row::diffraction_transmitter_m,
    &P1812Row::diffraction_receiver_m,
    &P1812Row::roughness_m,
    &P1812Row::transmitter_arrival,
    &P1812Row::receiver_arrival,
    &P1812Row::median_transmitter_slope,
    &P1812Row::median_receiver_slope,
    &P1812Row::median_scaled_nu,
    &P1812Row::beta_transmitter_slope,
    &P1812Row::beta_receiver_slope,
    &P1812Row::beta_scaled_nu,
};
static_assert(p1812_values.size() == sizeof(P1812Row) / sizeof(double));

/// Number of the column that holds a value.
constexpr std::size_t p1812_column(double P1812Row::*value) {
    std::size_t column = 0;
    while (p1812_values[column] != value) {
        ++column;
    }
    return column;
}

/// A path between two, `share` of the way from `a` to `b` in every value.
[[nodiscard]] inline P1812Row row_between(const P1812Row& a, const P1812Row& b, double share) {
    P1812Row row;
    for (const auto value : p1812_values) {
        row.*value = a.*value + share * (b.*value - a.*value);
    }
    return row;
}

/// Rows turned on their side, so that each instruction works on one value of several paths.
class P1812Batch {
public:
    static constexpr std::size_t capacity = 64; ///< a multiple of every vector length

    [[nodiscard]] std::size_t size() const { return size_; }
    [[nodiscard]] bool full() const { return size_ == capacity; }
    void clear() { size_ = 0; }
    /// The batch must not be full.
    void push(const P1812Row& row) {
        fill([&](double P1812Row::*value) { return row.*value; });
    }
    /// What row_between() gives, without a row in between: this is done for every cell of a map.
    void push_between(const P1812Row& a, const P1812Row& b, double share) {
        fill([&](double P1812Row::*value) { return a.*value + share * (b.*value - a.*value); });
    }
    /// Repeats the last row up to a whole number of vectors. Else what a batch before left there
    /// would have a say in which formulas its neighbours take.
    void fill_vectors(std::size_t lanes) {
        for (std::size_t row = size_; row % lanes != 0; ++row) {
            for (Column& column : columns_) {
                column[row] = column[size_ - 1];
            }
        }
    }
    [[nodiscard]] const double* column(std::size_t k) const { return columns_[k].data(); }

    using Column = std::array<double, capacity>;
    alignas(64) Column loss_db{}; ///< the answers: L_b, equation (69)

private:
    template <typename Value>
    void fill(Value value) {
        // Unrolled by the compiler.
        [&]<std::size_t... k>(std::index_sequence<k...>) {
            ((columns_[k][size_] = value(std::get<k>(p1812_values))), ...);
        }
        (std::make_index_sequence<p1812_values.size()>());
        ++size_;
    }

    std::size_t size_ = 0;
    alignas(64) std::array<Column, p1812_values.size()> columns_{};
};

/// Recommendation ITU-R P.1812-8 for batches of paths that share a transmitter and inputs. Agrees
/// with p1812_loss() to 1e-6 dB on every vector instruction set, over profiles so dense that a
/// smooth earth has its peaks at a point; the widest set of the processor is chosen at run time.
class P1812BatchModel {
public:
    /// Throws as validate() does.
    P1812BatchModel(const P1812Conditions& inputs, double transmitter_asl_m,
                    AntennaHeights above_ground_m);

    /// Whether the losses depend on the terms for the radius a_beta: not at 50 % of the time.
    [[nodiscard]] bool needs_beta() const { return job_.constants.time_percent < 50.0; }

    /// Fills `loss_db` for the rows of the batch.
    void predict(P1812Batch& batch) const;

    /// Values that do not change from path to path.
    struct Job {
        P1812Constants constants;
        PlaceSpread spread;
        LowAntennas low;
        Surface land;
        double transmitter_asl_m;
        AntennaHeights above_ground_m;
    };

private:
    Job job_;
};

/// Name of the vector instruction set in use.
[[nodiscard]] std::string vector_instruction_set();

} // namespace earshot::propagation
