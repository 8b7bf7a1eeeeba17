// Fills in a log that earshot walk has written, with scores that nobody heard: what is predicted,
// shifted by a known truth and scattered at random. For the demonstration and for tests of what a
// log can tell.

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "field/comparison.hpp"
#include "field/field_log.hpp"
#include "maths/statistics.hpp"
#include "scenario/scenario.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cstdint>
#include <cstdio>
#include <exception>
#include <fstream>
#include <map>
#include <random>
#include <string>

namespace {

/// The truth that a log is drawn from.
struct Truth {
    double offset_db = -3.0;      ///< margin heard less predicted, in the open
    double woodland_factor = 1.5; ///< woodland takes this much of what is predicted
    double stop_db = 5.0;         ///< standard deviation from stop to stop
    double call_db = 3.0;         ///< from call to call
    std::uint64_t seed = 1;
};

/// Normal variables that are the same on every machine, unlike those of the standard library: the
/// quantile of evenly spread ones.
class Normal {
public:
    explicit Normal(std::uint64_t seed) : engine_(seed) {}
    double operator()(double deviation) {
        const double even = (static_cast<double>(engine_() >> 11U) + 0.5) / 9007199254740992.0;
        return deviation * earshot::maths::normal_quantile(even);
    }

private:
    std::mt19937_64 engine_;
};

/// The log with a score in every row, so that it can be read.
std::string filled(const std::string& log, const std::vector<int>& scores) {
    std::string text;
    std::size_t row = 0;
    std::size_t start = 0;
    while (start < log.size()) {
        const std::size_t end = log.find('\n', start);
        const std::string line = log.substr(start, end - start);
        // The last four columns are score, level, time and note.
        if (start == 0) {
            text += line + "\n";
        } else if (line.ends_with(",,,,")) {
            const int score = row < scores.size() ? scores[row] : 0;
            text += fmt::format("{},{},,,\n", line.substr(0, line.size() - 4), score);
            ++row;
        } else {
            earshot::throw_input("the log is not as earshot walk writes it");
        }
        start = end == std::string::npos ? log.size() : end + 1;
    }
    return text;
}

std::string read_text(const std::string& file) {
    std::ifstream in(file);
    if (!in) {
        earshot::throw_input(fmt::format("{} cannot be opened", file));
    }
    return {std::istreambuf_iterator<char>(in), {}};
}

std::vector<int> draw(const earshot::field::Predictions& predictions, const Truth& truth) {
    Normal normal(truth.seed);
    std::map<std::string, double> at_stop;
    std::vector<int> scores;
    for (const earshot::field::ComparedCall& call : predictions.calls) {
        const auto [stop, is_new] = at_stop.emplace(call.stop, 0.0);
        if (is_new) {
            stop->second = normal(truth.stop_db);
        }
        const double margin_db = call.median_margin_db + truth.offset_db + stop->second +
                                 normal(truth.call_db) -
                                 (truth.woodland_factor - 1.0) * call.woodland_db;
        scores.push_back(static_cast<int>(earshot::link::readability(margin_db).readability));
    }
    return scores;
}

void generate(const std::string& scenario_file, const std::string& cover, const std::string& log,
              const std::string& output, const Truth& truth) {
    using namespace earshot;
    scenario::Scenario scenario = scenario::read_scenario(scenario_file);
    if (!cover.empty()) {
        scenario.ground.cover = {cover};
    }
    const std::string planned = read_text(log);
    OutputFile made(output);
    write_text_file(made.temporary(), filled(planned, {}));
    const field::FieldLog calls = field::read_field_log(made.temporary());
    const plan::Circle circle = field::circle_of_calls(scenario, calls, "");
    const terrain::HeightGrid ground =
        scenario::open_elevation(scenario.ground).load_around(circle.centre, circle.radius_m);
    const scenario::Layers layers = scenario::load_layers(scenario.ground, ground);
    field::ComparisonRequest request;
    request.scenario = &scenario;
    request.conditions = scenario.conditions;
    request.ground = &ground;
    request.layers = layers.view();
    request.step_m = terrain::natural_step_m(ground, circle.centre);
    const field::Predictions predictions = field::predict_calls(calls, request);
    const std::string header = fmt::format(
        "# INVENTED: nobody made these calls. Drawn from predictions by earshot-generate-log: "
        "{:+g} dB everywhere; woodland takes {:g} times what is predicted; {:g} dB from stop to "
        "stop; {:g} dB from call to call; seed {}\n",
        truth.offset_db, truth.woodland_factor, truth.stop_db, truth.call_db, truth.seed);
    write_text_file(made.temporary(), header + filled(planned, draw(predictions, truth)));
    made.commit();
}

} // namespace

int main(int argc, char** argv) {
    Truth truth;
    std::string scenario;
    std::string cover;
    std::string log;
    std::string output;
    CLI::App app("Fills in a planned log with invented scores, drawn from a known truth");
    app.add_option("scenario", scenario, "Scenario that the log was planned with")->required();
    app.add_option("log", log, "Log as earshot walk wrote it, not filled in")->required();
    app.add_option("output", output, "Log to write")->required();
    app.add_option("--cover", cover, "Ground cover raster, codes of ESA WorldCover");
    app.add_option("--offset-db", truth.offset_db, "Margin heard less predicted")
        ->capture_default_str();
    app.add_option("--woodland", truth.woodland_factor, "Loss of woodland over that predicted")
        ->capture_default_str();
    app.add_option("--stop-db", truth.stop_db, "Standard deviation from stop to stop")
        ->capture_default_str();
    app.add_option("--call-db", truth.call_db, "Standard deviation from call to call")
        ->capture_default_str();
    app.add_option("--seed", truth.seed, "Another seed gives other scores")->capture_default_str();
    CLI11_PARSE(app, argc, argv);
    try {
        generate(scenario, cover, log, output, truth);
        return 0;
    } catch (const earshot::Error& error) {
        fmt::print(stderr, "earshot-generate-log: {}\n", error.what());
        return static_cast<int>(error.fault());
    } catch (const std::exception& error) {
        fmt::print(stderr, "earshot-generate-log: {}\n", error.what());
        return static_cast<int>(earshot::Fault::internal);
    }
}
