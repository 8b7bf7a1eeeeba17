#pragma once

#include "earshot/coverage/coverage.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <string>
#include <vector>

namespace earshot::report {

/// "Where Ridge is heard".
[[nodiscard]] std::string map_title(const std::vector<link::Station>& stations,
                                    bool both_ways = false);

/// Where a map's stations are heard, or in sight if that is all it was asked for: a sentence.
[[nodiscard]] std::string coverage_words(const coverage::Job& job, const coverage::Result& result);

/// What people should know of a map, a sentence each: inputs beyond what the method is made for,
/// elevation that ends too soon, voids.
[[nodiscard]] std::vector<std::string> coverage_notes(const coverage::Job& job,
                                                      const coverage::Result& result,
                                                      const terrain::HeightSummary& heights);

/// What `earshot map` has to say for programs; `output` is the map that was written.
[[nodiscard]] std::string coverage_json(const coverage::Job& job, const coverage::Result& result,
                                        const std::string& output,
                                        const std::vector<std::string>& notes);

/// "file.tif and 3 more; 400 x 300 cells, EPSG:4326".
[[nodiscard]] std::string terrain_words(const terrain::TerrainInfo& info);

/// That the unit of the heights was assumed; no note if the elevation or the user says it.
[[nodiscard]] std::vector<std::string> height_unit_notes(const terrain::TerrainInfo& info);

/// What an elevation input covers, for people and for programs.
[[nodiscard]] std::string terrain_text(const terrain::TerrainInfo& info,
                                       const terrain::HeightSummary& heights);
[[nodiscard]] std::string terrain_json(const terrain::TerrainInfo& info,
                                       const terrain::HeightSummary& heights);

} // namespace earshot::report
