#include "scenario/places.hpp"

#include "base/number.hpp"
#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "geo/text.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/gdal_open.hpp"
#include "terrain/native/spatial_reference.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <ogrsf_frmts.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <optional>
#include <string_view>

namespace earshot::scenario {
namespace {

/// Index of the first field with one of the names, whatever their case; -1 if there is none.
int field_index(const OGRFeatureDefn& layer, std::initializer_list<std::string_view> names) {
    for (const std::string_view name : names) {
        const int index = layer.GetFieldIndex(std::string(name).c_str());
        if (index >= 0) {
            return index;
        }
    }
    return -1;
}

/// Text of the first field with one of the names; empty if there is none.
std::string text_in(const OGRFeature& feature, std::initializer_list<std::string_view> names) {
    const int field = field_index(*feature.GetDefnRef(), names);
    return field < 0 || feature.IsFieldSetAndNotNull(field) == 0
               ? std::string()
               : geo::plain_text(feature.GetFieldAsString(field));
}

void require_whole(const std::filesystem::path& file, const terrain::GdalErrors& errors) {
    if (errors.failed()) {
        throw_input(fmt::format("{}: reading stopped ({}); get a fresh copy", file.string(),
                                errors.reason()));
    }
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
        require_whole(file_, errors_);
        require_input(!result_.places.empty(), "{}: there is no place in it", file_.string());
        return std::move(result_);
    }

private:
    GDALDatasetUniquePtr open() {
        std::error_code ignored;
        require_input(std::filesystem::exists(file_, ignored),
                      "{}: there is no such file of places", file_.string());
        constexpr const char* drivers[] = {"GeoJSON", "GPX", "LIBKML", "KML", "CSV", nullptr};
        GDALDatasetUniquePtr dataset = terrain::open_input(
            file_.string(), GDAL_OF_VECTOR | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR, drivers);
        require_input(dataset != nullptr, "{}: cannot be read as GeoJSON, GPX, KML or CSV ({})",
                      file_.string(), errors_.reason());
        driver_ = dataset->GetDriverName();
        return dataset;
    }

    [[noreturn]] void fail(const std::string& what) const {
        throw_input("{}, place {}: {}", file_.string(), number_, what);
    }

    void read_layer(OGRLayer& layer) {
        const auto to_wgs84 = terrain::way_to_wgs84(layer.GetSpatialRef(), file_.string());
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
        std::string name = geo::one_line(text_in(feature, {"name"}));
        name.erase(0, name.find_first_not_of(' '));
        name.erase(name.find_last_not_of(' ') + 1);
        return name.empty() ? fmt::format("{} {}", file_.stem().string(), number_) : name;
    }

    [[nodiscard]] double people_at(const OGRFeature& feature) const {
        const std::string text = text_in(feature, {"people", "population"});
        if (text.find_first_not_of(" \t") == std::string::npos) {
            return 1.0;
        }
        const auto people = finite_number_in(geo::trimmed(text));
        if (!people || *people < 0.0) {
            fail(fmt::format("the number of people is '{}'; give 0 or more", text));
        }
        return *people;
    }

    /// Finds the columns of a table that hold positions.
    void require_position_columns(const OGRFeatureDefn& layer) {
        latitude_ = field_index(layer, {"latitude", "lat"});
        longitude_ = field_index(layer, {"longitude", "lon", "lng", "long"});
        position_ = field_index(layer, {"position"});
        require_input(position_ >= 0 || (latitude_ >= 0 && longitude_ >= 0),
                      "{}: no columns named latitude and longitude, nor one named position; name "
                      "them in the first line",
                      file_.string());
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
            const auto value = finite_number_in(geo::trimmed(text));
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

/// When a waypoint was made, as it says itself, without its zone.
std::string time_in(const OGRFeature& feature) {
    const int field = feature.GetFieldIndex("time");
    int year = 0;
    int month = 0;
    int day = 0;
    int hour = 0;
    int minute = 0;
    int second = 0;
    int zone = 0;
    if (field >= 0 && feature.IsFieldSetAndNotNull(field) != 0 &&
        feature.GetFieldDefnRef(field)->GetType() == OFTDateTime &&
        feature.GetFieldAsDateTime(field, &year, &month, &day, &hour, &minute, &second, &zone) !=
            0) {
        return fmt::format("{:04}-{:02}-{:02} {:02}:{:02}:{:02}", year, month, day, hour, minute,
                           second);
    }
    return text_in(feature, {"time"});
}

} // namespace

PlacesFile read_places(const std::filesystem::path& file) {
    return PlacesReader(file).read();
}

std::vector<Waypoint> read_waypoints(const std::filesystem::path& file) {
    terrain::GdalErrors errors;
    constexpr const char* drivers[] = {"GPX", nullptr};
    const GDALDatasetUniquePtr dataset = terrain::open_input(
        file.string(), GDAL_OF_VECTOR | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR, drivers);
    OGRLayer* layer = dataset ? dataset->GetLayerByName("waypoints") : nullptr;
    if (layer == nullptr) {
        throw_input(fmt::format("{}: cannot be read as GPX ({})", file.string(), errors.reason()));
    }
    std::vector<Waypoint> waypoints;
    for (const OGRFeatureUniquePtr& feature : *layer) {
        Waypoint& waypoint = waypoints.emplace_back();
        const OGRGeometry* shape = feature->GetGeometryRef();
        if (shape != nullptr && wkbFlatten(shape->getGeometryType()) == wkbPoint) {
            waypoint.position = geo::LatLon{shape->toPoint()->getY(), shape->toPoint()->getX()};
        }
        waypoint.name = text_in(*feature, {"name"});
        waypoint.time = time_in(*feature);
        waypoint.comment = text_in(*feature, {"cmt"});
        waypoint.description = text_in(*feature, {"desc"});
    }
    require_whole(file, errors);
    return waypoints;
}

} // namespace earshot::scenario
