#include "report/say/relay_report.hpp"

#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "report/say/json.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <iterator>

namespace earshot::report {
namespace {

ordered_json site_properties(const RelayResult& result, std::size_t k) {
    const plan::RelaySite& site = result.answer.sites[k];
    return {{"name", site.station.name},
            {"rank", k + 1},
            {"ground_m", site.candidate.ground_m},
            {"antenna_height_m", site.station.antenna_height_m},
            {"serves", site.alone},
            {"adds", site.added},
            {"reason", site_words(result.answer, k, result.places)}};
}

ordered_json site_json(const RelayResult& result, std::size_t k) {
    const plan::RelaySite& site = result.answer.sites[k];
    ordered_json json = site_properties(result, k);
    json["latitude"] = site.station.position.lat_deg;
    json["longitude"] = site.station.position.lon_deg;
    json["places"] = ordered_json::array();
    for (const plan::PlaceService& service : site.services) {
        json["places"].push_back({{"name", result.places[service.place].station.name},
                                  {"served", !service.miss},
                                  {"to_place_db", number_or_null(service.margins.out_db)},
                                  {"to_relay_db", number_or_null(service.margins.back_db)},
                                  {"distance_m", service.margins.distance_m},
                                  {"why", service.miss ? miss_words(*service.miss) : ""}});
    }
    json["links"] = ordered_json::array();
    for (const plan::BackboneLink& link : site.links) {
        json["links"].push_back({{"with", link.with}, {"margin_db", link.margins.least_db()}});
    }
    return json;
}

constexpr std::array unit_names{"places", "km2", "people"};

std::string headline(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    if (answer.sites.empty()) {
        return fmt::format("No candidate serves anything{}.\n",
                           answer.cover.coverable > 0.0 ? " and is linked as asked" : "");
    }
    const std::string who = answer.sites.size() == 1
                                ? "One relay serves"
                                : fmt::format("{} relays serve", answer.sites.size());
    if (result.of_area()) {
        // Rounded down, so that 100 % is all of it.
        return fmt::format("{} {:.0f} % of the {} ({:.1f} of {:.1f}{}).\n", who,
                           std::floor(100.0 * answer.served / answer.total),
                           answer.unit == plan::ServedUnit::people ? "people" : "area",
                           answer.served, answer.total,
                           answer.unit == plan::ServedUnit::people ? "" : " km2");
    }
    return fmt::format(
        "{} {}{} with a margin of {:g} dB or more, both ways.\n", who,
        served_words(answer.places_served, answer.places, answer.served, answer.total),
        answer.places == 1 ? " place" : " places", result.wanted_margin_db);
}

std::string served_by(const plan::RankedCandidate& single, const RelayResult& result) {
    return result.of_area() ? fmt::format("{:.0f} %", 100.0 * single.weight / result.answer.total)
                            : served_words(single.served, result.places.size(), single.weight,
                                           result.answer.total);
}

} // namespace

std::string relay_text(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    std::string text;
    const auto out = std::back_inserter(text);
    if (answer.stopped) {
        fmt::format_to(out, "Stopped: this is the best that was found until then.\n");
    }
    for (const std::string& words : plan::removal_words(result.candidates)) {
        fmt::format_to(out, "Constraint {}.\n", words);
    }
    text += headline(result);
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const plan::RelaySite& site = answer.sites[k];
        fmt::format_to(out, "{}. {} at {} ({}), ground {:.0f} m: {}.\n", k + 1, site.station.name,
                       geo::format_decimal(site.station.position),
                       geo::format_mgrs(site.station.position), site.candidate.ground_m,
                       site_words(answer, k, result.places));
    }
    if (answer.ranking.size() > 1) {
        fmt::format_to(out, "Single sites that serve the most, {} or more apart:\n",
                       geo::format_distance(result.apart_m));
        for (const plan::RankedCandidate& single : answer.ranking) {
            const plan::Candidate& candidate = result.candidates.candidates[single.candidate];
            fmt::format_to(out, "  {}{}, ground {:.0f} m: {}\n",
                           candidate.name.empty() ? "" : candidate.name + " at ",
                           geo::format_decimal(candidate.position), candidate.ground_m,
                           result.of_area() ? "covers " + served_by(single, result)
                                            : site_words(answer, single, result.places));
        }
    }
    if (!answer.sites.empty() && answer.sites.size() < result.sites_asked &&
        answer.served >= answer.cover.coverable - 1e-9 * answer.total) {
        fmt::format_to(out, "A further relay would add nothing.\n");
    }
    fmt::format_to(out, "Of {} candidates, chosen by {}.\n", answer.candidates,
                   relay_words(answer));
    return text + notes_text(result.notes);
}

std::string relay_json(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    ordered_json sites = ordered_json::array();
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        sites.push_back(site_json(result, k));
    }
    ordered_json ranking = ordered_json::array();
    for (const plan::RankedCandidate& single : answer.ranking) {
        const plan::Candidate& candidate = result.candidates.candidates[single.candidate];
        ranking.push_back({{"name", candidate.name},
                           {"latitude", candidate.position.lat_deg},
                           {"longitude", candidate.position.lon_deg},
                           {"ground_m", candidate.ground_m},
                           {"serves", single.weight},
                           {"reason", site_words(answer, single, result.places)}});
    }
    return text_of(
        {{"wanted_margin_db", result.wanted_margin_db},
         {"sites", sites},
         {"served", answer.served},
         {"total", answer.total},
         {"unit", unit_names[static_cast<std::size_t>(answer.unit)]},
         {"bound", answer.cover.bound},
         {"proven", answer.cover.proven},
         {"method", answer.cover.method == maths::CoverMethod::exact ? "exact" : "greedy"},
         {"how", relay_words(answer)},
         {"stopped", answer.stopped},
         {"candidates", answer.candidates},
         {"candidates_evaluated", answer.evaluated},
         {"constraints", plan::removal_words(result.candidates)},
         {"single_sites", ranking},
         {"single_sites_apart_m", result.apart_m},
         {"notes", result.notes},
         {"cautions", cautions()}});
}

std::string relay_geojson(const RelayResult& result) {
    const std::vector<plan::RelaySite>& sites = result.answer.sites;
    ordered_json features = ordered_json::array();
    for (std::size_t k = 0; k < sites.size(); ++k) {
        const geo::LatLon position = sites[k].station.position;
        features.push_back(
            {{"type", "Feature"},
             {"properties", site_properties(result, k)},
             {"geometry",
              {{"type", "Point"}, {"coordinates", {position.lon_deg, position.lat_deg}}}}});
    }
    return text_of(
        {{"type", "FeatureCollection"}, {"notes", result.notes}, {"features", features}});
}

} // namespace earshot::report
