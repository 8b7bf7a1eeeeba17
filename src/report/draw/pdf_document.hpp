#pragma once

#include "report/draw/layout.hpp"

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

namespace earshot::report {

enum class Paper { a4, letter };
enum class Orientation { upright, wide };

/// "a4" or "letter", in any case. Throws Error(Fault::usage) for anything else.
[[nodiscard]] Paper parse_paper(std::string_view name);

/// Width and height in points (1/72 inch): A4 is 210 mm x 297 mm (ISO 216), Letter 8.5 in x 11 in
/// (ANSI/ASME Y14.1, size A).
struct PageSize {
    double width_pt = 0.0;
    double height_pt = 0.0;
};
[[nodiscard]] PageSize page_size(Paper paper, Orientation orientation);

/// The part of a page to draw on: all but a margin of 10 mm, which every printer can spare.
[[nodiscard]] Box printed_area(Paper paper, Orientation orientation);

/// A PDF that grows page by page in memory and is written at the end, whole or not at all. The same
/// pages give the same bytes: no clock is asked.
class PdfDocument {
public:
    /// What the file says of itself. `created` is an ISO 8601 date or time
    /// ("2026-11-25T08:00:00Z"); left out if it is anything else. All may be empty.
    struct About {
        std::string title;
        std::string author;
        std::string created;
    };
    explicit PdfDocument(const About& about);
    ~PdfDocument();
    PdfDocument(const PdfDocument&) = delete;
    PdfDocument& operator=(const PdfDocument&) = delete;

    /// The canvas of a new page, in points from its upper left corner; it is good until the next
    /// call. The title stands in the file's outline.
    [[nodiscard]] cairo_t* add_page(Paper paper, Orientation orientation, const std::string& title);

    /// Ends the document and writes it; no page can be added after. Throws Error(Fault::output)
    /// if it cannot be written and Error(Fault::internal) if it has no page.
    void write(const std::filesystem::path& path);

private:
    struct State;
    std::unique_ptr<State> state_;
};

} // namespace earshot::report
