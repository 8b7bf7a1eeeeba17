#pragma once

#include <string>
#include <vector>

namespace earshot::link {
struct TwoWayPath;
}

namespace earshot::report {

/// A path in words and numbers for people: distance and bearings, sight and Fresnel clearance, the
/// edges that matter, the budget of both directions line by line, and the verdict.
/// `notes` are further things to know of the prediction, `wanted_margin_db` is what counts as
/// heard; `explain` adds every intermediate value of
/// method p1812 with its equation number.
[[nodiscard]] std::string path_text(const link::TwoWayPath& path,
                                    const std::vector<std::string>& notes = {},
                                    bool explain = false, double wanted_margin_db = 0.0);

/// The same as JSON; the fields are documented in docs/file-formats.md.
[[nodiscard]] std::string path_json(const link::TwoWayPath& path,
                                    const std::vector<std::string>& notes = {},
                                    bool explain = false, double wanted_margin_db = 0.0);

/// The profile as CSV, one row per point; the columns are documented in docs/file-formats.md.
[[nodiscard]] std::string profile_csv(const link::TwoWayPath& path);

/// One or two sentences: who hears whom with the margin wanted, and why or why not.
[[nodiscard]] std::string path_verdict(const link::TwoWayPath& path, double wanted_margin_db = 0.0);

} // namespace earshot::report
