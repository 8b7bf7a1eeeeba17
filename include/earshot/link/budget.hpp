#pragma once

#include "earshot/geo/geodesic.hpp"

#include <optional>
#include <string>
#include <vector>

/// Radios, and what of their power arrives.
///
///     link::Radio handheld;
///     handheld.power_dbm = 37.0;
///     handheld.antenna_gain_dbi = -3.0;
///     const link::LinkBudget budget = link::link_budget(handheld, handheld, 140.0);

namespace earshot::link {

/// What goes into the level a receiver needs at its antenna connector, dB and dBm.
struct NeededLevel {
    double sensitivity_dbm = 0.0;   ///< 12 dB SINAD on the bench
    double receiver_noise_db = 0.0; ///< noise figure that follows from it
    double external_noise_db = 0.0; ///< f_a
    double degradation_db = 0.0;    ///< noise at the connector over that on the bench
    double quality_db = 0.0;        ///< the wanted quality over 12 dB SINAD
    double needed_dbm = 0.0;        ///< sensitivity + degradation + quality
    double noise_floor_dbm = 0.0;   ///< at the connector, external noise included
};

/// What a radio and its antenna bring to a path. Losses are positive numbers.
struct Radio {
    double power_dbm = 36.98970004336019; ///< transmitter output (5 W)
    double feeder_loss_db = 0.0;          ///< cable and connectors, both ways
    double antenna_gain_dbi = 0.0;        ///< in the direction of the path, efficiency included
    double body_loss_db = 0.0;            ///< a person beside the antenna, both ways
    /// Level the receiver needs, at its antenna connector, with the noise around it if that was
    /// taken into account.
    double threshold_dbm = -116.0;
    std::optional<NeededLevel> needed; ///< how that came about, with noise
    std::string antenna;               ///< name of the antenna; empty if only its gain is known
    std::string kind;                  ///< what a scenario calls this radio; may be empty
    std::vector<double> powers_dbm;    ///< that it can be set to, as far as is known
    /// What a field correction found this antenna to gain over what is assumed of it.
    double field_correction_db = 0.0;
};

/// A radio at a place.
struct Station {
    std::string name;
    geo::LatLon position;
    double antenna_height_m = 0.0; ///< above ground
    Radio radio;
};

/// One direction of a path, term by term. Received power = power - losses + gains - basic
/// transmission loss + field correction; margin = received - needed.
struct LinkBudget {
    double power_dbm = 0.0;
    double transmit_feeder_loss_db = 0.0;
    double transmit_gain_dbi = 0.0;
    double transmit_body_loss_db = 0.0;
    double basic_loss_db = 0.0;             ///< between isotropic antennas (ITU-R P.341)
    double transmit_woodland_loss_db = 0.0; ///< trees around the transmitter (ITU-R P.833)
    double receive_woodland_loss_db = 0.0;
    double transmit_houses_loss_db = 0.0; ///< houses around it (ITU-R P.2108)
    double receive_houses_loss_db = 0.0;
    double receive_gain_dbi = 0.0;
    double receive_body_loss_db = 0.0;
    double receive_feeder_loss_db = 0.0;
    double field_correction_db = 0.0; ///< of the path and of the antennas at both ends
    double received_dbm = 0.0;
    double needed_dbm = 0.0;
    double margin_db = 0.0;
};

/// A printed line of the budget: `value` adds to the received power with its sign.
struct BudgetLine {
    std::string label;
    double value = 0.0;
    std::string unit;
};

/// Everything in the budget but the path: received power when the basic transmission loss is 0 dB.
/// A map computes its margin from this and one loss per cell.
[[nodiscard]] double received_without_path_dbm(const Radio& transmitter, const Radio& receiver);

[[nodiscard]] LinkBudget link_budget(const Radio& transmitter, const Radio& receiver,
                                     double basic_loss_db, double transmit_woodland_loss_db = 0.0,
                                     double receive_woodland_loss_db = 0.0,
                                     double transmit_houses_loss_db = 0.0,
                                     double receive_houses_loss_db = 0.0,
                                     double field_offset_db = 0.0);

/// The lines of a budget in order. Houses and the field correction have one only if not 0.
[[nodiscard]] std::vector<BudgetLine> budget_lines(const LinkBudget& budget);

} // namespace earshot::link
