#pragma once

#include <memory>
#include <string>

namespace earshot::terrain {

/// The way from WGS 84 longitude and latitude, in degrees, to the axes of another reference system
/// and back. One object must not be used by two threads at once.
class Projection {
public:
    struct Point {
        double x = 0.0;
        double y = 0.0;
    };

    Projection() = default;
    Projection& operator=(const Projection&) = delete;
    virtual ~Projection() = default;
    [[nodiscard]] virtual std::unique_ptr<Projection> copy() const = 0;
    /// NaN for both where there are no such coordinates.
    [[nodiscard]] virtual Point forward(Point position) const = 0;
    [[nodiscard]] virtual Point inverse(Point place) const = 0;

protected:
    Projection(const Projection&) = default;
};

/// The horizontal part of a coordinate reference system.
struct ReferenceSystem {
    std::string wkt;              ///< WKT 2:2019
    std::string label;            ///< "EPSG:4326", or a name where there is no authority's code
    double turn = 0.0;            ///< a full turn of longitude in its units, 0 if projected
    double metres_per_unit = 1.0; ///< as Georeference says
    std::unique_ptr<Projection> projection; ///< none for plain WGS 84 degrees
};

/// Reads a reference system: here through GDAL and PROJ, in a browser as its page does. Throws
/// Error(Fault::input) if it cannot be understood or has no place on the earth.
[[nodiscard]] ReferenceSystem reference_system(const std::string& crs);

} // namespace earshot::terrain
