#include "report/files/styled_map.hpp"

#include "base/output_file.hpp"
#include "link/quality.hpp"
#include "report/files/gdal_raster.hpp"
#include "report/files/xml_tree.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <vector>

namespace earshot::report {
namespace {

/// Margins up to a bound, in one colour.
struct Interval {
    std::string colour;
    bool bare = false; ///< the ground shows through
    std::string upper_db;
    std::string label;
};

/// All margins, the weakest first.
std::vector<Interval> intervals() {
    constexpr const char* beyond_all_db = "1000"; // more than any margin
    const auto classes = margin_classes();
    std::vector<Interval> list{{"#ffffff", true, fmt::format("{:g}", classes.back().lower_bound_db),
                                "No words get through"}};
    for (std::size_t k = classes.size(); k-- > 0;) {
        list.push_back({hex_colour(classes[k].colour), false,
                        k == 0 ? beyond_all_db : fmt::format("{:g}", classes[k - 1].lower_bound_db),
                        class_words(classes[k])});
    }
    return list;
}

} // namespace

std::string hex_colour(const Rgb& colour) {
    const auto [red, green, blue] = colour_bytes(colour);
    return fmt::format("#{:02x}{:02x}{:02x}", red, green, blue);
}

void write_styled_geotiff(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                          Task& task) {
    OutputFile output(path);
    const GDALDatasetUniquePtr classes = class_dataset(map);
    for (const auto& [key, value] : map.metadata) {
        classes->SetMetadataItem(key.c_str(), value.c_str());
    }
    for (const MarginClass& shown : margin_classes()) {
        const auto number = static_cast<int>(link::readability(shown.lower_bound_db).readability);
        classes->SetMetadataItem(fmt::format("CLASS_{}", number).c_str(),
                                 class_words(shown).c_str());
    }
    classes->GetRasterBand(1)->SetDescription(
        "readability (5 clear to 2 some words, 0 less or not known)");
    CPLStringList options;
    options.SetNameValue("COMPRESS", "DEFLATE");
    options.SetNameValue("OVERVIEW_RESAMPLING", "NEAREST"); // between two classes there is none
    write_cog(output, *classes, options, task);
    output.commit();
    task.end();
}

std::string margin_style_sheet() {
    const XmlDocument document("StyledLayerDescriptor");
    document.root()
        .with("version", "1.0.0")
        .with("xmlns", "http://www.opengis.net/sld")
        .with("xmlns:ogc", "http://www.opengis.net/ogc")
        .with("xmlns:xlink", "http://www.w3.org/1999/xlink")
        .with("xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance")
        .with("xsi:schemaLocation", "http://www.opengis.net/sld "
                                    "http://schemas.opengis.net/sld/1.0.0/"
                                    "StyledLayerDescriptor.xsd");
    const XmlNode layer = document.root().add("NamedLayer");
    layer.add("Name", "coverage");
    const XmlNode style = layer.add("UserStyle");
    style.add("Name", "margin");
    style.add("Title", "Where stations are heard");
    style.add("Abstract", "Margin in dB of a listener, in classes. " + cautions());
    const XmlNode rule = style.add("FeatureTypeStyle").add("Rule");
    rule.add("Name", "margin in classes");
    const XmlNode raster = rule.add("RasterSymbolizer");
    raster.add("Opacity", "1");
    raster.add("ChannelSelection").add("GrayChannel").add("SourceChannelName", "1");
    const XmlNode colours = raster.add("ColorMap");
    colours.with("type", "intervals");
    for (const Interval& interval : intervals()) {
        (void)colours.add("ColorMapEntry")
            .with("color", interval.colour)
            .with("opacity", interval.bare ? "0" : "1")
            .with("quantity", interval.upper_db)
            .with("label", interval.label);
    }
    return document.text();
}

std::string margin_layer_style() {
    const XmlDocument document("qgis");
    document.root().with("version", "3.22");
    XmlNode renderer = document.root().add("pipe").add("rasterrenderer");
    renderer.with("type", "singlebandpseudocolor").with("band", "1").with("opacity", "1");
    XmlNode shader = renderer.add("rastershader").add("colorrampshader");
    shader.with("colorRampType", "DISCRETE").with("classificationMode", "1").with("clip", "0");
    for (const Interval& interval : intervals()) {
        (void)shader.add("item")
            .with("value", interval.upper_db)
            .with("color", interval.colour)
            .with("alpha", interval.bare ? "0" : "255")
            .with("label", interval.label);
    }
    return document.text();
}

} // namespace earshot::report
