#pragma once

#include <string>

namespace earshot::terrain {
struct TerrainInfo;
struct HeightSummary;
} // namespace earshot::terrain

namespace earshot::report {

/// What an elevation input covers, for people and for programs.
[[nodiscard]] std::string terrain_text(const terrain::TerrainInfo& info,
                                       const terrain::HeightSummary& heights);
[[nodiscard]] std::string terrain_json(const terrain::TerrainInfo& info,
                                       const terrain::HeightSummary& heights);

} // namespace earshot::report
