#include "earshot/base/error.hpp"
#include "link/quality.hpp"
#include "report/draw/pen.hpp"
#include "report/files/gdal_raster.hpp"
#include "report/files/places_files.hpp"
#include "report/files/xml_tree.hpp"
#include "report/say/briefing.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/place_results.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <cairo.h>
#include <cpl_vsi.h>
#include <fmt/format.h>
#include <gdal_utils.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <utility>
#include <vector>

namespace earshot::report {
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
    mark.add("description", result.words);
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
    mark.add("description", fmt::format("{}; {} hears with {}, {} with {}.",
                                        pair_verdict(pair, briefing.stations, wanted_db), b.name,
                                        margin_text(pair.b_hears_a.margin_db, 0, wanted_db), a.name,
                                        margin_text(pair.a_hears_b.margin_db, 0, wanted_db)));
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
    overlay.add("description", legend_words());
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
    document.add("description", words);
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
    const geo::LatLon middle =
        map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0});
    CPLStringList words;
    for (const std::string& word :
         {std::string("-of"), std::string("MEM"), std::string("-r"), std::string("near"),
          std::string("-t_srs"),
          // Degrees around the middle of the map, so that none is cut at 180 degrees.
          fmt::format("+proj=longlat +datum=WGS84 +lon_wrap={:.6f} +no_defs", middle.lon_deg)}) {
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

struct CairoDeleter {
    void operator()(cairo_t* canvas) const { cairo_destroy(canvas); }
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
using CairoCanvas = std::unique_ptr<cairo_t, CairoDeleter>;
using CairoSurface = std::unique_ptr<cairo_surface_t, CairoDeleter>;

/// What `draw` puts on a transparent picture, as PNG.
template <typename Draw>
std::string drawn_png(int width, int height, const Draw& draw) {
    const CairoSurface surface(cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width, height));
    {
        const CairoCanvas canvas(cairo_create(surface.get()));
        draw(canvas.get());
    }
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

void set_colour(cairo_t* canvas, const Rgb& colour) {
    cairo_set_source_rgb(canvas, colour.red, colour.green, colour.blue);
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

} // namespace earshot::report
