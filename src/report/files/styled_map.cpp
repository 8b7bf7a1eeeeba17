#include "report/files/styled_map.hpp"

#include "base/output_file.hpp"
#include "link/quality.hpp"
#include "report/files/gdal_raster.hpp"
#include "report/say/margin_classes.hpp"

#include <fmt/format.h>

namespace earshot::report {

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

} // namespace earshot::report
