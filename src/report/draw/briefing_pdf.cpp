#include "report/draw/briefing_pdf.hpp"

#include "earshot/base/task.hpp"
#include "report/draw/ladder_picture.hpp"
#include "report/draw/log_sheet.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/net_picture.hpp"
#include "report/draw/path_picture.hpp"
#include "report/draw/station_card.hpp"
#include "report/say/briefing.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace earshot::report {
namespace {

/// Pages as they are planned: how many there are is known before the first is drawn.
class PagePlan {
public:
    explicit PagePlan(Paper paper) : paper_(paper) {}

    [[nodiscard]] Box area(Orientation orientation) const {
        return printed_area(paper_, orientation);
    }
    void add(Orientation orientation, const std::string& title, PageDrawing drawing) {
        pages_.push_back({orientation, title, std::move(drawing)});
    }
    /// Pages that belong together; the outline numbers them.
    void add(Orientation orientation, const std::string& title,
             const std::vector<PageDrawing>& drawings) {
        for (std::size_t k = 0; k < drawings.size(); ++k) {
            add(orientation,
                drawings.size() == 1 ? title
                                     : fmt::format("{} {} of {}", title, k + 1, drawings.size()),
                drawings[k]);
        }
    }
    void draw(PdfDocument& document, PageWords words, Task& task) const {
        task.begin("drawing pages", pages_.size());
        for (std::size_t k = 0; k < pages_.size(); ++k) {
            task.throw_if_stopped();
            const Page& page = pages_[k];
            words.page = fmt::format("page {} of {}", k + 1, pages_.size());
            page.drawing(document.add_page(paper_, page.orientation, page.title), words);
            task.advance(1);
        }
    }
    [[nodiscard]] std::size_t count() const { return pages_.size(); }

private:
    struct Page {
        Orientation orientation;
        std::string title;
        PageDrawing drawing;
    };
    Paper paper_;
    std::vector<Page> pages_;
};

void plan_map_page(PagePlan& pages, const Briefing& briefing, Paper paper) {
    const Orientation orientation = fitting_orientation(briefing.map, paper);
    pages.add(orientation, "Map",
              [&briefing, sheet = map_sheet_of(briefing),
               area = pages.area(orientation)](cairo_t* canvas, const PageWords& words) {
                  draw_map_sheet(canvas, area, words, briefing.map, briefing.ground, sheet);
              });
}

void plan_net_pages(PagePlan& pages, const Briefing& briefing) {
    if (briefing.pairs.empty()) {
        return;
    }
    const Box area = pages.area(Orientation::wide);
    const NetView view{briefing.scenario->net_name, briefing.stations, briefing.pairs, briefing.net,
                       briefing.scenario->wanted_margin_db};
    pages.add(Orientation::wide, "Who hears whom",
              [area, view](cairo_t* canvas, const PageWords& words) {
                  draw_net_page(canvas, area, words, view);
              });
    pages.add(Orientation::wide, "Margins of all pairs", net_table_pages(area, view));
}

void plan_path_pages(PagePlan& pages, const Briefing& briefing) {
    for (const BriefedPath& path : briefing.paths) {
        pages.add(
            Orientation::wide, path.title,
            [&path, area = pages.area(Orientation::wide)](cairo_t* canvas, const PageWords& words) {
                draw_path_page(canvas, area, words, path);
            });
    }
}

void plan_ladder_page(PagePlan& pages, const Briefing& briefing) {
    if (!briefing.ladder) {
        return;
    }
    const double wanted_db = briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0;
    pages.add(Orientation::wide, "What would help",
              [&briefing, wanted_db, area = pages.area(Orientation::wide)](cairo_t* canvas,
                                                                           const PageWords& words) {
                  draw_ladder_page(canvas, area, words, *briefing.ladder, briefing.ladder_title,
                                   wanted_db);
              });
}

void plan_card_pages(PagePlan& pages, const Briefing& briefing, Paper paper) {
    if (!briefing.scenario) {
        return;
    }
    pages.add(Orientation::upright, "Station cards",
              station_card_pages(paper, station_cards(briefing, briefing.fallbacks),
                                 briefing.scenario->net_name, briefing.date));
    if (briefing.walk) {
        pages.add(Orientation::upright, "Log sheet",
                  log_sheet_pages(pages.area(Orientation::upright), *briefing.walk));
    }
}

} // namespace

PageWords page_words_of(const Briefing& briefing) {
    PageWords words;
    words.right = briefing.scenario ? briefing.scenario->net_name : briefing.title;
    if (!briefing.date.empty()) {
        words.right += "\n" + briefing.date;
    }
    words.foot = fmt::format(
        "Predicted by method {} ({}), {}. {}", map_metadata(briefing.map, "METHOD"),
        map_metadata(briefing.map, "METHOD_SOURCE"),
        briefing.correction.empty() ? "no field correction" : briefing.correction, cautions());
    return words;
}

std::size_t write_briefing_pdf(const std::filesystem::path& path, const Briefing& briefing,
                               Paper paper, Task& task) {
    PagePlan pages(paper);
    plan_map_page(pages, briefing, paper);
    plan_net_pages(pages, briefing);
    plan_path_pages(pages, briefing);
    plan_ladder_page(pages, briefing);
    plan_card_pages(pages, briefing, paper);
    PdfDocument document(
        {briefing.title, briefing.prepared_by, map_metadata(briefing.map, "CREATED")});
    pages.draw(document, page_words_of(briefing), task);
    document.write(path);
    task.end();
    return pages.count();
}

} // namespace earshot::report
