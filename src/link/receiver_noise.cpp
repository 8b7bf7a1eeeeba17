#include "link/receiver_noise.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace earshot::link {

double loss_before_receiver_db(const Radio& radio) {
    return antenna_loss_db(radio.antenna_gain_dbi) + radio.body_loss_db + radio.feeder_loss_db;
}

NeededLevel needed_level(double sensitivity_dbm, propagation::FmChannel channel,
                         propagation::VoiceQuality quality, double external_db,
                         double antenna_loss_db) {
    const propagation::FmDemands& demands = propagation::fm_demands(channel);
    NeededLevel level;
    level.sensitivity_dbm = sensitivity_dbm;
    level.receiver_noise_db = propagation::receiver_noise_figure_db(sensitivity_dbm, channel);
    level.external_noise_db = external_db;
    const double connector_db = propagation::connector_noise_figure_db(
        level.receiver_noise_db, external_db, antenna_loss_db);
    level.degradation_db = connector_db - level.receiver_noise_db;
    level.quality_db = demands.carrier_to_noise_db(quality) - demands.steady_12db_sinad_db;
    level.needed_dbm = sensitivity_dbm + level.degradation_db + level.quality_db;
    level.noise_floor_dbm = propagation::noise_floor_dbm(connector_db, demands.noise_bandwidth_hz);
    return level;
}

void add_noise(Radio& radio, propagation::FmChannel channel, propagation::VoiceQuality quality,
               std::optional<double> external_db) {
    if (!external_db) {
        const propagation::FmDemands& demands = propagation::fm_demands(channel);
        radio.threshold_dbm +=
            demands.carrier_to_noise_db(quality) -
            demands.carrier_to_noise_db(propagation::VoiceQuality::twelve_db_sinad);
        return;
    }
    radio.needed = needed_level(radio.threshold_dbm, channel, quality, *external_db,
                                loss_before_receiver_db(radio));
    radio.threshold_dbm = radio.needed->needed_dbm;
}

void renew_noise(Radio& radio, double sensitivity_dbm) {
    if (!radio.needed) {
        return;
    }
    NeededLevel& level = *radio.needed;
    const double moved_db = sensitivity_dbm - level.sensitivity_dbm;
    level.receiver_noise_db += moved_db;
    if (level.receiver_noise_db < 0.0) {
        throw_usage(fmt::format("a sensitivity of {:.1f} dBm is better than a receiver can be; "
                                "check the level it needs",
                                sensitivity_dbm));
    }
    level.sensitivity_dbm = sensitivity_dbm;
    const double degradation_db =
        propagation::connector_noise_figure_db(level.receiver_noise_db, level.external_noise_db,
                                               loss_before_receiver_db(radio)) -
        level.receiver_noise_db;
    level.noise_floor_dbm += moved_db + degradation_db - level.degradation_db;
    level.degradation_db = degradation_db;
    level.needed_dbm = sensitivity_dbm + degradation_db + level.quality_db;
    radio.threshold_dbm = level.needed_dbm;
}

void renew_noise(Radio& radio) {
    if (radio.needed) {
        renew_noise(radio, radio.needed->sensitivity_dbm);
    }
}

std::optional<HeldAtFace> hold_at_face(Station& station, double frequency_mhz) {
    constexpr double worth_it_db = 0.5;
    const double face_db = body_loss_db(Carried::at_face, frequency_mhz);
    const double worn_db = station.radio.body_loss_db;
    if (station.antenna_height_m > held_up_to_m || worn_db < face_db + worth_it_db) {
        return std::nullopt;
    }
    HeldAtFace held{worn_db - face_db, std::nullopt};
    for (const Carried carried : {Carried::on_chest, Carried::on_hip}) {
        if (std::abs(body_loss_db(carried, frequency_mhz) - worn_db) < worth_it_db) {
            held.from = carried;
        }
    }
    station.radio.body_loss_db = face_db;
    renew_noise(station.radio);
    return held;
}

} // namespace earshot::link
