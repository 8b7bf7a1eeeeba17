#include "earshot/geo/position.hpp"

#include "base/require.hpp"
#include "geo/grids.hpp"
#include "geo/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace earshot::geo {
namespace {

// Bands of 8 degrees from 80 S, the last one of 12 degrees; I and O are left out.
constexpr std::string_view band_letters = "CDEFGHJKLMNPQRSTUVWX";
constexpr double southern_limit_deg = -80.0;
constexpr double northern_limit_deg = 84.0;

[[noreturn]] void refuse(std::string_view text, std::string_view reason) {
    throw_usage("the position {} {}; write for example 36.6012,-84.2034 or 36 36.07N 84 12.2W or "
                "16S 750123 4054321 or 16SGF5012354321 or EM76vo17",
                geo::quoted(text), reason);
}

void require(bool fits, std::string_view text, std::string_view reason) {
    if (!fits) {
        refuse(text, reason);
    }
}
// --- Breaking a text into numbers, words and commas ---------------------------------------------

enum class Mark { none, degrees, minutes, seconds };

struct Token {
    enum class Kind { number, word, comma };
    Kind kind = Kind::comma;
    std::string text; ///< a number without its sign, or a word in capitals
    double value = 0.0;
    bool has_sign = false;
    bool negative = false;
    Mark mark = Mark::none;

    [[nodiscard]] bool is_number() const { return kind == Kind::number; }
    [[nodiscard]] bool is_word() const { return kind == Kind::word; }
    [[nodiscard]] bool is_digits() const {
        return is_number() && !has_sign && mark == Mark::none &&
               std::all_of(text.begin(), text.end(), is_digit);
    }
};

struct MarkSpelling {
    std::string_view text;
    Mark mark = Mark::none;
};

// Besides the right characters, those that keyboards and word processors put in their place. Two
// minute marks are a seconds mark, so they stand before the single ones.
constexpr std::array mark_spellings = {
    MarkSpelling{"\u00B0", Mark::degrees},       // degree sign
    MarkSpelling{"\u00BA", Mark::degrees},       // masculine ordinal
    MarkSpelling{"\u02DA", Mark::degrees},       // ring above
    MarkSpelling{"\u2033", Mark::seconds},       // double prime
    MarkSpelling{"\u201D", Mark::seconds},       // right double quotation mark
    MarkSpelling{"\"", Mark::seconds},           //
    MarkSpelling{"''", Mark::seconds},           //
    MarkSpelling{"\u2032\u2032", Mark::seconds}, // two primes
    MarkSpelling{"\u2019\u2019", Mark::seconds}, // two right single quotation marks
    MarkSpelling{"\u2032", Mark::minutes},       // prime
    MarkSpelling{"\u2019", Mark::minutes},       // right single quotation mark
    MarkSpelling{"\u00B4", Mark::minutes},       // acute accent
    MarkSpelling{"'", Mark::minutes},
};

// No-break, figure, thin and narrow no-break space.
constexpr std::array<std::string_view, 4> wide_spaces = {"\u00A0", "\u2007", "\u2009", "\u202F"};

constexpr std::array<std::string_view, 3> signs = {"+", "-", "\u2212"};

/// Length of the one of these that `text` starts with, 0 if there is none.
std::size_t length_of_one(std::span<const std::string_view> known, std::string_view text) {
    const auto found = std::find_if(known.begin(), known.end(),
                                    [=](std::string_view one) { return text.starts_with(one); });
    return found == known.end() ? 0 : found->size();
}

std::size_t space_length(std::string_view text) {
    return trimmed(text.substr(0, 1)).empty() ? 1 : length_of_one(wide_spaces, text);
}
std::size_t word_length(std::string_view text) {
    const auto* end = std::find_if(text.begin(), text.end(), [](char character) {
        return upper(character) < 'A' || upper(character) > 'Z';
    });
    return static_cast<std::size_t>(end - text.begin());
}

/// The number at the start of `rest`, which is removed from it; empty if there is none. An exponent
/// is not part of it, because E is a hemisphere here.
std::optional<Token> take_number(std::string_view& rest, std::string_view whole) {
    const std::size_t start = length_of_one(signs, rest);
    const std::size_t end = std::min(rest.find_first_not_of("0123456789.", start), rest.size());
    if (end == start) {
        return std::nullopt;
    }
    Token token;
    token.kind = Token::Kind::number;
    token.text = rest.substr(start, end - start);
    token.has_sign = start > 0;
    token.negative = token.has_sign && rest.front() != '+';
    const auto number = leading_number(token.text);
    require(number && number->rest.empty(), whole,
            fmt::format("has {}, which is not a number", geo::quoted(token.text)));
    token.value = number->value;
    rest.remove_prefix(end);
    return token;
}

/// Removes the mark at the start of `rest` and gives it to the number before it.
bool take_mark(std::string_view& rest, std::vector<Token>& tokens, std::string_view whole) {
    for (const MarkSpelling& spelling : mark_spellings) {
        if (rest.starts_with(spelling.text)) {
            require(!tokens.empty() && tokens.back().is_number() &&
                        tokens.back().mark == Mark::none,
                    whole, fmt::format("has {} without a number before it", spelling.text));
            tokens.back().mark = spelling.mark;
            rest.remove_prefix(spelling.text.size());
            return true;
        }
    }
    return false;
}

std::vector<Token> tokenize(std::string_view text) {
    std::vector<Token> tokens;
    std::string_view rest = text;
    while (!rest.empty()) {
        if (const std::size_t space = space_length(rest); space > 0) {
            rest.remove_prefix(space);
        } else if (rest.front() == ',') {
            tokens.emplace_back();
            rest.remove_prefix(1);
        } else if (const std::size_t word = word_length(rest); word > 0) {
            Token& token = tokens.emplace_back();
            token.kind = Token::Kind::word;
            token.text = upper(rest.substr(0, word));
            rest.remove_prefix(word);
        } else if (!take_mark(rest, tokens, text)) {
            auto number = take_number(rest, text);
            require(number.has_value(), text,
                    fmt::format("cannot be read from {} on", geo::quoted(rest)));
            tokens.push_back(std::move(*number));
        }
    }
    return tokens;
}

/// Walks over tokens from the left.
class Cursor {
public:
    explicit Cursor(std::span<const Token> tokens) : rest_(tokens) {}

    [[nodiscard]] bool at_end() const { return rest_.empty(); }

    /// The next token, if it is a plain run of digits.
    std::optional<std::string> take_digits() {
        if (at_end() || !rest_.front().is_digits()) {
            return std::nullopt;
        }
        return take().text;
    }
    /// The next token's value, if it is an unsigned number without a mark.
    std::optional<double> take_plain_number() {
        if (at_end() || !rest_.front().is_number() || rest_.front().has_sign ||
            rest_.front().mark != Mark::none) {
            return std::nullopt;
        }
        return take().value;
    }
    /// All the words that follow, run together.
    std::string take_words() {
        std::string words;
        while (!at_end() && rest_.front().is_word()) {
            words += take().text;
        }
        return words;
    }
    void skip_comma() {
        if (!at_end() && rest_.front().kind == Token::Kind::comma) {
            take();
        }
    }

private:
    const Token& take() {
        const Token& token = rest_.front();
        rest_ = rest_.subspan(1);
        return token;
    }

    std::span<const Token> rest_;
};

// --- UTM and MGRS -------------------------------------------------------------------------------

char band_letter(double lat_deg) {
    const int band = static_cast<int>(std::floor((lat_deg - southern_limit_deg) / 8.0));
    return band_letters[static_cast<std::size_t>(std::clamp(band, 0, 19))];
}

/// Whether `lat_deg` lies in the band, within the 10 m or so that rounding a position to the metre
/// can carry it past the edge.
bool lies_in_band(double lat_deg, char letter) {
    constexpr double slack_deg = 1e-4;
    return band_letter(lat_deg - slack_deg) == letter || band_letter(lat_deg + slack_deg) == letter;
}

bool is_utm_latitude(double lat_deg) {
    return lat_deg >= southern_limit_deg && lat_deg < northern_limit_deg;
}

/// A zone and letter followed by a number no angle can reach.
bool looks_like_utm(std::span<const Token> tokens) {
    return tokens.size() >= 3 && tokens[0].is_digits() && tokens[1].is_word() &&
           (tokens[1].text.size() == 1 || tokens[1].text == "NORTH" || tokens[1].text == "SOUTH") &&
           tokens[2].is_number() && tokens[2].value >= 1000.0;
}

LatLon parse_utm(std::span<const Token> tokens, std::string_view text) {
    Cursor cursor(tokens);
    const std::string digits = *cursor.take_digits();
    const auto zone = leading_digits(digits);
    require(zone && *zone >= 1 && *zone <= 60 && digits.size() <= 2, text,
            "has a UTM zone that is not 1 to 60");
    const std::string hemisphere = cursor.take_words();
    const auto easting_m = cursor.take_plain_number();
    const std::string easting_unit = cursor.take_words();
    cursor.skip_comma();
    const auto northing_m = cursor.take_plain_number();
    const std::string northing_unit = cursor.take_words();
    const auto is_suffix = [](std::string_view words, std::string_view suffix) {
        return suffix.ends_with(words) || words == "M";
    };
    require(easting_m && northing_m && cursor.at_end() && is_suffix(easting_unit, "ME") &&
                is_suffix(northing_unit, "MN"),
            text, "looks like UTM but is not a zone with its letter, an easting and a northing");
    const bool is_word = hemisphere.size() > 1;
    const char letter = hemisphere.front();
    require(is_word || band_letters.find(letter) != std::string_view::npos, text,
            fmt::format("has the UTM latitude band {}, and bands run from C to X without I and O",
                        letter));
    const bool north = is_word ? letter == 'N' : letter >= 'N';
    require(*easting_m >= 100e3 && *easting_m <= 900e3, text,
            "has a UTM easting outside 100000 to 900000 m");
    require(*northing_m <= 10'000e3, text, "has a UTM northing above 10000000 m");
    LatLon position;
    // The library continues northings some way past the pole and refuses what lies further.
    try {
        position = position_of({static_cast<int>(*zone), north, *easting_m, *northing_m});
    } catch (const Error&) {
        refuse(text, "has a UTM northing beyond the limits of UTM, 80 S to 84 N");
    }
    require(is_utm_latitude(position.lat_deg), text, "lies beyond the limits of UTM, 80 S to 84 N");
    // N is read alike as band and as hemisphere, so only the others can contradict the northing.
    require(
        is_word || letter == 'N' || lies_in_band(position.lat_deg, letter), text,
        fmt::format("has a northing that does not lie in UTM latitude band {}{}", letter,
                    letter == 'S' ? " (for the southern hemisphere write the word south)" : ""));
    return position;
}

/// Two letters of a square of 100 km, then four to ten digits or two groups of them.
bool is_bare_square(std::span<const Token> tokens) {
    return tokens.size() >= 2 && tokens.size() <= 3 && tokens[0].is_word() &&
           tokens[0].text.size() == 2 && tokens[1].is_digits() && tokens.back().is_digits() &&
           tokens[1].text.size() + (tokens.size() == 3 ? tokens[2].text.size() : 0) >= 4;
}

/// Three letters after a zone, or at the start for the squares around the poles; or without one.
bool looks_like_mgrs(std::span<const Token> tokens) {
    if (is_bare_square(tokens)) {
        return true;
    }
    Cursor cursor(tokens);
    const bool has_zone = cursor.take_digits().has_value();
    const std::string letters = cursor.take_words();
    constexpr std::string_view polar_letters = "ABYZ";
    return letters.size() == 3 &&
           (has_zone || polar_letters.find(letters.front()) != std::string_view::npos);
}

/// The square of 100 km of that name, with its zone and band, whose centre is nearest to a place.
std::string square_near(std::string_view letters, LatLon near, std::string_view text) {
    std::string best;
    double nearest_m = 150e3; // a name comes again some 2000 km on
    const auto zone = leading_digits(format_mgrs(near));
    for (int shift = -2; zone && shift <= 2; ++shift) { // about Svalbard zones are left out
        for (const char band : band_letters) {
            const std::string square = fmt::format(
                "{:02}{}{}", (static_cast<int>(*zone) + shift + 59) % 60 + 1, band, letters);
            try {
                const LatLon centre = position_of(mgrs_place(square + "5050"));
                if (const double away_m = geodesic_between(near, centre).distance_m;
                    away_m < nearest_m && lies_in_band(centre.lat_deg, band)) {
                    nearest_m = away_m;
                    best = square;
                }
            } catch (const Error&) {
                continue; // no such square in this zone and band
            }
        }
    }
    require(!best.empty(), text,
            "is MGRS without its zone, and there is no square of that name near");
    return best;
}

LatLon parse_mgrs(std::span<const Token> tokens, std::string_view text,
                  std::optional<LatLon> near) {
    Cursor cursor(tokens);
    std::string grid = cursor.take_digits().value_or("");
    grid += cursor.take_words();
    if (is_bare_square(tokens)) {
        require(near.has_value(), text,
                "is MGRS without its zone; write the zone and its letter before it");
        grid = square_near(grid, *near, text);
    }
    std::vector<std::string> digits;
    while (auto group = cursor.take_digits()) {
        digits.push_back(std::move(*group));
    }
    const bool whole = digits.size() == 1 && digits[0].size() % 2 == 0;
    const bool split = digits.size() == 2 && digits[0].size() == digits[1].size();
    require(cursor.at_end() && (whole || split), text,
            "looks like MGRS but does not end in as many digits of easting as of northing");
    for (const std::string& group : digits) {
        grid += group;
    }
    const std::size_t figures = digits[0].size() / (whole ? 2 : 1);
    require(figures >= 2 && figures <= 5, text,
            "is an MGRS position that needs two to five digits each of easting and northing");
    try {
        return position_of(mgrs_place(grid));
    } catch (const Error& error) {
        refuse(text, fmt::format("is not a square of MGRS ({})", error.what()));
    }
}

// --- Maidenhead locators ------------------------------------------------------------------------

/// What the pairs of a locator count to: 18 fields of 20 by 10 degrees, 10 squares, 24 subsquares
/// and so on in turn, from 180 W and 90 S.
struct Locator {
    LatLon centre;
    LatLon size_deg;
};

/// Empty if the text is no locator.
std::optional<Locator> locator_in(std::string_view text) {
    const std::string code = upper(trimmed(text));
    constexpr std::array<int, 5> counts{18, 10, 24, 10, 24};
    if (code.size() < 4 || code.size() > 10 || code.size() % 2 != 0) {
        return std::nullopt;
    }
    Locator locator{{-90.0, -180.0}, {180.0, 360.0}};
    for (std::size_t pair = 0; 2 * pair < code.size(); ++pair) {
        const char first = pair % 2 == 0 ? 'A' : '0';
        const int lon = code[2 * pair] - first;
        const int lat = code[2 * pair + 1] - first;
        if (lon < 0 || lat < 0 || lon >= counts[pair] || lat >= counts[pair]) {
            return std::nullopt;
        }
        locator.size_deg.lat_deg /= counts[pair];
        locator.size_deg.lon_deg /= counts[pair];
        locator.centre.lat_deg += lat * locator.size_deg.lat_deg;
        locator.centre.lon_deg += lon * locator.size_deg.lon_deg;
    }
    locator.centre.lat_deg += locator.size_deg.lat_deg / 2.0;
    locator.centre.lon_deg += locator.size_deg.lon_deg / 2.0;
    return locator;
}

// --- Latitude and longitude ---------------------------------------------------------------------

/// The numbers of one angle, with its hemisphere N, S, E or W, or none.
struct Angle {
    std::vector<Token> parts;
    char hemisphere = '\0';

    [[nodiscard]] bool is_longitude() const { return hemisphere == 'E' || hemisphere == 'W'; }
};

char hemisphere_of(const Token& word, std::string_view text) {
    for (const std::string_view name : {"NORTH", "SOUTH", "EAST", "WEST"}) {
        if (word.text == name || word.text == name.substr(0, 1)) {
            return name.front();
        }
    }
    refuse(text,
           fmt::format("has {}, which is not a hemisphere (N, S, E or W)", geo::quoted(word.text)));
}

/// Splits the tokens into angles: at a hemisphere letter, at a comma, and where a number with a
/// degree sign starts another angle.
std::vector<Angle> split_angles(const std::vector<Token>& tokens, std::string_view text) {
    const bool letters_first = tokens.front().is_word();
    if (letters_first && tokens.back().is_word()) {
        refuse(text, fmt::format(
                         "has {} before its number and {} after; put both letters on the same side",
                         hemisphere_of(tokens.front(), text), hemisphere_of(tokens.back(), text)));
    }
    std::vector<Angle> angles;
    bool open = false; // whether the next number belongs to the last angle
    for (const Token& token : tokens) {
        if (token.is_number()) {
            const bool starts_angle =
                token.mark == Mark::degrees && open && !angles.back().parts.empty();
            if (!open || starts_angle) {
                angles.emplace_back();
            }
            angles.back().parts.push_back(token);
            open = true;
        } else if (token.is_word() && letters_first) {
            angles.emplace_back().hemisphere = hemisphere_of(token, text);
            open = true;
        } else if (token.is_word()) {
            require(open, text, fmt::format("has {} without a number before it", token.text));
            angles.back().hemisphere = hemisphere_of(token, text);
            open = false;
        } else {
            open = false;
        }
    }
    // Two bare numbers with nothing between them but space.
    if (angles.size() == 1 && angles[0].hemisphere == '\0' && angles[0].parts.size() == 2 &&
        angles[0].parts[1].mark == Mark::none) {
        Angle second;
        second.parts.push_back(angles[0].parts[1]);
        angles[0].parts.pop_back();
        angles.push_back(std::move(second));
    }
    return angles;
}

/// Degrees, positive to the north and east.
double angle_deg(const Angle& angle, std::string_view text) {
    require(!angle.parts.empty(), text, fmt::format("has no number after {}", angle.hemisphere));
    require(angle.parts.size() <= 3, text,
            "has more than degrees, minutes and seconds in one angle");
    constexpr std::array marks = {Mark::degrees, Mark::minutes, Mark::seconds};
    double result_deg = 0.0;
    double unit_deg = 1.0;
    for (std::size_t i = 0; i < angle.parts.size(); ++i) {
        const Token& part = angle.parts[i];
        const bool last = i + 1 == angle.parts.size();
        require(part.mark == Mark::none || part.mark == marks[i], text,
                "has degrees, minutes and seconds out of order");
        require(i == 0 || !part.has_sign, text,
                fmt::format("has a sign before {}, and only degrees can have one", part.text));
        require(i == 0 || part.value < 60.0, text,
                fmt::format("has {} minutes or seconds, and they stop short of 60", part.text));
        require(last || part.text.find('.') == std::string::npos, text,
                fmt::format("has a smaller unit after {}, which is not whole", part.text));
        result_deg += part.value * unit_deg;
        unit_deg /= 60.0;
    }
    const Token& degrees = angle.parts.front();
    require(!degrees.has_sign || angle.hemisphere == '\0', text,
            "has both a sign and a hemisphere letter on one angle");
    const bool negative = degrees.negative || angle.hemisphere == 'S' || angle.hemisphere == 'W';
    return negative ? -result_deg : result_deg;
}

LatLon parse_angles(const std::vector<Token>& tokens, std::string_view text) {
    const auto is_comma = [](const Token& token) { return token.kind == Token::Kind::comma; };
    require(std::count_if(tokens.begin(), tokens.end(), is_comma) <= 1, text,
            "has more than one comma; decimals take a point, and one comma may stand between "
            "latitude and longitude");
    const std::vector<Angle> angles = is_comma(tokens.front()) || is_comma(tokens.back())
                                          ? std::vector<Angle>{}
                                          : split_angles(tokens, text);
    require(angles.size() == 2, text,
            "is not one latitude and one longitude that can be told apart");
    const bool bare = angles[0].hemisphere == '\0' && angles[1].hemisphere == '\0';
    require(bare || (angles[0].hemisphere != '\0' && angles[1].hemisphere != '\0'), text,
            "has a hemisphere letter on one angle and not on the other");
    require(bare || angles[0].is_longitude() != angles[1].is_longitude(), text,
            angles[0].is_longitude() ? "has two longitudes and no latitude"
                                     : "has two latitudes and no longitude");
    const bool longitude_first = angles[0].is_longitude();
    const LatLon position{angle_deg(angles[longitude_first ? 1 : 0], text),
                          angle_deg(angles[longitude_first ? 0 : 1], text)};
    require(
        std::abs(position.lat_deg) <= 90.0, text,
        fmt::format("has a latitude beyond 90 degrees{}", bare ? " (latitude comes first)" : ""));
    require(std::abs(position.lon_deg) <= 180.0, text, "has a longitude beyond 180 degrees");
    return position;
}

// --- Printing -----------------------------------------------------------------------------------

std::string dms(double angle_deg, char positive, char negative) {
    const long long tenths = std::llround(std::abs(angle_deg) * 36000.0);
    return fmt::format("{}°{:02}'{:02}.{}\"{}", tenths / 36000, tenths / 600 % 60, tenths / 10 % 60,
                       tenths % 10, angle_deg < 0.0 && tenths > 0 ? negative : positive);
}

void require_utm(LatLon position) {
    require_usage(
        is_utm_latitude(position.lat_deg),
        "UTM is not defined at {}: it reaches from 80 S to 84 N; choose a position between them",
        format_decimal(position));
}

} // namespace

LatLon parse_position(std::string_view text, std::optional<LatLon> near) {
    const auto locator = locator_in(text);
    if (locator && locator->size_deg.lat_deg < 1.0) {
        return locator->centre;
    }
    const std::vector<Token> tokens = tokenize(text);
    require(!tokens.empty(), text, "is empty");
    if (locator) {
        refuse(text, "is a locator of four characters, a square of 100 km; give six or more");
    }
    if (looks_like_mgrs(tokens)) {
        return parse_mgrs(tokens, text, near);
    }
    if (looks_like_utm(tokens)) {
        return parse_utm(tokens, text);
    }
    return parse_angles(tokens, text);
}

std::string coarseness(std::string_view text) {
    constexpr double fine_m = 500.0;
    const auto locator = locator_in(text);
    if (!locator) {
        return {};
    }
    const LatLon middle = locator->centre;
    const double down_m =
        geodesic_between(middle, {middle.lat_deg + locator->size_deg.lat_deg / 2.0, middle.lon_deg})
            .distance_m *
        2.0;
    if (down_m <= fine_m) {
        return {};
    }
    return fmt::format("{} is a square of some {:.1f} km; its centre {} was taken: give two more "
                       "characters of the locator, or the position",
                       trimmed(text), down_m / 1000.0, format_decimal(middle));
}

std::string format_decimal(LatLon position, int decimals) {
    // Rounding first, and adding 0, keeps "-0.00000" from being printed.
    const double scale = std::pow(10.0, decimals);
    return fmt::format("{:.{}f}, {:.{}f}", std::round(position.lat_deg * scale) / scale + 0.0,
                       decimals, std::round(position.lon_deg * scale) / scale + 0.0, decimals);
}

std::string format_dms(LatLon position) {
    return dms(position.lat_deg, 'N', 'S') + " " + dms(position.lon_deg, 'E', 'W');
}

std::string format_utm(LatLon position) {
    require_utm(position);
    const GridPlace place = grid_place(position);
    return fmt::format("{}{} {:.0f} {:.0f}", place.zone, band_letter(position.lat_deg), place.x_m,
                       place.y_m);
}

std::string format_mgrs(LatLon position) {
    return mgrs_square(grid_place(position), position.lat_deg);
}

int utm_epsg(LatLon position) {
    require_utm(position);
    constexpr int northern_base = 32600;
    constexpr int southern_base = 32700;
    return (position.lat_deg < 0.0 ? southern_base : northern_base) + utm_zone(position);
}

} // namespace earshot::geo
