#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "field/walk_test.hpp"
#include "plan/fallback.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/pdf_document.hpp"

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace earshot::report {

struct Briefing;
struct BriefedPath;
struct FieldComparison;

/// Writes a briefing as pages to print: map, who hears whom, paths, ladder, a card for each
/// station, log sheets; of a finished map, the map alone. Gives the number of pages. Whole or not
/// at all. Throws Error(Fault::output) if it cannot be written or no font has the letters of
/// some text, Error(Fault::stopped).
std::size_t write_briefing_pdf(const std::filesystem::path& path, const Briefing& briefing,
                               Paper paper, Task& task = silent_task());

/// What stands at the edge of the pages of a briefing.
[[nodiscard]] PageWords page_words_of(const Briefing& briefing);

/// Draws a path on a page of its own: the verdict in words on top, the path seen from the side
/// (ground, cover, antennas, line of sight, Fresnel zone, edges that matter), the budget of both
/// directions and the facts of the prediction beside it.
void draw_path_page(cairo_t* canvas, const Box& area, const PageWords& words,
                    const BriefedPath& path);

/// Draws what each way of being heard farther buys, on a page of its own: which comes first in
/// words, each lever by itself (effort, decibels, what it reaches), and all of them one on top of
/// another as a stair. `of` says whose ladder it is; `wanted_margin_db` is what counts as heard.
void draw_ladder_page(cairo_t* canvas, const Box& area, const PageWords& words,
                      const plan::LadderAnswer& answer, const std::string& of,
                      double wanted_margin_db);

/// Who hears whom, as pages show it.
struct NetView {
    std::vector<link::Station> stations;
    std::vector<plan::Pair> pairs;
    plan::NetStructure net;
    double wanted_margin_db = 0.0;               ///< least margin that counts as heard
    const terrain::HeightGrid* ground = nullptr; ///< to draw them on; null: none
};

/// Up to so many stations every link is drawn; of more, only the strongest of each station.
inline constexpr std::size_t most_stations_with_all_links = 14;

/// Draws the stations where they stand on the ground, north up, with the links between them: each
/// half of a link as the station at its end hears the other, wide and dark for a large margin; a
/// link that works one way as an arrow to the listener; who is cut off and without whom the net
/// splits. Links bow around the marks of others, and names keep off links. Beside it: the margins
/// as a table, unless the net is too large for that, and who must pass messages on.
void draw_net_page(cairo_t* canvas, const Box& area, const PageWords& words, const NetView& view);

/// Whether draw_net_page() has the table of margins on it.
[[nodiscard]] bool net_page_holds_table(const Box& area, const NetView& view);

/// The margins of all pairs both ways as a table: who listens from top to bottom, who talks from
/// left to right. On as many pages as the area needs; one holds about 40 stations on wide A4 paper.
[[nodiscard]] std::vector<PageDrawing> net_table_pages(const Box& area, const NetView& view);

/// Another station as one station has it.
struct CardContact {
    std::string name;
    double you_hear_db = 0.0;  ///< margin at the person's own station
    double hears_you_db = 0.0; ///< margin at the other
    bool you_hear = false;
    bool hears_you = false;
    double distance_m = 0.0;
    double bearing_deg = 0.0; ///< from the person's station, true north
    bool try_first = false;   ///< plan::Pair

    /// What a conversation has: the lesser of both margins.
    [[nodiscard]] double weaker_db() const { return std::min(you_hear_db, hears_you_db); }
};

/// What one person takes along.
struct StationCard {
    std::string name; ///< of the station
    std::string person, role;
    bool repeats = false; ///< it is a repeater: whom it serves stands in talks_with
    geo::LatLon position;
    std::string equipment;                 ///< "5 W, antenna stock, 1.5 m above the ground"
    std::string worn;                      ///< how the radio is; empty if not known
    std::vector<std::string> channels;     ///< a line each, the net's own frequency if none planned
    std::vector<CardContact> talks_with;   ///< both ways, the strongest first
    std::vector<CardContact> one_way;      ///< heard in one direction only
    std::vector<std::string> over_others;  ///< "over Veldrath Top: Nessavin, Quorrel"
    std::vector<std::string> out_of_reach; ///< names
    std::optional<plan::Fallback> fallback;
    std::string help; ///< what the person can do to be heard by more; empty if nothing is known
    double exposure_distance_m = 0.0; ///< link::exposure_distance_m() of the station
};

/// The cards of all stations of a briefing, in its order. None without a scenario.
[[nodiscard]] std::vector<StationCard> station_cards(const Briefing& briefing);

/// Sheets of four cards with lines to cut along, on upright paper. Where there is much to say,
/// letters become smaller, and of far contacts names alone are left; what does not fit even so goes
/// on to another card. `words.right` and `words.foot` of a sheet are not read: `net` and `date`
/// stand on every card.
[[nodiscard]] std::vector<PageDrawing> station_card_pages(Paper paper,
                                                          const std::vector<StationCard>& cards,
                                                          const std::string& net,
                                                          const std::string& date);

/// The same in the size of a bank card (ISO/IEC 7810 ID-1, 85.6 mm by 54 mm), in fewer words: ten
/// to a sheet of A4, eight to one of letter.
[[nodiscard]] std::vector<PageDrawing> wallet_card_pages(Paper paper,
                                                         const std::vector<StationCard>& cards,
                                                         const std::string& net,
                                                         const std::string& date);

/// The sheets to take along on a walk test and fill in with a pencil: who, when and with what, what
/// each score from 0 to 5 means, the set-ups, and for each stop the calls in the order they are to
/// be made, with boxes to mark the score and a line for notes. What is predicted is not on them:
/// who knows it hears it. As many sheets as the area needs; a stop is not broken unless it is
/// longer than a sheet. With ground, which must outlive the drawings, the first sheet has a map of
/// the stops.
[[nodiscard]] std::vector<PageDrawing> log_sheet_pages(const Box& area, const field::WalkPlan& walk,
                                                       const terrain::HeightGrid* ground = nullptr);

/// Writes what was heard over what was predicted, call by call, as a page of its own: PNG or PDF
/// (A4, wide) by the ending of the name. Throws Error(Fault::usage) for another ending,
/// Error(Fault::output) if it cannot be written.
void write_scatter_picture(const std::filesystem::path& path, const PageWords& words,
                           const std::string& title, const FieldComparison& comparison);

} // namespace earshot::report
