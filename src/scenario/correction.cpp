#include "scenario/correction.hpp"

#include "base/csv.hpp"
#include "base/named.hpp"
#include "base/require.hpp"
#include "scenario/scenario_keys.hpp"
#include "scenario/strict_toml.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

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
          must("calls", 1.0, 1e9, "calls that were fitted to"),
          must("stops", 1.0, 1e9, "stops they were made from"),
          required(text("model", "how it was fitted"))}},
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

/// A text in TOML's quotes.
std::string quoted(const std::string& value) {
    std::string text = "\"";
    for (const char c : value) {
        if (c == '"' || c == '\\') {
            text += '\\';
            text += c;
        } else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) {
            text += fmt::format("\\u{:04X}", static_cast<unsigned>(c));
        } else {
            text += c;
        }
    }
    return text + '"';
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
                       quoted(term.antenna), term.gain_db.value, term.gain_db.standard_error);
    }
    fmt::format_to(out, "\n[source]\nlog = {}\ndate = {}\ninvented = \"{}\"\n", quoted(source.log),
                   quoted(source.date), source.invented ? "yes" : "no");
    fmt::format_to(out, "frequency_mhz = {:.6f}\nmethod = \"{}\"\ncover = {}\n",
                   source.frequency_mhz, propagation::method_info(source.method).name,
                   quoted(source.cover));
    fmt::format_to(out,
                   "centre_latitude_deg = {:.5f}\ncentre_longitude_deg = {:.5f}\n"
                   "radius_km = {:.3f}\ncalls = {}\nstops = {}\nmodel = {}\n",
                   source.centre.lat_deg, source.centre.lon_deg, source.radius_km, source.calls,
                   source.stops, quoted(source.model));
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

void apply(const Correction& correction, propagation::Conditions& settings) {
    const CorrectionSource& source = correction.source;
    constexpr double most_apart = 0.1;
    require_input(std::abs(settings.frequency_mhz / source.frequency_mhz - 1.0) <= most_apart,
                  "the field correction {} was measured on {:g} MHz and says nothing of {:g} MHz; "
                  "test there, or leave it out",
                  correction.file, source.frequency_mhz, settings.frequency_mhz);
    require_input(settings.method == source.method,
                  "the field correction {} is one of method {}, not of {}; use that "
                  "method, or fit the log again with this one",
                  correction.file, propagation::method_info(source.method).name,
                  propagation::method_info(settings.method).name);
    settings.woodland_factor = correction.woodland_factor ? correction.woodland_factor->value : 1.0;
    settings.prediction_deviation_db = correction.prediction_deviation_db;
}

void apply(const Correction& correction, link::Radio& radio) {
    // Half at each end: then it is whole on every path, whichever two radios it joins.
    radio.field_correction_db = 0.5 * correction.offset_db.value;
    // Logs spell antennas with hyphens or without.
    const std::string name = plain_name(radio.antenna);
    const auto term = std::find_if(correction.antennas.begin(), correction.antennas.end(),
                                   [&](const AntennaTerm& known) {
                                       return !name.empty() && plain_name(known.antenna) == name;
                                   });
    if (term != correction.antennas.end()) {
        radio.field_correction_db += term->gain_db.value;
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

std::string distance_caution(const Correction& correction, geo::LatLon place) {
    // Beyond, ground and woods are likely to be others. Common practice, no source.
    constexpr double far_km = 30.0;
    const double away_km =
        geo::geodesic_between(correction.source.centre, place).distance_m / 1000.0;
    if (away_km <= correction.source.radius_km + far_km) {
        return {};
    }
    return fmt::format("the field correction {} was measured {:.0f} km away; it may not hold here",
                       correction.file, away_km);
}

} // namespace earshot::scenario
