#include "app/arguments.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "report/say/phrases.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <ctime>
#include <filesystem>

namespace earshot::app {

void throw_not_known(std::string_view option, const std::string& text,
                     const std::vector<std::string_view>& known) {
    const std::vector<std::string_view> first(known.begin(), known.end() - 1);
    throw_usage(fmt::format("{} '{}' is not known; use {} or {}", option, text,
                            fmt::join(first, ", "), known.back()));
}

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
    options.add("--ground-kind", ground_kind,
                "What the heights are of, if the file does not say or says it wrongly: bare "
                "(ground) or surface (tree tops and roofs, as seen from above)",
                "KIND");
}

void TerrainArguments::put_into(scenario::GroundInputs& ground) const {
    if (!inputs.empty()) {
        ground.elevation = {inputs.begin(), inputs.end()};
        ground.height_unit_m.reset();
        ground.ground_kind.reset();
        if (!height_unit.empty()) {
            ground.height_unit_m = meaning<double>(
                "--height-unit", height_unit,
                {{"m", 1.0}, {"ft", geo::metres_per_foot}, {"us-ft", 1200.0 / 3937.0}});
        }
    }
    if (!ground_kind.empty()) {
        ground.ground_kind = meaning<terrain::GroundKind>(
            "--ground-kind", ground_kind,
            {{"bare", terrain::GroundKind::bare}, {"surface", terrain::GroundKind::surface}});
    }
}

void CorrectionArguments::add_to(const Options& options) {
    options.add("--correction", file,
                "Field correction that earshot correct wrote, in the place of the scenario's; none "
                "to do without",
                "FILE.toml");
}

void CorrectionArguments::put_into(scenario::Scenario& scenario) const {
    if (!file.empty()) {
        scenario::set_correction(scenario, read());
    }
}

std::optional<scenario::Correction> CorrectionArguments::read() const {
    return file.empty() || file == "none" ? std::nullopt
                                          : std::optional(scenario::read_correction(file));
}

void RadioArguments::add_to(const Options& options, const std::string& prefix,
                            const std::string& whose, const std::string& group) {
    prefix_ = "--" + prefix;
    const std::string kinds =
        fmt::format("Kind of {{}} antenna, for its usual gain: {}", names_of(link::antennas()));
    struct Row {
        std::string name;
        std::string* value;
        std::string help, type;
    };
    for (const Row& row : std::initializer_list<Row>{
             {"antenna-height", &antenna_height,
              "Height of {} antenna above the ground, for example 6ft or 2m", "LENGTH"},
             {"power", &power, "Power of {} transmitter, for example 5W or 37dBm", "POWER"},
             {"antenna", &antenna, kinds, "NAME"},
             {"gain", &gain, "Gain of {} antenna, for example 2.15dBi or 0dBd", "GAIN"},
             {"feeder-loss", &feeder_loss, "Loss of {} cable and connectors, for example 1.5dB",
              "LOSS"},
             {"carried", &carried,
              "Where the person holds {} radio, for the usual loss to the body: clear, face, chest "
              "or hip",
              "PLACE"},
             {"body-loss", &body_loss,
              "Loss to the body of the person who holds {} radio, for example 3dB", "LOSS"},
             {"threshold", &threshold,
              "Level that {} radio needs to hear, for example -116dBm or 0.35uV", "LEVEL"}}) {
        options.under(group).add(prefix_ + row.name, *row.value,
                                 fmt::format(fmt::runtime(row.help), whose), row.type);
    }
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
    if (!power.empty() || !threshold.empty() || !feeder_loss.empty()) {
        radio.kind.clear(); // no longer the one that the scenario knows
    }
    const auto take = [&](const std::string& text, const char* option, auto parse, double& value) {
        if (!text.empty()) {
            value = parse(text, prefix_ + option);
        }
    };
    take(power, "power", geo::parse_power_dbm, radio.power_dbm);
    if (!antenna.empty() || !gain.empty()) {
        radio.antenna = antenna; // empty: another than the one it had
    }
    if (!antenna.empty()) {
        radio.antenna_gain_dbi = link::antenna_gain_dbi(antenna, frequency_mhz);
    }
    if (!carried.empty()) {
        radio.body_loss_db = link::body_loss_db(link::parse_carried(carried), frequency_mhz);
    }
    take(gain, "gain", geo::parse_gain_dbi, radio.antenna_gain_dbi);
    take(feeder_loss, "feeder-loss", geo::parse_loss_db, radio.feeder_loss_db);
    take(body_loss, "body-loss", geo::parse_loss_db, radio.body_loss_db);
    take(threshold, "threshold", geo::parse_level_dbm, radio.threshold_dbm);
    return radio;
}

double RadioArguments::height_m(double fallback_m) const {
    if (antenna_height.empty()) {
        return fallback_m;
    }
    const std::string name = prefix_ + "antenna-height";
    const double height_m = geo::parse_height_m(antenna_height, name);
    if (height_m < 0.0) {
        throw_usage(
            fmt::format("{} '{}' is below the ground; give 0 m or more", name, antenna_height));
    }
    if (height_m > geo::highest_antenna_m) {
        throw_usage(fmt::format("{} '{}' is higher than predictions go; give {:g} m or less", name,
                                antenna_height, geo::highest_antenna_m));
    }
    return height_m;
}

void GridArguments::add_to(const Options& options) {
    options.add("--grid", grid,
                "Cells of the map: terrain (those of the elevation, the default) or utm (squares "
                "in the local UTM zone)",
                "NAME");
    options.add("--cell", cell, "Side of a cell with --grid utm, for example 30m", "LENGTH");
}

void GridArguments::check() const {
    if (!grid.empty()) {
        (void)meaning<bool>("--grid", grid, {{"terrain", false}, {"utm", true}});
    }
    if (!utm() && !cell.empty()) {
        throw_usage("--cell goes with --grid utm; on the terrain's own grid the cells are those of "
                    "the elevation");
    }
}

coverage::GridChoice GridArguments::choice(double range_m) const {
    coverage::GridChoice choice{utm(), 0.0};
    if (choice.utm && !cell.empty()) {
        choice.cell_m = geo::parse_length_m(cell, "--cell");
        if (!(choice.cell_m > 0.0)) {
            throw_usage(fmt::format("--cell '{}' must be longer than nothing", cell));
        }
        if (choice.cell_m > range_m) {
            throw_usage(
                fmt::format("--cell '{}' is larger than the range of {}; choose smaller cells",
                            cell, geo::format_distance(range_m)));
        }
    }
    return choice;
}

double map_range_m(const std::string& text) {
    const double range_m = geo::parse_length_m(text, "--range");
    if (range_m <= 0.0 || range_m > 1e6) {
        throw_usage(
            fmt::format("--range '{}' must be more than nothing and at most 1000 km", text));
    }
    return range_m;
}

std::vector<coverage::BandKind> parse_bands(const std::vector<std::string>& names,
                                            bool several_stations) {
    const auto kinds = coverage::band_kinds();
    std::vector<coverage::BandKind> bands;
    for (const coverage::BandInfo* info : things_named("--bands", names, kinds)) {
        if (several_stations && !info->for_several) {
            std::vector<coverage::BandInfo> others(kinds.begin(), kinds.end());
            std::erase_if(others, [](const auto& other) { return !other.for_several; });
            throw_usage(fmt::format("--bands '{}' is for one station; with several choose from {}",
                                    info->name, names_of(others)));
        }
        if (!several_stations && !info->for_one) {
            throw_usage(fmt::format(
                "--bands '{}' is for several stations; give --at more than once", info->name));
        }
        bands.push_back(info->kind);
    }
    return bands;
}

void put_metadata(coverage::CoverageRaster& map,
                  std::vector<std::pair<std::string, std::string>> metadata) {
    map.metadata = {
        {"PROGRAM", "earshot " EARSHOT_VERSION},
        {"CREATED", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))}};
    map.metadata.insert(map.metadata.end(), metadata.begin(), metadata.end());
    map.metadata.emplace_back("CAUTION", report::cautions());
}

void check_outputs(const std::vector<std::string>& outputs) {
    std::error_code ignored;
    std::vector<std::filesystem::path> seen;
    for (const std::string& output : outputs) {
        if (output.empty()) {
            continue;
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
    options.footer(
        forms_of_values() +
        "Left out, a radio is a 5 W handheld held at the face, 1.5 m up, with the stock "
        "antenna of its band and a receiver of 0.2 uV, in the noise of the countryside.\n" +
        (remarks.empty() ? "" : "\n" + remarks + "\n") + "\nExample:\n  " + example + "\n\n" +
        report::cautions());
}

void add_threads_option(const Options& options, unsigned& threads) {
    options.add("--threads", threads, "Processors to use", "N").between(1U, 1024U);
}

void add_json_flag(const Options& options, bool& json) {
    options.flag("--json", json, "Print JSON for programs");
}

void print_answer(const std::string& text, const std::vector<std::string>& notes,
                  const std::string& table) {
    fmt::print("{}{}{}{}\n", text, report::notes_text(notes),
               table.empty() ? "" : fmt::format("Wrote {}.\n", table), report::cautions());
}

} // namespace earshot::app
