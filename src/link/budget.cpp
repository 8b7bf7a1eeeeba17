#include "earshot/link/budget.hpp"

namespace earshot::link {

double received_without_path_dbm(const Radio& transmitter, const Radio& receiver) {
    return transmitter.power_dbm - transmitter.feeder_loss_db + transmitter.antenna_gain_dbi -
           transmitter.body_loss_db + receiver.antenna_gain_dbi - receiver.body_loss_db -
           receiver.feeder_loss_db + transmitter.field_correction_db + receiver.field_correction_db;
}

LinkBudget link_budget(const Radio& transmitter, const Radio& receiver, double basic_loss_db,
                       double transmit_woodland_loss_db, double receive_woodland_loss_db,
                       double transmit_houses_loss_db, double receive_houses_loss_db,
                       double field_offset_db) {
    LinkBudget budget;
    budget.power_dbm = transmitter.power_dbm;
    budget.transmit_feeder_loss_db = transmitter.feeder_loss_db;
    budget.transmit_gain_dbi = transmitter.antenna_gain_dbi;
    budget.transmit_body_loss_db = transmitter.body_loss_db;
    budget.basic_loss_db = basic_loss_db;
    budget.transmit_woodland_loss_db = transmit_woodland_loss_db;
    budget.receive_woodland_loss_db = receive_woodland_loss_db;
    budget.transmit_houses_loss_db = transmit_houses_loss_db;
    budget.receive_houses_loss_db = receive_houses_loss_db;
    budget.receive_gain_dbi = receiver.antenna_gain_dbi;
    budget.receive_body_loss_db = receiver.body_loss_db;
    budget.receive_feeder_loss_db = receiver.feeder_loss_db;
    budget.field_correction_db =
        transmitter.field_correction_db + receiver.field_correction_db + field_offset_db;
    budget.received_dbm = received_without_path_dbm(transmitter, receiver) - basic_loss_db -
                          transmit_woodland_loss_db - receive_woodland_loss_db -
                          transmit_houses_loss_db - receive_houses_loss_db + field_offset_db;
    budget.needed_dbm = receiver.threshold_dbm;
    budget.margin_db = budget.received_dbm - budget.needed_dbm;
    return budget;
}

std::vector<BudgetLine> budget_lines(const LinkBudget& budget) {
    // Minus zero would print as a loss of -0.0.
    const auto minus = [](double loss) { return loss == 0.0 ? 0.0 : -loss; };
    std::vector<BudgetLine> lines = {
        {"transmitter power", budget.power_dbm, "dBm"},
        {"transmit feeder loss", minus(budget.transmit_feeder_loss_db), "dB"},
        {"transmit antenna gain", budget.transmit_gain_dbi, "dBi"},
        {"transmit body loss", minus(budget.transmit_body_loss_db), "dB"},
        {"basic transmission loss", minus(budget.basic_loss_db), "dB"},
        {"woods at transmitter", minus(budget.transmit_woodland_loss_db), "dB"},
        {"woods at receiver", minus(budget.receive_woodland_loss_db), "dB"},
    };
    if (budget.transmit_houses_loss_db != 0.0 || budget.receive_houses_loss_db != 0.0) {
        lines.push_back({"houses at transmitter", minus(budget.transmit_houses_loss_db), "dB"});
        lines.push_back({"houses at receiver", minus(budget.receive_houses_loss_db), "dB"});
    }
    lines.push_back({"receive antenna gain", budget.receive_gain_dbi, "dBi"});
    lines.push_back({"receive body loss", minus(budget.receive_body_loss_db), "dB"});
    lines.push_back({"receive feeder loss", minus(budget.receive_feeder_loss_db), "dB"});
    if (budget.field_correction_db != 0.0) {
        lines.push_back({"field correction", budget.field_correction_db, "dB"});
    }
    lines.push_back({"received power", budget.received_dbm, "dBm"});
    lines.push_back({"needed power", budget.needed_dbm, "dBm"});
    lines.push_back({"margin", budget.margin_db, "dB"});
    return lines;
}

} // namespace earshot::link
