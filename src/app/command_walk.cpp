#include "app/commands.hpp"
#include "app/shared_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/named.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/coverage/coverage.hpp"
#include "field/comparison.hpp"
#include "field/correction_fit.hpp"
#include "field/field_log.hpp"
#include "field/verification.hpp"
#include "field/walk_test.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pages.hpp"
#include "report/draw/pdf_document.hpp"
#include "report/files/places_files.hpp"
#include "report/say/comparison_report.hpp"
#include "report/say/field_words.hpp"
#include "report/say/phrases.hpp"
#include "scenario/scenario.hpp"
#include "scenario/scenario_keys.hpp"
#include "terrain/shapes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <ctime>
#include <filesystem>
#include <map>
#include <sstream>
#include <string>

/// The commands about walk tests.

namespace earshot::app {
namespace {

/// Who stays, who moves and over what ground.
struct FieldArguments {
    SharedArguments shared;
    RadioArguments at_base, mover;
    std::string base;
    unsigned threads = default_thread_count();

    void add_to(const Options& options);
};

/// What the options and the scenario come to.
class FieldInputs {
public:
    /// `arguments` must outlive this. Without a scenario --base must be a position.
    explicit FieldInputs(const FieldArguments& arguments);

    [[nodiscard]] const SharedInputs& shared() const { return shared_; }
    /// The scenario, or one made of the options; its listener is the mover, and the base is one of
    /// its stations.
    [[nodiscard]] const scenario::Scenario& scenario() const { return scenario_; }
    [[nodiscard]] const link::Station& base() const {
        return *named(scenario_.stations, base_name_);
    }
    /// All that predicting calls takes; refers to this and to `ground`.
    [[nodiscard]] field::ComparisonRequest request(const GroundRead& ground, double length_m) const;

private:
    SharedInputs shared_;
    scenario::Scenario scenario_;
    std::string base_name_;
};

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

void FieldArguments::add_to(const Options& options) {
    options.add("--base", base,
                "The station that stays: a name in the scenario, or a position; left out, the "
                "scenario's first station",
                "POSITION");
    shared.add_to(options);
    at_base.add_to(options, "base-", "the base's", "Radio of the base, where it differs");
    mover.add_to(options, "", "the mover's",
                 "Radio of the mover, where set-ups leave something open");
    add_threads_option(options, threads);
}

FieldInputs::FieldInputs(const FieldArguments& arguments) : shared_(arguments.shared) {
    if (!shared_.scenario() && arguments.base.empty()) {
        throw_usage("--base is missing; give the position of the station that stays, or a "
                    "--scenario");
    }
    if (shared_.scenario()) {
        scenario_ = *shared_.scenario();
    }
    link::Station base = arguments.base.empty() ? scenario_.stations.front()
                                                : shared_.station("--base", arguments.base, "base");
    scenario_.conditions = shared_.settings(base.position);
    scenario_.correction = shared_.correction();
    const double frequency_mhz = scenario_.conditions.frequency_mhz;
    shared_.equip(base, arguments.at_base, frequency_mhz);
    scenario_.listener = shared_.listener();
    shared_.equip(scenario_.listener, arguments.mover, frequency_mhz);
    base_name_ = base.name;
    const auto known = std::ranges::find(scenario_.stations, base.name, &link::Station::name);
    if (known == scenario_.stations.end()) {
        scenario_.stations.push_back(std::move(base));
    } else {
        *known = std::move(base);
    }
}

field::ComparisonRequest FieldInputs::request(const GroundRead& ground, double length_m) const {
    field::ComparisonRequest request;
    request.scenario = &scenario_;
    request.base = base_name_;
    request.conditions = scenario_.conditions;
    ground.lay(request, length_m);
    return request;
}

/// A set-up as an option takes it: the name of one of the scenario, or words for power, antenna,
/// its height and where it is carried, "5W half-wave 3m face". Throws Error(Fault::usage).
field::SetUp parse_set_up(const scenario::Scenario& scenario, const std::string& text) {
    field::SetUp set_up;
    set_up.name = text;
    try {
        if (named(scenario.set_ups, text) == nullptr) {
            std::istringstream words(text);
            for (std::string word; words >> word;) {
                take_word(set_up, word);
            }
        }
        return field::complete_set_up(scenario, set_up);
    } catch (const Error& error) {
        const std::string guess = scenario::did_you_mean(text, earshot::names_of(scenario.set_ups));
        throw_usage(fmt::format("--set-up '{}': {}{}", text, error.what(),
                                guess.empty() ? "; write for example \"5W half-wave 3m\"" : guess));
    }
}

struct WalkCommand {
    FieldArguments field;
    std::string track, bearing, from, length = "3km", every = "50m", apart;
    std::string choose = "useful", direction = "both", title, output, sheet, paper = "a4";
    std::vector<std::string> set_ups;
    std::size_t stops = 10;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] std::vector<field::WayPoint> way(const FieldInputs& inputs) const;
    [[nodiscard]] field::WalkRequest request(const FieldInputs& inputs) const;
    void write_sheet(const field::WalkPlan& plan, const terrain::HeightGrid& ground) const;
};

std::vector<field::WayPoint> WalkCommand::way(const FieldInputs& inputs) const {
    if (track.empty() == bearing.empty()) {
        throw_usage("give either --track, a line to walk along, or --bearing, a direction to walk "
                    "in");
    }
    const double spacing_m = geo::parse_length_m(every, "--every");
    if (!track.empty()) {
        return field::points_along(terrain::read_shapes(track).lines, spacing_m);
    }
    constexpr double full_turn_deg = 360.0;
    const geo::LatLon start = from.empty()
                                  ? inputs.base().position
                                  : inputs.shared().station("--from", from, "start").position;
    return field::points_toward(start, geo::parse_number(bearing, "--bearing", 0.0, full_turn_deg),
                                geo::parse_length_m(length, "--length"), spacing_m);
}

field::WalkRequest WalkCommand::request(const FieldInputs& inputs) const {
    field::WalkRequest request;
    request.title = title.empty() ? fmt::format("Walk test with {}", inputs.base().name) : title;
    request.choice = field::parse_stop_choice(choose);
    using enum field::CallDirection;
    request.directions = meaning<std::vector<field::CallDirection>>(
        "--direction", direction,
        {{"both", {from_mover, to_mover}}, {"from-mover", {from_mover}}, {"to-mover", {to_mover}}});
    request.stops = stops;
    for (const std::string& text : set_ups) {
        request.set_ups.push_back(parse_set_up(inputs.scenario(), text));
    }
    if (set_ups.empty()) {
        for (const scenario::CarriedRadio& known : inputs.scenario().set_ups) {
            request.set_ups.push_back(parse_set_up(inputs.scenario(), known.name));
        }
    }
    if (request.set_ups.empty()) {
        field::SetUp usual;
        usual.name = "usual";
        request.set_ups.push_back(usual);
    }
    request.way = way(inputs);
    // Left out: half of what stops at even distances would have between them.
    request.apart_m = apart.empty() ? 0.5 * request.way.back().along_m / static_cast<double>(stops)
                                    : geo::parse_length_m(apart, "--apart");
    return request;
}

void WalkCommand::write_sheet(const field::WalkPlan& plan,
                              const terrain::HeightGrid& ground) const {
    const report::Paper on = report::parse_paper(paper);
    const report::Box area = report::printed_area(on, report::Orientation::upright);
    report::PdfDocument document({plan.title, "", ""});
    const std::vector<report::PageDrawing> pages = report::log_sheet_pages(area, plan, &ground);
    for (std::size_t k = 0; k < pages.size(); ++k) {
        report::PageWords words;
        words.right = fmt::format("{:g} MHz", plan.frequency_mhz);
        words.foot = report::cautions();
        words.page = fmt::format("page {} of {}", k + 1, pages.size());
        pages[k](document.add_page(on, report::Orientation::upright, plan.title), words);
    }
    document.write(sheet);
}

void WalkCommand::run() const {
    if (!sheet.empty() && !sheet.ends_with(".pdf")) {
        throw_usage(fmt::format("--sheet '{}' must end in .pdf", sheet));
    }
    (void)report::parse_paper(paper);
    const FieldInputs inputs(field);
    field::WalkRequest request = this->request(inputs);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open({output, sheet}, {track});
    field::FieldLog points;
    std::vector<geo::LatLon> ends;
    for (const field::WayPoint& point : request.way) {
        points.calls.emplace_back().position = point.position;
        ends.push_back(point.position);
    }
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), points, inputs.base().name);
    const GroundRead ground(inputs.shared(), source, circle, task);
    request.prediction = inputs.request(ground, 2.0 * circle.radius_m);
    field::WalkPlan plan = field::plan_walk(request, task);
    task.end();
    const std::vector<std::string> notes = ground.notes(std::move(ends));
    plan.notes.insert(plan.notes.begin(), notes.begin(), notes.end());
    if (!sheet.empty()) {
        write_sheet(plan, ground.heights());
    }
    if (report::is_points_file(output)) {
        std::vector<report::NamedPoint> points;
        for (const field::PlannedStop& stop : plan.stops) {
            points.push_back({stop.name, "", stop.position});
        }
        write_text_file(output, report::points_file(output, points));
    } else {
        write_text_file(output, field::log_csv(plan));
    }
    if (json) {
        fmt::print("{}", report::walk_json(plan));
        return;
    }
    fmt::print("{}Wrote {}: {}.\n", report::walk_text(plan), output,
               report::is_points_file(output)
                   ? "where to stop; a log to fill in is written to a name that ends in .csv"
                   : "the log to fill in, one row for each call");
    if (!sheet.empty()) {
        fmt::print("Wrote {}: sheets to take along.\n", sheet);
    }
    fmt::print("{}\n", report::cautions());
}

void WalkCommand::add_to(const Options& options) {
    options
        .add("--out", output,
             "The log to fill in, or where to stop, for a phone or a map: GPX, KML or GeoJSON",
             "FILE.csv|FILE.gpx|FILE.kml|FILE.geojson")
        .required();
    options.add("--sheet", sheet, "Sheets to print and fill in with a pencil", "FILE.pdf");
    options.add("--paper", paper, "Paper of the sheets: a4 or letter", "NAME");
    options.add("--track", track, "Walk along the lines of this GPX, GeoJSON or KML file", "FILE");
    options.add("--bearing", bearing, "Walk in this direction, degrees from true north", "DEGREES");
    options.add("--from", from,
                "Where a walk by bearing starts: a name in the scenario or a position; left out, "
                "at the base",
                "POSITION");
    options.add("--length", length, "How far a walk by bearing goes", "LENGTH");
    options.add("--every", every, "How close the points are that stops are chosen from", "LENGTH");
    options.add("--stops", stops, "How many stops to make", "N")
        .between(std::size_t{1}, std::size_t{1000});
    options.add("--apart", apart,
                "No two stops nearer to each other than this; left out, half of what even stops "
                "would have between them",
                "LENGTH");
    options.add("--choose", choose,
                "How stops are chosen: useful (scores there tell most about how far predictions "
                "are off in the open, in woods and with distance), uncertain (the score is most in "
                "doubt) or even",
                "NAME");
    options
        .add("--set-up", set_ups,
             "A set-up to try at every stop: a name in the scenario, or words such as \"5W "
             "half-wave 3m\"; may be given several times. Left out, all of the scenario's "
             "[[set_ups]]",
             "TEXT")
        .one_each();
    options.add("--direction", direction, "Who speaks: both in turn, from-mover or to-mover only",
                "NAME");
    options.add("--title", title, "Title of the plan", "TEXT");
    field.add_to(options);
    add_json_flag(options, json);
    add_footer(options,
               "earshot walk --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --base 36.60,-84.20 --bearing 60 --length 6km --set-up \"2W stock\" \\\n"
               "    --set-up \"5W stock\" --set-up \"5W half-wave\" --out log.csv",
               "Fill in the scores, 0 nothing heard to 5 clear, then see earshot compare.");
}

struct CompareCommand {
    FieldArguments field;
    std::string log, margin, csv, geojson, scatter, map;
    bool every_call = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    void draw_map(const FieldInputs& inputs, const GroundRead& ground,
                  const report::FieldComparison& comparison, Task& task) const;
};

std::string described(const FieldInputs& inputs) {
    const propagation::Conditions& settings = inputs.scenario().conditions;
    const std::string correction = inputs.shared().correction_words();
    return fmt::format("{:g} MHz, method {}{}", settings.frequency_mhz,
                       propagation::method_info(settings.method).name,
                       correction.empty() ? "" : ", " + correction);
}

double farthest_m(const field::Predictions& predictions) {
    return std::ranges::max_element(predictions.calls, {}, &field::ComparedCall::distance_m)
        ->distance_m;
}

/// Where each stop is and how many of its calls were heard.
std::vector<report::MapMark> marks_of(const report::FieldComparison& comparison) {
    struct Stop {
        geo::LatLon position;
        std::size_t heard = 0;
        std::size_t calls = 0;
    };
    std::map<std::string, Stop> stops;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        Stop& stop = stops[call.stop];
        stop.position = call.position;
        ++stop.calls;
        stop.heard += field::heard(call, comparison.verification.wanted_margin_db) ? 1U : 0U;
    }
    std::vector<report::MapMark> marks;
    marks.reserve(stops.size() + 1);
    for (const auto& [name, stop] : stops) {
        marks.push_back({stop.position,
                         fmt::format("{}: {} of {} heard", name, stop.heard, stop.calls), false});
    }
    return marks;
}

/// How far beyond the farthest call a map goes.
constexpr double beyond = 1.15;

void CompareCommand::draw_map(const FieldInputs& inputs, const GroundRead& ground,
                              const report::FieldComparison& comparison, Task& task) const {
    const scenario::Scenario& scenario = inputs.scenario();
    coverage::Job job;
    job.stations = {inputs.base()};
    job.receiver = scenario.listener.radio;
    job.receiver_height_m = scenario.listener.antenna_height_m;
    job.conditions = scenario.conditions;
    job.range_m = beyond * farthest_m(comparison.predictions);
    ground.lay(job, job.range_m);
    const coverage::CoverageRaster raster = coverage::run(job, task).raster;
    report::MapSheet picture;
    picture.title =
        fmt::format("{}Where {} was heard and is predicted to be",
                    comparison.log.invented ? "INVENTED LOG: " : "", inputs.base().name);
    picture.subtitle =
        fmt::format("{}; calls heard at score {} or more at each stop; colours are "
                    "predicted for the listener",
                    described(inputs), static_cast<int>(comparison.verification.wanted));
    picture.marks = marks_of(comparison);
    picture.marks.push_back({inputs.base().position, inputs.base().name, true});
    picture.facts = report::map_facts(raster);
    report::write_map_picture(map, raster, ground.heights(), picture);
}

void CompareCommand::run() const {
    if (!map.empty() && !map.ends_with(".png")) {
        throw_usage(fmt::format("--map '{}' must end in .png", map));
    }
    if (!scatter.empty() && !scatter.ends_with(".png") && !scatter.ends_with(".pdf")) {
        throw_usage(fmt::format("--scatter '{}' must end in .png or .pdf", scatter));
    }
    const FieldInputs inputs(field);
    report::FieldComparison comparison;
    comparison.log = field::read_field_log(log);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open({csv, geojson, scatter, map}, {log});
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), comparison.log, inputs.base().name);
    // A map is drawn around the base, as far as the farthest call.
    const double reach_m =
        map.empty()
            ? circle.radius_m
            : circle.radius_m +
                  beyond * geo::geodesic_between(circle.centre, inputs.base().position).distance_m +
                  beyond * circle.radius_m;
    const GroundRead ground(inputs.shared(), source, {circle.centre, reach_m}, task);
    comparison.predictions =
        field::predict_calls(comparison.log, inputs.request(ground, 2.0 * circle.radius_m), task);
    comparison.verification = field::verify(comparison.predictions.calls,
                                            inputs.shared().wanted_margin_db("--margin", margin));
    std::vector<geo::LatLon> ends;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        ends.push_back(call.position);
    }
    comparison.notes = ground.notes(std::move(ends));
    inputs.shared().write_table(csv, report::comparison_csv(comparison));
    if (!geojson.empty()) {
        write_text_file(geojson, report::comparison_geojson(comparison));
    }
    if (!scatter.empty()) {
        report::PageWords words;
        words.right = described(inputs);
        words.foot = report::cautions();
        report::write_scatter_picture(
            scatter, words, fmt::format("Heard and predicted: {}", inputs.base().name), comparison);
    }
    if (!map.empty()) {
        draw_map(inputs, ground, comparison, task);
    }
    task.end();
    fmt::print("{}", json ? report::comparison_json(comparison)
                          : report::comparison_text(comparison, every_call));
}

void CompareCommand::add_to(const Options& options) {
    options.add("--log", log, "The log: CSV as earshot walk writes it, or GPX waypoints", "FILE")
        .required();
    field.add_to(options);
    options.add("--margin", margin, "Margin that counts as heard; left out, the scenario's, or 0dB",
                "DB");
    options.flag("--calls", every_call, "Print every call beside its prediction");
    options.add("--csv", csv, "Write every call beside its prediction", "FILE.csv");
    options.add("--geojson", geojson, "Write the stops with what was heard there", "FILE.geojson");
    options.add("--scatter", scatter, "Draw scores over predicted margins", "FILE.png|FILE.pdf");
    options.add("--map", map, "Draw the stops on a map of what is predicted", "FILE.png");
    add_json_flag(options, json);
    add_footer(options, "earshot compare --scenario net.toml --log log.csv --scatter scatter.pdf",
               "The radios of the mover are those of the log's set-ups; what they leave open is "
               "that of the scenario's listener.");
}

struct CorrectCommand {
    FieldArguments field;
    std::string log, output, date, errors = "normal", reading_deviation = "3dB";
    bool free_limits = false;
    bool even_if_worse = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] field::CorrectionRequest request() const;
};

field::CorrectionRequest CorrectCommand::request() const {
    field::CorrectionRequest request;
    using enum maths::ErrorShape;
    request.shape = meaning<maths::ErrorShape>("--errors", errors,
                                               {{"normal", normal}, {"logistic", logistic}});
    request.free_limits = free_limits;
    request.reading_deviation_db = geo::parse_loss_db(reading_deviation, "--reading-deviation");
    if (request.reading_deviation_db < 0.0) {
        throw_usage("--reading-deviation must be 0 dB or more");
    }
    return request;
}

/// The day of the first call that has one.
std::string date_of(const field::FieldLog& log) {
    constexpr std::size_t length = 10; // 2026-05-14
    for (const field::FieldCall& call : log.calls) {
        if (call.time.size() >= length && call.time[4] == '-') {
            return call.time.substr(0, length);
        }
    }
    return {};
}

scenario::CorrectionSource source_of(const field::FieldLog& log,
                                     const field::Predictions& predictions,
                                     const scenario::Scenario& scenario) {
    scenario::CorrectionSource source;
    source.log = log.file.filename().string();
    source.invented = log.invented;
    source.frequency_mhz = scenario.conditions.frequency_mhz;
    source.method = scenario.conditions.method;
    std::vector<link::Station> stops;
    std::vector<geo::LatLon> places;
    for (const field::ComparedCall& call : predictions.calls) {
        stops.emplace_back().position = call.position;
        places.push_back(scenario::station_named(scenario, call.base).position);
        places.push_back(call.position);
    }
    scenario::Thinned thinned = scenario::thinned(places);
    source.places = std::move(thinned.places);
    source.spread_km = thinned.spread_km;
    const plan::Circle circle = plan::circle_around(stops);
    source.centre = circle.centre;
    source.radius_km = circle.radius_m / 1000.0;
    return source;
}

/// Refuses what is no day of the calendar, written as in 2026-05-14.
void check_date(const std::string& date) {
    std::tm day{};
    const char* const end = strptime(date.c_str(), "%Y-%m-%d", &day);
    const std::chrono::year_month_day known{
        std::chrono::year(day.tm_year + 1900),
        std::chrono::month(static_cast<unsigned>(day.tm_mon) + 1),
        std::chrono::day(static_cast<unsigned>(day.tm_mday))};
    if (end == nullptr || *end != '\0' || !known.ok()) {
        throw_usage(fmt::format("--date '{}' is no day; write it as 2026-05-14", date));
    }
}

void CorrectCommand::run() const {
    if (!date.empty()) {
        check_date(date);
    }
    field::CorrectionRequest request = this->request();
    const FieldInputs inputs(field);
    const field::FieldLog calls = field::read_field_log(log);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open({output}, {log});
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), calls, inputs.base().name);
    const GroundRead ground(inputs.shared(), source, circle, task);
    const field::ComparisonRequest comparison = inputs.request(ground, 2.0 * circle.radius_m);
    const field::Predictions predictions = field::predict_calls(calls, comparison, task);
    task.end();

    request.standard_deviation_db =
        comparison.conditions.prediction_deviation_db.value_or(request.standard_deviation_db);
    field::CorrectionFit fit =
        field::fit_correction(field::measured_calls(inputs.scenario(), predictions.calls), request);
    scenario::CorrectionSource& from = fit.correction.source;
    from = source_of(calls, predictions, inputs.scenario());
    from.ground = ground.facts();
    from.date = !date.empty() ? date : date_of(calls);
    if (from.date.empty()) {
        throw_usage(fmt::format("{} does not say when the calls were made; give --date", log));
    }
    from.cover = ground.cover_words();
    from.calls = fit.calls;
    from.stops = fit.stops;
    from.model = report::model_words(fit, request);
    fit.correction.file = std::filesystem::path(output).filename().string();

    report::CorrectedLog corrected{calls, predictions, fit, calls.notes};
    const std::vector<std::string> notes = ground.notes();
    corrected.notes.insert(corrected.notes.end(), notes.begin(), notes.end());
    fmt::print("{}",
               json ? report::correction_json(corrected) : report::correction_text(corrected));
    if (output.empty()) {
        return;
    }
    if (!fit.helps() && !even_if_worse) {
        throw_input(fmt::format("{} was not written: the correction foretells no better than the "
                                "standard alone; --even-if-worse writes it all the same",
                                output));
    }
    write_text_file(output, scenario::correction_toml(fit.correction));
    if (!json) {
        fmt::print("Wrote {}.\n", output);
    }
}

void CorrectCommand::add_to(const Options& options) {
    options
        .add("log,--log", log, "The log: CSV as earshot walk writes it, or GPX waypoints", "FILE")
        .required();
    options.add("--out", output, "The correction to write, for --correction of other commands",
                "FILE.toml");
    options.add("--date", date, "When the calls were made, if the log does not say", "DATE");
    field.add_to(options);
    // A correction is one of the standard, not of another correction.
    field.shared.correction.file = "none";
    options.remove("--correction");
    options.add("--errors", errors,
                "Distribution of what predictions are off by: normal or logistic", "NAME");
    options.add("--reading-deviation", reading_deviation,
                "How far off a level is that was read from a radio (standard deviation)", "DB");
    options.flag("--free-limits", free_limits,
                 "Let the scores begin at the margins where the log has them, instead of those "
                 "that maps use");
    options.flag("--even-if-worse", even_if_worse,
                 "Write the correction even if it foretells no better than the standard alone");
    add_json_flag(options, json);
    add_footer(options,
               "earshot correct walk.csv --scenario net.toml --out walk-correction.toml\n"
               "  earshot map --scenario net.toml --at Camp --correction walk-correction.toml "
               "--out camp.tif",
               "Only what the log can tell is fitted; the rest stays as the standard has it.");
}

} // namespace

void add_walk_command(Program& program) {
    program.add<WalkCommand>(
        "walk", "Plan a walk test: where to stop, what to try there, and the log to fill in");
}

void add_compare_command(Program& program) {
    program.add<CompareCommand>(
        "compare", "Compare a log of calls with predictions: what was right, what the test tells");
}

void add_correct_command(Program& program) {
    program.add<CorrectCommand>(
        "correct", "Fit a field correction to a log of calls: what predictions are off by");
}

} // namespace earshot::app
