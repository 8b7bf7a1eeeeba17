#pragma once

#include "earshot/propagation/conditions.hpp"
#include "earshot/terrain/profile.hpp"

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

/// Loss of a terminal that stands in woodland: Recommendation ITU-R P.833-10 section 2.1, and what
/// becomes of it as the antenna rises to the tree tops and above. docs/woods-and-noise.md tells
/// where the numbers come from and how far to trust them.

namespace earshot::propagation {

struct WoodlandFitInfo {
    WoodlandFit fit;
    std::string_view name; ///< as the user writes it
    double a1_db;          ///< A1, with the frequency in MHz
    double alpha;
    double lowest_mhz; ///< of the measurements
    double highest_mhz;
};

/// All fits. The first is the default: only it was measured below 900 MHz.
[[nodiscard]] std::span<const WoodlandFitInfo> woodland_fits();
[[nodiscard]] const WoodlandFitInfo& woodland_fit_info(WoodlandFit fit);

/// A_m: the loss that no depth of woodland exceeds, since the wave then comes over or around the
/// trees, dB (P.833-10 equation (2)). 30 to 6000 MHz; outside the range of the measurements of
/// `fit` it extrapolates. Throws Error(Fault::usage) for a frequency out of range.
[[nodiscard]] double greatest_woodland_loss_db(double frequency_mhz,
                                               WoodlandFit fit = WoodlandFit::st_petersburg);

/// gamma: loss per metre over a short way through trees in leaf, dB/m (figure 2 of P.833-10, points
/// read off and joined by straight lines in the logarithms of both axes). Good to a quarter of its
/// value for vertical polarization, to half of it for horizontal below 300 MHz. 30 to 6000 MHz;
/// throws Error(Fault::usage) outside.
[[nodiscard]] double woodland_loss_per_metre_db(double frequency_mhz, Polarization polarization);

/// A_ev = A_m (1 - exp(-d gamma / A_m)), dB (P.833-10 equation (1)). `depth_m` >= 0 is the length
/// of the path within the woodland, `per_metre_db` > 0, `greatest_db` > 0; other values throw
/// Error(Fault::usage).
[[nodiscard]] double woodland_loss_db(double depth_m, double per_metre_db, double greatest_db);

/// A terminal in its own woodland.
struct OwnWoodland {
    double depth_m = 0.0;   ///< d of equation (1), 0 if it stands in none
    double antenna_m = 0.0; ///< above the ground
    double tops_m = 0.0;    ///< height of the trees around it
    /// Slope of the wave over the ground beside it, m/km (PathGeometry::transmitter_arrival).
    double arrival_slope = 0.0;
};

/// What a terminal loses in its own woodland, by its height. From deep woods a wave leaves through
/// the tops and runs along them (Tamir, IEEE Trans. AP-15, 1967), so that
/// - up to 1.6 m, where A_m was measured, the loss is that of P.833;
/// - up to the tops each metre of height gains alpha = k |Im sqrt(n^2 - 1)| and no more: what
///   height gains over open ground (ground_beside_db()) is withheld;
/// - above them it gains as over ground at the tops, 20 log10(1 + height / h0),
///   h0 = 1 / (k |n^2 - 1|^(1/2)), until nothing is left of the loss.
/// For n^2 = 1.1 - j 60 lambda 1e-4 S/m, average forest (Tamir's values, from memory), alpha is
/// 0.5 dB/m at any frequency and h0 half a wavelength.
class WoodlandLoss {
public:
    /// Throws as the functions above do.
    explicit WoodlandLoss(const Conditions& conditions);

    [[nodiscard]] double db(const OwnWoodland& own) const;

    /// Depth beyond which the loss grows no more, to 0.001 dB, m.
    [[nodiscard]] double greatest_depth_m() const { return 10.0 * greatest_db_ / per_metre_db_; }

    /// Height from which the way of a ray out of the woods is reckoned: a wave within h0 of the
    /// tops is not yet clear of them.
    [[nodiscard]] double way_out_from_m(double antenna_m, double tops_m) const;

private:
    double per_metre_db_, greatest_db_, factor_;
    double climb_db_m_;   ///< alpha
    double tops_layer_m_; ///< h0
    double frequency_mhz_;
    Polarization polarization_;
    bool withholds_; ///< the method reckons with the ground beside an antenna
};

/// Heights of cover that count as obstacles, and the woodland that counts as a loss instead.
struct WoodlandSplit {
    std::vector<double> cover_m; ///< for the profile, in place of its own
    OwnWoodland transmitter;     ///< at the first point
    OwnWoodland receiver;        ///< at the last point
};

/// Splits the trees along a path so that none counts twice. A terminal is in woodland if its point
/// is woodland, however high its antenna. Its own woodland is the unbroken run of
/// woodland points from there to the edge, at most to the middle of the path, edges lying midway
/// between points. In it
/// - the cover of the points between the terminals becomes 0: no obstacle there, but
/// - the terminal has a depth: how far the ray stays below the tree tops within it. The ray is the
///   straight line, over an earth of `effective_radius_km`, to the highest-lying of the obstacles
///   that remain and the other antenna, from the antenna or from just below the tops if it is
///   higher (WoodlandLoss::way_out_from_m()).
/// All other cover stays, but over a surface that holds it, where it is no obstacle of its own. So
/// does that of the end points, which ITU-R P.1812 does not take for an
/// obstacle but needs for its location variability.
///
/// `woodland` has one value for each point of the profile, not 0 where there is woodland. The
/// profile has no void. Antenna heights are above ground. Throws Error(Fault::usage) if the
/// sizes differ or a height is negative.
[[nodiscard]] WoodlandSplit split_woodland(const terrain::Profile& profile,
                                           std::span<const std::uint8_t> woodland,
                                           double transmitter_height_m, double receiver_height_m,
                                           double effective_radius_km, const WoodlandLoss& woods);

} // namespace earshot::propagation
