#include "report/files/places_files.hpp"

#include "earshot/base/error.hpp"
#include "link/quality.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/pen.hpp"
#include "report/files/gdal_raster.hpp"
#include "report/files/xml_tree.hpp"
#include "report/say/briefing.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/net_report.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <cpl_vsi.h>
#include <fmt/format.h>
#include <gdal_utils.h>
#include <ogrsf_frmts.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <utility>
#include <vector>

namespace earshot::report {

// ---- GeoJSON and GPX ----------------------------------------------------------------------------

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
    file.add_field("try_first", OFTInteger, OFSTBoolean);
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
    feature->SetField("try_first", pair.try_first ? 1 : 0);
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

// ---- KML and KMZ --------------------------------------------------------------------------------

namespace {

constexpr const char* coverage_file = "files/coverage.png";
constexpr const char* legend_file = "files/legend.png";
constexpr const char* station_file = "files/station.png";
constexpr const char* place_file = "files/place.png";

/// Colours of KML: opacity, blue, green, red, two hexadecimal digits each.
std::string kml_colour(const Rgb& colour) {
    const auto [red, green, blue] = colour_bytes(colour);
    return fmt::format("ff{:02x}{:02x}{:02x}", blue, green, red);
}

std::string coordinates(geo::LatLon position) {
    return fmt::format("{:.7f},{:.7f}", position.lon_deg, position.lat_deg);
}

std::string legend_words() {
    std::string words = "Colours say how a listener hears the station heard best there. ";
    for (const MarginClass& shown : margin_classes()) {
        words += class_words(shown) + ". ";
    }
    return words + "No colour: no words get through, or not predicted.";
}

/// The style of links of that strength.
std::string link_style(const plan::Pair& pair) {
    if (!pair.mutual()) {
        return "one-way";
    }
    const auto number = static_cast<int>(link::readability(pair.weaker_margin_db()).readability);
    return fmt::format("link-{}", number);
}

void add_point_style(const XmlNode& document, const char* id, const char* icon, double scale) {
    XmlNode style = document.add("Style");
    style.with("id", id);
    const XmlNode icon_style = style.add("IconStyle");
    icon_style.add("scale", fmt::format("{:g}", scale));
    if (icon != nullptr) {
        icon_style.add("Icon").add("href", icon);
    }
    style.add("LabelStyle").add("scale", "0.9");
}

void add_line_style(const XmlNode& document, const std::string& id, const Rgb& colour,
                    double width) {
    XmlNode style = document.add("Style");
    style.with("id", id);
    const XmlNode line = style.add("LineStyle");
    line.add("color", kml_colour(colour));
    line.add("width", fmt::format("{:g}", width));
}

void add_styles(const XmlNode& document, bool with_pictures) {
    add_point_style(document, "station", with_pictures ? station_file : nullptr, 1.0);
    add_point_style(document, "place", with_pictures ? place_file : nullptr, 0.8);
    for (const MarginClass& shown : margin_classes()) {
        const auto number = static_cast<int>(link::readability(shown.lower_bound_db).readability);
        add_line_style(document, fmt::format("link-{}", number), shown.colour, number);
    }
    add_line_style(document, "one-way", {0.45, 0.45, 0.45}, 1.5);
}

void add_data(const XmlNode& data, const char* name, const std::string& value) {
    if (!value.empty()) {
        XmlNode item = data.add("Data");
        item.with("name", name);
        item.add("value", value);
    }
}

void add_placemark(const XmlNode& folder, const PlaceResult& result) {
    const XmlNode mark = folder.add("Placemark");
    mark.add("name", result.name);
    mark.add_html("description", result.words);
    mark.add("styleUrl", result.station ? "#station" : "#place");
    const XmlNode data = mark.add("ExtendedData");
    add_data(data, "kind", result.station ? "station" : "place");
    if (std::isfinite(result.margin_db)) {
        add_data(data, "margin_db", fmt::format("{:.1f}", shown_margin_db(result.margin_db, 1)));
        add_data(
            data, "readability",
            fmt::format("{}", static_cast<int>(link::readability(result.margin_db).readability)));
    }
    add_data(data, "best_station", result.best_station);
    add_data(data, "person", result.person);
    add_data(data, "role", result.role);
    add_data(data, "fallback", result.fallback);
    mark.add("Point").add("coordinates", coordinates(result.position));
}

void add_link(const XmlNode& folder, const Briefing& briefing, const plan::Pair& pair) {
    const link::Station& a = briefing.stations[pair.a];
    const link::Station& b = briefing.stations[pair.b];
    const double wanted_db = briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0;
    const XmlNode mark = folder.add("Placemark");
    mark.add("name", a.name + " - " + b.name);
    mark.add_html("description",
                  fmt::format("{}; {} hears with {}, {} with {}{}.",
                              pair_verdict(pair, briefing.stations, wanted_db), b.name,
                              margin_text(pair.b_hears_a.margin_db, 0, wanted_db), a.name,
                              margin_text(pair.a_hears_b.margin_db, 0, wanted_db),
                              pair.try_first ? "; test it on foot first" : ""));
    mark.add("styleUrl", fmt::format("#{}", link_style(pair)));
    const XmlNode line = mark.add("LineString");
    line.add("tessellate", "1");
    line.add("coordinates", coordinates(a.position) + " " + coordinates(b.position));
}

void add_places(const XmlNode& document, const Briefing& briefing) {
    const std::vector<PlaceResult> results = place_results(briefing);
    const auto add_folder = [&](const char* name, bool stations) {
        if (std::ranges::find(results, stations, &PlaceResult::station) == results.end()) {
            return;
        }
        const XmlNode folder = document.add("Folder");
        folder.add("name", name);
        for (const PlaceResult& result : results) {
            if (result.station == stations) {
                add_placemark(folder, result);
            }
        }
    };
    add_folder("Stations", true);
    add_folder("Places", false);
    if (!briefing.pairs.empty()) {
        const XmlNode folder = document.add("Folder");
        folder.add("name", "Who hears whom");
        for (const plan::Pair& pair : briefing.pairs) {
            if (pair.b_hears_a.heard || pair.a_hears_b.heard) {
                add_link(folder, briefing, pair);
            }
        }
    }
}

/// Bounds of a picture in degrees; `east` may lie beyond 180.
struct LatLonBox {
    double north_deg, south_deg, east_deg, west_deg;
};

void add_coverage(const XmlNode& document, const LatLonBox& box) {
    const XmlNode overlay = document.add("GroundOverlay");
    overlay.add("name", "Where stations are heard");
    overlay.add_html("description", legend_words());
    overlay.add("color", "b4ffffff"); // lets the ground shine through
    overlay.add("Icon").add("href", coverage_file);
    const XmlNode bounds = overlay.add("LatLonBox");
    bounds.add("north", fmt::format("{:.9f}", box.north_deg));
    bounds.add("south", fmt::format("{:.9f}", box.south_deg));
    bounds.add("east", fmt::format("{:.9f}", box.east_deg));
    bounds.add("west", fmt::format("{:.9f}", box.west_deg));

    const XmlNode legend = document.add("ScreenOverlay");
    legend.add("name", "Legend");
    legend.add("Icon").add("href", legend_file);
    const auto corner = [&](const char* name, const char* x, const char* y) {
        (void)legend.add(name)
            .with("x", x)
            .with("y", y)
            .with("xunits", "pixels")
            .with("yunits", "pixels");
    };
    corner("overlayXY", "0", "0");
    corner("screenXY", "16", "40");
}

std::string kml_text(const Briefing& briefing, const LatLonBox* coverage) {
    const XmlDocument kml("kml");
    kml.root().with("xmlns", "http://www.opengis.net/kml/2.2");
    const XmlNode document = kml.root().add("Document");
    document.add("name", briefing.title);
    document.add("open", "1");
    std::string words = briefing.date.empty() ? "" : briefing.date + ". ";
    words += legend_words() + " " + cautions();
    document.add_html("description", words);
    add_styles(document, coverage != nullptr);
    if (coverage != nullptr) {
        add_coverage(document, *coverage);
    }
    add_places(document, briefing);
    return kml.text();
}

struct Picture {
    std::string png;
    LatLonBox box;
};

/// The classes of the map in WGS 84 degrees as a PNG that is transparent where there is no class.
Picture coverage_picture(const coverage::CoverageRaster& map) {
    constexpr int most_pixels = 4096; // more than viewers take
    const terrain::GdalErrors errors;
    const auto require = [&](bool done) {
        if (!done) {
            throw_output(fmt::format("cannot draw the coverage for KMZ: {}", errors.reason()));
        }
    };
    CPLStringList words;
    for (const std::string& word :
         {std::string("-of"), std::string("MEM"), std::string("-r"), std::string("near"),
          std::string("-t_srs"),
          // Degrees around the middle of the map, so that none is cut at 180 degrees.
          fmt::format("+proj=longlat +datum=WGS84 +lon_wrap={:.6f} +no_defs",
                      middle_of(map).lon_deg)}) {
        words.AddString(word.c_str());
    }
    if (std::max(map.columns, map.rows) > most_pixels) {
        const bool wide = map.columns > map.rows;
        words.AddString("-ts");
        words.AddString(fmt::format("{}", wide ? most_pixels : 0).c_str());
        words.AddString(fmt::format("{}", wide ? 0 : most_pixels).c_str());
    }
    const std::unique_ptr<GDALWarpAppOptions, decltype(&GDALWarpAppOptionsFree)> options(
        GDALWarpAppOptionsNew(words.List(), nullptr), GDALWarpAppOptionsFree);
    const GDALDatasetUniquePtr classes = class_dataset(map);
    GDALDatasetH source = classes.get();
    const GDALDatasetUniquePtr warped(
        GDALDataset::FromHandle(GDALWarp("", nullptr, 1, &source, options.get(), nullptr)));
    require(warped != nullptr);
    std::array<double, 6> transform{};
    require(warped->GetGeoTransform(transform.data()) == CE_None);
    const MemoryFile file("png");
    GDALDatasetUniquePtr png(gdal_driver("PNG").CreateCopy(file.path().c_str(), warped.get(), FALSE,
                                                           nullptr, nullptr, nullptr));
    require(png != nullptr);
    png.reset();
    constexpr double turn_deg = 360.0;
    const double west_deg = transform[0] + (transform[0] < -turn_deg / 2.0 ? turn_deg : 0.0);
    return {file.content(),
            {transform[3], transform[3] + warped->GetRasterYSize() * transform[5],
             west_deg + warped->GetRasterXSize() * transform[1], west_deg}};
}

/// What `draw` puts on a transparent picture, as PNG.
template <typename Draw>
std::string drawn_png(int width, int height, const Draw& draw) {
    const Surface surface = image_surface(CAIRO_FORMAT_ARGB32, width, height);
    draw(Canvas(cairo_create(surface.get())).get());
    std::string png;
    const auto append = [](void* to, const unsigned char* bytes, unsigned count) {
        static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(bytes), count);
        return CAIRO_STATUS_SUCCESS;
    };
    if (cairo_surface_write_to_png_stream(surface.get(), append, &png) != CAIRO_STATUS_SUCCESS) {
        throw_output("cannot draw the signs for KMZ");
    }
    return png;
}

std::string legend_picture() {
    constexpr double row_px = 26.0;
    constexpr double swatch_px = 30.0;
    constexpr double rim_px = 12.0;
    constexpr int width = 660;
    const auto classes = margin_classes();
    const auto height =
        static_cast<int>(row_px * (static_cast<double>(classes.size()) + 2.0) + 2.0 * rim_px);
    return drawn_png(width, height, [&](cairo_t* canvas) {
        cairo_set_source_rgba(canvas, 1.0, 1.0, 1.0, 0.92);
        cairo_paint(canvas);
        const Rgb ink{0.1, 0.1, 0.12};
        double y = rim_px;
        const auto write = [&](double x, const std::string& words, bool bold) {
            const Text text(canvas, words, {13.0, bold, ink}, width - x - rim_px);
            text.draw(x, y + (row_px - text.height_px()) / 2.0);
        };
        write(rim_px, "How a listener hears the station heard best", true);
        y += row_px;
        for (const MarginClass& shown : classes) {
            set_colour(canvas, shown.colour);
            cairo_rectangle(canvas, rim_px, y + 4.0, swatch_px, row_px - 8.0);
            cairo_fill(canvas);
            write(rim_px + swatch_px + 10.0, class_words(shown), false);
            y += row_px;
        }
        write(rim_px, "No colour: no words get through, or not predicted", false);
    });
}

/// A triangle for stations, a disc for places, each with a light rim that shows on any ground.
std::string mark_picture(bool station) {
    constexpr int size = 48;
    return drawn_png(size, size, [&](cairo_t* canvas) {
        if (station) {
            cairo_move_to(canvas, 24.0, 6.0);
            cairo_line_to(canvas, 43.0, 40.0);
            cairo_line_to(canvas, 5.0, 40.0);
            cairo_close_path(canvas);
        } else {
            cairo_arc(canvas, 24.0, 24.0, 12.0, 0.0, 6.3);
        }
        cairo_set_line_join(canvas, CAIRO_LINE_JOIN_ROUND);
        set_colour(canvas, {1.0, 1.0, 1.0});
        cairo_set_line_width(canvas, 7.0);
        cairo_stroke_preserve(canvas);
        set_colour(canvas, {0.1, 0.1, 0.12});
        cairo_fill(canvas);
    });
}

/// A ZIP archive that grows in memory, by GDAL.
class Archive {
public:
    Archive() : file_("zip"), whole_(VSIFOpenL(("/vsizip/" + file_.path()).c_str(), "wb")) {
        require(whole_ != nullptr);
    }
    ~Archive() {
        if (whole_ != nullptr) {
            VSIFCloseL(whole_);
        }
    }
    Archive(const Archive&) = delete;
    Archive& operator=(const Archive&) = delete;

    void add(const std::string& name, const std::string& content) const {
        VSILFILE* member = VSIFOpenL(("/vsizip/" + file_.path() + "/" + name).c_str(), "wb");
        require(member != nullptr);
        const bool written =
            VSIFWriteL(content.data(), 1, content.size(), member) == content.size();
        require(VSIFCloseL(member) == 0 && written);
    }
    [[nodiscard]] std::string content() {
        require(VSIFCloseL(std::exchange(whole_, nullptr)) == 0);
        return file_.content();
    }

private:
    void require(bool done) const {
        if (!done) {
            throw_output(fmt::format("cannot pack KMZ: {}", errors_.reason()));
        }
    }

    terrain::GdalErrors errors_;
    MemoryFile file_;
    VSILFILE* whole_;
};

} // namespace

std::string places_kml(const Briefing& briefing) {
    return kml_text(briefing, nullptr);
}

std::string places_kmz(const Briefing& briefing) {
    const Picture coverage = coverage_picture(briefing.map);
    Archive archive;
    archive.add("doc.kml", kml_text(briefing, &coverage.box));
    archive.add(coverage_file, coverage.png);
    archive.add(legend_file, legend_picture());
    archive.add(station_file, mark_picture(true));
    archive.add(place_file, mark_picture(false));
    return archive.content();
}

// ---- Bare points --------------------------------------------------------------------------------

namespace {

std::string points_kml(std::span<const NamedPoint> points) {
    const XmlDocument kml("kml");
    kml.root().with("xmlns", "http://www.opengis.net/kml/2.2");
    const XmlNode document = kml.root().add("Document");
    for (const NamedPoint& point : points) {
        const XmlNode mark = document.add("Placemark");
        mark.add("name", point.name);
        if (!point.words.empty()) {
            mark.add_html("description", point.words);
        }
        mark.add("Point").add("coordinates", coordinates(point.position));
    }
    return kml.text();
}

} // namespace

bool is_points_file(std::string_view file) {
    return file.ends_with(".gpx") || file.ends_with(".kml") || file.ends_with(".geojson") ||
           file.ends_with(".json");
}

std::string points_file(std::string_view file, std::span<const NamedPoint> points) {
    if (file.ends_with(".kml")) {
        return points_kml(points);
    }
    const bool gpx = file.ends_with(".gpx");
    const char* const words = gpx ? "desc" : "description";
    FeatureFile made(gpx ? "GPX" : "GeoJSON", gpx ? "gpx" : "geojson", gpx ? "waypoints" : "points",
                     wkbPoint, {});
    if (!gpx) {
        made.add_field("name", OFTString);
        made.add_field(words, OFTString);
    }
    for (const NamedPoint& point : points) {
        const OGRFeatureUniquePtr feature = made.feature();
        set(*feature, "name", point.name);
        set(*feature, words, point.words);
        OGRPoint shape(point.position.lon_deg, point.position.lat_deg);
        feature->SetGeometry(&shape);
        made.add(*feature);
    }
    return made.content();
}

} // namespace earshot::report
