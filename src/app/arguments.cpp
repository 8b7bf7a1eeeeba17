#include "arguments.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/terrain/profile.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <filesystem>

namespace earshot::app {

void TerrainArguments::add_to(CLI::App& command) {
    command
        .add_option("--terrain", inputs,
                    "Elevation: a file in any format GDAL reads, several tiles, a VRT, or a folder "
                    "of tiles")
        ->required()
        ->type_name("FILE...");
    command
        .add_option("--height-unit", height_unit,
                    "Unit of the heights in the file, if it does not say or says it wrongly: m, "
                    "ft (international foot) or us-ft (US survey foot)")
        ->type_name("UNIT");
}

terrain::TerrainSource TerrainArguments::open() const {
    terrain::OpenOptions options;
    if (height_unit == "m") {
        options.height_unit_m = 1.0;
    } else if (height_unit == "ft") {
        options.height_unit_m = geo::metres_per_foot;
    } else if (height_unit == "us-ft") {
        options.height_unit_m = 1200.0 / 3937.0;
    } else if (!height_unit.empty()) {
        throw_usage(
            fmt::format("--height-unit '{}' is not known; use m, ft or us-ft", height_unit));
    }
    return terrain::TerrainSource::open({inputs.begin(), inputs.end()}, options);
}

void PropagationArguments::add_to(CLI::App& command) {
    const std::string group = "Prediction";
    command.add_option("--frequency", frequency, "Frequency, for example 146MHz or 446.1MHz")
        ->required()
        ->type_name("FREQ")
        ->group(group);
    std::vector<std::string> names;
    for (const propagation::MethodInfo& info : propagation::methods()) {
        names.push_back(fmt::format("{} ({})", info.name, info.source));
    }
    command
        .add_option("--method", method,
                    fmt::format("How diffraction loss is worked out: {}", fmt::join(names, "; ")))
        ->capture_default_str()
        ->type_name("NAME")
        ->group(group);
    command
        .add_option("--knife-edge", knife_edge,
                    "Loss of one edge: itu (the approximation of ITU-R P.526) or exact (Fresnel "
                    "integrals)")
        ->capture_default_str()
        ->type_name("FORM")
        ->group(group);
    command
        .add_option("--k-factor", k_factor,
                    "Effective earth radius over true radius; 4/3 is the standard atmosphere")
        ->capture_default_str()
        ->type_name("K")
        ->group(group);
}

double parse_k_factor(const std::string& text) {
    const std::size_t slash = text.find('/');
    if (slash == std::string::npos) {
        return geo::parse_number(text, "--k-factor", 0.1, 1e6);
    }
    return geo::parse_number(text.substr(0, slash), "--k-factor", 0.1, 1e6) /
           geo::parse_number(text.substr(slash + 1), "--k-factor", 0.1, 1e6);
}

propagation::PathSettings PropagationArguments::settings() const {
    propagation::PathSettings settings;
    settings.frequency_mhz = geo::parse_frequency_mhz(frequency, "--frequency");
    settings.method = propagation::parse_method(method);
    settings.k_factor = parse_k_factor(k_factor);
    if (knife_edge == "exact") {
        settings.knife_edge = propagation::KnifeEdgeForm::exact;
    } else if (knife_edge != "itu") {
        throw_usage(fmt::format("--knife-edge '{}' is not known; use itu or exact", knife_edge));
    }
    return settings;
}

void RadioArguments::add_to(CLI::App& command, const std::string& prefix, const std::string& whose,
                            const std::string& group, bool transmits) {
    prefix_ = "--" + prefix;
    const auto option = [&](const std::string& name, std::string& value, const std::string& help,
                            const std::string& type) {
        command.add_option(prefix_ + name, value, help)->type_name(type)->group(group);
    };
    option("antenna-height", antenna_height,
           fmt::format("Height of {} antenna above the ground, for example 6ft or 2m", whose),
           "LENGTH");
    if (transmits) {
        option("power", power,
               fmt::format("Power of {} transmitter, for example 5W or 37dBm", whose), "POWER");
    }
    option("gain", gain, fmt::format("Gain of {} antenna, for example 2.15dBi or 0dBd", whose),
           "GAIN");
    option("feeder-loss", feeder_loss,
           fmt::format("Loss of {} cable and connectors, for example 1.5dB", whose), "LOSS");
    option("body-loss", body_loss,
           fmt::format("Loss to the body of the person who holds {} radio, for example 3dB", whose),
           "LOSS");
    option("threshold", threshold,
           fmt::format("Level that {} receiver needs, for example -116dBm or 0.35uV", whose),
           "LEVEL");
}

link::Radio RadioArguments::radio(const link::Radio& fallback) const {
    link::Radio radio = fallback;
    if (!power.empty()) {
        radio.power_dbm = geo::parse_power_dbm(power, prefix_ + "power");
    }
    if (!gain.empty()) {
        radio.antenna_gain_dbi = geo::parse_gain_dbi(gain, prefix_ + "gain");
    }
    if (!feeder_loss.empty()) {
        radio.feeder_loss_db = geo::parse_loss_db(feeder_loss, prefix_ + "feeder-loss");
    }
    if (!body_loss.empty()) {
        radio.body_loss_db = geo::parse_loss_db(body_loss, prefix_ + "body-loss");
    }
    if (!threshold.empty()) {
        radio.threshold_dbm = geo::parse_level_dbm(threshold, prefix_ + "threshold");
    }
    return radio;
}

double RadioArguments::height_m(double fallback_m) const {
    if (antenna_height.empty()) {
        return fallback_m;
    }
    const std::string name = prefix_ + "antenna-height";
    const double height_m = geo::parse_length_m(antenna_height, name);
    if (height_m < 0.0) {
        throw_usage(
            fmt::format("{} '{}' is below the ground; give 0 m or more", name, antenna_height));
    }
    return height_m;
}

double profile_step_m(const std::string& step, const terrain::HeightGrid& ground, geo::LatLon at) {
    if (step.empty()) {
        return terrain::natural_step_m(ground, at);
    }
    const double step_m = geo::parse_length_m(step, "--step");
    if (step_m <= 0.0) {
        throw_usage(fmt::format("--step '{}' must be longer than nothing", step));
    }
    return step_m;
}

void refuse_overwriting_input(const std::string& output, const std::vector<std::string>& inputs) {
    std::error_code ignored;
    for (const std::string& input : inputs) {
        if (std::filesystem::equivalent(output, input, ignored)) {
            throw_usage(
                fmt::format("{} is an input and is never changed; name another output", output));
        }
    }
}

} // namespace earshot::app
