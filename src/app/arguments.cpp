#include "app/arguments.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/profile.hpp"
#include "earshot/terrain/refractivity.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/building_entry.hpp"
#include "propagation/vegetation.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>

namespace earshot::app {

void TerrainArguments::add_to(const Options& options, bool required) {
    const Option terrain = options.add(
        "--terrain", inputs,
        "Elevation: a file in any format GDAL reads, several tiles, a VRT, or a folder of tiles",
        "FILE...");
    if (required) {
        terrain.required();
    }
    options.add("--height-unit", height_unit,
                "Unit of the heights in the file, if it does not say or says it wrongly: m, ft "
                "(international foot) or us-ft (US survey foot)",
                "UNIT");
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

void CoverArguments::add_to(const Options& options) {
    const Options cover = options.under("Ground cover");
    cover.add("--cover", inputs,
              "Ground cover classes: rasters in any format GDAL reads; where they overlap, the "
              "first counts",
              "FILE...");
    cover.add("--cover-table", table,
              "What the classes mean: worldcover (ESA WorldCover), nlcd (National Land Cover "
              "Database, MRLC/USGS) or a CSV file with the columns code, name, clutter, height_m, "
              "woodland",
              "NAME");
    cover.add("--cover-everywhere", everywhere,
              "One kind of cover on all ground: water, open, suburban, urban, dense-urban or "
              "woodland",
              "KIND");
    cover.add("--zones", zones,
              "Radio-climatic zones for method p1812: rasters of 1 sea, 3 coastal land, 4 inland; "
              "left out, all is inland",
              "FILE...");
}

namespace {

std::vector<std::filesystem::path> paths(const std::vector<std::string>& names) {
    return {names.begin(), names.end()};
}

terrain::CoverClass uniform_cover(const std::string& name) {
    try {
        return terrain::cover_kind(name);
    } catch (const Error& error) {
        throw_usage(fmt::format("--cover-everywhere: {}", error.what()));
    }
}

} // namespace

std::vector<std::string> CoverArguments::files_with(std::vector<std::string> elevation) const {
    elevation.insert(elevation.end(), inputs.begin(), inputs.end());
    elevation.insert(elevation.end(), zones.begin(), zones.end());
    return elevation;
}

Layers::Layers(const CoverArguments& arguments, const terrain::HeightGrid& ground, Task& task) {
    if (!arguments.inputs.empty() && !arguments.everywhere.empty()) {
        throw_usage("--cover and --cover-everywhere exclude each other; give one of them");
    }
    const auto load = [&](const std::vector<std::string>& files, const terrain::CoverTable& table) {
        return terrain::GroundCover::load(paths(files), table, ground.georeference, ground.columns,
                                          ground.rows, task);
    };
    if (!arguments.everywhere.empty()) {
        cover_ = terrain::GroundCover::uniform(uniform_cover(arguments.everywhere));
        label_ = fmt::format("{} everywhere", arguments.everywhere);
        if (arguments.everywhere == "dense-urban") {
            notes_.emplace_back(
                "in a dense city streets guide and block waves in ways that are not "
                "predicted");
        }
    } else if (!arguments.inputs.empty()) {
        cover_ = load(arguments.inputs, terrain::CoverTable::named(arguments.table));
        label_ =
            fmt::format("{}; classes of {}", fmt::join(arguments.inputs, ", "), arguments.table);
        if (cover_->unclassified_cells() > 0) {
            notes_.push_back(fmt::format("{} cells have no ground cover class and count as open",
                                         cover_->unclassified_cells()));
        }
    }
    if (!arguments.zones.empty()) {
        zones_ = load(arguments.zones, terrain::zone_table());
    }
}

void PropagationArguments::add_to(const Options& options) {
    const Options prediction = options.under("Prediction");
    prediction.add("--frequency", frequency, "Frequency, for example 146MHz or 446.1MHz", "FREQ");
    std::vector<std::string> names;
    for (const propagation::MethodInfo& info : propagation::methods()) {
        names.push_back(fmt::format("{} ({})", info.name, info.source));
    }
    prediction.add("--method", method,
                   fmt::format("How losses are worked out; leave it out for the whole standard. {}",
                               fmt::join(names, "; ")),
                   "NAME");
    prediction.add("--knife-edge", knife_edge,
                   "Loss of one edge: itu (the approximation of ITU-R P.526) or exact (Fresnel "
                   "integrals)",
                   "FORM");
    prediction.add("--k-factor", k_factor,
                   "Effective earth radius over true radius, for all methods but p1812 and "
                   "irregular-terrain; 4/3 is the standard atmosphere",
                   "K");
    prediction.add("--time", time,
                   "Share of the year for which the loss is not exceeded, 1 to 50 %, for methods "
                   "p1812 and irregular-terrain",
                   "PERCENT");
    prediction.add("--places", places,
                   "Share of places around the receiver at which the loss is not exceeded, 1 to "
                   "99 %, for method p1812; of situations like the path's, for irregular-terrain",
                   "PERCENT");
    prediction.add("--polarization", polarization, "Polarization: vertical or horizontal", "NAME");
    prediction.add("--delta-n", delta_n,
                   "Fall of refractivity through the lowest kilometre, 1 to 150 N-units/km, for "
                   "method p1812; left out, 45",
                   "NUMBER");
    prediction.add("--n0", n0,
                   "Refractivity at sea level, 100 to 600 N-units, for methods p1812 and "
                   "irregular-terrain; left out, 325",
                   "NUMBER");
    prediction.add("--refractivity-maps", refractivity_maps,
                   "Folder with the maps DN50.TXT and N050.TXT of ITU-R P.1812, to take both from",
                   "FOLDER");
    prediction.add("--prediction-deviation", prediction_deviation,
                   "Deviation of predictions from measurements, for the chance of contact; 0dB "
                   "leaves only that of place and time",
                   "LOSS");
    prediction.add("--indoors", indoors,
                   "Receivers stand indoors (ITU-R P.2109), for method p1812: traditional (brick, "
                   "plain glass) or thermally-efficient (metallized glass, foil)",
                   "BUILDING");
    prediction.add("--woodland-fit", woodland_fit,
                   "Measurements behind the loss in woodland (ITU-R P.833): st-petersburg, "
                   "rio-de-janeiro or mulhouse",
                   "NAME");
}

double parse_k_factor(const std::string& text) {
    const std::size_t slash = text.find('/');
    if (slash == std::string::npos) {
        return geo::parse_number(text, "--k-factor", 0.1, 1e6);
    }
    return geo::parse_number(text.substr(0, slash), "--k-factor", 0.1, 1e6) /
           geo::parse_number(text.substr(slash + 1), "--k-factor", 0.1, 1e6);
}

propagation::Conditions PropagationArguments::settings(geo::LatLon at) const {
    if (frequency.empty()) {
        throw_usage("--frequency is missing; give it, for example 146MHz");
    }
    propagation::Conditions settings;
    settings.frequency_mhz = geo::parse_frequency_mhz(frequency, "--frequency");
    settings.method = propagation::parse_method(method);
    settings.k_factor = parse_k_factor(k_factor);
    if (knife_edge == "exact") {
        settings.knife_edge = propagation::KnifeEdgeForm::exact;
    } else if (knife_edge != "itu") {
        throw_usage(fmt::format("--knife-edge '{}' is not known; use itu or exact", knife_edge));
    }
    settings.time_percent = geo::parse_percent(time, "--time", 1.0, 50.0);
    settings.location_percent = geo::parse_percent(places, "--places", 1.0, 99.0);
    if (polarization == "horizontal") {
        settings.polarization = propagation::Polarization::horizontal;
    } else if (polarization != "vertical") {
        throw_usage(fmt::format("--polarization '{}' is not known; use vertical or horizontal",
                                polarization));
    }
    if (!refractivity_maps.empty()) {
        if (!delta_n.empty() || !n0.empty()) {
            throw_usage("--refractivity-maps gives both values; leave out --delta-n and --n0");
        }
        settings.refractivity = terrain::RefractivityMaps::open(refractivity_maps).at(at);
    }
    if (!delta_n.empty()) {
        settings.refractivity.delta_n = geo::parse_number(delta_n, "--delta-n", 1.0, 150.0);
    }
    if (!n0.empty()) {
        settings.refractivity.n0 = geo::parse_number(n0, "--n0", 100.0, 600.0);
    }
    const auto fits = propagation::woodland_fits();
    const auto fit = std::ranges::find(fits, woodland_fit, &propagation::WoodlandFitInfo::name);
    if (fit == fits.end()) {
        throw_usage(fmt::format("--woodland-fit '{}' is not known; use st-petersburg, "
                                "rio-de-janeiro or mulhouse",
                                woodland_fit));
    }
    settings.woodland_fit = fit->fit;
    if (indoors == "traditional" || indoors == "thermally-efficient") {
        settings.building_entry = propagation::building_entry(
            indoors == "traditional" ? propagation::BuildingType::traditional
                                     : propagation::BuildingType::thermally_efficient,
            settings.frequency_mhz);
    } else if (!indoors.empty()) {
        throw_usage(fmt::format("--indoors '{}' is not known; use traditional or "
                                "thermally-efficient",
                                indoors));
    }
    settings.prediction_deviation_db =
        geo::parse_loss_db(prediction_deviation, "--prediction-deviation");
    return settings;
}

void NoiseArguments::add_to(const Options& options) {
    const Options noise = options.under("Noise and quality");
    noise.add("--noise", environment,
              "Man-made noise around the receivers (ITU-R P.372): city, residential, rural or "
              "quiet-rural; left out, only the threshold counts",
              "PLACE");
    noise.add("--channel", channel, "FM channel: wide (25 kHz apart) or narrow (12.5 kHz apart)",
              "NAME");
    noise.add("--quality", quality,
              "Voice quality that margin 0 dB stands for: 12db-sinad (the receiver's threshold), "
              "occasional-repetition, rare-repetition or easily-understood",
              "NAME");
}

void NoiseArguments::apply(link::Radio& radio, double frequency_mhz) const {
    using propagation::VoiceQuality;
    struct Named {
        std::string_view name;
        VoiceQuality quality;
    };
    constexpr std::array qualities{
        Named{"12db-sinad", VoiceQuality::twelve_db_sinad},
        Named{"occasional-repetition", VoiceQuality::occasional_repetition},
        Named{"rare-repetition", VoiceQuality::rare_repetition},
        Named{"easily-understood", VoiceQuality::easily_understood}};
    const auto wanted = std::ranges::find(qualities, quality, &Named::name);
    if (wanted == qualities.end()) {
        throw_usage(fmt::format("--quality '{}' is not known; use 12db-sinad, "
                                "occasional-repetition, rare-repetition or easily-understood",
                                quality));
    }
    if (channel != "wide" && channel != "narrow") {
        throw_usage(fmt::format("--channel '{}' is not known; use wide or narrow", channel));
    }
    const auto spacing =
        channel == "wide" ? propagation::FmChannel::wide : propagation::FmChannel::narrow;
    link::add_noise(radio, spacing, wanted->quality,
                    environment.empty()
                        ? std::nullopt
                        : std::optional(propagation::external_noise_figure_db(
                              propagation::parse_noise_environment(environment), frequency_mhz)));
}

void RadioArguments::add_to(const Options& options, const std::string& prefix,
                            const std::string& whose, const std::string& group, bool transmits) {
    prefix_ = "--" + prefix;
    const auto option = [&](const std::string& name, std::string& value, const std::string& help,
                            const std::string& type) {
        options.under(group).add(prefix_ + name, value, help, type);
    };
    option("antenna-height", antenna_height,
           fmt::format("Height of {} antenna above the ground, for example 6ft or 2m", whose),
           "LENGTH");
    if (transmits) {
        option("power", power,
               fmt::format("Power of {} transmitter, for example 5W or 37dBm", whose), "POWER");
    }
    std::vector<std::string_view> names;
    for (const link::Antenna& known : link::antennas()) {
        names.push_back(known.name);
    }
    option("antenna", antenna,
           fmt::format("Kind of {} antenna, for its usual gain: {}", whose, fmt::join(names, ", ")),
           "NAME");
    option("gain", gain, fmt::format("Gain of {} antenna, for example 2.15dBi or 0dBd", whose),
           "GAIN");
    option("feeder-loss", feeder_loss,
           fmt::format("Loss of {} cable and connectors, for example 1.5dB", whose), "LOSS");
    option("carried", carried,
           fmt::format("Where the person holds {} radio, for the usual loss to the body: clear, "
                       "face, chest or hip",
                       whose),
           "PLACE");
    option("body-loss", body_loss,
           fmt::format("Loss to the body of the person who holds {} radio, for example 3dB", whose),
           "LOSS");
    option("threshold", threshold,
           fmt::format("Level that {} radio needs to hear, for example -116dBm or 0.35uV", whose),
           "LEVEL");
}

link::Radio RadioArguments::radio(const link::Radio& fallback, double frequency_mhz) const {
    if (!antenna.empty() && !gain.empty()) {
        throw_usage(
            fmt::format("{0}antenna and {0}gain exclude each other; give one of them", prefix_));
    }
    if (!carried.empty() && !body_loss.empty()) {
        throw_usage(fmt::format("{0}carried and {0}body-loss exclude each other; give one of them",
                                prefix_));
    }
    link::Radio radio = fallback;
    if (!power.empty()) {
        radio.power_dbm = geo::parse_power_dbm(power, prefix_ + "power");
    }
    if (!antenna.empty()) {
        radio.antenna = antenna;
        radio.antenna_gain_dbi = link::antenna_gain_dbi(antenna, frequency_mhz);
    }
    if (!carried.empty()) {
        radio.body_loss_db = link::body_loss_db(link::parse_carried(carried), frequency_mhz);
    }
    if (!gain.empty()) {
        radio.antenna.clear(); // another than the one it had
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

double profile_step_m(const std::string& step, const terrain::HeightGrid& ground, geo::LatLon at,
                      double length_m) {
    if (step.empty()) {
        return terrain::natural_step_m(ground, at);
    }
    const double step_m = geo::parse_length_m(step, "--step");
    constexpr double most_points = 1e6;
    if (!(step_m * most_points >= length_m)) {
        throw_usage(fmt::format("--step '{}' is too short: a profile of {} would have more than a "
                                "million points",
                                step, geo::format_distance(length_m)));
    }
    return step_m;
}

void check_outputs(const std::vector<std::string>& outputs,
                   const std::vector<std::string>& inputs) {
    std::error_code ignored;
    std::vector<std::filesystem::path> seen;
    for (const std::string& output : outputs) {
        if (output.empty()) {
            continue;
        }
        for (const std::string& input : inputs) {
            if (std::filesystem::equivalent(output, input, ignored)) {
                throw_usage(fmt::format("{} is an input and is never changed; name another output",
                                        output));
            }
        }
        const std::filesystem::path whole = std::filesystem::weakly_canonical(output, ignored);
        if (std::ranges::find(seen, whole) != seen.end()) {
            throw_usage(fmt::format("{} is named for two outputs; give each its own name", output));
        }
        seen.push_back(whole);
        const OutputFile probe{std::filesystem::path(output)};
    }
}

std::string forms_of_values() {
    return "Heights and distances take a unit (6ft, 2m, 3mi, 5km), power W or dBm, gain dBi or dBd."
           "\nPositions: 36.6,-84.2 | \"36 36.0N 84 12.0W\" | \"36 36 00N 84 12 00W\" | \"16S "
           "750461 4054151\" (UTM) | 16SGF5046154151 (MGRS); quote those with spaces.\n";
}

void add_footer(const Options& options, const std::string& example, const std::string& remarks) {
    options.footer(forms_of_values() +
                   "Left out, a radio is a 5 W handheld held at 1.5 m with an antenna of 0 dBi and "
                   "a receiver that needs -116 dBm.\n" +
                   (remarks.empty() ? "" : "\n" + remarks + "\n") + "\nExample:\n  " + example +
                   "\n\n" + report::cautions());
}

void add_threads_option(const Options& options, unsigned& threads) {
    options.add("--threads", threads, "Processors to use", "N").between(1U, 1024U);
}

void add_json_flag(const Options& options, bool& json) {
    options.flag("--json", json, "Print JSON for programs");
}

void add_station_options(const Options& options, std::string& at, std::string& name) {
    options
        .add("--at", at,
             "The station: a position, for example 36.6,-84.2, or a name in the scenario",
             "POSITION")
        .required();
    options.add("--name", name, "Name of the station, if it is given by position", "TEXT");
}

void print_notes(const std::vector<std::string>& notes) {
    fmt::print("{}", report::notes_text(notes));
}

} // namespace earshot::app
