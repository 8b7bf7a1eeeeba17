#include "field/field_log.hpp"

#include "base/input_file.hpp"
#include "base/number.hpp"
#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/levels.hpp"
#include "scenario/places.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <utility>

namespace earshot::field {
namespace {

enum Column : std::size_t {
    stop,
    latitude,
    longitude,
    position,
    base,
    set_up,
    power,
    antenna,
    antenna_gain,
    antenna_height,
    carried,
    direction,
    score,
    level,
    note,
    time_of_day,
    column_count
};

/// What people call each column, with blanks between, as plain_name() makes it.
constexpr std::array<std::string_view, column_count> column_names{"stop",
                                                                  "latitude lat",
                                                                  "longitude lon long lng",
                                                                  "position",
                                                                  "base",
                                                                  "setup",
                                                                  "powerw power",
                                                                  "antenna",
                                                                  "antennagaindbi",
                                                                  "antennaheightm antennaheight",
                                                                  "carried",
                                                                  "direction",
                                                                  "score",
                                                                  "level leveldbm",
                                                                  "note notes remark",
                                                                  "time"};

std::optional<Column> column_of(std::string_view name) {
    const std::string plain = scenario::plain_name(name);
    for (std::size_t column = 0; column < column_count; ++column) {
        if (!plain.empty() &&
            fmt::format(" {} ", column_names[column]).find(fmt::format(" {} ", plain)) !=
                std::string::npos) {
            return static_cast<Column>(column);
        }
    }
    return std::nullopt;
}

/// A row of a log before anything in it is understood.
struct RawRow {
    std::size_t line = 0;
    std::array<std::string, column_count> cell;
    std::string unusable; ///< why no cell could be read; empty if they could

    [[nodiscard]] bool has(Column column) const { return !cell[column].empty(); }
    [[nodiscard]] bool tried() const { return !unusable.empty() || has(score) || has(level); }
};

/// Text of the log inside a message.
std::string shown(std::string_view text) {
    return scenario::shown(text, 40);
}

/// With a decimal point, if it has a decimal comma.
std::string with_point(std::string text) {
    if (std::count(text.begin(), text.end(), ',') == 1 && text.find('.') == std::string::npos) {
        std::replace(text.begin(), text.end(), ',', '.');
    }
    return text;
}

std::optional<double> number_of(const std::string& text) {
    return finite_number_in(with_point(text));
}

double number_within(const RawRow& row, Column column, std::string_view what, double low,
                     double high) {
    const auto value = number_of(row.cell[column]);
    require_usage(value && *value >= low && *value <= high,
                  "{} is '{}'; write a number from {:g} to {:g}", what, shown(row.cell[column]),
                  low, high);
    return *value;
}

bool ends_in_letter(std::string_view text) {
    const char last = text.back();
    return (last >= 'a' && last <= 'z') || (last >= 'A' && last <= 'Z');
}

/// No mark, or one that people write for "not done".
bool is_blank_mark(std::string_view text) {
    constexpr std::array marks{"", "-", "--", "\u2013", "?", "n/a", "N/A"};
    return std::find(marks.begin(), marks.end(), text) != marks.end();
}

std::optional<geo::LatLon> position_in(const RawRow& row) {
    if (row.has(latitude) || row.has(longitude)) {
        return geo::LatLon{number_within(row, latitude, "the latitude", -90.0, 90.0),
                           number_within(row, longitude, "the longitude", -180.0, 180.0)};
    }
    return row.has(position) ? std::optional(geo::parse_position(row.cell[position]))
                             : std::nullopt;
}

double power_dbm_in(const RawRow& row) {
    constexpr double highest_w = 10000.0;
    const std::string text = with_point(row.cell[power]);
    const double power_dbm =
        ends_in_letter(text)
            ? geo::parse_power_dbm(text, "the power")
            : geo::dbm_from_watts(number_within(row, power, "the power in watts", 1e-3, highest_w));
    require_usage(power_dbm <= geo::dbm_from_watts(highest_w),
                  "the power is '{}', more than {:g} W", shown(text), highest_w);
    return power_dbm;
}

double height_m_in(const RawRow& row) {
    const std::string text = with_point(row.cell[antenna_height]);
    const double height_m = ends_in_letter(text)
                                ? geo::parse_length_m(text, "the antenna height")
                                : number_within(row, antenna_height, "the antenna height in metres",
                                                0.0, geo::highest_antenna_m);
    require_usage(height_m >= 0.0 && height_m <= geo::highest_antenna_m,
                  "the antenna height is '{}'; write 0 to {:g} m", shown(text),
                  geo::highest_antenna_m);
    return height_m;
}

SetUp set_up_in(const RawRow& row) {
    SetUp result;
    result.name = row.cell[set_up];
    result.antenna = row.cell[antenna];
    if (row.has(power)) {
        result.power_dbm = power_dbm_in(row);
    }
    if (row.has(antenna_gain)) {
        result.antenna_gain_dbi = number_within(row, antenna_gain, "the antenna gain in dBi",
                                                -geo::highest_gain_dbi, geo::highest_gain_dbi);
    }
    if (row.has(antenna_height)) {
        result.antenna_height_m = height_m_in(row);
    }
    if (row.has(carried)) {
        result.carried =
            link::name_of(link::parse_carried(scenario::plain_name(row.cell[carried])));
    }
    if (result.name.empty()) {
        result.name = set_up_words(result);
    }
    if (result.name.empty()) {
        result.name = "usual";
    }
    return result;
}

std::optional<CallDirection> direction_in(const RawRow& row) {
    const std::string written = scenario::plain_name(row.cell[direction]);
    if (written.empty()) {
        return std::nullopt;
    }
    for (const CallDirection known : {CallDirection::to_mover, CallDirection::from_mover}) {
        const std::string name = scenario::plain_name(name_of(known));
        if (written == name || written + "mover" == name) {
            return known;
        }
    }
    throw_usage("the direction is '{}'; write 'to mover' (the base spoke) or 'from mover' (the "
                "mover spoke)",
                shown(row.cell[direction]));
}

std::optional<int> score_in(const RawRow& row) {
    if (!row.has(score)) {
        return std::nullopt;
    }
    const auto value = number_of(row.cell[score]);
    require_usage(value && *value >= 0.0 && *value <= 5.0 && *value == std::floor(*value),
                  "the score is '{}'; write a whole number from 0 (nothing heard) to 5 (clear)",
                  shown(row.cell[score]));
    return static_cast<int>(*value);
}

/// Takes from `known` what `set_up` leaves out.
void complete(SetUp& set_up, const SetUp& known) {
    const auto take = [](auto& value, const auto& otherwise) {
        if (!value) {
            value = otherwise;
        }
    };
    if (set_up.antenna.empty() && !set_up.antenna_gain_dbi) {
        set_up.antenna = known.antenna;
        set_up.antenna_gain_dbi = known.antenna_gain_dbi;
    }
    take(set_up.power_dbm, known.power_dbm);
    take(set_up.antenna_height_m, known.antenna_height_m);
    if (set_up.carried.empty()) {
        set_up.carried = known.carried;
    }
}

/// Makes calls of rows, once all rows are there.
class CallMaker {
public:
    CallMaker(FieldLog& log, const std::vector<RawRow>& rows) : log_(log), rows_(rows) {
        for (const RawRow& row : rows_) {
            learn(row);
        }
    }

    void make() {
        for (const RawRow& row : rows_) {
            if (!row.tried()) {
                ++log_.not_tried;
                continue;
            }
            try {
                if (!row.unusable.empty()) {
                    throw_usage(row.unusable);
                }
                log_.calls.push_back(call_of(row));
            } catch (const Error& error) {
                log_.bad_rows.push_back({row.line, error.what()});
            }
        }
        add_notes();
    }

private:
    /// What one row says of its stop and its set-up holds for others. Rows that make no sense are
    /// told of when their turn comes.
    void learn(const RawRow& row) {
        try {
            const auto here = position_in(row);
            if (here && row.has(stop)) {
                stops_.emplace(scenario::plain_name(row.cell[stop]), *here);
            }
            const SetUp known = set_up_in(row);
            complete(set_ups_.emplace(scenario::plain_name(known.name), known).first->second,
                     known);
        } catch (const Error&) {
            return;
        }
    }

    FieldCall call_of(const RawRow& row) {
        FieldCall call;
        call.line = row.line;
        call.position = place_of(row);
        call.stop = row.has(stop) ? row.cell[stop] : geo::format_decimal(call.position);
        call.base = row.cell[base];
        call.set_up = set_up_in(row);
        const auto known = set_ups_.find(scenario::plain_name(call.set_up.name));
        if (known != set_ups_.end()) {
            const SetUp own = call.set_up;
            complete(call.set_up, known->second);
            if (call.set_up != known->second) {
                differing_.insert(own.name);
            }
        }
        call.score = score_in(row);
        if (row.has(level)) {
            call.level_dbm =
                link::parse_level_reading_dbm(with_point(row.cell[level]), "the level");
        }
        const auto given = direction_in(row);
        without_direction_ += given ? 0U : 1U;
        call.direction = given.value_or(CallDirection::from_mover);
        call.note = row.cell[note];
        call.time = row.cell[time_of_day];
        return call;
    }

    geo::LatLon place_of(const RawRow& row) {
        const auto known = stops_.find(scenario::plain_name(row.cell[stop]));
        const auto given = position_in(row);
        if (!given) {
            require_usage(row.has(stop) && known != stops_.end(),
                          "no position, and no other row gives one for its stop; write latitude "
                          "and longitude");
            return known->second;
        }
        constexpr double same_stop_m = 100.0;
        if (row.has(stop) && known != stops_.end() &&
            geo::geodesic_between(*given, known->second).distance_m > same_stop_m) {
            apart_.insert(row.cell[stop]);
        }
        return *given;
    }

    void add_notes() {
        if (without_direction_ > 0) {
            log_.notes.push_back(
                fmt::format("{} calls do not say who spoke; they are taken as from the mover",
                            without_direction_));
        }
        if (!apart_.empty()) {
            log_.notes.push_back(fmt::format("calls of one stop are more than 100 m apart; give "
                                             "each place a stop of its own: {}",
                                             fmt::join(apart_, ", ")));
        }
        if (!differing_.empty()) {
            log_.notes.push_back(fmt::format(
                "set-ups of one name differ from row to row; each row is taken as it stands: {}",
                fmt::join(differing_, ", ")));
        }
    }

    FieldLog& log_;
    const std::vector<RawRow>& rows_;
    std::map<std::string, geo::LatLon> stops_;
    std::map<std::string, SetUp> set_ups_;
    std::set<std::string> apart_, differing_;
    std::size_t without_direction_ = 0;
};

// ---- CSV ----------------------------------------------------------------------------------------

bool is_remark(const scenario::TableRow& row) {
    const std::string& first = row.fields.front();
    return first.starts_with('#') || first.starts_with("sep=");
}

struct Header {
    char delimiter = ',';
    std::size_t line = 0; ///< 0 if there is none
    std::vector<std::optional<Column>> columns;
    std::size_t known = 0;

    [[nodiscard]] bool has(Column column) const {
        return std::find(columns.begin(), columns.end(), std::optional(column)) != columns.end();
    }
};

/// The line that names the most columns, by the delimiter that parts them, among the first lines.
Header find_header(std::string_view text) {
    constexpr std::size_t searched_rows = 20;
    constexpr std::size_t searched_bytes = 100000;
    Header best;
    for (const char delimiter : {',', ';', '\t'}) {
        const std::vector<scenario::TableRow> rows =
            scenario::table_rows(text.substr(0, searched_bytes), delimiter);
        for (std::size_t r = 0; r < std::min(rows.size(), searched_rows); ++r) {
            Header header{delimiter, rows[r].line, {}, 0};
            for (const std::string& field : rows[r].fields) {
                std::optional<Column> column = column_of(field);
                if (column && header.has(*column)) {
                    column.reset(); // the first of two columns of one name counts
                }
                header.columns.push_back(column);
                header.known += column ? 1U : 0U;
            }
            if (header.known > best.known) {
                best = std::move(header);
            }
        }
    }
    return best;
}

void require_columns(const Header& header, const std::string& file) {
    const bool placed = header.has(position) || (header.has(latitude) && header.has(longitude));
    require_input(placed && (header.has(score) || header.has(level)),
                  "{}: no line names the columns of a log; it needs latitude and longitude (or "
                  "position), and score (or level); earshot walk writes one to fill in",
                  file);
}

RawRow raw_row(const scenario::TableRow& row, const Header& header) {
    RawRow raw;
    raw.line = row.line;
    if (row.open_quote) {
        raw.unusable = "a quote is not closed; write \" before and after a text, or leave it out";
        return raw;
    }
    for (std::size_t k = 0; k < std::min(row.fields.size(), header.columns.size()); ++k) {
        if (header.columns[k]) {
            raw.cell[*header.columns[k]] = row.fields[k];
        }
    }
    for (const Column column : {score, level}) {
        if (is_blank_mark(raw.cell[column])) {
            raw.cell[column].clear();
        }
    }
    return raw;
}

constexpr std::string_view invented_mark = "INVENTED";

std::vector<RawRow> rows_of_csv(std::string_view text, FieldLog& log) {
    const Header header = find_header(text);
    require_columns(header, log.file.string());
    std::vector<RawRow> rows;
    for (const scenario::TableRow& row : scenario::table_rows(text, header.delimiter)) {
        if (is_remark(row) || row.line <= header.line) {
            log.invented |= row.fields.front().find(invented_mark) != std::string::npos;
            continue;
        }
        rows.push_back(raw_row(row, header));
        log.invented |= rows.back().cell[note].starts_with(invented_mark);
    }
    return rows;
}

// ---- GPX ----------------------------------------------------------------------------------------

/// One remark of a waypoint: "score=3", "3", "S7", "to mover", or words for the note.
void take_remark(RawRow& row, const std::string& remark) {
    const std::size_t equals = remark.find('=');
    if (equals != std::string::npos) {
        if (const auto column = column_of(remark.substr(0, equals))) {
            const std::size_t value = remark.find_first_not_of(' ', equals + 1);
            row.cell[*column] = value == std::string::npos ? "" : remark.substr(value);
            return;
        }
    }
    const std::string plain = scenario::plain_name(remark);
    const bool s_units = plain.size() > 1 && plain[0] == 's' && plain[1] >= '0' && plain[1] <= '9';
    if (number_of(remark) && !row.has(score)) {
        row.cell[score] = remark;
    } else if (s_units || plain.ends_with("dbm")) {
        row.cell[level] = remark;
    } else if (plain == scenario::plain_name(name_of(CallDirection::to_mover)) ||
               plain == scenario::plain_name(name_of(CallDirection::from_mover))) {
        row.cell[direction] = remark;
    } else {
        row.cell[note] += (row.has(note) ? "; " : "") + remark;
    }
}

RawRow row_of_waypoint(const scenario::Waypoint& waypoint, std::size_t number) {
    RawRow row;
    row.line = number;
    if (!waypoint.position) {
        row.unusable = "the waypoint has no position";
        return row;
    }
    row.cell[latitude] = fmt::format("{}", waypoint.position->lat_deg);
    row.cell[longitude] = fmt::format("{}", waypoint.position->lon_deg);
    row.cell[stop] = waypoint.name;
    row.cell[time_of_day] = waypoint.time;
    std::string remarks = waypoint.description;
    if (waypoint.comment != remarks) { // many devices write the same into both
        remarks += "\n" + waypoint.comment;
    }
    std::replace(remarks.begin(), remarks.end(), '\n', ';');
    for (const scenario::TableRow& part : scenario::table_rows(remarks, ';')) {
        for (const std::string& remark : part.fields) {
            if (!remark.empty()) {
                take_remark(row, remark);
            }
        }
    }
    return row;
}

std::vector<RawRow> rows_of_gpx(FieldLog& log) {
    std::vector<RawRow> rows;
    std::vector<std::string> unread;
    for (const scenario::Waypoint& waypoint : scenario::read_waypoints(log.file)) {
        rows.push_back(row_of_waypoint(waypoint, rows.size() + 1));
        const RawRow& row = rows.back();
        const bool mark = row.cell[note].find(invented_mark) != std::string::npos;
        log.invented |= mark;
        if (!row.tried() && row.has(note) && !mark) {
            unread.push_back(fmt::format("{} ('{}')", shown(waypoint.name), shown(row.cell[note])));
        }
    }
    if (!unread.empty()) {
        log.notes.push_back(fmt::format(
            "no score can be read from what these waypoints say, and they are left out: {}; write "
            "for example score=4, or 4 alone (0 nothing heard to 5 clear), or a level such as S7 "
            "or -101dBm",
            fmt::join(unread, ", ")));
    }
    return rows;
}

void require_calls(const FieldLog& log) {
    if (!log.calls.empty()) {
        return;
    }
    const std::string file = log.file.string();
    if (!log.bad_rows.empty()) {
        const BadRow& first = log.bad_rows.front();
        throw_input("{}: not one row can be used; the first, line {}: {}", file, first.line,
                    first.reason);
    }
    throw_input("{}: no call in it has a score or a level yet; {}", file,
                log.notes.empty() ? "fill them in" : log.notes.front());
}

} // namespace

std::string_view name_of(CallDirection direction) {
    return direction == CallDirection::to_mover ? "to mover" : "from mover";
}

std::string set_up_words(const SetUp& set_up) {
    std::vector<std::string> words;
    if (set_up.power_dbm) {
        words.push_back(geo::format_power(*set_up.power_dbm));
    }
    if (!set_up.antenna.empty()) {
        words.push_back(set_up.antenna);
    }
    if (set_up.antenna_gain_dbi) {
        words.push_back(fmt::format("{:g} dBi", *set_up.antenna_gain_dbi));
    }
    if (set_up.antenna_height_m) {
        words.push_back(
            fmt::format("antenna at {}", geo::format_distance(*set_up.antenna_height_m)));
    }
    if (!set_up.carried.empty()) {
        words.push_back(set_up.carried);
    }
    return fmt::format("{}", fmt::join(words, ", "));
}

FieldLog read_field_log(const std::filesystem::path& file) {
    FieldLog log;
    log.file = file;
    const std::string text = scenario::decoded(read_text_file(file, "log"));
    const std::size_t first = text.find_first_not_of(" \t\r\n");
    const bool xml = first != std::string::npos && text[first] == '<';
    const std::vector<RawRow> rows = xml ? rows_of_gpx(log) : rows_of_csv(text, log);
    CallMaker(log, rows).make();
    require_calls(log);
    return log;
}

} // namespace earshot::field
