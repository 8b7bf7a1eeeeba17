#pragma once

#include "field/comparison.hpp"
#include "maths/ordinal_fit.hpp"
#include "scenario/correction.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Finds a field correction from calls that were scored. docs/correction.md has the method.

namespace earshot::field {

/// A call with what the standard alone predicted for it.
struct MeasuredCall {
    std::string stop;
    double predicted_db = 0.0; ///< margin, without any correction
    double woodland_db = 0.0;  ///< losses to terminals among trees, taken off in `predicted_db`
    std::vector<std::string> antennas;    ///< of both ends, those that have a name
    std::optional<int> score;             ///< 0 to 5
    std::optional<double> margin_db;      ///< measured level less needed level; goes before a score
    double spread_db = 0.0;               ///< predicted deviation among places and over time
    double prediction_deviation_db = 8.0; ///< of the prediction from measurements
};

/// The calls of a comparison made without a correction.
/// Names of antennas that differ in blanks, hyphens and capitals only are made one.
[[nodiscard]] std::vector<MeasuredCall> measured_calls(const scenario::Scenario& scenario,
                                                       std::span<const ComparedCall> calls);

struct CorrectionRequest {
    maths::ErrorShape shape = maths::ErrorShape::normal;
    bool free_limits = false; ///< let the listeners' classes begin where the log has them
    /// Of a level read from a radio's meter, dB. Common practice, no source.
    double reading_deviation_db = 3.0;
    /// Of predictions from measurements, as is usual: the prior of what stops have in common. 8 dB
    /// is common practice for predictions over a terrain profile (no source).
    double standard_deviation_db = 8.0;
    bool leave_stops_out = true; ///< fill Correction::before and after
};

/// Why the log says too little of a term.
enum class TermRefusal {
    no_woods,     ///< no stop is among trees
    few_woods,    ///< `stops` are, fewer than least_stops_of_a_kind
    woods_alike,  ///< predicted to lose `least_db` to `most_db` at all stops: as good as the offset
    few_uses,     ///< `uses` calls at `stops` stops, fewer than least_uses at least_stops_of_a_kind
    entangled,    ///< goes together with something else
    little_told,  ///< `share` of what would be known of it comes from the log
    hides_offset, ///< with it, the log would tell too little of the offset
};

struct RefusedTerm {
    std::string antenna; ///< empty: losses in woods
    TermRefusal why = TermRefusal::no_woods;
    std::size_t uses = 0, stops = 0;
    double least_db = 0.0, most_db = 0.0;
    double share = 0.0;
};

struct CorrectionFit {
    scenario::Correction correction; ///< its file and source are for the caller to fill in
    std::vector<RefusedTerm> refused;
    /// Antennas that have no term since they are what the others are compared with, or since all
    /// calls had them: what they are off by is in the offset.
    std::vector<std::string> in_the_offset;
    maths::Estimate within_stop_db;                ///< deviation among calls at one stop
    std::optional<maths::Estimate> among_stops_db; ///< deviation common to a stop; unset if each
                                                   ///< stop has one call only
    std::vector<maths::Estimate> limits;           ///< where the classes 1 to 5 begin, dB
    std::size_t calls = 0, stops = 0, readings = 0;

    /// Whether stops that the fit did not know were foretold better than without it, by log loss.
    [[nodiscard]] bool helps() const {
        return correction.after.log_loss < correction.before.log_loss;
    }
};

/// Standard deviations of the priors, all centred on what is assumed without a correction.
inline constexpr double offset_prior_db = 6.0;
inline constexpr double woodland_prior = 0.5; ///< of the factor
inline constexpr double antenna_prior_db = 3.0;
/// The least share of what is known of a term that must come from the log and not from the prior.
inline constexpr double least_share_of_log = 0.5;
inline constexpr std::size_t least_calls = 10;
inline constexpr std::size_t least_stops = 5;
/// In woods, or with an antenna; and calls with it.
inline constexpr std::size_t least_stops_of_a_kind = 3;
inline constexpr std::size_t least_uses = 5;

/// Fits offset, factor of woodland and antennas. Throws Error(Fault::input) if the log cannot
/// tell even the offset, with the reason: too few calls or stops, all scores the lowest or all the
/// highest.
[[nodiscard]] CorrectionFit fit_correction(std::span<const MeasuredCall> calls,
                                           const CorrectionRequest& request);

} // namespace earshot::field
