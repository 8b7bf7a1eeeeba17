#include "earshot/link/budget.hpp"
#include "geo/units.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace earshot;
using namespace earshot::link;

namespace {

Radio plain_radio(double watts) {
    Radio radio;
    radio.power_dbm = geo::dbm_from_watts(watts);
    return radio;
}

} // namespace

TEST_CASE("budget: from 2 W to 5 W is 3.98 dB") {
    // 10 log10(5 / 2), by the definition of the decibel.
    const Radio receiver;
    const double weak = link_budget(plain_radio(2.0), receiver, 120.0).margin_db;
    const double strong = link_budget(plain_radio(5.0), receiver, 120.0).margin_db;
    CHECK(strong - weak == Approx(3.9794).margin(1e-4));
}

TEST_CASE("budget: terms by hand") {
    // ITU-R P.341: received = power - losses + gains - basic transmission loss. With 5 W, 36.99
    // dBm: 36.99 - 1 - 4.5 - 3 - 130 + 6 - 0 - 2 = -97.51; against -116: 18.49.
    Radio transmitter = plain_radio(5.0);
    transmitter.feeder_loss_db = 1.0;
    transmitter.antenna_gain_dbi = -4.5;
    transmitter.body_loss_db = 3.0;
    Radio receiver;
    receiver.antenna_gain_dbi = 6.0;
    receiver.feeder_loss_db = 2.0;
    receiver.threshold_dbm = -116.0;
    const LinkBudget budget = link_budget(transmitter, receiver, 130.0);
    CHECK(budget.received_dbm == Approx(-97.51).margin(1e-3));
    CHECK(budget.margin_db == Approx(18.49).margin(1e-3));
    CHECK(received_without_path_dbm(transmitter, receiver) - 130.0 == Approx(budget.received_dbm));
}

TEST_CASE("budget: printed lines add up") {
    Radio transmitter = plain_radio(2.0);
    transmitter.feeder_loss_db = 0.7;
    transmitter.antenna_gain_dbi = -4.5;
    transmitter.body_loss_db = 11.0;
    Radio receiver;
    receiver.antenna_gain_dbi = 1.65;
    receiver.feeder_loss_db = 1.3;
    receiver.body_loss_db = 2.9;
    receiver.threshold_dbm = -117.5;
    const LinkBudget budget = link_budget(transmitter, receiver, 141.2);
    double sum = 0.0;
    bool received = false;
    bool margin = false;
    for (const BudgetLine& line : budget_lines(budget)) {
        if (line.label == "received power") {
            received = true;
            CHECK(line.value == Approx(sum));
            CHECK(line.unit == "dBm");
        } else if (line.label == "margin") {
            margin = true;
            CHECK(line.value == Approx(sum + 117.5));
        } else if (line.label != "needed power") {
            sum += line.value;
        }
    }
    CHECK(received);
    CHECK(margin);
}

TEST_CASE("budget: gain, loss and threshold move the margin one for one") {
    Radio transmitter;
    Radio receiver;
    const double base = link_budget(transmitter, receiver, 120.0).margin_db;
    CHECK(link_budget(transmitter, receiver, 121.0).margin_db == Approx(base - 1.0));
    receiver.threshold_dbm -= 4.0;
    CHECK(link_budget(transmitter, receiver, 120.0).margin_db == Approx(base + 4.0));
    receiver.body_loss_db += 9.0;
    CHECK(link_budget(transmitter, receiver, 120.0).margin_db == Approx(base - 5.0));
}
