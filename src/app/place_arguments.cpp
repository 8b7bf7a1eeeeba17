#include "app/place_arguments.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"

#include <fmt/format.h>

#include <set>

namespace earshot::app {

void PlaceArguments::add_to(const Options& options, const std::string& option,
                            const std::string& what) {
    option_ = option;
    options
        .add("--" + option, named_,
             fmt::format("{}: a name in the scenario, or a name and a position, for example "
                         "\"Mill=36.60,-84.20\"; may be given several times",
                         what),
             "NAME[=POSITION]")
        .take_all();
    options.add("--places-file", file_,
                "More of them from a file: GeoJSON, GPX waypoints, KML or CSV; \"people\" is how "
                "much one counts",
                "FILE");
}

std::vector<plan::ServedPlace> PlaceArguments::read(const SharedInputs& inputs) const {
    std::vector<plan::ServedPlace> places;
    for (const std::string& text : named_) {
        places.push_back({named_station(inputs, text, "--" + option_), 1.0});
    }
    if (!file_.empty()) {
        for (const scenario::Place& place : scenario::read_places(file_).places) {
            if (place.people > 0.0) {
                link::Station station = inputs.listener();
                station.name = place.name;
                station.position = place.position;
                places.push_back({std::move(station), place.people});
            }
        }
    }
    require_different_names(places);
    return places;
}

std::vector<plan::ServedPlace> everybody(const scenario::Scenario& scenario,
                                         const std::string& who) {
    std::vector<plan::ServedPlace> places;
    if (who != "places") {
        for (const link::Station& station : scenario.stations) {
            places.push_back({station, 1.0});
        }
    }
    if (who != "stations") {
        for (const scenario::Place& place : scenario.places) {
            if (place.people > 0.0) {
                places.push_back({scenario::station_named(scenario, place.name), place.people});
            }
        }
    }
    return places;
}

link::Station named_station(const SharedInputs& inputs, const std::string& text,
                            const std::string& option) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos && inputs.scenario()) {
        try {
            return scenario::station_named(*inputs.scenario(), text);
        } catch (const Error& error) {
            throw_usage(fmt::format("{}: {}", option, error.what()));
        }
    }
    if (equals == std::string::npos || equals == 0) {
        throw_usage(
            fmt::format("{} '{}' has no name; write it like Mill=36.60,-84.20", option, text));
    }
    link::Station station = inputs.listener();
    station.name = text.substr(0, equals);
    station.position = geo::parse_position(text.substr(equals + 1));
    return station;
}

void require_different_names(const std::vector<plan::ServedPlace>& places) {
    std::set<std::string> names;
    for (const plan::ServedPlace& place : places) {
        if (!names.insert(place.station.name).second) {
            throw_usage(
                fmt::format("two places have the name {}; give each its own", place.station.name));
        }
    }
}

std::vector<geo::LatLon> positions_of(const std::vector<plan::ServedPlace>& places) {
    std::vector<geo::LatLon> positions;
    positions.reserve(places.size());
    for (const plan::ServedPlace& place : places) {
        positions.push_back(place.station.position);
    }
    return positions;
}

plan::Circle circle_around_places(const std::vector<geo::LatLon>& positions) {
    std::vector<link::Station> stations(positions.size());
    for (std::size_t k = 0; k < positions.size(); ++k) {
        stations[k].position = positions[k];
    }
    return plan::circle_around(stations);
}

} // namespace earshot::app
