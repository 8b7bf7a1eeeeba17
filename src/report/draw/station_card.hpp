#pragma once

#include "plan/fallback.hpp"
#include "report/draw/page_area.hpp"
#include "report/draw/pdf_document.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace earshot::report {

struct Briefing;

/// Another station as one station has it.
struct CardContact {
    std::string name;
    double you_hear_db = 0.0;  ///< margin at the person's own station
    double hears_you_db = 0.0; ///< margin at the other
    bool you_hear = false;
    bool hears_you = false;
    double distance_m = 0.0;
    double bearing_deg = 0.0; ///< from the person's station, true north

    /// What a conversation has: the lesser of both margins.
    [[nodiscard]] double weaker_db() const;
};

/// What one person takes along.
struct StationCard {
    std::string name; ///< of the station
    std::string person, role;
    geo::LatLon position;
    std::string equipment;                 ///< "5 W, antenna stock, 1.5 m above the ground"
    std::vector<std::string> channels;     ///< a line each, the net's own frequency if none planned
    std::vector<CardContact> talks_with;   ///< both ways, the strongest first
    std::vector<CardContact> one_way;      ///< heard in one direction only
    std::vector<std::string> over_others;  ///< "over Veldrath Top: Nessavin, Quorrel"
    std::vector<std::string> out_of_reach; ///< names
    std::optional<plan::Fallback> fallback;
    double exposure_distance_m = 0.0; ///< link::exposure_distance_m() of the station
};

/// The cards of all stations of a briefing, in its order. `fallbacks` are those of
/// plan::find_fallbacks(), or empty. None without a scenario.
[[nodiscard]] std::vector<StationCard>
station_cards(const Briefing& briefing, std::span<const std::optional<plan::Fallback>> fallbacks);

/// Sheets of four cards with lines to cut along, on upright paper. What does not fit on a card goes
/// on to another. `words.right` and `words.foot` of a sheet are not read: `net` and `date` stand on
/// every card.
[[nodiscard]] std::vector<PageDrawing> station_card_pages(Paper paper,
                                                          const std::vector<StationCard>& cards,
                                                          const std::string& net,
                                                          const std::string& date);

} // namespace earshot::report
