#pragma once

#include "earshot/geo/geodesic.hpp"

#include <filesystem>
#include <vector>

/// The climate of a path.
///
///     // Else the middle-latitude values.
///     const terrain::Refractivity air = terrain::RefractivityMaps::open("maps").at(ridge);

namespace earshot::terrain {

/// State of the lower atmosphere at the middle of a path, as Recommendation ITU-R P.1812-8 takes
/// it (sections 3.1 and 3.5, maps of ITU-R P.453).
struct Refractivity {
    /// Mean fall of radio refractivity through the lowest kilometre, N-units/km; positive. The
    /// default is a middle-latitude value: it stands in the ITU-R validation set for P.1812 for
    /// both of its European paths, and gives an effective earth radius of 1.40 earth radii. The
    /// yearly mean of the map runs from about 30 to 70; the 4/3 earth belongs to 39.25.
    double delta_n = 45.0;
    /// Refractivity at sea level, N-units. The default is a middle-latitude value (the same
    /// validation set has 323.9 and 326.1); the map runs from about 290 to 390.
    double n0 = 325.0;
};

/// A map of the globe from Recommendation ITU-R P.1812: 121 rows from 90 N to 90 S and 241 columns
/// from 0 to 360 E, both at steps of 1.5 degrees.
class GlobalMap {
public:
    static constexpr int rows = 121;
    static constexpr int columns = 241;
    static constexpr double step_deg = 1.5;

    /// Reads whitespace-separated numbers, one row of the map per line. Throws
    /// Error(Fault::input) that names the file and, where there is one, the line: file missing,
    /// wrong number of rows or columns, or something that is not a number.
    static GlobalMap read(const std::filesystem::path& file);

    /// Bilinear between the four surrounding nodes. Any longitude; latitude in [-90, 90].
    [[nodiscard]] double at(geo::LatLon position) const;

private:
    std::vector<double> values_; ///< row-major, `rows` times `columns`
};

/// The two maps that accompany P.1812, DN50.TXT and N050.TXT. ITU does not allow them to be passed
/// on, so they are read from a folder that the user names.
class RefractivityMaps {
public:
    /// Throws Error(Fault::input) if the folder or either file is missing or damaged. File names
    /// are matched without regard to case.
    static RefractivityMaps open(const std::filesystem::path& folder);

    [[nodiscard]] Refractivity at(geo::LatLon position) const;

private:
    RefractivityMaps(GlobalMap delta_n, GlobalMap n0);
    GlobalMap delta_n_;
    GlobalMap n0_;
};

} // namespace earshot::terrain
