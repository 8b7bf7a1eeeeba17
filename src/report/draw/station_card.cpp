#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/exposure.hpp"
#include "link/handheld.hpp"
#include "link/quality.hpp"
#include "plan/foot_range.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"
#include "report/say/second_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <iterator>
#include <map>
#include <memory>
#include <utility>

namespace earshot::report {
namespace {

using namespace page_style;

// ---- What stands on a card ----------------------------------------------------------------------

std::string marked(const std::string& text, bool try_first) {
    return try_first ? text + std::string(try_mark) : text;
}

/// How the radio is worn, as the loss to the body tells; empty where that is nobody's or another.
std::string worn_words(const link::Radio& radio, double frequency_mhz) {
    using enum link::Carried;
    constexpr double same_db = 0.05;
    for (const auto& [carried, words] :
         {std::pair{at_face, "held at the face"},
          std::pair{on_chest, "worn on the chest; held at the face it carries farther"},
          std::pair{on_hip, "worn on the hip; held at the face it carries farther"}}) {
        if (std::abs(radio.body_loss_db - link::body_loss_db(carried, frequency_mhz)) < same_db) {
            return words;
        }
    }
    return {};
}

/// The one that people leave their radio on.
std::size_t first_channel(const scenario::Scenario& scenario, std::size_t station) {
    const auto& of_stations = scenario.air.channels_of;
    return station < of_stations.size() && !of_stations[station].empty()
               ? of_stations[station].front()
               : 0;
}

CardContact contact_of(const Briefing& briefing, const plan::Pair& pair, std::size_t station) {
    const bool first = pair.a == station;
    const plan::Hearing& own = first ? pair.a_hears_b : pair.b_hears_a;
    const plan::Hearing& theirs = first ? pair.b_hears_a : pair.a_hears_b;
    std::string name = briefing.stations[first ? pair.b : pair.a].name;
    if (briefing.scenario && pair.channel != first_channel(*briefing.scenario, station)) {
        name += " on " + briefing.scenario->air.channels[pair.channel].name;
    }
    return {name,
            own.margin_db,
            theirs.margin_db,
            own.heard,
            theirs.heard,
            pair.distance_m,
            first ? pair.bearing_deg : pair.back_bearing_deg,
            pair.try_first};
}

/// Names with commas between, in lists short enough to be carried over to another card.
std::vector<std::string> joined(const std::vector<std::string>& names) {
    constexpr std::size_t most = 8;
    std::vector<std::string> lists;
    for (std::size_t k = 0; k < names.size(); ++k) {
        if (k % most == 0) {
            lists.emplace_back();
        }
        lists.back() += (k % most == 0 ? "" : ", ") + names[k];
    }
    return lists;
}

/// Those it reaches through repeaters, and on which channel to call them.
void add_repeated(const Briefing& briefing, std::size_t station, StationCard& card,
                  std::vector<bool>& reached) {
    std::map<std::string, std::vector<std::string>> through;
    for (const plan::Pair& pair : briefing.pairs) {
        if (pair.repeated() && (pair.a == station || pair.b == station)) {
            const bool first = pair.a == station;
            const std::size_t other = first ? pair.b : pair.a;
            reached[other] = true;
            through[fmt::format("through {} on channel {}",
                                briefing.stations[pair.through->repeater].name,
                                briefing.scenario->air
                                    .channels[first ? pair.through->from_a : pair.through->from_b]
                                    .name)]
                .push_back(marked(briefing.stations[other].name, pair.try_first));
        }
    }
    for (const auto& [way, names] : through) {
        for (const std::string& list : joined(names)) {
            card.over_others.push_back(fmt::format("{}: {}", way, list));
        }
    }
}

/// Those it reaches over others, way by way, and marks them as reached.
void add_relayed(const Briefing& briefing, std::size_t station, StationCard& card,
                 std::vector<bool>& reached) {
    std::map<std::vector<std::size_t>, std::vector<std::string>> over;
    for (const plan::Relayed& way : briefing.net.relayed) {
        std::vector<std::size_t> stations = way.stations;
        if (stations.back() == station) {
            std::ranges::reverse(stations);
        }
        if (stations.front() != station) {
            continue;
        }
        reached[stations.back()] = true;
        over[{stations.begin() + 1, stations.end() - 1}].push_back(
            briefing.stations[stations.back()].name);
    }
    for (const auto& [relays, names] : over) {
        std::string way;
        for (const std::size_t relay : relays) {
            way += (way.empty() ? "over " : ", then ") + briefing.stations[relay].name;
        }
        for (const std::string& list : joined(names)) {
            card.over_others.push_back(fmt::format("{}: {}", way, list));
        }
    }
}

StationCard card_of(const Briefing& briefing, std::size_t station) {
    const link::Station& own = briefing.stations[station];
    StationCard card;
    card.name = own.name;
    card.repeats = briefing.scenario->air.is_repeater(station);
    card.position = own.position;
    card.equipment = equipment_words(own);
    card.worn = worn_words(own.radio, briefing.scenario->conditions.frequency_mhz);
    card.exposure_distance_m =
        link::exposure_distance_m(own.radio, briefing.scenario->conditions.frequency_mhz);
    if (station < briefing.scenario->duties.size()) {
        card.person = briefing.scenario->duties[station].person;
        card.role = briefing.scenario->duties[station].role;
    }
    if (station < briefing.fallbacks.size() && !card.repeats) {
        card.fallback = briefing.fallbacks[station];
    }
    if (station < briefing.helps.size() && briefing.helps[station] && !card.repeats) {
        const plan::Help& help = *briefing.helps[station];
        card.help = fmt::format("{}: then you talk with {} as well", help_words(help, false),
                                names_words(help.reached));
    }
    for (std::size_t channel = 0; channel < briefing.scenario->air.channels.size(); ++channel) {
        card.channels.push_back(channel_words(*briefing.scenario, channel));
    }
    std::vector<bool> reached(briefing.stations.size(), false);
    std::vector<bool> in_doubt(briefing.stations.size(), false);
    reached[station] = true;
    for (const plan::Pair& pair : briefing.pairs) {
        if (pair.a != station && pair.b != station) {
            continue;
        }
        const std::size_t other = pair.a == station ? pair.b : pair.a;
        if (briefing.scenario->air.is_repeater(other)) {
            reached[other] = true; // nobody to be reached
            continue;
        }
        if (pair.channel == plan::no_channel) {
            continue;
        }
        CardContact contact = contact_of(briefing, pair, station);
        in_doubt[other] = pair.try_first;
        if (pair.mutual()) {
            reached[other] = true;
            card.talks_with.push_back(std::move(contact));
        } else if (!pair.repeated() && (contact.you_hear || contact.hears_you)) {
            card.one_way.push_back(std::move(contact));
        }
    }
    std::ranges::stable_sort(card.talks_with, std::greater<>(), &CardContact::weaker_db);
    add_repeated(briefing, station, card, reached);
    add_relayed(briefing, station, card, reached);
    for (std::size_t other = 0; other < reached.size(); ++other) {
        if (!reached[other]) {
            card.out_of_reach.push_back(marked(briefing.stations[other].name, in_doubt[other]));
        }
    }
    return card;
}

// ---- How it is drawn ----------------------------------------------------------------------------

constexpr double padding = 24.0;
const TextStyle card_text{8.8, false, ink};
const TextStyle card_bold{8.8, true, ink};
const TextStyle card_quiet{8.0, false, quiet_ink};

/// Draws something at a place and returns its height. On a measuring canvas, it only measures.
using Block = std::function<double(const Pen&, double x, double y, double width)>;

Block line_block(std::string text, const TextStyle& style) {
    return [text = std::move(text), style](const Pen& pen, double x, double y, double width) {
        return pen.paragraph(x, y, text, style, width) + 1.5;
    };
}

/// The first of a card stands under the rule of its head and needs no line of its own.
Block heading_block(std::string text, bool first) {
    return [text = std::move(text), first](const Pen& pen, double x, double y, double width) {
        if (!first) {
            pen.line(x, y + 4.0, x + width, y + 4.0, {0.5, hairline});
        }
        return 6.0 + pen.paragraph(x, y + 6.0, text, {7.5, true, quiet_ink}, width, 1) + 1.0;
    };
}

/// Name, then way and distance where there is room for them on the line, else below.
Block contact_block(const CardContact& contact) {
    return [contact](const Pen& pen, double x, double y, double width) {
        constexpr double side = 8.5;
        constexpr double gap = 7.0;
        const double margin_db = contact.weaker_db();
        const double height = pen.line_height(card_text);
        draw_class_mark(pen, x, y + (height - side) / 2.0, side, margin_db);
        const double left = x + side + 5.0;
        const std::string quality = marked(fmt::format("{} {}", link::readability(margin_db).name,
                                                       typeset(margin_text(margin_db))),
                                           contact.try_first);
        const double room =
            x + width - pen.text(x + width, y, quality, card_text, Anchor::right) - gap - left;
        const std::string where = fmt::format("{} {}", geo::format_distance(contact.distance_m),
                                              geo::direction_words(contact.bearing_deg));
        const TextStyle name_style = fitted(pen, contact.name, card_bold, room, 7.5);
        const double name_width = pen.text_width(contact.name, name_style);
        const double name_height =
            std::max(height, pen.paragraph(left, y, contact.name, name_style, room, 2));
        if (name_width + gap + pen.text_width(where, card_quiet) <= room) {
            const double drop = height - pen.line_height(card_quiet);
            pen.text(left + name_width + gap, y + drop - 0.2, where, card_quiet);
            return name_height + 2.0;
        }
        return name_height +
               pen.paragraph(left, y + name_height, where, card_quiet, width - side - 5.0, 1) + 2.0;
    };
}

/// Things to say that stand under one heading and may go on on the next card.
struct CardSection {
    std::string heading;
    std::vector<Block> blocks;
};

/// Who is heard but does not hear, and the other way.
std::vector<std::string> one_way_words(const std::vector<CardContact>& contacts) {
    std::vector<std::string> lines;
    for (const bool hears_you : {false, true}) {
        std::vector<std::string> names;
        for (const CardContact& contact : contacts) {
            if (contact.hears_you == hears_you) {
                names.push_back(marked(contact.name, contact.try_first));
            }
        }
        for (const std::string& list : joined(names)) {
            lines.push_back((hears_you ? "they hear you, you do not hear them: "
                                       : "you hear them, they do not hear you: ") +
                            list);
        }
    }
    return lines;
}

/// Of those from number `first` on, who is heard how well: "clear: Nessavin, Quorrel*".
std::vector<std::string> class_words(const StationCard& card, std::size_t first) {
    std::vector<std::string> lines;
    const auto& all = card.talks_with;
    for (std::size_t k = std::min(first, all.size()); k < all.size();) {
        const auto quality = link::readability(all[k].weaker_db()).name;
        std::vector<std::string> names;
        for (; k < all.size() && link::readability(all[k].weaker_db()).name == quality; ++k) {
            names.push_back(marked(all[k].name, all[k].try_first));
        }
        for (const std::string& list : joined(names)) {
            lines.push_back(fmt::format("{}: {}", quality, list));
        }
    }
    return lines;
}

bool marks_any(const StationCard& card) {
    return std::ranges::any_of(card.talks_with, &CardContact::try_first) ||
           std::ranges::any_of(card.one_way, &CardContact::try_first) ||
           std::ranges::any_of(card.out_of_reach,
                               [](const std::string& name) { return name.ends_with(try_mark); });
}

std::vector<std::string> sends_with(const StationCard& card) {
    std::vector<std::string> lines{card.equipment};
    if (!card.worn.empty()) {
        lines.push_back("radio " + card.worn);
    }
    return lines;
}

/// The strongest `told` contacts with way and distance; of the others, names by class.
std::vector<CardSection> sections_of(const StationCard& card, std::size_t told) {
    std::vector<CardSection> sections;
    const auto add = [&sections](const char* heading, const std::vector<std::string>& lines) {
        if (!lines.empty()) {
            sections.push_back({heading, {}});
        }
        for (const std::string& line : lines) {
            sections.back().blocks.push_back(line_block(line, card_text));
        }
    };
    add("Channels", card.channels);
    add("You send with", sends_with(card));
    CardSection direct{card.repeats ? "Serves" : "You talk directly with", {}};
    for (std::size_t k = 0; k < std::min(told, card.talks_with.size()); ++k) {
        direct.blocks.push_back(contact_block(card.talks_with[k]));
    }
    for (const std::string& line : class_words(card, told)) {
        direct.blocks.push_back(line_block(line, card_text));
    }
    if (direct.blocks.empty()) {
        direct.blocks.push_back(line_block("nobody", card_bold));
    }
    sections.push_back(std::move(direct));
    add("One way only", one_way_words(card.one_way));
    add("Through others", card.over_others);
    add("Out of reach", joined(card.out_of_reach));
    if (marks_any(card)) {
        sections.back().blocks.push_back(line_block(std::string(try_key), card_quiet));
    }
    return sections;
}

std::string caution_words(const StationCard& card) {
    // Rounded up: the distance is the least that is safe.
    const double distance_m = std::ceil(10.0 * card.exposure_distance_m) / 10.0;
    return fmt::format(
        "Keep others {} from the antenna while it sends (FCC OET Bulletin 65; limits of "
        "47 CFR 1.1310 and ICNIRP 2020); hold a handheld as its maker says. Masts: far from power "
        "lines, guyed, down before lightning. Keep to your licence and its power. A prediction is "
        "no guarantee: do not stake a life on it.",
        typeset(height_text(distance_m, 1)));
}

/// Where to go if nobody answers: what costs nothing first.
std::string advice_words(const StationCard& card) {
    if (card.repeats) {
        return "look after its power, antenna and cable; until it answers, a channel without it";
    }
    std::string advice = card.help.empty()
                             ? "move a few steps, raise the antenna, climb: higher is farther"
                             : card.help;
    if (card.fallback) {
        const bool found = card.fallback->found();
        advice = (card.help.empty() && found ? "" : advice + "; else: ") +
                 fallback_words(*card.fallback);
        if (found && !card.fallback->name.empty()) {
            advice += fmt::format(" ({})", geo::format_mgrs(card.fallback->position));
        }
    }
    return advice;
}

/// At the bottom of a station's first card, which people look at first: where to go if nobody
/// answers, and the cautions. Returns the height.
double draw_card_foot(const Pen& pen, const StationCard& card, double x, double bottom,
                      double width) {
    const TextStyle style{6.8, false, ink};
    constexpr double inset = 5.0;
    const double inner = width - 2.0 * inset;
    const double cautions = pen.paragraph_height(caution_words(card), style, inner, 12);
    const double box_height = cautions + 2.0 * inset;
    pen.fill({x, bottom - box_height, width, box_height}, band);
    pen.paragraph(x + inset, bottom - cautions - inset, caution_words(card), style, inner, 12);

    const std::string advice = advice_words(card);
    const TextStyle& advice_style = card.fallback && card.fallback->found() ? card_bold : card_text;
    const Block heading = heading_block("If nobody answers", false);
    const double advice_height = pen.paragraph_height(advice, advice_style, width, 7) + 5.0;
    const double top = bottom - box_height - advice_height - 18.0;
    const double y = top + heading(pen, x, top, width);
    pen.paragraph(x, y, advice, advice_style, width, 7);
    return bottom - top;
}

/// Name, person and place below what stands on all cards. Returns the height.
double draw_card_head(const Pen& pen, const StationCard& card, const std::string& words,
                      std::size_t part, double x, double y, double width) {
    const double top = y;
    y += pen.paragraph(x, y, words, {7.0, false, quiet_ink}, width, 1) + 1.0;
    const std::string name = part == 0 ? card.name : fmt::format("{} ({})", card.name, part + 1);
    const TextStyle style = fitted(pen, name, {17.0, true, ink}, width, 12.0);
    y += pen.paragraph(x, y, name, style, width, 2);
    if (part == 0) {
        std::string who = card.person;
        if (!card.role.empty()) {
            who += (who.empty() ? "" : ", ") + card.role;
        }
        if (!who.empty()) {
            y += pen.paragraph(x, y, who, {9.5, false, ink}, width, 2);
        }
        y += pen.paragraph(x, y,
                           fmt::format("{}   {}", geo::format_mgrs(card.position),
                                       geo::format_decimal(card.position)),
                           card_quiet, width, 2);
    }
    y += 3.0;
    pen.line(x, y, x + 34.0, y, {2.6, ink});
    pen.line(x + 34.0, y, x + width, y, {0.6, ink});
    return y + 1.0 - top;
}

/// One card as it comes off the sheet: the whole of a station, or a part of it.
struct CardPart {
    const StationCard* card = nullptr;
    std::size_t part = 0;
    double size = 1.0; ///< of its letters
    std::vector<Block> blocks;
};

/// How much is told of contacts, and in letters of what size.
struct CardLook {
    double size;
    std::size_t told;
};

/// To be tried until a station fits one card; the last for those that do not.
constexpr std::array card_looks{CardLook{1.0, 99}, CardLook{0.92, 99}, CardLook{0.86, 99},
                                CardLook{0.92, 6}, CardLook{0.86, 6},  CardLook{0.86, 3},
                                CardLook{0.8, 3},  CardLook{0.76, 0},  CardLook{0.72, 0}};

/// Spreads a station over as many cards as it takes.
class CardSetter {
public:
    CardSetter(const StationCard& card, const std::string& words, const Box& box,
               const CardLook& look)
        : card_(card), words_(words), canvas_(measuring_canvas()), pen_(canvas_.get()), look_(look),
          width_(box.width / look.size), height_(box.height / look.size) {
        begin();
    }

    std::vector<CardPart> set() {
        for (const CardSection& section : sections_of(card_, look_.told)) {
            for (std::size_t k = 0; k < section.blocks.size(); ++k) {
                const Block heading = heading_block(section.heading, parts_.back().blocks.empty());
                const double needed =
                    height_of(section.blocks[k]) + (k == 0 ? height_of(heading) : 0.0);
                if (needed > left_) {
                    begin();
                    take(heading_block(section.heading + (k == 0 ? "" : " (continued)"), true));
                } else if (k == 0) {
                    take(heading);
                }
                take(section.blocks[k]);
            }
        }
        return std::move(parts_);
    }

private:
    const StationCard& card_;
    const std::string& words_;
    Canvas canvas_;
    Pen pen_;
    CardLook look_;
    double width_;
    double height_;
    double left_ = 0.0;
    std::vector<CardPart> parts_;

    void begin() {
        parts_.push_back({&card_, parts_.size(), look_.size, {}});
        const std::size_t part = parts_.size() - 1;
        left_ = height_ - draw_card_head(pen_, card_, words_, part, 0.0, 0.0, width_);
        if (part == 0) {
            left_ -= draw_card_foot(pen_, card_, 0.0, 0.0, width_) + 2.0;
        }
    }
    [[nodiscard]] double height_of(const Block& block) const {
        return block(pen_, 0.0, 0.0, width_);
    }
    void take(const Block& block) {
        left_ -= height_of(block);
        parts_.back().blocks.push_back(block);
    }
};

void draw_part(const Pen& pen, const CardPart& part, const std::string& words, const Box& box) {
    const KeptState state(pen.canvas());
    cairo_translate(pen.canvas(), box.x, box.y);
    cairo_scale(pen.canvas(), part.size, part.size);
    const Box area{0.0, 0.0, box.width / part.size, box.height / part.size};
    double y =
        area.y + draw_card_head(pen, *part.card, words, part.part, area.x, area.y, area.width);
    for (const Block& block : part.blocks) {
        y += block(pen, area.x, y, area.width);
    }
    if (part.part == 0) {
        draw_card_foot(pen, *part.card, area.x, area.bottom(), area.width);
    }
}

/// All cards set, kept for the pages that draw them.
struct Deck {
    std::vector<StationCard> cards;
    std::string words; ///< net and date
    PageSize paper;
    std::vector<CardPart> parts;

    [[nodiscard]] Box card_box(std::size_t place) const {
        const double width = paper.width_pt / 2.0;
        const double height = paper.height_pt / 2.0;
        const std::size_t column = place % 2;
        const std::size_t row = place / 2;
        return {width * static_cast<double>(column) + padding,
                height * static_cast<double>(row) + padding, width - 2.0 * padding,
                height - 2.0 * padding};
    }
};

constexpr std::size_t cards_a_sheet = 4;

void draw_sheet(const Deck& deck, std::size_t sheet, cairo_t* canvas) {
    const Pen pen(canvas);
    const Stroke cut{0.5, quiet_ink, 4.0};
    pen.line(deck.paper.width_pt / 2.0, 0.0, deck.paper.width_pt / 2.0, deck.paper.height_pt, cut);
    pen.line(0.0, deck.paper.height_pt / 2.0, deck.paper.width_pt, deck.paper.height_pt / 2.0, cut);
    for (std::size_t place = 0; place < cards_a_sheet; ++place) {
        const std::size_t index = sheet * cards_a_sheet + place;
        if (index < deck.parts.size()) {
            draw_part(pen, deck.parts[index], deck.words, deck.card_box(place));
        }
    }
}

// ---- In a wallet --------------------------------------------------------------------------------

/// ISO/IEC 7810, ID-1.
constexpr double wallet_width = 85.6 * 72.0 / 25.4;
constexpr double wallet_height = 54.0 * 72.0 / 25.4;

std::string list_of(const std::vector<std::string>& lines) {
    return fmt::format("{}", fmt::join(lines, "; "));
}

/// What stands on a wallet card: a word and what it says.
std::vector<std::pair<const char*, std::string>> wallet_lines(const StationCard& card) {
    std::vector<std::pair<const char*, std::string>> lines;
    const auto add = [&lines](const char* label, const std::string& words) {
        if (!words.empty()) {
            lines.emplace_back(label, words);
        }
    };
    add("channels", list_of(card.channels));
    add("radio", list_of(sends_with(card)));
    const std::vector<std::string> heard = class_words(card, 0);
    add(card.repeats ? "serves" : "talk with", heard.empty() ? "nobody directly" : list_of(heard));
    add("one way", list_of(one_way_words(card.one_way)));
    add("through", list_of(card.over_others));
    add("no way to", list_of(card.out_of_reach));
    if (marks_any(card)) {
        lines.back().second += fmt::format("  ({})", try_key);
    }
    add("no answer?", advice_words(card));
    return lines;
}

/// Draws the lines in letters of a size. Returns the height.
double draw_wallet_lines(const Pen& pen, const StationCard& card, const Box& box, double letters) {
    const TextStyle label_style{letters - 0.6, false, quiet_ink};
    const TextStyle style{letters, false, ink};
    const double label_width = 6.4 * letters;
    double y = box.y;
    for (const auto& [label, words] : wallet_lines(card)) {
        pen.text(box.x, y + 0.5, label, label_style);
        y += pen.paragraph(box.x + label_width, y, words, style, box.width - label_width) + 0.8;
    }
    y += pen.paragraph(box.x, y,
                       "A prediction is no guarantee: do not stake a life on it. Keep to your "
                       "licence; masts far from power lines.",
                       label_style, box.width);
    return y - box.y;
}

void draw_wallet_card(const Pen& pen, const StationCard& card, const std::string& words,
                      const Box& cut) {
    constexpr double inset = 8.0;
    const Box box = cut.grown(-inset);
    pen.frame(cut, {0.5, quiet_ink, 3.0});
    const TextStyle small_words{5.0, false, quiet_ink};
    pen.text(box.right(), box.y - 1.0, words,
             fitted(pen, words, small_words, 0.45 * box.width, 3.6), Anchor::right,
             0.45 * box.width);
    const TextStyle name = fitted(pen, card.name, {10.0, true, ink}, 0.52 * box.width, 6.0);
    double y =
        box.y - 2.0 + pen.paragraph(box.x, box.y - 2.0, card.name, name, 0.52 * box.width, 2);
    const std::string who =
        card.person + (card.person.empty() || card.role.empty() ? "" : ", ") + card.role;
    pen.text(box.right(), box.y + 5.5, who, {6.0, false, ink}, Anchor::right, 0.45 * box.width);
    y = std::max(y, box.y + 13.0) + 1.0;
    pen.line(box.x, y, box.right(), y, {0.8, ink});
    y += 2.0;
    constexpr double least_letters = 3.6;
    const Box rest{box.x, y, box.width, box.bottom() - y};
    const Canvas nowhere = measuring_canvas();
    double letters = 7.6;
    while (letters > least_letters &&
           draw_wallet_lines(Pen(nowhere.get()), card, rest, letters) > rest.height) {
        letters -= 0.2;
    }
    const KeptState state(pen.canvas(), cut);
    draw_wallet_lines(pen, card, rest, letters);
}

/// Where wallet cards lie on a sheet.
std::vector<Box> wallet_places(Paper paper) {
    const Box area = printed_area(paper, Orientation::upright);
    const int across = static_cast<int>(area.width / wallet_width);
    const int down = static_cast<int>(area.height / wallet_height);
    const Point middle = area.middle();
    std::vector<Box> places;
    for (int row = 0; row < down; ++row) {
        for (int column = 0; column < across; ++column) {
            places.push_back({middle.x + (column - across / 2.0) * wallet_width,
                              middle.y + (row - down / 2.0) * wallet_height, wallet_width,
                              wallet_height});
        }
    }
    return places;
}

} // namespace

std::vector<PageDrawing> wallet_card_pages(Paper paper, const std::vector<StationCard>& cards,
                                           const std::string& net, const std::string& date) {
    const std::vector<Box> places = wallet_places(paper);
    std::vector<PageDrawing> pages;
    for (std::size_t first = 0; first < cards.size(); first += places.size()) {
        const std::vector<StationCard> sheet(
            cards.begin() + static_cast<std::ptrdiff_t>(first),
            cards.begin() +
                static_cast<std::ptrdiff_t>(std::min(cards.size(), first + places.size())));
        pages.emplace_back(
            [places, sheet, words = date.empty() ? net : fmt::format("{}  {}", net, date)](
                cairo_t* canvas, const PageWords&) {
                for (std::size_t k = 0; k < sheet.size(); ++k) {
                    draw_wallet_card(Pen(canvas), sheet[k], words, places[k]);
                }
            });
    }
    return pages;
}

std::vector<StationCard> station_cards(const Briefing& briefing) {
    std::vector<StationCard> cards;
    for (std::size_t station = 0; briefing.scenario && station < briefing.stations.size();
         ++station) {
        cards.push_back(card_of(briefing, station));
    }
    return cards;
}

std::vector<PageDrawing> station_card_pages(Paper paper, const std::vector<StationCard>& cards,
                                            const std::string& net, const std::string& date) {
    const auto deck = std::make_shared<Deck>();
    deck->cards = cards;
    deck->words = date.empty() ? net : net + "  " + date;
    deck->paper = page_size(paper, Orientation::upright);
    const Box box = deck->card_box(0);
    for (const StationCard& card : deck->cards) {
        std::vector<CardPart> parts;
        for (const CardLook& look : card_looks) {
            parts = CardSetter(card, deck->words, box, look).set();
            if (parts.size() == 1) {
                break;
            }
        }
        std::ranges::move(parts, std::back_inserter(deck->parts));
    }
    std::vector<PageDrawing> pages;
    for (std::size_t sheet = 0; sheet * cards_a_sheet < deck->parts.size(); ++sheet) {
        pages.emplace_back(
            [deck, sheet](cairo_t* canvas, const PageWords&) { draw_sheet(*deck, sheet, canvas); });
    }
    return pages;
}

} // namespace earshot::report
