#pragma once

#include "earshot/link/budget.hpp"
#include "link/handheld.hpp"
#include "propagation/noise.hpp"

#include <optional>

/// The level a radio needs in the noise around it.

namespace earshot::link {

/// What the antenna and all between it and the receiver take from noise and signal alike, dB: the
/// antenna's loss against a dipole, the body beside it and the feeder.
[[nodiscard]] double loss_before_receiver_db(const Radio& radio);

/// The level that gives `quality` where the noise of `external_db` comes in through an antenna that
/// loses `antenna_loss_db`. The rule: speech needs the same ratio of carrier to noise whatever the
/// noise comes from, so the level rises by as much as external noise raises the noise.
[[nodiscard]] NeededLevel needed_level(double sensitivity_dbm, propagation::FmChannel channel,
                                       propagation::VoiceQuality quality, double external_db,
                                       double antenna_loss_db);

/// Raises `threshold_dbm`, taken for the radio's 12 dB SINAD on the bench, to what `quality` takes
/// in external noise of `external_db` (f_a), and keeps how that came about in `needed`. Without
/// external noise only the quality counts. Throws as needed_level().
void add_noise(Radio& radio, propagation::FmChannel channel, propagation::VoiceQuality quality,
               std::optional<double> external_db);

/// Works the needed level out again, for the same noise and quality, after antenna, feeder, body or
/// sensitivity have changed: a better antenna hears more noise as well. Does nothing to a radio
/// without `needed`. Throws Error(Fault::usage) for a sensitivity that no receiver has.
void renew_noise(Radio& radio, double sensitivity_dbm);
/// The same with the sensitivity it has.
void renew_noise(Radio& radio);

/// What taking a radio to the face saves.
struct HeldAtFace {
    double saved_db = 0.0;       ///< of the loss to the body, each way
    std::optional<Carried> from; ///< where it was, if the loss there is a usual one
};

/// Holds a radio at the face that was worn on the body, if its antenna is low enough to be held;
/// nothing where that saves nothing. The noise is worked out again.
std::optional<HeldAtFace> hold_at_face(Station& station, double frequency_mhz);

} // namespace earshot::link
