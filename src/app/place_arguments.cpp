#include "place_arguments.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"

#include <fmt/format.h>

namespace earshot::app {

void PlaceArguments::add_to(CLI::App& command, const std::string& option, const std::string& what) {
    option_ = option;
    command
        .add_option(
            "--" + option, named,
            fmt::format("{}, with its name, for example \"Mill=36.60,-84.20\"; may be given "
                        "several times",
                        what))
        ->type_name("NAME=POSITION")
        ->take_all();
    command
        .add_option(
            "--places-file", file,
            "More of them from a file: GeoJSON, GPX waypoints, KML or CSV; \"people\" is how "
            "much one counts")
        ->type_name("FILE");
}

std::vector<plan::Place> PlaceArguments::read() const {
    std::vector<plan::Place> places;
    for (const std::string& text : named) {
        places.push_back(parse_named_place(text, "--" + option_));
    }
    if (!file.empty()) {
        for (plan::Place& place : plan::read_places(file).places) {
            if (place.people > 0.0) { // one that counts nothing needs no relay
                places.push_back(std::move(place));
            }
        }
    }
    return places;
}

plan::Place parse_named_place(const std::string& text, const std::string& option) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
        throw_usage(
            fmt::format("{} '{}' has no name; write it like Mill=36.60,-84.20", option, text));
    }
    return {text.substr(0, equals), geo::parse_position(text.substr(equals + 1)), 1.0};
}

plan::Circle circle_around_places(const std::vector<geo::LatLon>& positions) {
    std::vector<link::Station> stations(positions.size());
    for (std::size_t k = 0; k < positions.size(); ++k) {
        stations[k].position = positions[k];
    }
    return plan::circle_around(stations);
}

} // namespace earshot::app
