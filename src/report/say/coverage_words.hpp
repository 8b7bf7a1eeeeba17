#pragma once

#include "earshot/coverage/coverage.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <string>
#include <vector>

namespace earshot::report {

/// Where a map's stations are heard, or in sight if that is all it was asked for: a sentence.
[[nodiscard]] std::string coverage_words(const coverage::Job& job, const coverage::Result& result);

/// What people should know of a map, a sentence each: inputs beyond what the method is made for,
/// elevation that ends too soon, voids.
[[nodiscard]] std::vector<std::string> coverage_notes(const coverage::Job& job,
                                                      const coverage::Result& result,
                                                      const terrain::HeightSummary& heights);

/// "file.tif and 3 more; 400 x 300 cells, EPSG:4326".
[[nodiscard]] std::string terrain_words(const terrain::TerrainInfo& info);

} // namespace earshot::report
