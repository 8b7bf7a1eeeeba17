#include "app/field_arguments.hpp"

#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <sstream>

namespace earshot::app {
namespace {

/// Name of a base that is given by position.
constexpr std::string_view base_label = "base";

bool is_number_with_unit(std::string_view word) {
    const char first = word.front();
    return (first >= '0' && first <= '9') || first == '-' || first == '+' || first == '.';
}

void take_word(field::SetUp& set_up, const std::string& word) {
    constexpr std::array carried{"clear", "face", "chest", "hip"};
    if (std::ranges::find(carried, word) != carried.end()) {
        set_up.carried = word;
    } else if (!is_number_with_unit(word)) {
        if (!set_up.antenna.empty()) {
            throw_usage(fmt::format("'{}' and '{}' are two antennas", set_up.antenna, word));
        }
        set_up.antenna = word;
    } else if (word.ends_with("dBi") || word.ends_with("dBd")) {
        set_up.antenna_gain_dbi = geo::parse_gain_dbi(word, "the antenna gain");
    } else if (word.ends_with('W') || word.ends_with("dBm")) {
        set_up.power_dbm = geo::parse_power_dbm(word, "the power");
    } else {
        set_up.antenna_height_m = geo::parse_length_m(word, "the antenna height");
        if (*set_up.antenna_height_m < 0.0) {
            throw_usage(fmt::format("an antenna height of {} is below the ground", word));
        }
    }
}

} // namespace

FieldArguments::FieldArguments() : threads(default_thread_count()) {}

void FieldArguments::add_to(const Options& options) {
    options.add("--base", base,
                "The station that stays: a name in the scenario, or a position; left out, the "
                "scenario's first station",
                "POSITION");
    shared.add_to(options);
    at_base.add_to(options, "base-", "the base's", "Radio of the base, where it differs", true);
    mover.add_to(options, "", "the mover's",
                 "Radio of the mover, where set-ups leave something open", true);
    add_threads_option(options, threads);
}

FieldInputs::FieldInputs(const FieldArguments& arguments)
    : arguments_(arguments), shared_(arguments.shared) {
    if (!shared_.scenario() && arguments_.base.empty()) {
        throw_usage("--base is missing; give the position of the station that stays, or a "
                    "--scenario");
    }
    if (shared_.scenario()) {
        scenario_ = *shared_.scenario();
    }
    link::Station base = arguments_.base.empty()
                             ? scenario_.stations.front()
                             : shared_.station("--base", arguments_.base, std::string(base_label));
    scenario_.conditions = shared_.settings(base.position);
    scenario_.correction = shared_.correction().get();
    const double frequency_mhz = scenario_.conditions.frequency_mhz;
    shared_.equip(base, arguments_.at_base, frequency_mhz);
    scenario_.listener = shared_.listener();
    shared_.equip(scenario_.listener, arguments_.mover, frequency_mhz);
    base_name_ = base.name;
    const auto known = std::ranges::find(scenario_.stations, base.name, &link::Station::name);
    if (known == scenario_.stations.end()) {
        scenario_.stations.push_back(std::move(base));
    } else {
        *known = std::move(base);
    }
}

const link::Station& FieldInputs::base() const {
    return *std::ranges::find(scenario_.stations, base_name_, &link::Station::name);
}

field::ComparisonRequest FieldInputs::request(const terrain::HeightGrid& ground,
                                              const LayersOver& layers, double length_m) const {
    field::ComparisonRequest request;
    request.scenario = &scenario_;
    request.base = base_name_;
    request.conditions = scenario_.conditions;
    shared_.lay(request, ground, layers, base().position, length_m);
    return request;
}

field::SetUp parse_set_up(const scenario::Scenario& scenario, const std::string& text) {
    field::SetUp set_up;
    set_up.name = text;
    const bool known = std::ranges::find(scenario.set_ups, text, &scenario::CarriedRadio::name) !=
                       scenario.set_ups.end();
    try {
        if (!known) {
            std::istringstream words(text);
            for (std::string word; words >> word;) {
                take_word(set_up, word);
            }
        }
        return field::complete_set_up(scenario, set_up);
    } catch (const Error& error) {
        throw_usage(fmt::format("--set-up '{}': {}; write for example \"5W half-wave 3m\"", text,
                                error.what()));
    }
}

} // namespace earshot::app
