#include "terrain/native/raster_file.hpp"

#include "base/require.hpp"
#include "geo/units.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/gdal_open.hpp"
#include "terrain/native/spatial_reference.hpp"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <fmt/format.h>
#include <gdal_utils.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <initializer_list>
#include <memory>
#include <optional>
#include <string_view>
#include <system_error>
#include <utility>

namespace earshot::terrain {
namespace {

namespace fs = std::filesystem;

/// US survey foot: 1200/3937 m (US National Bureau of Standards, Federal Register 24 FR 5348,
/// 1959).
constexpr double metres_per_us_survey_foot = 1200.0 / 3937.0;

struct HeightUnit {
    std::string name;
    std::string source;
    double metres = 1.0;
};

std::string lower(std::string_view text) {
    std::string result;
    std::ranges::transform(text, std::back_inserter(result),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return result;
}

struct NamedUnit {
    std::string_view name;
    double metres;
    std::vector<std::string_view> spellings;
};

const std::vector<NamedUnit>& known_units() {
    static const std::vector<NamedUnit> units{
        {"metre", 1.0, {"m", "metre", "metres", "meter", "meters"}},
        {"foot",
         geo::metres_per_foot,
         {"ft", "foot", "feet", "international foot", "international feet",
          "foot (international)"}},
        {"US survey foot",
         metres_per_us_survey_foot,
         {"us survey foot", "us survey feet", "us_survey_foot", "us-ft", "us_ft", "ftus", "ft_us",
          "us foot", "us feet", "foot_us", "survey foot", "survey feet"}},
        {"kilometre", 1000.0, {"km", "kilometre", "kilometres", "kilometer", "kilometers"}},
        {"decimetre", 0.1, {"dm", "decimetre", "decimetres", "decimeter", "decimeters"}},
        {"centimetre", 0.01, {"cm", "centimetre", "centimetres", "centimeter", "centimeters"}},
        {"millimetre", 0.001, {"mm", "millimetre", "millimetres", "millimeter", "millimeters"}},
    };
    return units;
}

std::string name_of_length(double metres) {
    for (const NamedUnit& unit : known_units()) {
        // Feet of the two kinds differ by two parts in a million.
        if (std::abs(metres / unit.metres - 1.0) < 1e-7) {
            return std::string(unit.name);
        }
    }
    return fmt::format("{} m", metres);
}

std::optional<double> vertical_axis_unit_m(const OGRSpatialReference& crs) {
    if (!crs.IsVertical() && !crs.IsCompound()) {
        return std::nullopt;
    }
    const double metres = crs.GetTargetLinearUnits("VERT_CS", nullptr);
    return metres > 0.0 ? std::optional(metres) : std::nullopt;
}

HeightUnit height_unit(GDALRasterBand& band, const OGRSpatialReference& crs,
                       const std::string& path, const OpenOptions& options) {
    if (options.height_unit_m) {
        return {name_of_length(*options.height_unit_m), "as told by the user",
                *options.height_unit_m};
    }
    std::string text = lower(band.GetUnitType());
    text.erase(0, text.find_first_not_of(' '));
    text.erase(text.find_last_not_of(' ') + 1);
    if (!text.empty()) {
        for (const NamedUnit& unit : known_units()) {
            if (std::ranges::find(unit.spellings, text) != unit.spellings.end()) {
                return {std::string(unit.name), "unit of the band", unit.metres};
            }
        }
        throw_input("{}: the heights are in a unit that is not known, '{}'; say which unit it is "
                    "with --height-unit",
                    path, band.GetUnitType());
    }
    if (const auto metres = vertical_axis_unit_m(crs)) {
        return {name_of_length(*metres), "vertical axis of the reference system", *metres};
    }
    return {"metre", "assumed, since the file does not say", 1.0};
}

/// Whether a text has one of some words in it, each on its own.
bool says(const std::string& text, std::initializer_list<std::string_view> words) {
    std::string plain(1, ' '); // lower case, words parted by single blanks
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (std::isalnum(byte) != 0) {
            plain += static_cast<char>(std::tolower(byte));
        } else if (plain.back() != ' ') {
            plain += ' ';
        }
    }
    plain += ' ';
    return std::any_of(words.begin(), words.end(), [&](std::string_view word) {
        return plain.find(fmt::format(" {} ", word)) != std::string::npos;
    });
}

/// What publishers say of their heights, in the file or in its name.
GroundKind ground_kind(GDALDataset& dataset, const std::string& path) {
    std::string words = fs::path(path).stem().string();
    const auto add = [&](GDALMajorObject& object) {
        words += fmt::format(" | {}", object.GetDescription());
        for (char** item = object.GetMetadata(); item != nullptr && *item != nullptr; ++item) {
            words += fmt::format(" | {}", *item);
        }
    };
    add(*dataset.GetRasterBand(1));
    for (char** item = dataset.GetMetadata(); item != nullptr && *item != nullptr; ++item) {
        words += fmt::format(" | {}", *item);
    }
    if (says(words, {"dsm", "surface model", "surface elevation model"})) {
        return GroundKind::surface;
    }
    return says(words, {"dtm", "terrain model", "bare earth", "bare ground"})
               ? GroundKind::bare
               : GroundKind::not_told;
}

std::string vertical_datum(const OGRSpatialReference& crs) {
    const char* name = crs.GetAttrValue("VERT_CS");
    if (name == nullptr) {
        name = crs.GetAttrValue("COMPD_CS|VERT_CS");
    }
    return name == nullptr ? "not stated" : name;
}

/// The first band, after checks that it can be heights at all.
GDALRasterBand& height_band(GDALDataset& dataset, const std::string& path) {
    if (dataset.GetRasterCount() == 0) {
        // Containers hold several rasters.
        const char* layer = dataset.GetMetadataItem("SUBDATASET_1_NAME", "SUBDATASETS");
        require_input(layer != nullptr, "{}: no raster band in this file; give a file with heights",
                      path);
        throw_input(
            "{}: this file holds several layers; name the one with the heights, for example {}",
            path, layer);
    }
    GDALRasterBand& band = *dataset.GetRasterBand(1);
    const GDALColorInterp colour = band.GetColorInterpretation();
    require_input(colour != GCI_RedBand && colour != GCI_PaletteIndex,
                  "{}: this is a picture (its first band is {}), not heights; give elevation data",
                  path, colour == GCI_RedBand ? "red" : "a colour table");
    require_input(!GDALDataTypeIsComplex(band.GetRasterDataType()),
                  "{}: the band holds complex numbers, not heights; give elevation data", path);
    return band;
}

/// Files cut short most often open well and lack their last cells.
void check_last_cell(GDALRasterBand& band, const std::string& path) {
    GdalErrors errors;
    double value = 0.0;
    const bool whole = band.RasterIO(GF_Read, band.GetXSize() - 1, band.GetYSize() - 1, 1, 1,
                                     &value, 1, 1, GDT_Float64, 0, 0, nullptr) == CE_None;
    require_input(whole, "{}: the file is damaged or cut short ({}); get a fresh copy", path,
                  errors.reason());
}

/// Side files that GDAL can open but that are not tiles of their own.
bool is_side_file(const fs::path& path) {
    const std::string extension = lower(path.extension().string());
    return extension == ".ovr" || extension == ".msk" || extension == ".xml" ||
           path.filename().string().starts_with(".");
}

bool is_raster(const fs::path& path) {
    return GDALIdentifyDriverEx(path.c_str(), GDAL_OF_RASTER, nullptr, nullptr) != nullptr;
}

/// A picture beside the tiles: nothing in it claims a place on the earth.
bool is_unplaced_picture(const fs::path& path) {
    const GDALDatasetUniquePtr dataset(GDALDataset::Open(path.c_str(), GDAL_OF_RASTER));
    GeoTransform transform{};
    return dataset && dataset->GetSpatialRef() == nullptr &&
           dataset->GetGeoTransform(transform.data()) != CE_None;
}

void append_folder(const fs::path& folder, std::vector<std::string>& files) {
    std::vector<std::string> found;
    std::vector<fs::path> others;
    std::error_code error;
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end;
         entry.increment(error)) {
        std::error_code ignored;
        const fs::path& path = entry->path();
        if (!entry->is_regular_file(ignored) || is_side_file(path)) {
            continue;
        }
        if (!is_raster(path)) {
            others.push_back(path);
        } else if (!is_unplaced_picture(path)) {
            found.push_back(path.string());
        }
    }
    // A damaged tile left out in silence would be taken for the end of the elevation.
    for (const fs::path& other : others) {
        require_input(
            std::ranges::none_of(found,
                                 [&](const std::string& tile) {
                                     return lower(fs::path(tile).extension().string()) ==
                                            lower(other.extension().string());
                                 }),
            "{}: stands among the tiles of {}, and is no raster; get a fresh copy of it, or "
            "take it out of the folder",
            other.string(), folder.string());
    }
    require_input(!error, "{}: cannot read this folder ({}); check that it may be read",
                  folder.string(), error.message());
    require_input(!found.empty(),
                  "{}: no raster with a place on the earth in this folder; name the folder that "
                  "holds the elevation tiles (folders inside it are not searched)",
                  folder.string());
    std::ranges::sort(found);
    files.insert(files.end(), found.begin(), found.end());
}

struct WarpOptionsDeleter {
    void operator()(GDALWarpAppOptions* options) const { GDALWarpAppOptionsFree(options); }
};

} // namespace

GDALDatasetUniquePtr open_dataset(const std::string& path) {
    const GdalErrors errors;
    GDALDatasetUniquePtr dataset = open_input(path, GDAL_OF_RASTER | GDAL_OF_VERBOSE_ERROR);
    if (dataset) {
        return dataset;
    }
    std::error_code ignored;
    require_input(path.starts_with("/vsi") || path.find(':') != std::string::npos ||
                      fs::exists(path, ignored),
                  "{}: there is no such file; check the name", path);
    throw_input("{}: cannot be opened as a raster ({}); give elevation in a format that GDAL "
                "reads, such as GeoTIFF or HGT, or get a fresh copy if it should be one",
                path, errors.reason());
}

RasterFile describe(const std::string& path, const OpenOptions& options) {
    // Without this, heights in GeoTIFF files of version 1.0 lose their vertical datum. GDAL looks
    // at it only when asked for the CRS.
    const CPLConfigOptionSetter report_vertical("GTIFF_REPORT_COMPD_CS", "YES", false);
    const GDALDatasetUniquePtr dataset = open_dataset(path);
    const GdalErrors errors;
    GDALRasterBand& band = height_band(*dataset, path);
    const OGRSpatialReference* crs = dataset->GetSpatialRef();
    require_input(crs != nullptr && !crs->IsEmpty(),
                  "{}: no coordinate reference system, so its place on the earth is not known; "
                  "assign it with gdal_translate -a_srs",
                  path);
    RasterFile file;
    file.path = path;
    file.crs = horizontal(*crs);
    require_input(file.crs.IsGeographic() || file.crs.IsProjected(),
                  "{}: its coordinate reference system, '{}', is neither geographic nor projected; "
                  "assign the right one with gdal_translate -a_srs",
                  path, crs->GetName() == nullptr ? "unnamed" : crs->GetName());
    require_input(dataset->GetGeoTransform(file.transform.data()) == CE_None,
                  "{}: no geotransform, so its place on the earth is not known; {}", path,
                  dataset->GetGCPCount() > 0
                      ? "it has ground control points: warp it with gdalwarp first"
                      : "assign it with gdal_translate -a_ullr");
    const double area =
        file.transform[1] * file.transform[5] - file.transform[2] * file.transform[4];
    require_input(
        std::isfinite(area) && area != 0.0,
        "{}: its geotransform gives cells no size; assign a right one with gdal_translate -a_ullr",
        path);
    file.columns = dataset->GetRasterXSize();
    file.rows = dataset->GetRasterYSize();
    check_last_cell(band, path);
    const HeightUnit unit = height_unit(band, *crs, path, options);
    require_input(band.GetScale() != 0.0 && std::isfinite(band.GetScale()) &&
                      std::isfinite(band.GetOffset()),
                  "{}: its heights are to be multiplied by {}, which makes one plain of them all; "
                  "set the scale right with gdal_edit.py -scale",
                  path, band.GetScale());
    file.scale_m = band.GetScale() * unit.metres;
    file.offset_m = band.GetOffset() * unit.metres;
    file.sample_type = GDALGetDataTypeName(band.GetRasterDataType());
    file.height_unit = unit.name;
    file.height_unit_source = unit.source;
    const char* meaning = dataset->GetMetadataItem(GDALMD_AREA_OR_POINT);
    file.pixel_meaning = meaning != nullptr && EQUAL(meaning, GDALMD_AOP_POINT) ? "point" : "area";
    file.vertical_datum = vertical_datum(*crs);
    file.ground_kind = options.ground_kind.value_or(ground_kind(*dataset, path));
    return file;
}

std::vector<std::string> list_rasters(const std::vector<fs::path>& inputs) {
    const GdalErrors errors;
    std::vector<std::string> files;
    for (const fs::path& input : inputs) {
        std::error_code ignored;
        // Some raster formats are folders themselves.
        if (fs::is_directory(input, ignored) && !is_raster(input)) {
            append_folder(input, files);
        } else {
            files.push_back(input.string());
        }
    }
    require_input(!files.empty(),
                  "no elevation file is named; give a file, several tiles or a folder of tiles");
    return files;
}

GDALDatasetUniquePtr warped(GDALDatasetUniquePtr dataset, const CellFrame& frame,
                            const std::vector<std::string>& how) {
    const auto number = [](double value) { return fmt::format("{:.17g}", value); };
    CPLStringList arguments;
    for (const std::string& word : how) {
        arguments.AddString(word.c_str());
    }
    for (const std::string& word :
         {std::string("-of"), std::string("VRT"), std::string("-et"), std::string("0.01"),
          std::string("-t_srs"), frame.wkt, std::string("-te"), number(frame.west),
          number(frame.north + frame.rows * frame.dy),
          number(frame.west + frame.columns * frame.dx), number(frame.north), std::string("-ts"),
          std::to_string(frame.columns), std::to_string(frame.rows)}) {
        arguments.AddString(word.c_str());
    }
    const std::unique_ptr<GDALWarpAppOptions, WarpOptionsDeleter> warp(
        GDALWarpAppOptionsNew(arguments.List(), nullptr));
    GDALDatasetH source = GDALDataset::ToHandle(dataset.get());
    GDALDatasetUniquePtr result(
        GDALDataset::FromHandle(GDALWarp("", nullptr, 1, &source, warp.get(), nullptr)));
    if (result) {
        // The warped raster holds a reference to its source: give up ours without closing it.
        dataset.release()->ReleaseRef();
    }
    return result;
}

} // namespace earshot::terrain
