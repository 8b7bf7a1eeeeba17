#include "report/files/places_files.hpp"

#include "earshot/base/error.hpp"
#include "link/quality.hpp"
#include "report/files/gdal_raster.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/place_results.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <fmt/format.h>
#include <ogrsf_frmts.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

/// A layer of features in a file in memory, by one of GDAL's drivers.
class FeatureFile {
public:
    FeatureFile(const char* driver, const std::string& extension, const char* layer,
                OGRwkbGeometryType geometry, const CPLStringList& layer_options)
        : driver_(driver), file_(extension),
          dataset_(
              gdal_driver(driver).Create(file_.path().c_str(), 0, 0, 0, GDT_Unknown, nullptr)) {
        OGRSpatialReference wgs84;
        wgs84.SetWellKnownGeogCS("WGS84");
        wgs84.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
        if (dataset_) {
            layer_ = dataset_->CreateLayer(layer, &wgs84, geometry,
                                           const_cast<char**>(layer_options.List()));
        }
        require(layer_ != nullptr);
    }

    void add_field(const char* name, OGRFieldType type, OGRFieldSubType subtype = OFSTNone) const {
        OGRFieldDefn field(name, type);
        field.SetSubType(subtype);
        require(layer_->CreateField(&field) == OGRERR_NONE);
    }
    [[nodiscard]] OGRFeatureUniquePtr feature() const {
        return OGRFeatureUniquePtr(OGRFeature::CreateFeature(layer_->GetLayerDefn()));
    }
    void add(OGRFeature& feature) const { require(layer_->CreateFeature(&feature) == OGRERR_NONE); }
    /// Ends the file and gives its bytes.
    [[nodiscard]] std::string content() {
        dataset_.reset();
        require(true);
        return file_.content();
    }

private:
    void require(bool done) const {
        if (!done || errors_.failed()) {
            throw_output(fmt::format("cannot write places as {}: {}", driver_, errors_.reason()));
        }
    }

    const char* driver_;
    terrain::GdalErrors errors_;
    MemoryFile file_;
    GDALDatasetUniquePtr dataset_;
    OGRLayer* layer_ = nullptr;
};

/// Sets a field unless the value says nothing.
void set(OGRFeature& feature, const char* field, const std::string& value) {
    if (!value.empty()) {
        feature.SetField(field, value.c_str());
    }
}

/// Sets a number, rounded to what it is good for; nothing if it is not known.
void set(OGRFeature& feature, const char* field, double value, double step) {
    if (std::isfinite(value)) {
        feature.SetField(field, std::round(value / step) * step);
    }
}

void set_margin(OGRFeature& feature, const char* field, double margin_db, double wanted_db) {
    if (std::isfinite(margin_db)) {
        feature.SetField(field, shown_margin_db(margin_db, 2, wanted_db));
    }
}

void set(OGRFeature& feature, const char* field, const std::vector<std::string>& values) {
    CPLStringList list;
    for (const std::string& value : values) {
        list.AddString(value.c_str());
    }
    feature.SetField(field, list.List());
}

void add_geojson_fields(const FeatureFile& file) {
    for (const char* name : {"name", "kind", "description", "best_station", "readability_words",
                             "person", "role", "fallback", "a", "b", "verdict"}) {
        file.add_field(name, OFTString);
    }
    file.add_field("talks_with", OFTStringList);
    for (const char* name :
         {"margin_db", "people", "ground_m", "antenna_height_m", "power_dbm", "antenna_gain_dbi",
          "distance_m", "b_hears_a_margin_db", "a_hears_b_margin_db", "chance_percent"}) {
        file.add_field(name, OFTReal);
    }
    file.add_field("readability", OFTInteger);
    file.add_field("mutual", OFTInteger, OFSTBoolean);
}

OGRFeatureUniquePtr place_feature(const FeatureFile& file, const PlaceResult& result) {
    OGRFeatureUniquePtr feature = file.feature();
    set(*feature, "name", result.name);
    set(*feature, "kind", result.station ? "station" : "place");
    set(*feature, "description", result.words);
    set(*feature, "ground_m", result.ground_m, 0.1);
    if (result.station) {
        set(*feature, "person", result.person);
        set(*feature, "role", result.role);
        set(*feature, "fallback", result.fallback);
        set(*feature, "talks_with", result.talks_with);
    } else {
        set(*feature, "people", result.people, 0.01);
        set(*feature, "best_station", result.best_station);
    }
    if (std::isfinite(result.margin_db)) {
        const link::ReadabilityClass& heard = link::readability(result.margin_db);
        set_margin(*feature, "margin_db", result.margin_db, 0.0);
        feature->SetField("readability", static_cast<int>(heard.readability));
        set(*feature, "readability_words", std::string(heard.name));
    }
    OGRPoint point(result.position.lon_deg, result.position.lat_deg);
    feature->SetGeometry(&point);
    return feature;
}

OGRFeatureUniquePtr pair_feature(const FeatureFile& file, const Briefing& briefing,
                                 const plan::Pair& pair) {
    const link::Station& a = briefing.stations[pair.a];
    const link::Station& b = briefing.stations[pair.b];
    const double wanted_db = briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0;
    OGRFeatureUniquePtr feature = file.feature();
    set(*feature, "name", a.name + " - " + b.name);
    set(*feature, "kind", "pair");
    set(*feature, "a", a.name);
    set(*feature, "b", b.name);
    set(*feature, "distance_m", pair.distance_m, 0.1);
    set_margin(*feature, "b_hears_a_margin_db", pair.b_hears_a.margin_db, wanted_db);
    set_margin(*feature, "a_hears_b_margin_db", pair.a_hears_b.margin_db, wanted_db);
    set(*feature, "chance_percent", pair.weaker_chance_percent(), 0.1);
    feature->SetField("mutual", pair.mutual() ? 1 : 0);
    set(*feature, "verdict", pair_verdict(pair, briefing.stations, wanted_db));
    OGRLineString line;
    line.addPoint(a.position.lon_deg, a.position.lat_deg);
    line.addPoint(b.position.lon_deg, b.position.lat_deg);
    feature->SetGeometry(&line);
    return feature;
}

} // namespace

std::string places_geojson(const Briefing& briefing) {
    CPLStringList options;
    options.SetNameValue("RFC7946", "YES"); // cuts lines at the 180 degree meridian as well
    options.SetNameValue("DESCRIPTION", (briefing.title + ". " + cautions()).c_str());
    FeatureFile file("GeoJSON", "geojson", "places", wkbUnknown, options);
    add_geojson_fields(file);
    for (const PlaceResult& result : place_results(briefing)) {
        file.add(*place_feature(file, result));
    }
    for (const plan::Pair& pair : briefing.pairs) {
        if (pair.b_hears_a.heard || pair.a_hears_b.heard) {
            file.add(*pair_feature(file, briefing, pair));
        }
    }
    return file.content();
}

std::string places_gpx(const Briefing& briefing) {
    FeatureFile file("GPX", "gpx", "waypoints", wkbPoint, {});
    for (const PlaceResult& result : place_results(briefing)) {
        const OGRFeatureUniquePtr feature = file.feature();
        set(*feature, "name", result.name);
        set(*feature, "type", result.station ? "station" : "place");
        set(*feature, "desc", result.words);
        set(*feature, "ele", result.ground_m, 0.1);
        OGRPoint point(result.position.lon_deg, result.position.lat_deg);
        feature->SetGeometry(&point);
        file.add(*feature);
    }
    return file.content();
}

} // namespace earshot::report
