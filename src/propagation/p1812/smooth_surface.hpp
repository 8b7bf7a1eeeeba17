#pragma once

namespace earshot::propagation {

/// A value for each end of a path.
struct AtEnds {
    double transmitter = 0.0;
    double receiver = 0.0;
};

/// The straight line of least squares through a profile, from sums over its pieces.
class SurfaceFit {
public:
    /// Takes the piece between two neighbouring points, equations (83) and (84).
    void add(double d0_km, double h0_m, double d1_km, double h1_m) {
        v1_ += (d1_km - d0_km) * (h1_m + h0_m);
        v2_ += (d1_km - d0_km) * (h1_m * (2.0 * d1_km + d0_km) + h0_m * (d1_km + 2.0 * d0_km));
    }

    /// Heights at the ends of a path whose pieces have all been taken, equations (85) and (86).
    [[nodiscard]] AtEnds heights_m(double length_km) const { return heights_at(1.0 / length_km); }

    /// The same from the reciprocal of the length.
    [[nodiscard]] AtEnds heights_at(double per_length) const {
        const double mean = v1_ * per_length;
        const double moment = v2_ * per_length * per_length;
        return {2.0 * mean - moment, moment - mean};
    }

private:
    double v1_ = 0.0, v2_ = 0.0;
};

/// A fit lowered for the terrain that stands above the line between the antennas: by `highest_m`
/// (h_obs > 0), shared out by the steepest slopes over that line from either end (alpha_obt and
/// alpha_obr), equations (88a) and (88b).
[[nodiscard]] inline AtEnds lowered(AtEnds fitted_m, double highest_m, AtEnds steepest) {
    const double per_slope = highest_m / (steepest.transmitter + steepest.receiver);
    return {fitted_m.transmitter - per_slope * steepest.transmitter,
            fitted_m.receiver - per_slope * steepest.receiver};
}

} // namespace earshot::propagation
