#pragma once

#include "coverage/engine/sweep_plan.hpp"

#include <span>

namespace earshot::coverage {

/// Takes the ground along radials, one after the other, without allocating anew for each. Like
/// those of a profile, the points of a radial are where it crosses the lines that join the centres
/// of cells, with middles where the ground rises between, or, if a step is given, one at every
/// step.
class RadialSampler {
public:
    explicit RadialSampler(const SweepPlan& plan) : plan_(plan) {}

    /// The ground as far as `reach_m`, or a step beyond. Holds until the next call.
    [[nodiscard]] RadialGround sample(double bearing_rad, double reach_m);

    /// Calls `visit(start_m, distance_m, ground_m)` for runs of points, without middles, that cover
    /// the same way in no order: the distances, a span, count from `start_m`, and so do heights.
    template <typename Visit>
    void visit_unordered(double bearing_rad, double reach_m, Visit visit) {
        for_each_chord(bearing_rad, reach_m, [&](const Chord& chord, std::size_t count) {
            find_points(chord, count);
            for (const Crossings* run : {&columns_, &rows_}) {
                visit(chord.start_m, std::span<const float>(run->distance_m).first(run->count),
                      std::span<const float>(run->ground_m).first(run->count));
            }
        });
    }

private:
    /// A part of a radial, so short that column and row run evenly along it.
    struct Chord {
        terrain::CellPosition from, to;
        double start_m = 0.0;
        double length_m = 0.0;
    };
    /// Crossings of whole columns, or of whole rows, in order of distance from the chord's start.
    /// One more stands at the end, at no distance that is ever reached.
    struct Crossings {
        std::size_t count = 0;
        std::vector<float> distance_m, ground_m;
        /// Row there, or column, from a whole one on; of points in order, where one is left out
        /// before the next, or 0.
        std::vector<float> beside;
        float beside_start = 0.0F; ///< the last whole one not beyond the chord's start, so counted
        bool rising = true;        ///< they grow along the chord

        void make_room(std::size_t crossings);
    };

    /// Cells, or steps, in a chord.
    static constexpr std::size_t chord_points = 32;

    template <typename Visit>
    void for_each_chord(double bearing_rad, double reach_m, Visit visit) const {
        const double sine = std::sin(bearing_rad);
        const double cosine = std::cos(bearing_rad);
        const auto position = [&](double x_m) {
            return plan_.ground_frame.at({x_m * sine, x_m * cosine});
        };
        const auto points = static_cast<std::size_t>(std::ceil(reach_m / plan_.spacing_m));
        Chord chord;
        chord.to = position(0.0);
        for (std::size_t first = 0; first < points; first += chord_points) {
            const std::size_t count = std::min(chord_points, points - first);
            chord.from = chord.to;
            chord.start_m = static_cast<double>(first) * plan_.spacing_m;
            chord.length_m = static_cast<double>(count) * plan_.spacing_m;
            chord.to = position(chord.start_m + chord.length_m);
            visit(chord, count);
        }
    }

    [[nodiscard]] bool inside(const Chord& chord) const;
    [[nodiscard]] float beside(terrain::CellPosition cell) const;
    bool find_points(const Chord& chord, std::size_t count);
    void step_along(const Chord& chord, std::size_t count, Crossings& steps) const;
    void cross(const Chord& chord, bool columns, Crossings& crossings) const;
    [[nodiscard]] bool may_bulge(const Chord& chord) const;
    void put_in_order(const Chord& chord, bool whole);
    void sample_middles(const Chord& chord);
    void add_met(const Chord& chord, bool with_middles);
    void make_room(std::size_t points);
    void add_cover(const Chord& chord);

    const SweepPlan& plan_;
    Crossings columns_, rows_;
    Crossings met_; ///< the point before the chord, and then those of the chord
    std::vector<float> shares_, middle_m_;
    std::size_t size_ = 0; ///< points of the radial so far; the vectors may hold more
    std::vector<double> x_km_, left_out_km_;
    std::vector<float> ground_m_, cover_m_, bulge_m_;
    std::vector<std::uint8_t> wooded_, middle_;
};

} // namespace earshot::coverage
