#include "scenario/correction.hpp"

#include "base/csv.hpp"
#include "base/named.hpp"
#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "scenario/scenario_keys.hpp"
#include "scenario/strict_toml.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace earshot::scenario {
namespace {

/// What is not said to be optional must be there.
Key must(std::string_view name, double low, double high, std::string_view meaning) {
    return required(number(name, low, high, meaning));
}

/// The same four numbers for before and after.
std::vector<Key> check_keys() {
    constexpr double most_loss = 1e6;
    return {
        must("log_loss_before", 0.0, most_loss, "mean of -ln of the probability of the score"),
        must("log_loss_after", 0.0, most_loss, "the same with the correction"),
        must("hits_before_percent", 0.0, 100.0, "scores foretold exactly"),
        must("hits_after_percent", 0.0, 100.0, "the same with the correction"),
        must("class_error_before", 0.0, 5.0, "mean distance of score and prediction, classes"),
        must("class_error_after", 0.0, 5.0, "the same with the correction"),
        must("deviation_before_db", 0.0, 200.0, "spread of margins about their predictions, dB"),
        must("deviation_after_db", 0.0, 200.0, "the same with the correction"),
    };
}

std::vector<Section> make_sections() {
    constexpr double most_db = 60.0;
    constexpr double most_error_db = 60.0;
    return {
        {"", false, true, {}},
        {"correction",
         false,
         true,
         {must("offset_db", -most_db, most_db, "added to every margin, dB"),
          must("offset_error_db", 0.0, most_error_db, "its standard error, dB"),
          number("woodland_factor", 0.0, 20.0, "multiplies losses in woodland"),
          number("woodland_factor_error", 0.0, 20.0, "its standard error"),
          must("prediction_deviation_db", 0.0, 30.0,
               "standard deviation of corrected predictions, for the chance of contact, dB")}},
        {"antennas",
         true,
         false,
         {required(text("name", "name of the antenna in log and scenario")),
          must("gain_db", -most_db, most_db, "gain over what was assumed of it, dB"),
          must("gain_error_db", 0.0, most_error_db, "its standard error, dB")}},
        {"source",
         false,
         true,
         {required(text("log", "name of the log of calls")),
          required(text("date", "when the calls were made")),
          required(choice("invented", {"yes", "no"}, "whether nobody made these calls")),
          must("frequency_mhz", 30.0, 6000.0, "frequency of the calls, MHz"),
          required(choice("method", names_of(propagation::methods()),
                          "how the log was predicted; holds for no other")),
          required(text("cover", "ground cover of the predictions")),
          must("centre_latitude_deg", -90.0, 90.0, "middle of the stops, degrees"),
          must("centre_longitude_deg", -180.0, 180.0, "middle of the stops, degrees"),
          must("radius_km", 0.0, 20000.0, "all stops are within this of the middle, km"),
          number("spread_km", 0.0, 20000.0, "all calls are within this of one of [[places]], km"),
          number("relief_m", 0.0, 10000.0, "heights 1 km apart differ by, on average, m"),
          number("woodland_percent", 0.0, 100.0, "of the ground around the calls"),
          must("calls", 1.0, 1e9, "calls that were fitted to"),
          must("stops", 1.0, 1e9, "stops they were made from"),
          required(text("model", "how it was fitted"))}},
        {"places",
         true,
         false,
         {must("latitude_deg", -90.0, 90.0, "where calls were made, degrees"),
          must("longitude_deg", -180.0, 180.0, "where calls were made, degrees")}},
        {"check", false, true, check_keys()},
    };
}

maths::Estimate estimate(const Entry& entry, std::string_view value, std::string_view error) {
    return {*entry.number(value), *entry.number(error)};
}

OutOfSample check_of(const Entry& entry, const std::string& when) {
    return {*entry.number("log_loss_" + when), *entry.number("hits_" + when + "_percent"),
            *entry.number("class_error_" + when), *entry.number("deviation_" + when + "_db")};
}

CorrectionSource source_of(const Entry& entry) {
    CorrectionSource source;
    source.log = entry.text("log", "");
    source.date = entry.text("date", "");
    source.invented = entry.text("invented", "no") == "yes";
    source.frequency_mhz = *entry.number("frequency_mhz");
    source.method = propagation::parse_method(entry.text("method", ""));
    source.cover = entry.text("cover", "");
    source.centre = {*entry.number("centre_latitude_deg"), *entry.number("centre_longitude_deg")};
    source.radius_km = *entry.number("radius_km");
    source.calls = static_cast<std::size_t>(*entry.number("calls"));
    source.stops = static_cast<std::size_t>(*entry.number("stops"));
    source.model = entry.text("model", "");
    source.spread_km = entry.number("spread_km", 0.0);
    source.ground = {entry.number("relief_m"), entry.number("woodland_percent")};
    return source;
}

void read_terms(const StrictToml& toml, Correction& correction) {
    const Entry terms = toml.entries("correction").front();
    correction.offset_db = estimate(terms, "offset_db", "offset_error_db");
    correction.prediction_deviation_db = *terms.number("prediction_deviation_db");
    if (terms.has("woodland_factor") != terms.has("woodland_factor_error")) {
        terms.fail("woodland_factor and woodland_factor_error go together; give both or neither");
    }
    if (terms.has("woodland_factor")) {
        correction.woodland_factor = estimate(terms, "woodland_factor", "woodland_factor_error");
    }
    for (const Entry& entry : toml.entries("antennas")) {
        AntennaTerm term{entry.text("name", ""), estimate(entry, "gain_db", "gain_error_db")};
        if (std::any_of(correction.antennas.begin(), correction.antennas.end(),
                        [&](const AntennaTerm& other) { return other.antenna == term.antenna; })) {
            entry.fail_at("name", fmt::format("an antenna '{}' is there already; keep one",
                                              shown(term.antenna)));
        }
        correction.antennas.push_back(std::move(term));
    }
}

} // namespace

std::span<const Section> correction_sections() {
    static const std::vector<Section> sections = make_sections();
    return sections;
}

Correction read_correction(const std::filesystem::path& file) {
    const StrictToml toml(file, "correction", correction_sections());
    Correction correction;
    correction.file = file.filename().string();
    read_terms(toml, correction);
    correction.source = source_of(toml.entries("source").front());
    for (const Entry& entry : toml.entries("places")) {
        correction.source.places.push_back(
            {*entry.number("latitude_deg"), *entry.number("longitude_deg")});
    }
    const Entry check = toml.entries("check").front();
    correction.before = check_of(check, "before");
    correction.after = check_of(check, "after");
    return correction;
}

std::string correction_toml(const Correction& correction) {
    const CorrectionSource& source = correction.source;
    std::string text =
        "# A field correction: what a log of calls says predictions are off by. It holds for the\n"
        "# ground and the gear it was measured with. docs/correction.md explains every key.\n";
    auto out = std::back_inserter(text);
    if (source.invented) {
        fmt::format_to(out, "# The log is invented: an example, not a measurement.\n");
    }
    fmt::format_to(out, "\n[correction]\noffset_db = {:.2f}\noffset_error_db = {:.2f}\n",
                   correction.offset_db.value, correction.offset_db.standard_error);
    if (correction.woodland_factor) {
        fmt::format_to(out, "woodland_factor = {:.3f}\nwoodland_factor_error = {:.3f}\n",
                       correction.woodland_factor->value,
                       correction.woodland_factor->standard_error);
    }
    fmt::format_to(out, "prediction_deviation_db = {:.2f}\n", correction.prediction_deviation_db);
    for (const AntennaTerm& term : correction.antennas) {
        fmt::format_to(out, "\n[[antennas]]\nname = {}\ngain_db = {:.2f}\ngain_error_db = {:.2f}\n",
                       in_quotes(term.antenna), term.gain_db.value, term.gain_db.standard_error);
    }
    fmt::format_to(out, "\n[source]\nlog = {}\ndate = {}\ninvented = \"{}\"\n",
                   in_quotes(source.log), in_quotes(source.date), source.invented ? "yes" : "no");
    fmt::format_to(out, "frequency_mhz = {:.6f}\nmethod = \"{}\"\ncover = {}\n",
                   source.frequency_mhz, propagation::method_info(source.method).name,
                   in_quotes(source.cover));
    fmt::format_to(out,
                   "centre_latitude_deg = {:.5f}\ncentre_longitude_deg = {:.5f}\n"
                   "radius_km = {:.3f}\ncalls = {}\nstops = {}\nmodel = {}\n",
                   source.centre.lat_deg, source.centre.lon_deg, source.radius_km, source.calls,
                   source.stops, in_quotes(source.model));
    if (source.ground.relief_m) {
        fmt::format_to(out, "relief_m = {:.0f}\n", *source.ground.relief_m);
    }
    if (source.ground.woodland_percent) {
        fmt::format_to(out, "woodland_percent = {:.0f}\n", *source.ground.woodland_percent);
    }
    if (!source.places.empty()) {
        fmt::format_to(out, "spread_km = {:.3f}\n", source.spread_km);
    }
    for (const geo::LatLon place : source.places) {
        fmt::format_to(out, "\n[[places]]\nlatitude_deg = {:.5f}\nlongitude_deg = {:.5f}\n",
                       place.lat_deg, place.lon_deg);
    }
    fmt::format_to(out, "\n# Each stop left out in turn and foretold from the others.\n[check]\n");
    const auto check = [&](const char* name, const char* unit, double before, double after) {
        fmt::format_to(out, "{}_before{} = {:.4f}\n{}_after{} = {:.4f}\n", name, unit, before, name,
                       unit, after);
    };
    const OutOfSample& before = correction.before;
    const OutOfSample& after = correction.after;
    check("log_loss", "", before.log_loss, after.log_loss);
    check("hits", "_percent", before.hit_percent, after.hit_percent);
    check("class_error", "", before.class_error, after.class_error);
    check("deviation", "_db", before.deviation_db, after.deviation_db);
    return text;
}

bool Correction::holds_on(double frequency_mhz) const {
    constexpr double most_apart = 0.1;
    return std::abs(frequency_mhz / source.frequency_mhz - 1.0) <= most_apart;
}

void apply(const Correction& correction, propagation::Conditions& settings) {
    const CorrectionSource& source = correction.source;
    require_input(correction.holds_on(settings.frequency_mhz),
                  "the field correction {} was measured on {:g} MHz and says nothing of {:g} MHz; "
                  "test there, or leave it out",
                  correction.file, source.frequency_mhz, settings.frequency_mhz);
    require_input(settings.method == source.method,
                  "the field correction {} is one of method {}, not of {}; use that "
                  "method, or fit the log again with this one",
                  correction.file, propagation::method_info(source.method).name,
                  propagation::method_info(settings.method).name);
    settings.field_offset_db = correction.offset_db.value;
    settings.woodland_factor = correction.woodland_factor ? correction.woodland_factor->value : 1.0;
    settings.prediction_deviation_db = correction.prediction_deviation_db;
}

void apply(const Correction& correction, link::Radio& radio) {
    radio.field_correction_db = 0.0;
    // Logs spell antennas with hyphens or without.
    const std::string name = plain_name(radio.antenna);
    const auto term = std::find_if(correction.antennas.begin(), correction.antennas.end(),
                                   [&](const AntennaTerm& known) {
                                       return !name.empty() && plain_name(known.antenna) == name;
                                   });
    if (term != correction.antennas.end()) {
        radio.field_correction_db = term->gain_db.value;
    }
}

std::string correction_words(const Correction& correction) {
    std::string words = fmt::format(
        "with the field correction {} of {}{}: {:+.1f} dB", correction.file, correction.source.date,
        correction.source.invented ? " (an invented log)" : "", correction.offset_db.value);
    if (correction.woodland_factor) {
        words += fmt::format(", losses in woods x {:.2f}", correction.woodland_factor->value);
    }
    for (const AntennaTerm& term : correction.antennas) {
        words += fmt::format(", antenna {} {:+.1f} dB", term.antenna, term.gain_db.value);
    }
    return words;
}

std::string stamped(const std::string& csv, const Correction& correction) {
    return with_column(csv, "field_correction", correction_words(correction));
}

Thinned thinned(std::span<const geo::LatLon> positions) {
    constexpr std::size_t most = 12;
    constexpr double near_m = 500.0;
    Thinned result;
    std::vector<double> away_m(positions.size(), std::numeric_limits<double>::infinity());
    std::size_t next = 0;
    while (!positions.empty() && result.places.size() < most) {
        result.places.push_back(positions[next]);
        for (std::size_t k = 0; k < positions.size(); ++k) {
            away_m[k] = std::min(away_m[k],
                                 geo::geodesic_between(positions[next], positions[k]).distance_m);
        }
        const auto farthest = std::max_element(away_m.begin(), away_m.end());
        result.spread_km = *farthest / 1000.0;
        next = static_cast<std::size_t>(farthest - away_m.begin());
        if (*farthest <= near_m) {
            break;
        }
    }
    return result;
}

std::shared_ptr<const link::FieldReach> field_reach(const Correction& correction,
                                                    std::optional<double> standard_deviation_db) {
    const CorrectionSource& source = correction.source;
    const bool older = source.places.empty();
    return std::make_shared<const link::FieldReach>(
        older ? std::vector{source.centre} : source.places,
        1000.0 * (older ? source.radius_km : source.spread_km), standard_deviation_db);
}

GroundFacts ground_facts(const terrain::HeightGrid& ground, const terrain::GroundLayers& layers) {
    constexpr int lines = 24;
    constexpr double apart_m = 1000.0;
    constexpr std::size_t least = 100; // fewer differences say nothing of a landscape
    GroundFacts facts;
    double sum_m = 0.0;
    std::size_t count = 0;
    std::size_t wooded = 0;
    for (int k = 0; k < lines * lines; ++k) {
        const int line = k / lines;
        const terrain::CellPosition cell{ground.columns * (k % lines + 0.5) / lines - 0.5,
                                         ground.rows * (line + 0.5) / lines - 0.5};
        const geo::LatLon here = ground.georeference.position_of(cell);
        for (const double bearing_deg : {0.0, 90.0}) {
            const double other_m =
                ground.sample(geo::geodesic_destination(here, bearing_deg, apart_m));
            if (const double rise_m = std::abs(other_m - ground.sample(cell));
                !std::isnan(rise_m)) {
                sum_m += rise_m;
                ++count;
            }
        }
        wooded += layers.cover != nullptr && layers.cover->at(cell).woodland ? 1U : 0U;
    }
    if (count >= least) {
        facts.relief_m = sum_m / static_cast<double>(count);
    }
    if (layers.cover != nullptr) {
        facts.woodland_percent = 100.0 * static_cast<double>(wooded) / (lines * lines);
    }
    return facts;
}

namespace {

/// In what ground is unlike that of the log; empty if in nothing.
std::string unlike_words(const GroundFacts& there, const GroundFacts& here) {
    constexpr double least_m = 15.0;
    constexpr double least_percent = 30.0;
    std::vector<std::string> words;
    if (there.relief_m && here.relief_m) {
        const auto [less, more] = std::minmax(*there.relief_m, *here.relief_m);
        if (more >= 2.0 * less && more - less >= least_m) {
            words.push_back(fmt::format("heights 1 km apart differ by {:.0f} m on average, there "
                                        "by {:.0f} m",
                                        *here.relief_m, *there.relief_m));
        }
    }
    if (there.woodland_percent && here.woodland_percent &&
        std::abs(*there.woodland_percent - *here.woodland_percent) >= least_percent) {
        words.push_back(fmt::format("woods cover {:.0f} %, there {:.0f} %", *here.woodland_percent,
                                    *there.woodland_percent));
    }
    return fmt::format("{}", fmt::join(words, ", and "));
}

} // namespace

std::vector<std::string> reach_notes(const Correction& correction,
                                     std::span<const geo::LatLon> ends, const GroundFacts& here) {
    constexpr double worth_saying = 0.9;
    constexpr double next_to_nothing = 0.05;
    const CorrectionSource& source = correction.source;
    std::vector<std::string> notes;
    if (source.places.empty()) {
        notes.push_back(fmt::format(
            "the field correction {} is an older file that does not say where its calls were made: "
            "taken is, anywhere within {:.1f} km of {}; fit the log again to know better",
            correction.file, source.radius_km, geo::format_decimal(source.centre)));
    }
    const std::shared_ptr<const link::FieldReach> reach = field_reach(correction, std::nullopt);
    double least = 1.0;
    double most = 0.0;
    double away_km = 0.0;
    for (const geo::LatLon end : ends) {
        const double share = reach->share(end, end);
        most = std::max(most, share);
        if (share < least) {
            least = share;
            away_km = reach->away_m(end) / 1000.0;
        }
    }
    if (least < worth_saying) {
        notes.push_back(
            most < next_to_nothing
                ? fmt::format("the field correction {} changes next to nothing here: its calls "
                              "were made {:.0f} km away; make calls here, or do without it",
                              correction.file, away_km)
                : fmt::format("the field correction {} fades away from its calls: {:.0f} km from "
                              "them, the farthest that is looked at, {} of it is left; take it for "
                              "what it is near its calls, or make calls there too",
                              correction.file, away_km,
                              least < 0.005 ? "nothing" : fmt::format("{:.0f} %", 100.0 * least)));
    }
    if (const std::string unlike = unlike_words(source.ground, here); !unlike.empty()) {
        notes.push_back(fmt::format("the ground here is unlike that of the field correction {}: "
                                    "{}; trust what it changes less, until calls were made here",
                                    correction.file, unlike));
    }
    return notes;
}

} // namespace earshot::scenario
