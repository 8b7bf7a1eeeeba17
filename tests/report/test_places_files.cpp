#include "output_checks.hpp"
#include "report/files/places_files.hpp"
#include "report/say/briefing.hpp"

#include <cpl_vsi.h>
#include <gdal_priv.h>
#include <ogrsf_frmts.h>

#include <array>
#include <cmath>
#include <limits>
#include <map>

namespace earshot::report {
namespace {

/// An invented net of two stations and two places on a map of 20 x 10 cells of 0.01 degree, margin
/// 20 dB in the western half, 3 dB in the eastern but for its last column, where nothing is known.
Briefing invented(double west_deg = 10.0) {
    Briefing briefing;
    briefing.title = "Invented <net> & more";
    briefing.map.columns = 20;
    briefing.map.rows = 10;
    briefing.map.georeference =
        terrain::Georeference("EPSG:4326", west_deg + 0.005, 50.095, 0.01, -0.01);
    briefing.map.georeference.set_columns(20);
    std::vector<float> margin_db;
    std::vector<float> best;
    for (int row = 0; row < 10; ++row) {
        for (int column = 0; column < 20; ++column) {
            margin_db.push_back(column == 19  ? std::numeric_limits<float>::quiet_NaN()
                                : column < 10 ? 20.0F
                                              : 3.0F);
            best.push_back(column < 10 ? 1.0F : 2.0F);
        }
    }
    briefing.map.bands = {{"margin", "dB", margin_db},
                          {"station heard best (number in order, 0 none)", "1", best}};
    briefing.ground.columns = 2;
    briefing.ground.rows = 2;
    briefing.ground.georeference = terrain::Georeference("EPSG:4326", west_deg, 50.1, 0.2, -0.1);
    briefing.ground.height_m = {100.0F, 100.0F, 100.0F, 100.0F};
    const auto lon_deg = [&](double east_deg) {
        return std::remainder(west_deg + east_deg, 360.0);
    };
    briefing.stations = {{"Ombrel Mühle", {50.05, lon_deg(0.05)}, 2.0, {}},
                         {"القرية", {50.05, lon_deg(0.15)}, 2.0, {}}};
    briefing.places = {{"Quorrel", {50.02, lon_deg(0.12)}, 40.0},
                       {"Beyond", {51.0, lon_deg(0.12)}, 1.0}};
    plan::Pair pair;
    pair.a = 0;
    pair.b = 1;
    pair.distance_m = 7150.0;
    pair.b_hears_a = {120.0, 18.0, 98.0, link::Readability::clear, true};
    pair.a_hears_b = {120.0, 7.5, 80.0, link::Readability::easy, true};
    briefing.pairs = {pair};
    briefing.net = plan::net_structure(2, briefing.pairs);
    return briefing;
}

/// A file in GDAL's memory, read back by GDAL.
class ReadBack {
public:
    ReadBack(const std::string& content, const std::string& name) : path_("/vsimem/back-" + name) {
        GDALAllRegister();
        VSILFILE* file = VSIFOpenL(path_.c_str(), "wb");
        REQUIRE(file != nullptr);
        REQUIRE(VSIFWriteL(content.data(), 1, content.size(), file) == content.size());
        VSIFCloseL(file);
    }
    ~ReadBack() { VSIUnlink(path_.c_str()); }
    ReadBack(const ReadBack&) = delete;
    ReadBack& operator=(const ReadBack&) = delete;

    [[nodiscard]] GDALDatasetUniquePtr vector(const char* driver) const {
        const std::array<const char*, 2> drivers{driver, nullptr};
        GDALDatasetUniquePtr dataset(
            GDALDataset::Open(path_.c_str(), GDAL_OF_VECTOR, drivers.data(), nullptr, nullptr));
        REQUIRE(dataset);
        return dataset;
    }
    [[nodiscard]] const std::string& path() const { return path_; }

private:
    std::string path_;
};

/// Features of all layers by their name; those of several layers with one name are refused.
std::map<std::string, OGRFeatureUniquePtr> features_of(GDALDataset& dataset) {
    std::map<std::string, OGRFeatureUniquePtr> features;
    for (OGRLayer* layer : dataset.GetLayers()) {
        for (auto& feature : *layer) {
            const int name = feature->GetFieldIndex("name") >= 0 ? feature->GetFieldIndex("name")
                                                                 : feature->GetFieldIndex("Name");
            REQUIRE(features.emplace(feature->GetFieldAsString(name), feature->Clone()).second);
        }
    }
    return features;
}

std::string bytes_of(const std::string& path) {
    VSILFILE* file = VSIFOpenL(path.c_str(), "rb");
    INFO(path);
    REQUIRE(file != nullptr);
    std::string content(1 << 20, '\0');
    content.resize(VSIFReadL(content.data(), 1, content.size(), file));
    VSIFCloseL(file);
    return content;
}

} // namespace

TEST_CASE("GeoJSON holds stations, places and links as GDAL reads them") {
    const ReadBack file(places_geojson(invented()), "a.geojson");
    const GDALDatasetUniquePtr dataset = file.vector("GeoJSON");
    const auto features = features_of(*dataset);
    REQUIRE(features.size() == 5);
    const OGRFeature& place = *features.at("Quorrel");
    CHECK(std::string(place.GetFieldAsString("kind")) == "place");
    CHECK(place.GetFieldAsDouble("margin_db") == 3.0);
    CHECK(place.GetFieldAsInteger("readability") == 3); // from 0 to 6 dB: with effort
    CHECK(place.GetFieldAsDouble("people") == 40.0);
    CHECK(std::string(place.GetFieldAsString("best_station")) == "القرية");
    CHECK(place.GetGeometryRef()->toPoint()->getX() == Approx(10.12).margin(1e-7));
    CHECK(place.GetGeometryRef()->toPoint()->getY() == Approx(50.02).margin(1e-7));
    // Outside the map nothing is known, and no number stands for that.
    const OGRFeature& beyond = *features.at("Beyond");
    CHECK_FALSE(beyond.IsFieldSetAndNotNull(beyond.GetFieldIndex("margin_db")));
    const OGRFeature& station = *features.at("Ombrel Mühle");
    CHECK(std::string(station.GetFieldAsString("kind")) == "station");
    const CPLStringList talks(station.GetFieldAsStringList(station.GetFieldIndex("talks_with")),
                              FALSE);
    REQUIRE(talks.Count() == 1);
    CHECK(std::string(talks[0]) == "القرية");
    const OGRFeature& link = *features.at("Ombrel Mühle - القرية");
    CHECK(link.GetFieldAsDouble("b_hears_a_margin_db") == 18.0);
    CHECK(link.GetFieldAsDouble("a_hears_b_margin_db") == 7.5);
    CHECK(wkbFlatten(link.GetGeometryRef()->getGeometryType()) == wkbLineString);
}

TEST_CASE("a link across the 180 degree meridian is cut there") {
    const ReadBack file(places_geojson(invented(179.9)), "b.geojson");
    const GDALDatasetUniquePtr dataset = file.vector("GeoJSON");
    const auto features = features_of(*dataset);
    const OGRGeometry* line = features.at("Ombrel Mühle - القرية")->GetGeometryRef();
    // RFC 7946 section 3.1.9: neither part crosses the meridian.
    REQUIRE(wkbFlatten(line->getGeometryType()) == wkbMultiLineString);
    CHECK(line->toMultiLineString()->getNumGeometries() == 2);
}

TEST_CASE("GPX holds a waypoint for each station and place") {
    const ReadBack file(places_gpx(invented()), "a.gpx");
    const GDALDatasetUniquePtr dataset = file.vector("GPX");
    OGRLayer* waypoints = dataset->GetLayerByName("waypoints");
    REQUIRE(waypoints != nullptr);
    CHECK(waypoints->GetFeatureCount() == 4);
    const auto features = features_of(*dataset);
    const OGRFeature& place = *features.at("Quorrel");
    CHECK_THAT(place.GetFieldAsString("desc"), Catch::Contains("+3 dB"));
    CHECK_THAT(place.GetFieldAsString("desc"), Catch::Contains("readable with effort"));
    CHECK(std::string(place.GetFieldAsString("type")) == "place");
    CHECK(place.GetFieldAsDouble("ele") == 100.0);
}

TEST_CASE("KML is read by GDAL's reader of the whole standard") {
    const ReadBack file(places_kml(invented()), "a.kml");
    const GDALDatasetUniquePtr dataset = file.vector("LIBKML");
    const auto features = features_of(*dataset);
    REQUIRE(features.size() == 5);
    CHECK_THAT(features.at("Beyond")->GetFieldAsString("description"),
               Catch::Contains("Not predicted"));
    CHECK(dataset->GetLayerCount() == 3); // stations, places, who hears whom
}

TEST_CASE("KMZ lays the classes over the ground they belong to, bare where there is none") {
    const ReadBack file(places_kmz(invented()), "a.kmz");
    const GDALDatasetUniquePtr dataset = file.vector("LIBKML");
    CHECK(features_of(*dataset).count("Where stations are heard") == 1); // the overlay
    const std::string root = "/vsizip/" + file.path() + "/";
    const std::string document = bytes_of(root + "doc.kml");
    for (const char* part :
         {"<north>50.100000000</north>", "<south>50.000000000</south>", "<west>10.000000000</west>",
          "<east>10.200000000</east>", "<href>files/coverage.png</href>",
          "Invented &lt;net&gt; &amp; more", "Clear, 16 dB and more"}) {
        CHECK_THAT(document, Catch::Contains(part));
    }
    const GDALDatasetUniquePtr picture(
        GDALDataset::Open((root + "files/coverage.png").c_str(), GDAL_OF_RASTER));
    REQUIRE(picture);
    GDALRasterBand& band = *picture->GetRasterBand(1);
    const int width = picture->GetRasterXSize();
    std::vector<unsigned char> row(static_cast<std::size_t>(width));
    REQUIRE(band.RasterIO(GF_Read, 0, picture->GetRasterYSize() / 2, width, 1, row.data(), width, 1,
                          GDT_Byte, 0, 0, nullptr) == CE_None);
    const auto opacity = [&](double share) {
        return band.GetColorTable()
            ->GetColorEntry(row[static_cast<std::size_t>(share * (width - 1))])
            ->c4;
    };
    CHECK(opacity(0.25) == 255);
    CHECK(opacity(0.75) == 255);
    CHECK(opacity(1.0) == 0);
    CHECK(row[static_cast<std::size_t>(0.25 * width)] == 5);
    CHECK(row[static_cast<std::size_t>(0.75 * width)] == 3);
    for (const char* name : {"files/legend.png", "files/station.png", "files/place.png"}) {
        CHECK(GDALDatasetUniquePtr(GDALDataset::Open((root + name).c_str(), GDAL_OF_RASTER)));
    }
}

TEST_CASE("a map across the 180 degree meridian stays in one piece in KMZ") {
    const ReadBack file(places_kmz(invented(179.9)), "b.kmz");
    const std::string document = bytes_of("/vsizip/" + file.path() + "/doc.kml");
    // KML 2.2 (OGC 07-147r2) section 11.3: longitudes may go beyond 180 for such a box.
    CHECK_THAT(document, Catch::Contains("<west>179.900000000</west>"));
    CHECK_THAT(document, Catch::Contains("<east>180.100000000</east>"));
}

TEST_CASE("control characters and broken UTF-8 in names leave valid XML") {
    Briefing briefing = invented();
    briefing.places.front().name = "bell\x07 and \xff byte, \xEF\xBF\xBE"; // U+FFFE
    const ReadBack file(places_kml(briefing), "c.kml");
    CHECK(features_of(*file.vector("LIBKML")).size() == 5);
}

TEST_CASE("descriptions in KML show as they are, not as HTML") {
    const NamedPoint point{"Mill <1>", "<i>ground</i> & more", {35.4, 16.9}};
    const std::string kml = points_file("sites.kml", {&point, 1});
    // KML 2.2 (OGC 07-147r2) section 9.1.3.10: a description may hold HTML, a name may not.
    CHECK_THAT(kml,
               Catch::Contains("<name>Mill &lt;1&gt;</name>") &&
                   Catch::Contains("&amp;lt;i&amp;gt;ground&amp;lt;/i&amp;gt; &amp;amp; more"));
}

TEST_CASE("the value of a map is that of the cell around a position") {
    const Briefing briefing = invented();
    CHECK(map_value_at(briefing.map, {50.05, 10.0999}) == 20.0);
    CHECK(map_value_at(briefing.map, {50.05, 10.1001}) == 3.0);
    CHECK(std::isnan(map_value_at(briefing.map, {50.05, 10.1999})));
    CHECK(std::isnan(map_value_at(briefing.map, {50.05, 9.9999})));
    CHECK(std::isnan(map_value_at(briefing.map, {50.1001, 10.05})));
    CHECK(std::isnan(map_value_at(briefing.map, {50.05, 10.05}, coverage::BandKind::loss)));
}

} // namespace earshot::report
