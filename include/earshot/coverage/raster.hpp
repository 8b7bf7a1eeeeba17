#pragma once

#include "earshot/terrain/georeference.hpp"

#include <limits>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// A finished map, however it was made.
///
///     const coverage::CoverageRaster raster{map.columns,
///                                           map.rows,
///                                           map.georeference,
///                                           {{"loss", "dB", result.loss_db}},
///                                           {{"SITE", "ridge"}}};

namespace earshot::coverage {

/// The value that stands for "not known" in every band we write.
inline constexpr float nodata = -9999.0F;

/// What a band of a map holds.
enum class BandKind {
    margin,
    chance,
    readability,
    received,
    loss,
    doubt,
    sight,
    in_sight,
    heard,
    serving,
    both_ways,        ///< margin of the weaker way
    margin_with_each, ///< a band for each station
    // Those of a map of relays.
    best_margin,
    relays_heard,
    best_relay,
};

/// What a band is worked out from.
enum class BandSource {
    margins, ///< the best of all stations
    losses,
    chances,
    doubts,  ///< by how much a second model's losses differ
    fresnel, ///< how much of the first Fresnel zone is clear
    sight,   ///< line of sight alone, for which no losses are needed
    stations_heard,
    best_station,
    each_margin,
    weaker_margins, ///< of both ways, the best of all stations
};

struct BandInfo {
    BandKind kind;
    BandSource source;
    std::string_view name;     ///< as people ask for it; empty if it is not asked for by name
    std::string_view title;    ///< in the file; the station's name follows with margin_with_each
    std::string_view unit;     ///< "1" for classes and numbers
    bool for_one, for_several; ///< stations
};

/// All kinds of bands, in the order they are listed to people.
[[nodiscard]] std::span<const BandInfo> band_kinds();
[[nodiscard]] const BandInfo& band_info(BandKind kind);

/// One band of a coverage raster: row-major values, NaN where not known (written as `nodata`).
struct Band {
    std::string name; ///< for people and programs: "margin", "received power"
    std::string unit; ///< "dB", "dBm", "1"
    std::vector<float> values;
};

/// A finished map: bands on one grid, and the inputs it was made with.
struct CoverageRaster {
    int columns = 0;
    int rows = 0;
    terrain::Georeference georeference;
    std::vector<Band> bands;
    /// Key and value in order, so that a map can always be explained. Keys are upper-case words
    /// joined by underscores.
    std::vector<std::pair<std::string, std::string>> metadata;
};

/// A map's band of a kind; null if it has none. What stands in parentheses in a title only explains
/// and is not looked at.
[[nodiscard]] const Band* find_band(const CoverageRaster& map, BandKind kind);

} // namespace earshot::coverage
