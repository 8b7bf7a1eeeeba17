#include "app/arguments.hpp"
#include "app/briefing_gather.hpp"
#include "app/commands.hpp"
#include "app/terminal_task.hpp"
#include "base/input_file.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pages.hpp"
#include "report/files/browser_page.hpp"
#include "report/files/places_files.hpp"
#include "report/files/styled_map.hpp"
#include "report/say/briefing.hpp"
#include "report/say/json.hpp"
#include "report/say/phrases.hpp"
#include "scenario/places.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <functional>
#include <string_view>

namespace earshot::app {
namespace {

namespace fs = std::filesystem;

/// One file of a briefing.
struct OutputKind {
    std::string_view name; ///< as --only takes it
    std::string_view file;
    std::string_view what;
    std::function<void(const fs::path&, const report::Briefing&, report::Paper)> write;
};

/// A file that is made as text or bytes in memory.
template <typename Make>
auto from_memory(const Make& make) {
    return [make](const fs::path& path, const report::Briefing& briefing, report::Paper) {
        write_text_file(path, make(briefing));
    };
}

const std::vector<OutputKind>& output_kinds() {
    using report::Briefing;
    using report::Paper;
    constexpr int width_px = 2400;
    static const std::vector<OutputKind> kinds{
        {"pdf", "briefing.pdf", "pages to print: map, net, paths, ladder, cards, log sheet",
         [](const fs::path& path, const Briefing& briefing, Paper paper) {
             report::write_briefing_pdf(path, briefing, paper);
         }},
        {"png", "map.png", "the map as a picture",
         [](const fs::path& path, const Briefing& briefing, Paper) {
             report::write_map_picture(path, briefing.map, briefing.ground,
                                       report::map_sheet_of(briefing),
                                       report::page_words_of(briefing), width_px);
         }},
        {"html", "briefing.html", "one page for any browser, without internet",
         [](const fs::path& path, const Briefing& briefing, Paper) {
             report::write_browser_page(path, briefing);
         }},
        {"geojson", "places.geojson", "stations, places and links (RFC 7946)",
         from_memory(report::places_geojson)},
        {"kml", "places.kml", "the same (KML 2.2)", from_memory(report::places_kml)},
        {"kmz", "places.kmz", "the same with the coverage laid over the ground",
         from_memory(report::places_kmz)},
        {"gpx", "places.gpx", "waypoints for receivers and phones (GPX 1.1)",
         from_memory(report::places_gpx)},
        {"tif", "coverage.tif", "the map's numbers (GeoTIFF)",
         [](const fs::path& path, const Briefing& briefing, Paper) {
             report::write_coverage_geotiff(path, briefing.map);
         }},
        {"styled", "coverage-styled.tif", "the map in classes and colours (GeoTIFF)",
         [](const fs::path& path, const Briefing& briefing, Paper) {
             report::write_styled_geotiff(path, briefing.map);
         }},
        {"sld", "coverage.sld", "style sheet for coverage.tif (OGC SLD 1.0)",
         from_memory([](const Briefing&) { return report::margin_style_sheet(); })},
        {"qml", "coverage.qml", "the same for QGIS, which takes it with coverage.tif",
         from_memory([](const Briefing&) { return report::margin_layer_style(); })}};
    return kinds;
}

/// What became of one file.
struct Written {
    const OutputKind* kind;
    std::string path;
    std::uintmax_t bytes = 0;
    double seconds = 0.0;
};

struct BriefCommand {
    Options command; ///< to tell which options are on the command line
    std::string scenario, map, out, places_file, paper = "a4", range, title, date, declination;
    CorrectionArguments correction;
    TerrainArguments terrain;
    GridArguments grid;
    std::vector<std::string> only;
    unsigned threads = default_thread_count();
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] std::vector<const OutputKind*> chosen() const;
    [[nodiscard]] BriefingWishes wishes() const;
    [[nodiscard]] std::string path_of(const OutputKind& kind) const {
        return (fs::path(out) / kind.file).string();
    }
    void check(const std::vector<const OutputKind*>& kinds) const;
    void check_files(const std::vector<const OutputKind*>& kinds) const;
    [[nodiscard]] report::Briefing gather(const std::vector<const OutputKind*>& kinds,
                                          StageClock& clock, Task& task) const;
    void report(const report::Briefing& briefing, const std::vector<Written>& files,
                const StageClock& clock, const std::vector<std::string>& notes) const;
};

/// The folder for the files: made if it is missing, and taken away again if nothing came to be in
/// it in the end.
class OutputFolder {
public:
    explicit OutputFolder(fs::path path) : path_(std::move(path)) {
        std::error_code failure;
        if (fs::is_directory(path_, failure)) {
            return;
        }
        if (!fs::create_directory(path_, failure)) {
            throw_output(fmt::format("cannot make the folder {}: {}", path_.string(),
                                     failure ? failure.message() : "a file has its name"));
        }
        made_ = true;
    }
    ~OutputFolder() {
        if (made_) {
            discard_outputs();
            std::error_code ignored;
            fs::remove(path_, ignored); // only if it is empty
        }
    }
    OutputFolder(const OutputFolder&) = delete;
    OutputFolder& operator=(const OutputFolder&) = delete;

private:
    fs::path path_;
    bool made_ = false;
};

std::vector<const OutputKind*> BriefCommand::chosen() const {
    std::vector<const OutputKind*> kinds = things_named("--only", only, output_kinds());
    if (only.empty()) {
        for (const OutputKind& kind : output_kinds()) {
            if (kind.name != "html" || report::browser_page_available()) {
                kinds.push_back(&kind);
            }
        }
    }
    return kinds;
}

BriefingWishes BriefCommand::wishes() const {
    BriefingWishes wishes;
    if (command.given("--title")) {
        wishes.title = title;
    }
    if (command.given("--date")) {
        wishes.date = date;
    }
    if (!declination.empty()) {
        constexpr double half_turn_deg = 180.0;
        wishes.declination_deg =
            geo::parse_number(declination, "--declination", -half_turn_deg, half_turn_deg);
    }
    if (!range.empty()) {
        wishes.range_m = map_range_m(range);
    }
    wishes.grid = grid;
    if (!places_file.empty()) {
        wishes.places = scenario::read_places(places_file).places;
    }
    return wishes;
}

void BriefCommand::check(const std::vector<const OutputKind*>& kinds) const {
    if (scenario.empty() == map.empty()) {
        throw_usage("give either --scenario, to predict all of it, or --map, a finished map");
    }
    if (!map.empty()) {
        if (terrain.inputs.empty()) {
            throw_usage("--terrain is missing; give the elevation that the map was made with");
        }
        for (const char* option : {"--range", "--grid", "--cell", "--correction"}) {
            if (command.given(option)) {
                throw_usage(fmt::format("{} does nothing with --map: the map is made already; "
                                        "leave it out",
                                        option));
            }
        }
    }
    grid.check();
    if (kinds.empty()) {
        throw_usage("--only names nothing");
    }
}

void BriefCommand::check_files(const std::vector<const OutputKind*>& kinds) const {
    if (!places_file.empty()) {
        note_input(places_file);
    }
    std::vector<std::string> outputs;
    outputs.reserve(kinds.size());
    for (const OutputKind* kind : kinds) {
        outputs.push_back(path_of(*kind));
    }
    check_outputs(outputs);
}

report::Briefing BriefCommand::gather(const std::vector<const OutputKind*>& kinds,
                                      StageClock& clock, Task& task) const {
    const BriefingWishes wishes = this->wishes();
    if (map.empty()) {
        scenario::Scenario net = scenario::read_scenario(scenario);
        geo::set_units(net.units);
        correction.put_into(net);
        terrain.put_into(net.ground);
        const terrain::TerrainSource source = scenario::open_elevation(net.ground);
        net.ground.ground_kind = source.info().ground_kind;
        check_files(kinds);
        return briefing_of(net, source, wishes, clock, task);
    }
    scenario::GroundInputs ground;
    terrain.put_into(ground);
    const terrain::TerrainSource source = scenario::open_elevation(ground);
    note_input(map);
    check_files(kinds);
    return briefing_of(report::read_coverage_geotiff(map), map, source, wishes, clock, task);
}

void BriefCommand::run() const {
    const std::vector<const OutputKind*> kinds = chosen();
    check(kinds);
    const report::Paper sheet = report::parse_paper(paper);
    const OutputFolder folder(out);
    TerminalTask task(threads);
    StageClock clock;
    const report::Briefing briefing = gather(kinds, clock, task);

    // Several at a time; the writers' own news would not know whose turn it is.
    std::vector<Written> files(kinds.size());
    task.begin("writing files", kinds.size());
    clock.begin("files");
    parallel_for(kinds.size(), threads, [&](std::size_t k, unsigned) {
        task.throw_if_stopped();
        StageClock of_file;
        of_file.begin(std::string(kinds[k]->name));
        const std::string path = path_of(*kinds[k]);
        kinds[k]->write(path, briefing, sheet);
        of_file.end();
        files[k] = {kinds[k], path, 0, of_file.stages().front().second};
        task.advance(1);
    });
    clock.end();
    task.throw_if_stopped();
    publish_outputs();
    for (Written& file : files) {
        std::error_code ignored;
        file.bytes = fs::file_size(file.path, ignored);
    }
    task.end();
    std::vector<std::string> notes;
    if (briefing.scenario) {
        notes = report::notes_of(*briefing.scenario);
    }
    notes.insert(notes.end(), briefing.notes.begin(), briefing.notes.end());
    if (only.empty() && !report::browser_page_available()) {
        notes.emplace_back("this build is without the page for a browser, so briefing.html was "
                           "left out");
    }
    report(briefing, files, clock, notes);
}

void BriefCommand::report(const report::Briefing& briefing, const std::vector<Written>& files,
                          const StageClock& clock, const std::vector<std::string>& notes) const {
    auto seconds = report::ordered_json::object();
    double after_the_map = 0.0;
    for (const auto& [stage, took] : clock.stages()) {
        seconds[stage] = took;
        after_the_map += stage == "ground" || stage == "map" ? 0.0 : took;
    }
    seconds["after_the_map"] = after_the_map;
    if (json) {
        const auto file_json = [](const Written& file) -> report::ordered_json {
            return {{"file", file.path},
                    {"kind", file.kind->name},
                    {"what", file.kind->what},
                    {"bytes", file.bytes},
                    {"seconds", file.seconds}};
        };
        fmt::print("{}", report::text_of({{"title", briefing.title},
                                          {"folder", out},
                                          {"files", report::json_list(files, file_json)},
                                          {"stations", briefing.stations.size()},
                                          {"places", briefing.places.size()},
                                          {"seconds", seconds},
                                          {"notes", notes},
                                          {"cautions", report::cautions()}}));
        return;
    }
    fmt::print("{}\n", briefing.title);
    for (const Written& file : files) {
        fmt::print("  {:<{}}  {}\n", file.path, out.size() + 21, file.kind->what);
    }
    fmt::print("{}", report::notes_text(notes));
    fmt::print("Wrote {} file{}, {:.1f} s after the map.\n{}\n", files.size(),
               files.size() == 1 ? "" : "s", after_the_map, report::cautions());
}

void BriefCommand::add_to(const Options& options) {
    command = options;
    options.add("scenario,--scenario", scenario, "The scenario file, to predict all of it",
                "FILE.toml");
    options.add("--map", map, "A finished map instead, made by earshot map", "FILE.tif");
    options.add("--out", out, "Folder for the files; made if it is missing", "FOLDER").required();
    options
        .add("--only", only, "Files to write, all if left out: " + names_of(output_kinds()),
             "KIND,...")
        .separated_by_commas();
    options.add("--paper", paper, "Paper of the pages: a4 or letter", "NAME");
    options.add("--range", range,
                "How far from each station to map; left out, as the scenario says, or 20km",
                "LENGTH");
    grid.add_to(options);
    options.add("--title", title, "Title, in the place of the scenario's", "TEXT");
    options.add("--date", date, "Day of the event, as people are to read it", "TEXT");
    options.add("--declination", declination,
                "Degrees by which a compass points east of true north; west is negative",
                "DEGREES");
    terrain.add_to(options, false);
    correction.add_to(options);
    options.add("--places-file", places_file,
                "Further places to tell of: GeoJSON, GPX waypoints, KML or CSV", "FILE");
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options, "earshot brief --scenario dem-samples/valley-scenario.toml --out briefing");
}

} // namespace

void add_brief_command(Program& program) {
    program.add<BriefCommand>(
        "brief", "Write all that is handed out: pages to print, a page for browsers, map files");
}

} // namespace earshot::app
