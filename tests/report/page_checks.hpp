#pragma once

#include "output_checks.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/pdf_document.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <regex>
#include <string>
#include <vector>

/// Pages read back from the PDF by the poppler tools: what a person would see, and nothing of how
/// it came about.

namespace earshot::test {

/// What a command prints; fails the test if it fails.
inline std::string output_of(const std::string& command) {
    const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
    REQUIRE(pipe != nullptr);
    std::string text;
    char buffer[4096];
    for (std::size_t got = 0; (got = std::fread(buffer, 1, sizeof buffer, pipe.get())) > 0;) {
        text.append(buffer, got);
    }
    return text;
}

/// A word on a page and the box around its letters, in points.
struct PageWord {
    double left = 0.0, top = 0.0, right = 0.0, bottom = 0.0;
    std::string text;
};

/// A document of one page.
class OnePage {
public:
    OnePage(report::Paper paper, report::Orientation orientation,
            const std::function<void(cairo_t*)>& draw)
        : path_(folder_ / "page.pdf") {
        report::PdfDocument document({"test", "", ""});
        draw(document.add_page(paper, orientation, "test"));
        document.write(path_);
    }

    /// All text, with every run of white space as one space.
    [[nodiscard]] std::string text() const {
        const std::string raw = output_of("pdftotext -raw '" + path_.string() + "' -");
        // No-break spaces are spaces to a reader.
        const std::string spaced = std::regex_replace(raw, std::regex("\xC2\xA0"), " ");
        return std::regex_replace(spaced, std::regex("\\s+"), " ");
    }

    [[nodiscard]] std::vector<PageWord> words() const {
        const std::string html = output_of("pdftotext -bbox '" + path_.string() + "' -");
        const std::regex word("<word xMin=\"([-0-9.]+)\" yMin=\"([-0-9.]+)\" xMax=\"([-0-9.]+)\" "
                              "yMax=\"([-0-9.]+)\">([^<]*)</word>");
        std::vector<PageWord> words;
        for (std::sregex_iterator at(html.begin(), html.end(), word), end; at != end; ++at) {
            words.push_back({std::stod((*at)[1]), std::stod((*at)[2]), std::stod((*at)[3]),
                             std::stod((*at)[4]), (*at)[5]});
        }
        return words;
    }

    /// A grey picture of the page, a PNG.
    [[nodiscard]] std::filesystem::path picture(int dots_per_inch) const {
        const std::string stem = (folder_ / "page").string();
        output_of("pdftoppm -png -gray -singlefile -r " + std::to_string(dots_per_inch) + " '" +
                  path_.string() + "' '" + stem + "'");
        return stem + ".png";
    }

private:
    TemporaryFolder folder_;
    std::filesystem::path path_;
};

/// Whether all words lie in the area, so that none is clipped. A letter may hang over by a point.
inline void check_inside(const std::vector<PageWord>& words, const report::Box& area) {
    CHECK_FALSE(words.empty());
    for (const PageWord& word : words) {
        const bool inside = word.left > area.x - 1.0 && word.top > area.y - 1.5 &&
                            word.right < area.x + area.width + 1.0 &&
                            word.bottom < area.y + area.height + 1.5;
        if (!inside) { // thousands of assertions that hold take seconds
            CAPTURE(word.text, word.left, word.top, word.right, word.bottom);
            CHECK(inside);
        }
    }
}

/// Whether no word covers another. The boxes are as high as the font's tallest letters, so boxes of
/// lines set close together touch a little.
inline void check_no_word_covers_another(const std::vector<PageWord>& words) {
    for (std::size_t a = 0; a < words.size(); ++a) {
        for (std::size_t b = 0; b < a; ++b) {
            const PageWord& one = words[a];
            const PageWord& other = words[b];
            const double across = std::min(one.right, other.right) - std::max(one.left, other.left);
            const double down = std::min(one.bottom, other.bottom) - std::max(one.top, other.top);
            const double lower = std::min(one.bottom - one.top, other.bottom - other.top);
            const double narrower = std::min(one.right - one.left, other.right - other.left);
            const bool covers = across > 0.2 * narrower && down > 0.4 * lower;
            if (covers) {
                CAPTURE(one.text, other.text, one.left, one.top, other.left, other.top);
                CHECK_FALSE(covers);
            }
        }
    }
}

inline std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (std::size_t at = text.find(part); at != std::string::npos;
         at = text.find(part, at + part.size())) {
        ++count;
    }
    return count;
}

/// The darkest grey (0 black, 255 paper) on a page between two distances from a place, in points.
int darkest_around(const OnePage& page, double x, double y, double from_pt, double to_pt);

/// Compares a page with its stored picture (tests/reference/pages/README.md).
void check_looks_like(const OnePage& page, const std::string& name);

} // namespace earshot::test
