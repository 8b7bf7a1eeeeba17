#include "earshot/coverage/raster.hpp"

#include <algorithm>
#include <array>

namespace earshot::coverage {
namespace {

using enum BandKind;
using From = BandSource;

constexpr std::array table{
    BandInfo{margin, From::margins, "margin", "margin", "dB", true, true},
    BandInfo{chance, From::chances, "chance", "chance of contact", "%", true, true},
    BandInfo{readability, From::margins, "readability", "readability (0 nothing heard to 5 clear)",
             "1", true, true},
    BandInfo{received, From::losses, "received", "received power", "dBm", true, false},
    BandInfo{loss, From::losses, "loss", "path loss", "dB", true, false},
    BandInfo{doubt, From::doubts, "doubt",
             "doubt (median loss by a second model less that by the map's)", "dB", true, false},
    BandInfo{sight, From::fresnel, "sight",
             "line of sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least 0.6 F1 clear)", "1",
             true, false},
    BandInfo{in_sight, From::sight, "in-sight", "in sight (0 hidden, 1 in sight)", "1", true, true},
    BandInfo{heard, From::stations_heard, "heard", "number of stations heard", "1", false, true},
    BandInfo{serving, From::best_station, "serving", "station heard best (number in order, 0 none)",
             "1", false, true},
    BandInfo{both_ways, From::weaker_margins, "both-ways", "margin both ways", "dB", true, true},
    BandInfo{margin_with_each, From::each_margin, "each", "margin with ", "dB", true, true},
    BandInfo{best_margin, From::margins, "", "best margin", "dB", true, true},
    BandInfo{relays_heard, From::stations_heard, "", "number of relays with the wanted margin", "1",
             true, true},
    BandInfo{best_relay, From::best_station, "", "relay that serves best (number in order, 0 none)",
             "1", true, true},
};

} // namespace

std::span<const BandInfo> band_kinds() {
    return table;
}

const BandInfo& band_info(BandKind kind) {
    return *std::find_if(table.begin(), table.end(),
                         [kind](const BandInfo& info) { return info.kind == kind; });
}

const Band* find_band(const CoverageRaster& map, BandKind kind) {
    const auto bare = [](std::string_view title) { return title.substr(0, title.find(" (")); };
    const std::string_view wanted = bare(band_info(kind).title);
    const auto found = std::find_if(map.bands.begin(), map.bands.end(),
                                    [&](const Band& band) { return bare(band.name) == wanted; });
    return found == map.bands.end() ? nullptr : &*found;
}

} // namespace earshot::coverage
