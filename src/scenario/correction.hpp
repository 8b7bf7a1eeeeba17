#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/link/path.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "maths/ordinal_fit.hpp"

#include <cstddef>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// What a log of calls says predictions are off by, and how that is put right in others.
/// docs/correction.md tells how it is found and how far to trust it.

namespace earshot::scenario {

/// What an antenna gains (or loses, if negative) over what was assumed of it, at either end, dB.
struct AntennaTerm {
    std::string antenna; ///< its name in scenario and log
    maths::Estimate gain_db;
};

/// How well scores at stops that a fit did not know were foretold.
struct OutOfSample {
    double log_loss = 0.0;     ///< mean of -log of the probability given to the score, nats
    double hit_percent = 0.0;  ///< of calls whose score was the one predicted
    double class_error = 0.0;  ///< mean of how many classes the predicted score was off by
    double deviation_db = 0.0; ///< of the margin from its prediction, in all
};

/// What ground is like, as far as corrections hang on it. Unset: not known.
struct GroundFacts {
    /// By how much heights 1 km apart differ on average, m.
    std::optional<double> relief_m;
    std::optional<double> woodland_percent; ///< of the ground
};

/// Where a correction comes from.
struct CorrectionSource {
    std::string log;  ///< name of the log's file
    std::string date; ///< of the first call, or as the user gave it
    bool invented = false;
    double frequency_mhz = 0.0;
    propagation::Method method = propagation::Method::short_range;
    std::string cover;      ///< the ground cover of the predictions, in words
    geo::LatLon centre;     ///< of the stops
    double radius_km = 0.0; ///< around it that holds all of them
    std::size_t calls = 0;
    std::size_t stops = 0;
    std::string model; ///< how it was fitted, in words
    /// Base and stops, thinned: each call is within `spread_km` of one. Empty in older files.
    std::vector<geo::LatLon> places{};
    double spread_km = 0.0;
    GroundFacts ground{}; ///< around the calls
};

/// Margins with the correction are those without plus the offset plus the terms of the antennas at
/// both ends, and the loss in woodland is multiplied by a factor.
struct Correction {
    std::string file; ///< its name, without folder
    maths::Estimate offset_db;
    std::optional<maths::Estimate> woodland_factor; ///< >= 0; unset: as the standard has it
    std::vector<AntennaTerm> antennas;
    /// Takes the place of Conditions::prediction_deviation_db: what of the spread of the log is
    /// not that among places and over time, with the error of the offset.
    double prediction_deviation_db = 8.0;
    CorrectionSource source;
    OutOfSample before, after; ///< each stop left out in turn; `before` is the standard alone

    /// Within a tenth of the frequency that it was measured on.
    [[nodiscard]] bool holds_on(double frequency_mhz) const;
};

/// Reads a correction file (TOML 1.0); docs/correction.md describes it. Throws
/// Error(Fault::input) as read_scenario() does.
[[nodiscard]] Correction read_correction(const std::filesystem::path& file);

/// The file that read_correction() reads.
[[nodiscard]] std::string correction_toml(const Correction& correction);

/// Sets the offset, the factor of woodland and the deviation of predictions. Throws
/// Error(Fault::input) if the frequency is more than a tenth from the one measured on or the method
/// is another: then the correction says nothing of them.
void apply(const Correction& correction, propagation::Conditions& settings);

/// Sets the term of this radio's antenna, whatever it was before.
void apply(const Correction& correction, link::Radio& radio);

/// "with the field correction walk.toml of 2026-05-14: +2.3 dB, losses in woods x 1.42, stock
/// antenna -1.6 dB". Every output that a correction went into says this.
[[nodiscard]] std::string correction_words(const Correction& correction);

/// A table of predictions with the words in a column of their own, field_correction: tables get
/// parted from what was printed with them.
[[nodiscard]] std::string stamped(const std::string& csv, const Correction& correction);

/// Some of the positions that stand for all: none is farther than `spread_km` from one of them.
struct Thinned {
    std::vector<geo::LatLon> places;
    double spread_km = 0.0;
};
/// The first of `positions` and those farthest from what is chosen, until all are near or there are
/// a dozen.
[[nodiscard]] Thinned thinned(std::span<const geo::LatLon> positions);

/// Where the correction holds, for a link::Setting. `standard_deviation_db` is the deviation of
/// predictions without it; unset, by the path.
[[nodiscard]] std::shared_ptr<const link::FieldReach>
field_reach(const Correction& correction, std::optional<double> standard_deviation_db);

[[nodiscard]] GroundFacts ground_facts(const terrain::HeightGrid& ground,
                                       const terrain::GroundLayers& layers);

/// What is to be known before trusting it on this ground: what is taken for granted of an older
/// file, how little of it is left at the one of `ends` that is farthest from its calls, and whether
/// the ground is unlike theirs. Empty if nothing.
[[nodiscard]] std::vector<std::string> reach_notes(const Correction& correction,
                                                   std::span<const geo::LatLon> ends,
                                                   const GroundFacts& here);

} // namespace earshot::scenario
