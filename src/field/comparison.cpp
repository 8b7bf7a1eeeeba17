#include "field/comparison.hpp"

#include "base/named.hpp"
#include "base/parallel.hpp"
#include "base/require.hpp"
#include "earshot/base/task.hpp"
#include "link/handheld.hpp"
#include "link/receiver_noise.hpp"
#include "scenario/scenario_keys.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <tuple>
#include <utility>

namespace earshot::field {
namespace {

/// Gain of an antenna of the file, else of a usual one; - or blanks in its name do not matter.
double gain_of_antenna_dbi(const scenario::Scenario& scenario, const std::string& name) {
    const std::string wanted = scenario::plain_name(name);
    for (const scenario::OwnAntenna& own : scenario.antennas) {
        if (scenario::plain_name(own.name) == wanted) {
            return own.gain_dbi;
        }
    }
    const auto usual = link::antennas();
    const auto found = std::find_if(usual.begin(), usual.end(), [&](const link::Antenna& antenna) {
        return scenario::plain_name(antenna.name) == wanted;
    });
    return link::antenna_gain_dbi(found == usual.end() ? name : found->name,
                                  scenario.conditions.frequency_mhz);
}

/// A set-up of which only the name is known must be one of the scenario, if that has any: a slip of
/// the pen would be another radio.
void require_known(const scenario::Scenario& scenario, const SetUp& set_up) {
    SetUp nameless;
    nameless.name = set_up.name;
    const std::string wanted = scenario::plain_name(set_up.name);
    if (scenario.set_ups.empty() || set_up != nameless || wanted == "usual" ||
        std::any_of(scenario.set_ups.begin(), scenario.set_ups.end(),
                    [&](const scenario::CarriedRadio& known) {
                        return scenario::plain_name(known.name) == wanted;
                    })) {
        return;
    }
    const std::vector<std::string_view> names = names_of(scenario.set_ups);
    const std::string guess = scenario::did_you_mean(set_up.name, names);
    throw_usage("the scenario has no set-up '{}'{}write in the log what it is: power, antenna",
                scenario::shown(set_up.name),
                guess.empty() ? fmt::format("; name one of {}, or ", fmt::join(names, ", "))
                              : guess + " Or ");
}

/// What a set-up starts from.
scenario::CarriedRadio basis_of(const scenario::Scenario& scenario, const SetUp& set_up) {
    const std::string wanted = scenario::plain_name(set_up.name);
    for (const scenario::CarriedRadio& known : scenario.set_ups) {
        if (scenario::plain_name(known.name) == wanted) {
            return known;
        }
    }
    return {"", scenario.listener, scenario.listener_antenna};
}

scenario::CarriedRadio carried_radio(const scenario::Scenario& scenario, const SetUp& set_up) {
    scenario::CarriedRadio carried = basis_of(scenario, set_up);
    carried.name = set_up.name;
    link::Radio& radio = carried.station.radio;
    radio.power_dbm = set_up.power_dbm.value_or(radio.power_dbm);
    carried.station.antenna_height_m =
        set_up.antenna_height_m.value_or(carried.station.antenna_height_m);
    if (!set_up.antenna.empty()) {
        carried.antenna = set_up.antenna;
        if (!set_up.antenna_gain_dbi) {
            radio.antenna_gain_dbi = gain_of_antenna_dbi(scenario, set_up.antenna);
        }
    }
    radio.antenna_gain_dbi = set_up.antenna_gain_dbi.value_or(radio.antenna_gain_dbi);
    if (!set_up.carried.empty()) {
        radio.body_loss_db = link::body_loss_db(link::parse_carried(set_up.carried),
                                                scenario.conditions.frequency_mhz);
    }
    if (radio.needed) {
        link::renew_noise(radio, radio.needed->sensitivity_dbm);
    }
    radio.antenna = carried.antenna;
    if (scenario.correction) {
        apply(*scenario.correction, radio);
    }
    return carried;
}

/// The station of that name; the first for none.
link::Station base_named(const scenario::Scenario& scenario, const std::string& name) {
    return name.empty() ? scenario.stations.front() : scenario::station_named(scenario, name);
}

struct Predicted {
    link::TwoWayPath path;
    std::string antenna;
    std::string refused; ///< why there is no path; empty if there is one
};

Predicted predict(const ComparisonRequest& request, const FieldCall& call) {
    Predicted result;
    try {
        const std::string& base = call.base.empty() ? request.base : call.base;
        require_known(*request.scenario, call.set_up);
        scenario::CarriedRadio carried = carried_radio(*request.scenario, call.set_up);
        carried.station.name = call.stop;
        carried.station.position = call.position;
        result.path =
            link::two_way_path(request, base_named(*request.scenario, base), carried.station);
        result.antenna = carried.antenna;
    } catch (const Error& error) {
        if (error.fault() == Fault::stopped || error.fault() == Fault::memory) {
            throw;
        }
        result.refused = error.what();
    }
    return result;
}

ComparedCall compared(const FieldCall& call, const Predicted& predicted) {
    const link::TwoWayPath& path = predicted.path;
    const bool to_mover = call.direction == CallDirection::to_mover;
    const link::Direction& way = to_mover ? path.outward : path.backward;
    ComparedCall result;
    static_cast<FieldCall&>(result) = call;
    result.base = path.a.name;
    result.antenna = predicted.antenna;
    result.distance_m = path.line.distance_m;
    result.bearing_deg = path.line.bearing_deg;
    result.line_of_sight = way.loss.sight.clear;
    const terrain::Profile& profile = path.profile;
    result.in_woods = !profile.woodland.empty() && profile.woodland.back() != 0 &&
                      path.b.antenna_height_m < profile.cover_m.back();
    result.mover_power_dbm = path.b.radio.power_dbm;
    result.mover_gain_dbi = path.b.radio.antenna_gain_dbi;
    result.mover_body_db = path.b.radio.body_loss_db;
    result.mover_height_m = path.b.antenna_height_m;
    result.woodland_db = way.loss.rx_woodland_db + way.loss.tx_woodland_db;
    result.basic_loss_db = way.loss.basic_loss_db;
    result.received_dbm = way.budget.received_dbm;
    result.needed_dbm = way.budget.needed_dbm;
    result.margin_db = way.budget.margin_db;
    result.median_margin_db = way.median_margin_db;
    result.deviation_db = way.deviation_db;
    result.prediction_deviation_db = way.prediction_deviation_db;
    result.chance_percent = way.chance_percent;
    result.readability = link::readability(result.margin_db).readability;
    return result;
}

/// What tells one path from another.
auto path_key(const FieldCall& call) {
    const SetUp& s = call.set_up;
    return std::tuple(call.base, call.position.lat_deg, call.position.lon_deg, s.name, s.power_dbm,
                      s.antenna, s.antenna_gain_dbi, s.antenna_height_m, s.carried);
}

} // namespace

SetUp complete_set_up(const scenario::Scenario& scenario, const SetUp& set_up) {
    const scenario::CarriedRadio carried = carried_radio(scenario, set_up);
    SetUp complete = set_up;
    complete.power_dbm = carried.station.radio.power_dbm;
    complete.antenna = carried.antenna;
    if (carried.antenna.empty()) {
        complete.antenna_gain_dbi = carried.station.radio.antenna_gain_dbi;
    }
    complete.antenna_height_m = carried.station.antenna_height_m;
    return complete;
}

Predictions predict_calls(const FieldLog& log, const ComparisonRequest& request, Task& task) {
    require_usage(request.step_m >= 0.0, "a step of {} m between profile points: give 0 m or more",
                  request.step_m);
    std::map<decltype(path_key(log.calls.front())), std::size_t> paths;
    std::vector<std::size_t> first_call; // of each path
    std::vector<std::size_t> path_of_call;
    for (std::size_t k = 0; k < log.calls.size(); ++k) {
        const auto [known, is_new] = paths.emplace(path_key(log.calls[k]), first_call.size());
        if (is_new) {
            first_call.push_back(k);
        }
        path_of_call.push_back(known->second);
    }
    std::vector<Predicted> predicted(first_call.size());
    task.begin("predicting calls", predicted.size());
    parallel_for(predicted.size(), task.threads(), [&](std::size_t k, unsigned /*worker*/) {
        task.throw_if_stopped();
        predicted[k] = predict(request, log.calls[first_call[k]]);
        task.advance(1);
    });
    Predictions result;
    for (std::size_t k = 0; k < log.calls.size(); ++k) {
        const Predicted& path = predicted[path_of_call[k]];
        if (path.refused.empty()) {
            result.calls.push_back(compared(log.calls[k], path));
        } else {
            result.not_predicted.push_back({log.calls[k].line, path.refused});
        }
    }
    require_input(!result.calls.empty(), "{}: not one call can be predicted; the first: {}",
                  log.file.string(),
                  result.not_predicted.empty() ? "there is none"
                                               : result.not_predicted.front().reason);
    return result;
}

plan::Circle circle_of_calls(const scenario::Scenario& scenario, const FieldLog& log,
                             const std::string& base) {
    std::vector<link::Station> all{base_named(scenario, base)};
    for (const FieldCall& call : log.calls) {
        link::Station from = all.front();
        if (!call.base.empty()) {
            const link::Station* known = named(scenario.stations, call.base);
            if (known == nullptr) {
                continue;
            }
            from = *known;
        }
        link::Station mover;
        mover.position = call.position;
        if (geo::geodesic_between(from.position, mover.position).distance_m <= farthest_call_m) {
            all.push_back(std::move(from));
            all.push_back(std::move(mover));
        }
    }
    return plan::circle_around(all);
}

std::vector<double> score_limits_db() {
    std::vector<double> limits;
    for (const link::ReadabilityClass& entry : link::readability_classes().subspan(1)) {
        limits.push_back(entry.least_margin_db);
    }
    return limits;
}

} // namespace earshot::field
