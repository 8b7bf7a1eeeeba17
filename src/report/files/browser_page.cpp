#include "report/files/browser_page.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "report/files/browser_data.hpp"
#include "report/files/browser_template.hpp"
#include "report/say/briefing.hpp"

#include <fmt/format.h>

#include <string>
#include <string_view>

namespace earshot::report {
namespace {

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
        case '&':
            out += "&amp;";
            break;
        case '<':
            out += "&lt;";
            break;
        case '>':
            out += "&gt;";
            break;
        default:
            out += c;
        }
    }
    return out;
}

/// Text with the one `mark` in it replaced.
std::string filled(std::string_view text, std::string_view mark, std::string_view value) {
    const std::size_t at = text.find(mark);
    if (at == std::string_view::npos) {
        throw Error(Fault::internal,
                    fmt::format("the page for a browser has no place for {}; please report this "
                                "fault",
                                mark));
    }
    std::string out;
    out.reserve(text.size() + value.size());
    out += text.substr(0, at);
    out += value;
    out += text.substr(at + mark.size());
    return out;
}

} // namespace

bool browser_page_available() {
    return !browser_template().empty();
}

void write_browser_page(const std::filesystem::path& path, const Briefing& briefing) {
    if (!browser_page_available()) {
        throw_usage(fmt::format("cannot write {}: this build is without the page for a browser; "
                                "build again with Node.js, npm and -DEARSHOT_BROWSER_PAGE=ON",
                                path.string()));
    }
    // The title comes first in the page, so a mark that stands in the data is left alone.
    const std::string page = filled(browser_template(), "{{data}}", browser_data(briefing));
    write_text_file(path, filled(page, "{{title}}", escaped(briefing.title)));
}

} // namespace earshot::report
