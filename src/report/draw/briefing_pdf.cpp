#include "earshot/base/task.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pages.hpp"
#include "report/say/briefing.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

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
    /// A page that `draw(canvas, area, words)` fills.
    template <typename Draw>
    void add_page(Orientation orientation, const std::string& title, const Draw& draw) {
        pages_.push_back(
            {orientation, title,
             [draw, area = area(orientation)](cairo_t* canvas, const PageWords& words) {
                 draw(canvas, area, words);
             }});
    }
    /// Pages that belong together; the outline numbers them.
    void add(Orientation orientation, const std::string& title,
             const std::vector<PageDrawing>& drawings) {
        for (std::size_t k = 0; k < drawings.size(); ++k) {
            pages_.push_back({orientation,
                              drawings.size() == 1
                                  ? title
                                  : fmt::format("{} {} of {}", title, k + 1, drawings.size()),
                              drawings[k]});
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

void plan_net_pages(PagePlan& pages, const Briefing& briefing) {
    if (briefing.pairs.empty()) {
        return;
    }
    const NetView view{briefing.stations, briefing.pairs, briefing.net,
                       briefing.scenario->wanted_margin_db, &briefing.ground};
    pages.add_page(Orientation::wide, "Who hears whom",
                   [view](cairo_t* canvas, const Box& area, const PageWords& words) {
                       draw_net_page(canvas, area, words, view);
                   });
    const Box area = pages.area(Orientation::wide);
    if (!net_page_holds_table(area, view)) {
        pages.add(Orientation::wide, "Margins of all pairs", net_table_pages(area, view));
    }
}

void plan_card_pages(PagePlan& pages, const Briefing& briefing, Paper paper) {
    if (!briefing.scenario) {
        return;
    }
    const std::vector<StationCard> cards = station_cards(briefing);
    const std::string& net = briefing.scenario->net_name;
    pages.add(Orientation::upright, "Station cards",
              station_card_pages(paper, cards, net, briefing.date));
    pages.add(Orientation::upright, "Wallet cards",
              wallet_card_pages(paper, cards, net, briefing.date));
    if (briefing.walk) {
        pages.add(
            Orientation::upright, "Log sheet",
            log_sheet_pages(pages.area(Orientation::upright), *briefing.walk, &briefing.ground));
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
    pages.add_page(fitting_orientation(briefing.map, paper), "Map",
                   [&briefing, sheet = map_sheet_of(briefing)](cairo_t* canvas, const Box& area,
                                                               const PageWords& words) {
                       draw_map_sheet(canvas, area, words, briefing.map, briefing.ground, sheet);
                   });
    plan_net_pages(pages, briefing);
    for (const BriefedPath& briefed : briefing.paths) {
        pages.add_page(Orientation::wide, briefed.title,
                       [&briefed](cairo_t* canvas, const Box& area, const PageWords& words) {
                           draw_path_page(canvas, area, words, briefed);
                       });
    }
    if (briefing.ladder) {
        pages.add_page(Orientation::wide, "What would help",
                       [&briefing](cairo_t* canvas, const Box& area, const PageWords& words) {
                           draw_ladder_page(
                               canvas, area, words, *briefing.ladder, briefing.ladder_title,
                               briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0);
                       });
    }
    plan_card_pages(pages, briefing, paper);
    PdfDocument document(
        {briefing.title, briefing.prepared_by, map_metadata(briefing.map, "CREATED")});
    pages.draw(document, page_words_of(briefing), task);
    document.write(path);
    task.end();
    return pages.count();
}

} // namespace earshot::report
