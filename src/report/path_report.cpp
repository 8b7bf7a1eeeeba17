#include "earshot/report/path_report.hpp"

#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/link/quality.hpp"
#include "earshot/propagation/basic.hpp"
#include "earshot/sweep/sweep.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <iterator>

namespace earshot::report {
namespace {

using nlohmann::ordered_json;

std::string sight_words(const propagation::Sight& sight) {
    if (!std::isfinite(sight.closest.nu)) {
        return "yes; the ends are too close for the elevation to show anything between them";
    }
    const double height = sight.closest.height_above_line_m;
    const std::string where = geo::format_distance(1000.0 * sight.closest.distance_km);
    switch (sweep::sight_class(sight)) {
    case sweep::SightClass::blocked:
        return fmt::format("no: the ground at {} stands {:.1f} m above the line", where, height);
    case sweep::SightClass::grazing:
        return fmt::format("yes, but tight: the ground at {} comes within {:.1f} m of the line "
                           "({:.2f} F1; 0.60 F1 is wanted)",
                           where, -height, sight.clearance_f1);
    default:
        return fmt::format("yes, with room: least clearance {:.1f} m at {} ({:.2f} F1)", -height,
                           where, sight.clearance_f1);
    }
}

std::string hears_words(const std::string& listener, const std::string& talker, double margin_db) {
    return fmt::format("{} hears {}: {} ({:+.1f} dB)", listener, talker,
                       link::readability(margin_db).name, margin_db);
}

ordered_json edge_json(const propagation::Edge& edge) {
    return {{"distance_km", edge.distance_km},
            {"height_above_line_m", edge.height_above_line_m},
            {"nu", edge.nu},
            {"loss_db", edge.loss_db}};
}

ordered_json station_json(const link::Station& station, double ground_m) {
    return {{"name", station.name},
            {"latitude", station.position.lat_deg},
            {"longitude", station.position.lon_deg},
            {"ground_m", ground_m},
            {"antenna_height_m", station.antenna_height_m}};
}

ordered_json direction_json(const link::Direction& direction) {
    ordered_json edges = ordered_json::array();
    for (const propagation::Edge& edge : direction.loss.edges) {
        edges.push_back(edge_json(edge));
    }
    const link::LinkBudget& budget = direction.budget;
    return {{"free_space_loss_db", direction.loss.free_space_db},
            {"diffraction_loss_db", direction.loss.diffraction_db},
            {"basic_loss_db", direction.loss.basic_loss_db},
            {"edges", edges},
            {"transmitter_power_dbm", budget.power_dbm},
            {"transmit_feeder_loss_db", budget.transmit_feeder_loss_db},
            {"transmit_gain_dbi", budget.transmit_gain_dbi},
            {"transmit_body_loss_db", budget.transmit_body_loss_db},
            {"receive_gain_dbi", budget.receive_gain_dbi},
            {"receive_body_loss_db", budget.receive_body_loss_db},
            {"receive_feeder_loss_db", budget.receive_feeder_loss_db},
            {"received_dbm", budget.received_dbm},
            {"needed_dbm", budget.needed_dbm},
            {"margin_db", budget.margin_db}};
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
    return fmt::format("The ground {} from {} stands {:.0f} m above the line; bending over it "
                       "costs {:.0f} dB on top of distance ({:.0f} dB).",
                       geo::format_distance(1000.0 * loss.sight.closest.distance_km), path.a.name,
                       loss.sight.closest.height_above_line_m, loss.diffraction_db,
                       loss.free_space_db);
}

} // namespace

std::string cautions() {
    return "A prediction is no guarantee: do not stake a life on it. Keep to your licence and its "
           "power limit. Keep masts clear of power lines, guy them, and stay off them in "
           "lightning. Mind the RF exposure limits near a transmitting antenna. Local codes and "
           "licensed professionals come first.";
}

std::string path_verdict(const link::TwoWayPath& path) {
    const double out_db = path.outward.budget.margin_db;
    const double back_db = path.backward.budget.margin_db;
    std::string who;
    if (out_db >= 0.0 && back_db >= 0.0) {
        who = fmt::format("{} and {} hear each other ({}).", path.a.name, path.b.name,
                          link::readability(std::min(out_db, back_db)).name);
    } else if (out_db >= 0.0) {
        who = fmt::format("{} hears {}, but cannot answer: {} is {:.0f} dB short.", path.b.name,
                          path.a.name, path.b.name, -back_db);
    } else if (back_db >= 0.0) {
        who = fmt::format("{} hears {}, but cannot answer: {} is {:.0f} dB short.", path.a.name,
                          path.b.name, path.a.name, -out_db);
    } else {
        who = fmt::format("{} and {} do not hear each other: {:.0f} dB short.", path.a.name,
                          path.b.name, -std::max(out_db, back_db));
    }
    return who + " " + reason_words(path);
}

std::string path_text(const link::TwoWayPath& path) {
    std::string text;
    auto out = std::back_inserter(text);
    const auto line = [&](std::string_view label, const std::string& value) {
        fmt::format_to(out, "  {:<26}{}\n", label, value);
    };
    const auto end = [&](const link::Station& station, double ground_m) {
        line(station.name,
             fmt::format("{}  {}  ground {:.1f} m, antenna {:.1f} m above it",
                         geo::format_decimal(station.position), geo::format_mgrs(station.position),
                         ground_m, station.antenna_height_m));
    };
    const propagation::PathLoss& loss = path.outward.loss;
    fmt::format_to(out, "{} to {}\n", path.a.name, path.b.name);
    end(path.a, path.profile.ground_m.front());
    end(path.b, path.profile.ground_m.back());
    line("distance", fmt::format("{:.3f} km ({:.2f} mi)", path.line.distance_m / 1000.0,
                                 path.line.distance_m / geo::metres_per_mile));
    line("bearings", fmt::format("{:.1f} deg out, {:.1f} deg back (from true north)",
                                 path.line.bearing_deg, path.line.back_bearing_deg));
    line("frequency", fmt::format("{:g} MHz", path.settings.frequency_mhz));
    line("method", fmt::format("{} ({})", propagation::method_info(path.settings.method).name,
                               propagation::method_info(path.settings.method).source));
    line("effective earth", fmt::format("k = {:.3f}", path.settings.k_factor));

    fmt::format_to(out, "\nThe way between\n");
    line("line of sight", sight_words(loss.sight));
    for (const propagation::Edge& edge : loss.edges) {
        line("edge at " + geo::format_distance(1000.0 * edge.distance_km),
             fmt::format("{:+.1f} m from the line it is seen on, nu {:.2f}, {:.1f} dB",
                         edge.height_above_line_m, edge.nu, edge.loss_db));
    }
    line("free-space loss", fmt::format("{:.1f} dB", loss.free_space_db));
    line("diffraction loss", fmt::format("{:.1f} dB", loss.diffraction_db));

    fmt::format_to(out, "\n{:<28}{:>16}{:>16}\n", "Link budget", "outward", "back");
    const auto outward = link::budget_lines(path.outward.budget);
    const auto backward = link::budget_lines(path.backward.budget);
    for (std::size_t i = 0; i < outward.size(); ++i) {
        fmt::format_to(out, "  {:<26}{:>12.1f} {:<3}{:>12.1f} {:<3}\n", outward[i].label,
                       outward[i].value, outward[i].unit, backward[i].value, backward[i].unit);
    }
    fmt::format_to(out, "\n{}\n{}\n\n{}\n",
                   hears_words(path.b.name, path.a.name, path.outward.budget.margin_db),
                   hears_words(path.a.name, path.b.name, path.backward.budget.margin_db),
                   path_verdict(path));
    fmt::format_to(out, "\n{}\n", cautions());
    return text;
}

std::string path_json(const link::TwoWayPath& path) {
    const propagation::Sight& sight = path.outward.loss.sight;
    ordered_json closest = nullptr;
    if (std::isfinite(sight.closest.nu)) {
        closest = {{"distance_km", sight.closest.distance_km},
                   {"height_above_line_m", sight.closest.height_above_line_m},
                   {"nu", sight.closest.nu},
                   {"clearance_f1", sight.clearance_f1}};
    }
    const ordered_json json = {{"a", station_json(path.a, path.profile.ground_m.front())},
                               {"b", station_json(path.b, path.profile.ground_m.back())},
                               {"distance_km", path.line.distance_m / 1000.0},
                               {"bearing_deg", path.line.bearing_deg},
                               {"back_bearing_deg", path.line.back_bearing_deg},
                               {"frequency_mhz", path.settings.frequency_mhz},
                               {"k_factor", path.settings.k_factor},
                               {"method", propagation::method_info(path.settings.method).name},
                               {"line_of_sight", sight.clear},
                               {"closest_ground", closest},
                               {"outward", direction_json(path.outward)},
                               {"backward", direction_json(path.backward)},
                               {"verdict", path_verdict(path)},
                               {"cautions", cautions()}};
    return json.dump(2) + "\n";
}

std::string profile_csv(const link::TwoWayPath& path) {
    std::string text = "distance_km,latitude,longitude,ground_m,cover_m,earth_bulge_m,line_m,"
                       "fresnel_0.6_m,clearance_m\n";
    auto out = std::back_inserter(text);
    const terrain::Profile& profile = path.profile;
    const double length_km = profile.length_km();
    const double tx_m = profile.ground_m.front() + path.a.antenna_height_m;
    const double rx_m = profile.ground_m.back() + path.b.antenna_height_m;
    const double radius_km = propagation::effective_earth_radius_km(path.settings.k_factor);
    const geo::GeodesicLine line(path.a.position, path.line.bearing_deg);
    for (std::size_t i = 0; i < profile.size(); ++i) {
        const double d1 = profile.distance_km[i];
        const double d2 = length_km - d1;
        const geo::LatLon position = line.at(1000.0 * d1);
        const double bulge_m = propagation::earth_bulge_m(d1, d2, radius_km);
        const double line_m = (tx_m * d2 + rx_m * d1) / length_km;
        const double fresnel_m =
            0.6 * propagation::fresnel_radius_m(d1, d2, path.settings.frequency_mhz);
        fmt::format_to(out, "{:.6f},{:.7f},{:.7f},{:.2f},{:.2f},{:.3f},{:.2f},{:.2f},{:.2f}\n", d1,
                       position.lat_deg, position.lon_deg, profile.ground_m[i], profile.cover_m[i],
                       bulge_m, line_m, fresnel_m,
                       line_m - profile.ground_m[i] - profile.cover_m[i] - bulge_m);
    }
    return text;
}

} // namespace earshot::report
