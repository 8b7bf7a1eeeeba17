#include "earshot/report/styled_map.hpp"

#include "earshot/base/output_file.hpp"
#include "earshot/link/quality.hpp"
#include "earshot/report/margin_classes.hpp"
#include "gdal_raster.hpp"

#include <fmt/format.h>

namespace earshot::report {

void write_styled_geotiff(const std::filesystem::path& path, const sweep::CoverageRaster& map,
                          Progress* progress) {
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
    write_cog(output, *classes, options, progress);
    output.commit();
    if (progress != nullptr) {
        progress->end();
    }
}

} // namespace earshot::report
