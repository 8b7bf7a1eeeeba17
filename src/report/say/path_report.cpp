#include "report/say/path_report.hpp"

#include "earshot/coverage/sweep.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/basic.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/p1812.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"
#include "report/say/second_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

namespace earshot::report {
namespace {

std::string sight_words(const propagation::Sight& sight) {
    if (!std::isfinite(sight.closest.nu)) {
        return "yes; the ends are too close for the elevation to show anything between them";
    }
    const double height = sight.closest.height_above_line_m;
    const std::string where = geo::format_distance(1000.0 * sight.closest.distance_km);
    switch (coverage::sight_class(sight)) {
    case coverage::SightClass::blocked:
        return fmt::format("no: the ground at {} stands {} above the line", where,
                           height_text(height, 1));
    case coverage::SightClass::grazing:
        return fmt::format("yes, but tight: the ground at {} comes within {} of the line "
                           "({:.2f} F1; 0.60 F1 is wanted)",
                           where, height_text(-height, 1), sight.clearance_f1);
    default:
        return fmt::format("yes, with room: least clearance {} at {} ({:.2f} F1)",
                           height_text(-height, 1), where, sight.clearance_f1);
    }
}

std::string hears_words(const std::string& listener, const std::string& talker,
                        const link::Direction& direction) {
    const double margin_db = direction.budget.margin_db;
    const link::ReadabilityClass& heard = link::readability(margin_db);
    return fmt::format("{} hears {}: {}, readability {} of 5, margin {}, chance of contact {}",
                       listener, talker, heard.name, static_cast<int>(heard.readability),
                       margin_text(margin_db, 1), chance_text(direction.chance_percent));
}

ordered_json edge_json(const propagation::Edge& edge) {
    return {{"distance_km", edge.distance_km},
            {"height_above_line_m", edge.height_above_line_m},
            {"nu", edge.nu},
            {"loss_db", edge.loss_db}};
}

ordered_json irregular_json(const propagation::irregular::Result& result) {
    const propagation::irregular::Geometry& found = result.geometry;
    const auto& [a, b] = found.ends;
    return {{"mechanism", propagation::irregular::mechanism_name(result.mechanism)},
            {"reference_attenuation_db", result.reference_db},
            {"surface_refractivity", found.surface_refractivity},
            {"irregularity_m", found.irregularity_m},
            {"effective_heights_m", {a.effective_height_m, b.effective_height_m}},
            {"horizons_m", {a.horizon_m, b.horizon_m}},
            {"horizon_elevations_rad", {a.horizon_elevation_rad, b.horizon_elevation_rad}}};
}

ordered_json station_json(const link::Station& station, double ground_m) {
    return {{"name", station.name},
            {"latitude", station.position.lat_deg},
            {"longitude", station.position.lon_deg},
            {"ground_m", ground_m},
            {"antenna_height_m", station.antenna_height_m}};
}

ordered_json direction_json(const link::Direction& direction) {
    const link::LinkBudget& budget = direction.budget;
    return {{"free_space_loss_db", direction.loss.free_space_db},
            {"diffraction_loss_db", direction.loss.diffraction_db},
            {"basic_loss_db", direction.loss.basic_loss_db},
            {"edges", json_list(direction.loss.edges, edge_json)},
            {"transmitter_power_dbm", budget.power_dbm},
            {"transmit_feeder_loss_db", budget.transmit_feeder_loss_db},
            {"transmit_gain_dbi", budget.transmit_gain_dbi},
            {"transmit_body_loss_db", budget.transmit_body_loss_db},
            {"transmit_woodland_loss_db", budget.transmit_woodland_loss_db},
            {"transmit_woodland_depth_m", direction.loss.tx_woodland_depth_m},
            {"receive_woodland_loss_db", budget.receive_woodland_loss_db},
            {"transmit_houses_loss_db", budget.transmit_houses_loss_db},
            {"receive_houses_loss_db", budget.receive_houses_loss_db},
            {"receive_woodland_depth_m", direction.loss.rx_woodland_depth_m},
            {"receive_gain_dbi", budget.receive_gain_dbi},
            {"receive_body_loss_db", budget.receive_body_loss_db},
            {"receive_feeder_loss_db", budget.receive_feeder_loss_db},
            {"field_correction_db", budget.field_correction_db},
            {"received_dbm", budget.received_dbm},
            {"needed_dbm", budget.needed_dbm},
            {"margin_db", budget.margin_db},
            {"deviation_db", direction.deviation_db},
            {"prediction_deviation_db", direction.prediction_deviation_db},
            {"chance_percent", direction.chance_percent},
            {"readability", static_cast<int>(link::readability(budget.margin_db).readability)}};
}

/// What stands in the way, if anything does.
std::string reason_words(const link::TwoWayPath& path) {
    const propagation::PathLoss& loss = path.outward.loss;
    if (loss.sight.clear) {
        return loss.diffraction_db < 1.0
                   ? fmt::format("Nothing stands in the way; distance alone costs {:.0f} dB.",
                                 loss.free_space_db)
                   : fmt::format("The line is clear, but the ground near it costs {:.0f} dB on top "
                                 "of distance ({:.0f} dB).",
                                 loss.diffraction_db, loss.free_space_db);
    }
    return fmt::format("The ground in the way stands highest {} from {}, {} above the "
                       "line; it costs {:.0f} dB in all on top of distance ({:.0f} dB).",
                       geo::format_distance(1000.0 * loss.sight.closest.distance_km), path.a.name,
                       height_text(loss.sight.closest.height_above_line_m, 0), loss.diffraction_db,
                       loss.free_space_db);
}

/// What trees would take, if nothing is known of any.
std::string woods_words(const link::TwoWayPath& path) {
    const std::vector<double>& cover_m = path.profile.cover_m;
    const bool bare = path.profile.woodland.empty() &&
                      std::ranges::all_of(cover_m, [](double height) { return height == 0.0; });
    const double woods_db = bare ? link::woods_at_both_ends_db(path) : 0.0;
    return woods_db >= 1.0 ? fmt::format(" In woods at both ends: about {:.0f} dB less.", woods_db)
                           : std::string();
}

/// What costs nothing where a call does not get through.
std::string held_words(const link::TwoWayPath& path) {
    std::string words;
    for (link::Station end : {path.a, path.b}) {
        if (const auto held = link::hold_at_face(end, path.conditions.frequency_mhz)) {
            words += fmt::format(" First hold the radio of {} at the face instead of {}: {:.0f} dB "
                                 "more, both ways.",
                                 end.name, worn_words(held->from), held->saved_db);
        }
    }
    return words;
}

/// Where the answer hangs on the method, or on a hand's breadth.
std::vector<std::string> doubts(const link::TwoWayPath& path, double wanted_margin_db) {
    std::vector<std::string> list;
    if (std::string standard = standard_words(path, wanted_margin_db); !standard.empty()) {
        list.push_back(std::move(standard));
    }
    constexpr double unsteady_db = 3.0;
    if (const double change_db = link::unsteadiness_db(path); change_db >= unsteady_db) {
        list.push_back(fmt::format("the path stands on an edge: an antenna held 10 cm higher or "
                                   "lower changes it by {:.0f} dB; try a step to the side",
                                   change_db));
    }
    return list;
}

void append_explanation(std::string& text, const propagation::P1812Result& result) {
    auto out = std::back_inserter(text);
    fmt::format_to(out, "\nEvery term of ITU-R P.1812-8, outward\n");
    for (const propagation::ExplainedValue& value : propagation::explain(result)) {
        fmt::format_to(out, "  {:<10}{:<18}{:>16.6f} {:<10}{}\n", value.symbol, value.equation,
                       value.value, value.unit, value.meaning);
    }
}

ordered_json explanation_json(const propagation::P1812Result& result) {
    const auto value_json = [](const propagation::ExplainedValue& value) -> ordered_json {
        return {{"symbol", value.symbol},
                {"equation", value.equation},
                {"value", value.value},
                {"unit", value.unit},
                {"meaning", value.meaning}};
    };
    return json_list(propagation::explain(result), value_json);
}

std::vector<std::string> warnings(const link::TwoWayPath& path) {
    std::vector<std::string> list = propagation::validity_warnings(
        path.conditions, {path.a.antenna_height_m, path.b.antenna_height_m});
    const auto add = [&](const std::vector<std::string>& more) {
        for (const std::string& warning : more) {
            if (std::ranges::find(list, warning) == list.end()) {
                list.push_back(warning);
            }
        }
    };
    if (const auto& p1812 = path.outward.loss.p1812) {
        add(p1812->warnings);
    }
    if (const auto& irregular = path.outward.loss.irregular_terrain) {
        add(irregular->warnings);
    }
    return list;
}

void add_line(std::string& text, std::string_view label, const std::string& value) {
    text += fmt::format("  {:<28}{}\n", label, value);
}

/// What the irregular terrain model made of the profile.
void add_irregular(std::string& text, const propagation::irregular::Result& result) {
    const auto& [a, b] = result.geometry.ends;
    add_line(text, "ground",
             fmt::format("irregular by {}; antennas count as {} and {} above it",
                         height_text(result.geometry.irregularity_m, 0),
                         height_text(a.effective_height_m), height_text(b.effective_height_m)));
    add_line(text, "region of the model",
             fmt::format("{}; horizons {} and {} away",
                         propagation::irregular::mechanism_name(result.mechanism),
                         geo::format_distance(a.horizon_m), geo::format_distance(b.horizon_m)));
}

/// What lies between the stations.
void add_way(std::string& text, const link::TwoWayPath& path) {
    const propagation::PathLoss& loss = path.outward.loss;
    const auto line = [&](std::string_view label, const std::string& value) {
        add_line(text, label, value);
    };
    text += "\nThe way between\n";
    line("line of sight", sight_words(loss.sight));
    // Bullington's construction replaces all obstacles by one edge that stands nowhere.
    const bool equivalent =
        !loss.sight.clear && (from_p1812(path.conditions.method) ||
                              path.conditions.method == propagation::Method::bullington ||
                              path.conditions.method == propagation::Method::bullington_p526);
    for (const propagation::Edge& edge : loss.edges) {
        line((equivalent ? "one edge for all at " : "edge at ") +
                 geo::format_distance(1000.0 * edge.distance_km),
             equivalent ? fmt::format("{:.1f} dB (nu {:.2f})", edge.loss_db, edge.nu)
                        : fmt::format("{} {} the ray past it, {:.1f} dB (nu {:.2f})",
                                      height_text(std::abs(edge.height_above_line_m), 1),
                                      edge.height_above_line_m < 0.0 ? "below" : "above",
                                      edge.loss_db, edge.nu));
    }
    if (loss.irregular_terrain) {
        add_irregular(text, *loss.irregular_terrain);
    }
    line("free-space loss", fmt::format("{:.1f} dB", loss.free_space_db));
    line("diffraction loss", fmt::format("{:.1f} dB", loss.diffraction_db));
    const auto woods = [&](const link::Station& station, double depth_m, double loss_db) {
        if (loss_db > 0.0) {
            line("woods at " + station.name, fmt::format("{:.1f} dB, the path runs {} among trees",
                                                         loss_db, height_text(depth_m, 0)));
        }
    };
    woods(path.a, loss.tx_woodland_depth_m, loss.tx_woodland_db);
    woods(path.b, loss.rx_woodland_depth_m, loss.rx_woodland_db);
    const auto houses = [&](const link::Station& station, double loss_db) {
        if (loss_db > 0.0) {
            line("houses at " + station.name,
                 fmt::format("{:.1f} dB, from the roofs down to the antenna", loss_db));
        }
    };
    houses(path.a, loss.tx_houses_db);
    houses(path.b, loss.rx_houses_db);
}

/// Both directions line by line, and what each receiver needs.
void add_budget(std::string& text, const link::TwoWayPath& path) {
    auto out = std::back_inserter(text);
    fmt::format_to(out, "\n{:<30}{:>16}{:>16}\n", "Link budget", "outward", "back");
    const auto outward = link::budget_lines(path.outward.budget);
    const auto backward = link::budget_lines(path.backward.budget);
    for (std::size_t i = 0; i < outward.size(); ++i) {
        const auto shown = [&](double value) { // the margin comes last
            return i + 1 < outward.size() ? value : shown_margin_db(value, 1);
        };
        fmt::format_to(out, "  {:<28}{:>12.1f} {:<3}{:>12.1f} {}\n", outward[i].label,
                       shown(outward[i].value), outward[i].unit, shown(backward[i].value),
                       backward[i].unit);
    }
    const auto needed = [&](const link::Station& station) {
        if (const auto& level = station.radio.needed) {
            fmt::format_to(out,
                           "  {} needs {:.1f} dBm: sensitivity {:.1f} dBm, {:+.1f} dB for noise, "
                           "{:+.1f} dB for quality\n",
                           station.name, level->needed_dbm, level->sensitivity_dbm,
                           level->degradation_db, level->quality_db);
        }
    };
    needed(path.a);
    needed(path.b);
}

/// What every method that applies makes of the path, side by side.
void add_methods(std::string& text, const SecondWords& second) {
    auto out = std::back_inserter(text);
    if (second.methods().size() > 1) {
        fmt::format_to(out, "\n{:<30}{:>12}{:>12}{:>12}\n", "By each method", "loss", "outward",
                       "back");
        for (const MethodWord& method : second.methods()) {
            fmt::format_to(out, "  {:<28}{:>9.1f} dB{:>12}{:>12}  {}\n", method.method,
                           method.loss_db, margin_text(method.out_db, 1),
                           margin_text(method.back_db, 1), method.word());
        }
    }
    if (!second.words().empty()) {
        fmt::format_to(out, "  {}\n", second.words());
    }
}

ordered_json second_json(const link::TwoWayPath& path, const SecondWords& second) {
    if (second.second().empty()) {
        return nullptr;
    }
    const auto method_json = [](const MethodWord& method) -> ordered_json {
        return {{"method", method.method},
                {"loss_db", method.loss_db},
                {"margin_out_db", method.out_db},
                {"margin_back_db", method.back_db}};
    };
    return {{"method", second.second()},
            {"apart_db", number_or_null(path.outward.apart_db)},
            {"try_first", second.try_first()},
            {"words", second.words()},
            {"warnings", second.warnings()},
            {"by_each_method", json_list(second.methods(), method_json)}};
}

} // namespace

std::string path_verdict(const link::TwoWayPath& path, double wanted_margin_db) {
    const double weaker_db =
        std::min(path.outward.budget.margin_db, path.backward.budget.margin_db);
    const bool b_hears = path.outward.budget.margin_db >= wanted_margin_db;
    const bool a_hears = path.backward.budget.margin_db >= wanted_margin_db;
    const std::string lacking = short_text(weaker_db, wanted_margin_db);
    std::string who;
    if (a_hears && b_hears) {
        who = fmt::format("{} and {} hear each other ({}).", path.a.name, path.b.name,
                          link::readability(weaker_db).name);
    } else if (a_hears || b_hears) {
        const std::string& listener = (b_hears ? path.b : path.a).name;
        who = fmt::format("{} hears {}, but cannot answer: {} is {} short.", listener,
                          (b_hears ? path.a : path.b).name, listener, lacking);
    } else {
        who = fmt::format("{} and {} do not hear each other: {} short.", path.a.name, path.b.name,
                          lacking);
    }
    return who + " " + reason_words(path) + woods_words(path) +
           (a_hears && b_hears ? std::string() : held_words(path)) +
           hangs_words(path, wanted_margin_db);
}

std::string path_text(const link::TwoWayPath& path, const std::vector<std::string>& notes,
                      bool explain, double wanted_margin_db) {
    std::string text;
    auto out = std::back_inserter(text);
    const auto line = [&](std::string_view label, const std::string& value) {
        add_line(text, label, value);
    };
    const auto end = [&](const link::Station& station, double ground_m) {
        line(station.name,
             fmt::format("{}  {}  ground {}, antenna {} above it",
                         geo::format_decimal(station.position), geo::format_mgrs(station.position),
                         height_text(ground_m, 1), height_text(station.antenna_height_m, 1)));
    };
    const propagation::PathLoss& loss = path.outward.loss;
    fmt::format_to(out, "{} to {}\n", path.a.name, path.b.name);
    end(path.a, path.profile.ground_m.front());
    end(path.b, path.profile.ground_m.back());
    line("distance", fmt::format("{:.3f} km ({:.2f} mi)", path.line.distance_m / 1000.0,
                                 path.line.distance_m / geo::metres_per_mile));
    line("bearings", fmt::format("{:.1f} deg out, {:.1f} deg back (from true north)",
                                 path.line.bearing_deg, path.line.back_bearing_deg));
    line("frequency", fmt::format("{:g} MHz", path.conditions.frequency_mhz));
    line("method", fmt::format("{} ({})", propagation::method_info(path.conditions.method).name,
                               propagation::method_info(path.conditions.method).source));
    if (const auto& p1812 = loss.p1812) {
        line("climate",
             fmt::format("delta-N {:g}, N0 {:g}: k = {:.3f}", p1812->inputs.refractivity.delta_n,
                         p1812->inputs.refractivity.n0,
                         p1812->geometry.radii.median_km / propagation::earth_radius_km));
        line("not exceeded",
             fmt::format("in {:g} % of the time, at {:g} % of places", p1812->inputs.time_percent,
                         p1812->inputs.location_percent));
    } else if (loss.irregular_terrain) {
        const propagation::irregular::Geometry& found = loss.irregular_terrain->geometry;
        line("climate", fmt::format("N0 {:g}, {:.0f} at the ground: k = {:.3f}",
                                    path.conditions.refractivity.n0, found.surface_refractivity,
                                    0.001 / found.curvature_per_m / propagation::earth_radius_km));
        line("not exceeded",
             fmt::format("in {:g} % of the time and {:g} % of situations like this",
                         path.conditions.time_percent, path.conditions.location_percent));
    } else {
        line("effective earth", fmt::format("k = {:.3f}", path.conditions.k_factor));
    }

    add_way(text, path);
    add_budget(text, path);
    add_methods(text, SecondWords(path, wanted_margin_db));
    fmt::format_to(out, "\n{}\n{}\n\n{}\n", hears_words(path.b.name, path.a.name, path.outward),
                   hears_words(path.a.name, path.b.name, path.backward),
                   path_verdict(path, wanted_margin_db));
    for (const std::string& doubt : doubts(path, wanted_margin_db)) {
        fmt::format_to(out, "In doubt: {}.\n", doubt);
    }
    for (const std::string& warning : warnings(path)) {
        fmt::format_to(out, "Beware: {}.\n", warning);
    }
    text += notes_text(notes);
    if (explain && path.outward.loss.p1812) {
        append_explanation(text, *path.outward.loss.p1812);
    }
    fmt::format_to(out, "\n{}\n", cautions());
    return text;
}

std::string path_json(const link::TwoWayPath& path, const std::vector<std::string>& notes,
                      bool explain, double wanted_margin_db) {
    const propagation::Sight& sight = path.outward.loss.sight;
    ordered_json closest = nullptr;
    if (std::isfinite(sight.closest.nu)) {
        closest = {{"distance_km", sight.closest.distance_km},
                   {"height_above_line_m", sight.closest.height_above_line_m},
                   {"nu", sight.closest.nu},
                   {"clearance_f1", sight.clearance_f1}};
    }
    ordered_json json = {
        {"a", station_json(path.a, path.profile.ground_m.front())},
        {"b", station_json(path.b, path.profile.ground_m.back())},
        {"distance_km", path.line.distance_m / 1000.0},
        {"bearing_deg", path.line.bearing_deg},
        {"back_bearing_deg", path.line.back_bearing_deg},
        {"frequency_mhz", path.conditions.frequency_mhz},
        {"k_factor", propagation::radius_km(path.conditions) / propagation::earth_radius_km},
        {"method", propagation::method_info(path.conditions.method).name},
        {"line_of_sight", sight.clear},
        {"closest_ground", closest},
        {"outward", direction_json(path.outward)},
        {"backward", direction_json(path.backward)},
        {"verdict", path_verdict(path, wanted_margin_db)},
        {"second_opinion", second_json(path, SecondWords(path, wanted_margin_db))},
        {"doubts", doubts(path, wanted_margin_db)},
        {"warnings", warnings(path)},
        {"notes", notes},
        {"cautions", cautions()}};
    if (path.outward.loss.irregular_terrain) {
        json["outward"]["irregular_terrain"] = irregular_json(*path.outward.loss.irregular_terrain);
        json["backward"]["irregular_terrain"] =
            irregular_json(*path.backward.loss.irregular_terrain);
    }
    if (explain && path.outward.loss.p1812) {
        json["outward"]["terms"] = explanation_json(*path.outward.loss.p1812);
        json["backward"]["terms"] = explanation_json(*path.backward.loss.p1812);
    }
    return text_of(json);
}

std::string profile_csv(const link::TwoWayPath& path) {
    std::string text = "distance_km,latitude,longitude,ground_m,cover_m,earth_bulge_m,line_m,"
                       "fresnel_0.6_m,clearance_m\n";
    auto out = std::back_inserter(text);
    const terrain::Profile& profile = path.profile;
    const double length_km = profile.length_km();
    const double tx_m = profile.ground_m.front() + path.a.antenna_height_m;
    const double rx_m = profile.ground_m.back() + path.b.antenna_height_m;
    const double radius_km = propagation::radius_km(path.conditions);
    const geo::GeodesicLine line(path.a.position, path.line.bearing_deg);
    for (std::size_t i = 0; i < profile.size(); ++i) {
        const double d1 = profile.distance_km[i];
        const double d2 = length_km - d1;
        const geo::LatLon position = line.at(1000.0 * d1);
        const double bulge_m = propagation::earth_bulge_m(d1, d2, radius_km);
        const double line_m = (tx_m * d2 + rx_m * d1) / length_km;
        const double fresnel_m =
            0.6 * propagation::fresnel_radius_m(d1, d2, path.conditions.frequency_mhz);
        fmt::format_to(out, "{:.6f},{:.7f},{:.7f},{:.2f},{:.2f},{:.3f},{:.2f},{:.2f},{:.2f}\n", d1,
                       position.lat_deg, position.lon_deg, profile.ground_m[i], profile.cover_m[i],
                       bulge_m, line_m, fresnel_m,
                       line_m - profile.ground_m[i] - (profile.surface ? 0.0 : profile.cover_m[i]) -
                           bulge_m);
    }
    return text;
}

} // namespace earshot::report
