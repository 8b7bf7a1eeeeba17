#include "earshot/terrain/ground_cover.hpp"

#include "base/input_file.hpp"
#include "base/memory.hpp"
#include "base/named.hpp"
#include "base/number.hpp"
#include "base/require.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <sstream>
#include <utility>

namespace earshot::terrain {
namespace {

constexpr std::size_t most_classes = 254;
constexpr double highest_cover_m = 150.0;
constexpr double highest_wood_m = 100.0; // few trees on earth are higher

struct ClutterInfo {
    std::string_view name;
    double height_m;
};

// P.1812-8 table 2, in the order of Clutter.
constexpr std::array clutter_table{
    ClutterInfo{"water", 0.0},        ClutterInfo{"open", 0.0},
    ClutterInfo{"suburban", 10.0},    ClutterInfo{"urban-or-trees", 15.0},
    ClutterInfo{"dense-urban", 20.0},
};

// Of ground that is covered alike everywhere.
constexpr std::array<std::string_view, 6> kind_names{"water", "open",        "suburban",
                                                     "urban", "dense-urban", "woodland"};
constexpr std::array clutter_of_kind{Clutter::water,       Clutter::open,
                                     Clutter::suburban,    Clutter::urban_or_trees,
                                     Clutter::dense_urban, Clutter::urban_or_trees};

std::optional<Clutter> clutter_named(std::string_view name) {
    const ClutterInfo* info = named(clutter_table, name);
    return info != nullptr ? std::optional(static_cast<Clutter>(info - clutter_table.data()))
                           : std::nullopt;
}

CoverClass standard_class(int code, const char* name, Clutter clutter, bool woodland = false) {
    return {code, name, clutter, default_height_m(clutter), woodland};
}

/// Splits a line at its commas. Nothing if a quote is left open or followed by other text.
std::optional<std::vector<std::string>> split_csv_line(std::string_view line) {
    std::vector<std::string> fields(1);
    bool quoted = false;
    bool closed = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char c = line[i];
        if (quoted) {
            if (c != '"') {
                fields.back() += c;
            } else if (i + 1 < line.size() && line[i + 1] == '"') {
                fields.back() += '"';
                ++i;
            } else {
                quoted = false;
                closed = true;
            }
        } else if (c == ',') {
            fields.emplace_back();
            closed = false;
        } else if (c == '"' && fields.back().find_first_not_of(" \t") == std::string::npos &&
                   !closed) {
            fields.back().clear();
            quoted = true;
        } else if (closed && c != ' ' && c != '\t') {
            return std::nullopt;
        } else if (!closed) {
            fields.back() += c;
        }
    }
    if (quoted) {
        return std::nullopt;
    }
    for (std::string& field : fields) {
        field.erase(0, field.find_first_not_of(" \t"));
        field.erase(field.find_last_not_of(" \t") + 1);
    }
    return fields;
}

std::optional<int> whole_number(const std::string& text) {
    const auto value = number_in(text);
    constexpr double most = std::numeric_limits<int>::max();
    const bool whole = value && std::abs(*value) <= most &&
                       text.find_first_not_of("-0123456789") == std::string::npos;
    return whole ? std::optional(static_cast<int>(*value)) : std::nullopt;
}

/// Reads one table file.
class TableReader {
public:
    explicit TableReader(const std::filesystem::path& file)
        : file_(file.string()), in_(read_text_file(file, "table of cover classes")) {}

    std::vector<CoverClass> read() {
        std::vector<CoverClass> classes;
        while (next_line()) {
            if (columns_.empty()) {
                read_header();
            } else {
                classes.push_back(read_class());
            }
        }
        return classes;
    }

private:
    static constexpr std::array<std::string_view, 5> names{"code", "name", "clutter", "height_m",
                                                           "woodland"};

    void require(bool fits, const std::string& what) const {
        require_input(fits, "{}, line {}: {}", file_, line_, what);
    }

    bool next_line() {
        std::string text;
        while (std::getline(in_, text)) {
            ++line_;
            if (line_ == 1 && text.starts_with("\xEF\xBB\xBF")) {
                text.erase(0, 3);
            }
            if (text.ends_with('\r')) {
                text.pop_back();
            }
            const std::size_t start = text.find_first_not_of(" \t");
            if (start == std::string::npos || text[start] == '#') {
                continue;
            }
            auto fields = split_csv_line(text);
            require(fields.has_value(),
                    "a double quote is out of place; put a value with commas in double quotes");
            fields_ = std::move(*fields);
            return true;
        }
        return false;
    }

    void read_header() {
        for (const std::string_view name : names) {
            const auto at = std::find(fields_.begin(), fields_.end(), name);
            require(at != fields_.end(),
                    fmt::format("there is no column '{}'; the first line must name the columns "
                                "code,name,clutter,height_m,woodland",
                                name));
            columns_.push_back(static_cast<std::size_t>(at - fields_.begin()));
        }
        width_ = fields_.size();
    }

    [[nodiscard]] const std::string& field(std::size_t which) const {
        return fields_[columns_[which]];
    }

    [[nodiscard]] CoverClass read_class() const {
        require(
            fields_.size() == width_,
            fmt::format("{} values where the first line names {} columns", fields_.size(), width_));
        const auto code = whole_number(field(0));
        require(code.has_value(), fmt::format("code '{}' is no whole number", field(0)));
        const auto clutter = clutter_named(field(2));
        require(clutter.has_value(), fmt::format("clutter '{}' is not known; give water, open, "
                                                 "suburban, urban-or-trees or dense-urban",
                                                 field(2)));
        const auto height_m =
            field(3).empty() ? std::optional(default_height_m(*clutter)) : number_in(field(3));
        require(height_m.has_value(), fmt::format("height_m '{}' is no number", field(3)));
        require(field(4) == "yes" || field(4) == "no",
                fmt::format("woodland is '{}'; give yes or no", field(4)));
        return {*code, field(1), *clutter, *height_m, field(4) == "yes"};
    }

    std::string file_;
    std::istringstream in_;
    int line_ = 0;
    std::vector<std::string> fields_;
    std::vector<std::size_t> columns_; ///< where each of `names` stands
    std::size_t width_ = 0;
};

} // namespace

double default_height_m(Clutter clutter) {
    return clutter_table[static_cast<std::size_t>(clutter)].height_m;
}

std::string_view name_of(Clutter clutter) {
    return clutter_table[static_cast<std::size_t>(clutter)].name;
}

std::span<const std::string_view> cover_kinds() {
    return kind_names;
}

CoverClass cover_kind(std::string_view name, std::optional<double> height_m) {
    const auto found = std::find(kind_names.begin(), kind_names.end(), name);
    require_usage(found != kind_names.end(), "the ground cover '{}' is not known; use one of {}",
                  name, fmt::join(kind_names, ", "));
    const Clutter clutter = clutter_of_kind[static_cast<std::size_t>(found - kind_names.begin())];
    return {0, std::string(name), clutter, height_m.value_or(default_height_m(clutter)),
            name == "woodland"};
}

CoverTable::CoverTable(std::string name, std::vector<CoverClass> classes)
    : name_(std::move(name)), classes_(std::move(classes)) {
    require_input(!classes_.empty() && classes_.size() <= most_classes,
                  "{}: {} cover classes; give from 1 to {}", name_, classes_.size(), most_classes);
    std::sort(classes_.begin(), classes_.end(),
              [](const CoverClass& a, const CoverClass& b) { return a.code < b.code; });
    const auto twice = std::adjacent_find(
        classes_.begin(), classes_.end(),
        [](const CoverClass& a, const CoverClass& b) { return a.code == b.code; });
    if (twice != classes_.end()) {
        throw_input("{}: code {} stands twice, for '{}' and '{}'; keep one", name_, twice->code,
                    twice->name, (twice + 1)->name);
    }
    for (const CoverClass& c : classes_) {
        require_input(c.height_m >= 0.0 && c.height_m <= highest_cover_m,
                      "{}: class {} ('{}') is {} m high; give from 0 to {} m", name_, c.code,
                      c.name, c.height_m, highest_cover_m);
        require_input(!c.woodland || (c.height_m > 0.0 && c.height_m <= highest_wood_m),
                      "{}: class {} ('{}') is a wood {} m high; give its trees more than 0 and up "
                      "to {} m, or no height for {} m",
                      name_, c.code, c.name, c.height_m, highest_wood_m,
                      default_height_m(Clutter::urban_or_trees));
    }
}

const CoverTable& CoverTable::worldcover() {
    using enum Clutter;
    static const CoverTable table("ESA WorldCover",
                                  {
                                      standard_class(10, "Tree cover", urban_or_trees, true),
                                      standard_class(20, "Shrubland", open),
                                      standard_class(30, "Grassland", open),
                                      standard_class(40, "Cropland", open),
                                      standard_class(50, "Built-up", suburban),
                                      standard_class(60, "Bare / sparse vegetation", open),
                                      standard_class(70, "Snow and ice", open),
                                      standard_class(80, "Permanent water bodies", water),
                                      standard_class(90, "Herbaceous wetland", open),
                                      standard_class(95, "Mangroves", urban_or_trees, true),
                                      standard_class(100, "Moss and lichen", open),
                                  });
    return table;
}

const CoverTable& CoverTable::nlcd() {
    using enum Clutter;
    static const CoverTable table(
        "MRLC NLCD", {
                         standard_class(11, "Open water", water),
                         standard_class(12, "Perennial ice/snow", open),
                         standard_class(21, "Developed, open space", open),
                         standard_class(22, "Developed, low intensity", suburban),
                         standard_class(23, "Developed, medium intensity", suburban),
                         standard_class(24, "Developed, high intensity", urban_or_trees),
                         standard_class(31, "Barren land", open),
                         standard_class(41, "Deciduous forest", urban_or_trees, true),
                         standard_class(42, "Evergreen forest", urban_or_trees, true),
                         standard_class(43, "Mixed forest", urban_or_trees, true),
                         standard_class(51, "Dwarf scrub", open),
                         standard_class(52, "Shrub/scrub", open),
                         standard_class(71, "Grassland/herbaceous", open),
                         standard_class(72, "Sedge/herbaceous", open),
                         standard_class(73, "Lichens", open),
                         standard_class(74, "Moss", open),
                         standard_class(81, "Pasture/hay", open),
                         standard_class(82, "Cultivated crops", open),
                         standard_class(90, "Woody wetlands", urban_or_trees, true),
                         standard_class(95, "Emergent herbaceous wetlands", open),
                     });
    return table;
}

CoverTable CoverTable::named(const std::string& name) {
    if (name == "worldcover") {
        return worldcover();
    }
    if (name == "nlcd") {
        return nlcd();
    }
    std::error_code ignored;
    require_input(std::filesystem::exists(name, ignored),
                  "{}: there is no such table of cover classes; check the name, or give worldcover "
                  "or nlcd",
                  name);
    return read(name);
}

CoverTable CoverTable::read(const std::filesystem::path& file) {
    return {file.string(), TableReader(file).read()};
}

GroundCover GroundCover::uniform(CoverClass everywhere) {
    // Only a scenario gives it a height of its own, by these keys.
    const CoverTable checked("cover_class, cover_height_m", {std::move(everywhere)});
    GroundCover cover;
    cover.classes_.assign(checked.classes().begin(), checked.classes().end());
    return cover;
}

GroundCover::GroundCover(const CoverTable& table, int columns, int rows)
    : columns_(columns), rows_(rows), classes_(table.classes().begin(), table.classes().end()),
      unclassified_cells_(static_cast<std::uint64_t>(columns) * static_cast<std::uint64_t>(rows)) {
    require_memory(unclassified_cells_, "the ground cover");
    cells_.assign(unclassified_cells_, static_cast<std::uint8_t>(classes_.size()));
    classes_.push_back({no_class, "no class", Clutter::open, 0.0, false});
}

std::optional<std::size_t> GroundCover::classify(int row, std::span<const std::int32_t> codes) {
    const std::span known(classes_.data(), classes_.size() - 1);
    const auto unclassified = static_cast<std::uint8_t>(known.size());
    std::uint8_t* cells =
        cells_.data() + static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_);
    for (std::size_t column = 0; column < codes.size(); ++column) {
        const std::int32_t code = codes[column];
        if (code == no_class || cells[column] != unclassified) {
            continue;
        }
        const auto found =
            std::lower_bound(known.begin(), known.end(), code,
                             [](const CoverClass& c, int low) { return c.code < low; });
        if (found != known.end() && found->code == code) {
            cells[column] = static_cast<std::uint8_t>(found - known.begin());
            --unclassified_cells_;
        } else if (code != 0) { // by which files mark the lack of data that do not declare it
            return column;
        }
    }
    return std::nullopt;
}

} // namespace earshot::terrain
