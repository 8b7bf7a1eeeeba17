#include "output_checks.hpp"
#include "report/files/styled_map.hpp"

#include <cpl_minixml.h>
#include <gdal_priv.h>

#include <limits>
#include <memory>
#include <string>
#include <vector>

namespace earshot::report {
namespace {

using test::TemporaryFolder;

coverage::CoverageRaster invented_map() {
    coverage::CoverageRaster map;
    map.columns = 6;
    map.rows = 2;
    map.georeference = terrain::Georeference("EPSG:32633", 500015.0, 4000015.0, 30.0, -30.0);
    // Bounds of the classes as docs/woods-and-noise.md gives them: 16, 6, 0, -3 dB.
    map.bands = {{"margin",
                  "dB",
                  {16.0F, 6.0F, 0.0F, -3.0F, -3.1F, std::numeric_limits<float>::quiet_NaN(), 40.0F,
                   15.9F, 5.9F, -0.1F, -60.0F, 1000.0F}}};
    map.metadata = {{"PROGRAM", "earshot test"}, {"STATION_NAME", "Ombrel Mill"}};
    return map;
}

std::unique_ptr<CPLXMLNode, decltype(&CPLDestroyXMLNode)> parsed(const std::string& text) {
    return {CPLParseXMLString(text.c_str()), CPLDestroyXMLNode};
}

} // namespace

TEST_CASE("the styled map holds the readability of each cell") {
    const TemporaryFolder folder;
    write_styled_geotiff(folder / "styled.tif", invented_map());
    CHECK(folder.file_count() == 1);
    const GDALDatasetUniquePtr dataset(
        GDALDataset::Open((folder / "styled.tif").c_str(), GDAL_OF_RASTER));
    REQUIRE(dataset);
    CHECK(std::string(dataset->GetMetadataItem("STATION_NAME")) == "Ombrel Mill");
    CHECK_THAT(dataset->GetMetadataItem("CLASS_5"), Catch::StartsWith("Clear, 16 dB"));
    GDALRasterBand& band = *dataset->GetRasterBand(1);
    CHECK(band.GetColorInterpretation() == GCI_PaletteIndex);
    CHECK(band.GetNoDataValue() == 0.0);
    std::vector<unsigned char> values(12);
    REQUIRE(band.RasterIO(GF_Read, 0, 0, 6, 2, values.data(), 6, 2, GDT_Byte, 0, 0, nullptr) ==
            CE_None);
    CHECK(values == std::vector<unsigned char>{5, 4, 3, 2, 0, 0, 5, 4, 3, 2, 0, 5});
}

TEST_CASE("the style sheet has the colours of the styled map, each up to the next class") {
    const TemporaryFolder folder;
    write_styled_geotiff(folder / "styled.tif", invented_map());
    const GDALDatasetUniquePtr dataset(
        GDALDataset::Open((folder / "styled.tif").c_str(), GDAL_OF_RASTER));
    REQUIRE(dataset);
    const GDALColorTable& colours = *dataset->GetRasterBand(1)->GetColorTable();
    const auto document = parsed(margin_style_sheet());
    REQUIRE(document);
    const CPLXMLNode* map = CPLGetXMLNode(
        document.get(), "=StyledLayerDescriptor.NamedLayer.UserStyle.FeatureTypeStyle.Rule."
                        "RasterSymbolizer.ColorMap");
    REQUIRE(map != nullptr);
    std::vector<double> upper_db;
    int number = 1; // the first entry is what is below all classes
    for (const CPLXMLNode* entry = map->psChild; entry != nullptr; entry = entry->psNext) {
        if (entry->eType != CXT_Element) {
            continue;
        }
        CHECK(std::string(entry->pszValue) == "ColorMapEntry");
        upper_db.push_back(std::stod(CPLGetXMLValue(entry, "quantity", "nan")));
        if (number == 1) {
            CHECK(std::string(CPLGetXMLValue(entry, "opacity", "")) == "0");
        } else {
            const GDALColorEntry& colour = *colours.GetColorEntry(number);
            char hex[8];
            std::snprintf(hex, sizeof hex, "#%02x%02x%02x", colour.c1, colour.c2, colour.c3);
            CHECK(std::string(CPLGetXMLValue(entry, "color", "")) == hex);
            CHECK(std::string(CPLGetXMLValue(entry, "opacity", "")) == "1");
        }
        ++number;
    }
    CHECK(upper_db == std::vector<double>{-3.0, 0.0, 6.0, 16.0, 1000.0});
}

TEST_CASE("both style sheets say the same") {
    // Layer style of QGIS: items of a shader, each up to its value. Loaded by QGIS 3.22 by hand.
    const auto standard = parsed(margin_style_sheet());
    const auto layer = parsed(margin_layer_style());
    const CPLXMLNode* entry = CPLGetXMLNode(
        standard.get(), "=StyledLayerDescriptor.NamedLayer.UserStyle.FeatureTypeStyle.Rule."
                        "RasterSymbolizer.ColorMap.ColorMapEntry");
    const CPLXMLNode* item =
        CPLGetXMLNode(layer.get(), "=qgis.pipe.rasterrenderer.rastershader.colorrampshader.item");
    int count = 0;
    for (; entry != nullptr && item != nullptr; entry = entry->psNext, item = item->psNext) {
        ++count;
        CHECK(std::string(CPLGetXMLValue(entry, "color", "a")) ==
              CPLGetXMLValue(item, "color", "b"));
        CHECK(std::string(CPLGetXMLValue(entry, "quantity", "a")) ==
              CPLGetXMLValue(item, "value", "b"));
        CHECK(std::string(CPLGetXMLValue(entry, "label", "a")) ==
              CPLGetXMLValue(item, "label", "b"));
    }
    CHECK(entry == nullptr);
    CHECK(item == nullptr);
    CHECK(count == 5);
}

TEST_CASE("a styled map in a folder that is gone leaves nothing") {
    const auto error =
        test::error_of([] { write_styled_geotiff("/no/such/folder/styled.tif", invented_map()); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
}

} // namespace earshot::report
