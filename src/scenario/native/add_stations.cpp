#include "base/input_file.hpp"
#include "base/named.hpp"
#include "base/output_file.hpp"
#include "base/require.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/geo/position.hpp"
#include "link/handheld.hpp"
#include "scenario/scenario.hpp"
#include "scenario/strict_toml.hpp"

#include <fmt/format.h>

#include <fstream>

namespace earshot::scenario {
namespace {

/// One name, or one for each side of a repeater.
std::string names_of_sides(const std::string& in, const std::string& out) {
    return in == out ? in_quotes(out) : fmt::format("[{}, {}]", in_quotes(in), in_quotes(out));
}

std::string section_of(const link::Station& station, std::string_view role,
                       const NewRepeat* repeat) {
    const link::Radio& taking = repeat == nullptr ? station.radio : repeat->taking;
    const std::string section =
        fmt::format("\n[[stations]]\nname = {}\nposition = \"{}\"\nantenna_height_m = {:g}\n"
                    "radio = {}\nantenna = {}\nbody_loss_db = {:.10g}\nrole = {}\n",
                    in_quotes(station.name), geo::format_decimal(station.position, 6),
                    station.antenna_height_m, names_of_sides(taking.kind, station.radio.kind),
                    names_of_sides(taking.antenna, station.radio.antenna),
                    station.radio.body_loss_db, in_quotes(role));
    return repeat == nullptr
               ? section
               : section + fmt::format("takes_in = {}\ngives_out = {}\n",
                                       in_quotes(repeat->takes_in), in_quotes(repeat->gives_out));
}

/// With the ends of lines that the rest has.
std::string with_ends_of(const std::string& content, const std::string& added) {
    if (content.find("\r\n") == std::string::npos) {
        return added;
    }
    std::string out;
    for (const char c : added) {
        out += c == '\n' ? std::string("\r\n") : std::string{c};
    }
    return out;
}

} // namespace

std::vector<std::string> add_stations(const std::filesystem::path& file,
                                      std::vector<link::Station> stations, std::string_view role,
                                      const NewRepeat* repeat) {
    // What a link points at is changed, not the link.
    const std::filesystem::path real = std::filesystem::canonical(file);
    const Scenario before = read_scenario(real);
    std::vector<std::string_view> taken = names_of(before.stations, before.places);
    std::string content = read_text_file(real, "scenario");
    std::string added = content.empty() || content.back() == '\n' ? "" : "\n";
    std::vector<std::string> names;
    names.reserve(stations.size()); // views of them are among those that are taken
    for (link::Station& station : stations) {
        require_usage(
            !station.radio.kind.empty() && !station.radio.antenna.empty(),
            "{} has a radio or an antenna that {} does not have; name a station of it that "
            "the relays are like",
            station.name, file.string());
        for (const link::Station& there : before.stations) {
            constexpr double same_place_m = 1.0;
            require_usage(geo::geodesic_between(there.position, station.position).distance_m >
                              same_place_m,
                          "{} stands in {} already, where {} would; there is nothing to add",
                          there.name, file.string(), station.name);
        }
        const std::string wanted = station.name;
        for (int number = 2;
             std::find(taken.begin(), taken.end(), std::string_view(station.name)) != taken.end();
             ++number) {
            station.name = fmt::format("{} ({})", wanted, number);
        }
        names.push_back(station.name);
        taken.push_back(names.back());
        added += section_of(station, role, repeat);
    }
    OutputFile out(real, OutputFile::Replaces::an_input);
    {
        std::ofstream to(out.temporary(), std::ios::binary);
        to << content << with_ends_of(content, added);
        to.flush();
        require_output(to.good(), "{} could not be written; it is as it was", file.string());
    }
    (void)read_scenario(out.temporary());
    std::filesystem::permissions(out.temporary(), std::filesystem::status(real).permissions());
    out.commit();
    return names;
}

} // namespace earshot::scenario
