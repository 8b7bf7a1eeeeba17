#include "scenario/places.hpp"
#include "scenario_text.hpp"

#include <catch2/catch.hpp>

#include <string>

namespace earshot::scenario {

using test::refusal_of;
using test::ScenarioFolder;

namespace {

// Invented places, the same three in every format.
constexpr const char* csv = "name,lat,lon,people\n"
                            "Mill,36.625,-84.25,12\n"
                            "\"Upper, Farm\",36.5,-84.125,\n"
                            ",36.75,-84.5,0\n";
constexpr const char* geojson = R"({"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"name": "Mill", "people": 12},
 "geometry": {"type": "Point", "coordinates": [-84.25, 36.625]}},
{"type": "Feature", "properties": {"name": "Road"},
 "geometry": {"type": "LineString", "coordinates": [[-84.25, 36.625], [-84.2, 36.6]]}},
{"type": "Feature", "properties": {"name": "Upper, Farm"},
 "geometry": {"type": "Point", "coordinates": [-84.125, 36.5]}}]})";
// GPX 1.1 (Topografix schema): latitude and longitude are attributes, a track is no place.
constexpr const char* gpx = R"(<?xml version="1.0"?>
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="36.625" lon="-84.25"><name>Mill</name></wpt>
<wpt lat="36.5" lon="-84.125"><name>Upper, Farm</name></wpt>
<trk><trkseg><trkpt lat="36.6" lon="-84.2"/><trkpt lat="36.7" lon="-84.2"/></trkseg></trk>
</gpx>)";
// KML 2.2 (OGC 07-147r2): longitude, latitude, height.
constexpr const char* kml = R"(<?xml version="1.0"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Placemark><name>Mill</name><Point><coordinates>-84.25,36.625,0</coordinates></Point></Placemark>
<Placemark><name>Upper, Farm</name><Point><coordinates>-84.125,36.5</coordinates></Point></Placemark>
</Document></kml>)";

PlacesFile read(const std::string& name, const std::string& content) {
    const ScenarioFolder folder;
    return read_places(folder.write(name, content));
}

std::string refused(const std::string& name, const std::string& content) {
    return refusal_of(Fault::input, [&] { (void)read(name, content); });
}

} // namespace

TEST_CASE("places come alike from all formats") {
    const auto [name, content] = GENERATE(std::pair("p.csv", csv), std::pair("p.geojson", geojson),
                                          std::pair("p.gpx", gpx), std::pair("p.kml", kml));
    INFO(name);
    const PlacesFile file = read(name, content);
    REQUIRE(file.places.size() >= 2);
    CHECK(file.places[0].name == "Mill");
    CHECK(file.places[0].position.lat_deg == Approx(36.625).margin(1e-9));
    CHECK(file.places[0].position.lon_deg == Approx(-84.25).margin(1e-9));
    CHECK(file.places[1].name == "Upper, Farm");
    CHECK(file.places[1].position.lat_deg == Approx(36.5).margin(1e-9));
    CHECK(file.places[1].position.lon_deg == Approx(-84.125).margin(1e-9));
    CHECK(file.places[1].people == 1.0);
}

TEST_CASE("weights, missing names and lines between places") {
    const PlacesFile table = read("camps.csv", csv);
    REQUIRE(table.places.size() == 3);
    CHECK(table.places[0].people == 12.0);
    CHECK(table.places[2].people == 0.0);
    CHECK(table.places[2].name == "camps 3");
    CHECK(read("p.geojson", geojson).passed_over == 1);
    CHECK(read("p.gpx", gpx).passed_over == 0);
    CHECK(read("p.gpx", gpx).places.size() == 2);
}

TEST_CASE("a table may give positions in any form") {
    const PlacesFile file = read("p.csv", "Name,Position,Population\n"
                                          "A,\"36 36.0N, 84 12.0W\",5\nB,16SGF 50123 54321,\n");
    REQUIRE(file.places.size() == 2);
    CHECK(file.places[0].position.lat_deg == Approx(36.6).margin(1e-9));
    CHECK(file.places[0].position.lon_deg == Approx(-84.2).margin(1e-9));
    CHECK(file.places[0].people == 5.0);
    CHECK(file.places[1].position.lat_deg == Approx(36.6).margin(0.05));
}

TEST_CASE("a shape file's own reference system is brought to WGS 84") {
    // EPSG:3857 (EPSG guidance note 7-2, Popular Visualisation Pseudo-Mercator): easting is the
    // longitude in radians times 6378137 m; 45 N is at 6378137 ln tan(67.5 deg) = 5621521.486 m.
    const PlacesFile file = read("p.geojson", R"({"type": "FeatureCollection",
"crs": {"type": "name", "properties": {"name": "EPSG:3857"}}, "features": [
{"type": "Feature", "properties": {"name": "A"},
 "geometry": {"type": "Point", "coordinates": [1113194.9079, 5621521.4862]}}]})");
    CHECK(file.places.at(0).position.lat_deg == Approx(45.0).margin(1e-7));
    CHECK(file.places.at(0).position.lon_deg == Approx(10.0).margin(1e-7));
}

TEST_CASE("files of places that cannot be used are refused in one line") {
    CHECK_THAT(refusal_of(Fault::input, [] { (void)read_places("/nowhere/p.csv"); }),
               Catch::Contains("/nowhere/p.csv: there is no such file"));
    CHECK_THAT(refused("p.geojson", R"({"type": "FeatureCollection", "features": [)"),
               Catch::Contains("p.geojson: "));
    CHECK_THAT(refused("p.txt", "some words"),
               Catch::Contains("cannot be read as GeoJSON, GPX, KML or CSV"));
    CHECK_THAT(refused("p.csv", "name,x,y\nA,1,2\n"), Catch::Contains("no columns named latitude"));
    CHECK_THAT(refused("p.csv", "name,lat,lon\n"), Catch::Contains("there is no place in it"));
    CHECK_THAT(refused("p.csv", "name,lat,lon\nA,36.5,-84.2\nB,36x,-84\n"),
               Catch::Contains("p.csv, place 2: the latitude is '36x'"));
    CHECK_THAT(refused("p.csv", "name,lat,lon\nA,-84.2,236.5\n"), Catch::Contains("off the earth"));
    CHECK_THAT(refused("p.csv", "name,lat,lon,people\nA,36.5,-84.2,many\n"),
               Catch::Contains("place 1: the number of people is 'many'"));
    CHECK_THAT(refused("p.csv", "name,lat,lon,people\nA,36.5,-84.2,-3\n"),
               Catch::Contains("give 0 or more"));
    CHECK_THAT(refused("p.csv", "name,position\nA,somewhere\n"), Catch::Contains("place 1: "));
}

} // namespace earshot::scenario
