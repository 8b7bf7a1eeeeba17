#pragma once

#include "coverage/engine/sweep_plan.hpp"

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
        std::vector<float> distance_m, ground_m;
    };

    [[nodiscard]] bool inside(const Chord& chord) const;
    [[nodiscard]] float beside(terrain::CellPosition cell) const;
    void add_steps(const Chord& chord, std::size_t count);
    void add_crossings(const Chord& chord);
    std::size_t cross(const Chord& chord, bool columns, Crossings& crossings) const;
    void sample_middles(const Chord& chord);
    void add_cover(const Chord& chord);

    const SweepPlan& plan_;
    Crossings columns_, rows_, met_;
    std::vector<float> shares_, middle_m_;
    std::vector<double> x_km_;
    std::vector<float> ground_m_, cover_m_;
    std::vector<std::uint8_t> wooded_;
};

} // namespace earshot::coverage
