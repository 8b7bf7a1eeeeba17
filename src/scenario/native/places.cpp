#include "scenario/places.hpp"

#include "base/number.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/text.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <ogrsf_frmts.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <optional>
#include <span>
#include <string_view>

namespace earshot::scenario {
namespace {

using TransformPtr = std::unique_ptr<OGRCoordinateTransformation>;

/// Index of the first field with one of the names, whatever their case; -1 if there is none.
int field_index(const OGRFeatureDefn& layer, std::span<const std::string_view> names) {
    for (const std::string_view name : names) {
        const int index = layer.GetFieldIndex(std::string(name).c_str());
        if (index >= 0) {
            return index;
        }
    }
    return -1;
}

std::optional<double> finite_number(std::string_view text) {
    const auto value = number_in(geo::trimmed(text));
    return value && std::isfinite(*value) ? value : std::nullopt;
}

class PlacesReader {
public:
    explicit PlacesReader(const std::filesystem::path& file) : file_(file) {}

    PlacesFile read() {
        GDALDatasetUniquePtr dataset = open();
        for (OGRLayer* layer : dataset->GetLayers()) {
            // Of a GPX file, waypoints are places; routes and tracks are ways between them.
            if (driver_ != "GPX" || std::string_view(layer->GetName()) == "waypoints") {
                read_layer(*layer);
            }
        }
        if (errors_.failed()) {
            throw_input(fmt::format("{}: reading stopped ({}); get a fresh copy", file_.string(),
                                    errors_.reason()));
        }
        if (result_.places.empty()) {
            throw_input(fmt::format("{}: there is no place in it", file_.string()));
        }
        return std::move(result_);
    }

private:
    GDALDatasetUniquePtr open() {
        std::error_code ignored;
        if (!std::filesystem::exists(file_, ignored)) {
            throw_input(fmt::format("{}: there is no such file of places", file_.string()));
        }
        constexpr const char* drivers[] = {"GeoJSON", "GPX", "LIBKML", "KML", "CSV", nullptr};
        GDALDatasetUniquePtr dataset(GDALDataset::Open(
            file_.c_str(), GDAL_OF_VECTOR | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR, drivers));
        if (!dataset) {
            throw_input(fmt::format("{}: cannot be read as GeoJSON, GPX, KML or CSV ({})",
                                    file_.string(), errors_.reason()));
        }
        driver_ = dataset->GetDriverName();
        return dataset;
    }

    [[noreturn]] void fail(const std::string& what) const {
        throw_input(fmt::format("{}, place {}: {}", file_.string(), number_, what));
    }

    void read_layer(OGRLayer& layer) {
        TransformPtr to_wgs84;
        if (const OGRSpatialReference* crs = layer.GetSpatialRef()) {
            OGRSpatialReference wgs84;
            wgs84.SetWellKnownGeogCS("WGS84");
            wgs84.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
            if (crs->IsSame(&wgs84) == 0) {
                to_wgs84.reset(OGRCreateCoordinateTransformation(crs, &wgs84));
                if (!to_wgs84) {
                    throw_input(fmt::format("{}: its reference system cannot be brought to WGS 84 "
                                            "({})",
                                            file_.string(), errors_.reason()));
                }
            }
        }
        const bool table = driver_ == "CSV";
        if (table) {
            require_position_columns(*layer.GetLayerDefn());
        }
        for (const OGRFeatureUniquePtr& feature : layer) {
            ++number_;
            const std::optional<geo::LatLon> position =
                table ? std::optional(position_in_columns(*feature))
                      : position_of_shape(*feature, to_wgs84.get());
            if (!position) {
                ++result_.passed_over;
                continue;
            }
            result_.places.push_back({name_of(*feature), *position, people_at(*feature)});
        }
    }

    [[nodiscard]] std::string name_of(const OGRFeature& feature) const {
        static constexpr std::string_view names[] = {"name"};
        const int field = field_index(*feature.GetDefnRef(), names);
        std::string name;
        if (field >= 0 && feature.IsFieldSetAndNotNull(field) != 0) {
            for (const char c : std::string_view(feature.GetFieldAsString(field))) {
                name += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
            }
            name.erase(0, name.find_first_not_of(' '));
            name.erase(name.find_last_not_of(' ') + 1);
        }
        return name.empty() ? fmt::format("{} {}", file_.stem().string(), number_) : name;
    }

    [[nodiscard]] double people_at(const OGRFeature& feature) const {
        static constexpr std::string_view names[] = {"people", "population"};
        const int field = field_index(*feature.GetDefnRef(), names);
        if (field < 0 || feature.IsFieldSetAndNotNull(field) == 0) {
            return 1.0;
        }
        const std::string text = feature.GetFieldAsString(field);
        if (text.find_first_not_of(" \t") == std::string::npos) {
            return 1.0;
        }
        const auto people = finite_number(text);
        if (!people || *people < 0.0) {
            fail(fmt::format("the number of people is '{}'; give 0 or more", text));
        }
        return *people;
    }

    /// Finds the columns of a table that hold positions.
    void require_position_columns(const OGRFeatureDefn& layer) {
        static constexpr std::string_view latitudes[] = {"latitude", "lat"};
        static constexpr std::string_view longitudes[] = {"longitude", "lon", "lng", "long"};
        static constexpr std::string_view positions[] = {"position"};
        latitude_ = field_index(layer, latitudes);
        longitude_ = field_index(layer, longitudes);
        position_ = field_index(layer, positions);
        if (position_ < 0 && (latitude_ < 0 || longitude_ < 0)) {
            throw_input(fmt::format("{}: no columns named latitude and longitude, nor one named "
                                    "position; name them in the first line",
                                    file_.string()));
        }
    }

    [[nodiscard]] geo::LatLon position_in_columns(const OGRFeature& feature) const {
        if (latitude_ < 0 || longitude_ < 0) {
            try {
                return geo::parse_position(feature.GetFieldAsString(position_));
            } catch (const Error& error) {
                fail(error.what());
            }
        }
        const auto degrees = [&](int field, std::string_view what) {
            const std::string text = feature.GetFieldAsString(field);
            const auto value = finite_number(text);
            if (!value) {
                fail(fmt::format("the {} is '{}', not a number of degrees", what, text));
            }
            return *value;
        };
        return on_earth({degrees(latitude_, "latitude"), degrees(longitude_, "longitude")});
    }

    [[nodiscard]] std::optional<geo::LatLon>
    position_of_shape(const OGRFeature& feature, OGRCoordinateTransformation* to_wgs84) const {
        const OGRGeometry* shape = feature.GetGeometryRef();
        if (shape == nullptr || shape->IsEmpty() != 0) {
            fail("it has no position");
        }
        if (wkbFlatten(shape->getGeometryType()) != wkbPoint) {
            return std::nullopt;
        }
        double x = shape->toPoint()->getX();
        double y = shape->toPoint()->getY();
        if (to_wgs84 != nullptr && to_wgs84->Transform(1, &x, &y) == 0) {
            fail("its position cannot be brought to WGS 84");
        }
        return on_earth({y, x});
    }

    [[nodiscard]] geo::LatLon on_earth(geo::LatLon position) const {
        if (!(std::abs(position.lat_deg) <= 90.0 && std::abs(position.lon_deg) <= 180.0)) {
            fail(fmt::format("latitude {} and longitude {} are off the earth; latitude goes to 90 "
                             "and longitude to 180 degrees",
                             position.lat_deg, position.lon_deg));
        }
        return position;
    }

    std::filesystem::path file_;
    terrain::GdalErrors errors_;
    std::string driver_;
    int latitude_ = -1;
    int longitude_ = -1;
    int position_ = -1;
    std::size_t number_ = 0; ///< of the feature at hand, from 1
    PlacesFile result_;
};

} // namespace

PlacesFile read_places(const std::filesystem::path& file) {
    return PlacesReader(file).read();
}

} // namespace earshot::scenario
