#pragma once

#include "earshot/geo/geodesic.hpp"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What people heard when they went out and tried: one call after another, scored.

namespace earshot::field {

/// Who spoke. The base stays where it is, the mover goes from stop to stop.
enum class CallDirection : std::uint8_t {
    to_mover,   ///< the base speaks, the mover listens and scores
    from_mover, ///< the mover speaks, the base listens and scores
};

/// "to mover", "from mover": as the log writes it.
[[nodiscard]] std::string_view name_of(CallDirection direction);

/// What the mover carried. Whatever is not given here is that of the scenario's set-up of the same
/// name, else that of its listener.
struct SetUp {
    std::string name;                       ///< never empty in a log that was read
    std::optional<double> power_dbm;        ///< transmitter output
    std::string antenna;                    ///< name of an antenna; empty if not given
    std::optional<double> antenna_gain_dbi; ///< overrules the gain that goes with `antenna`
    std::optional<double> antenna_height_m; ///< above the ground, >= 0
    std::string carried;                    ///< clear, face, chest or hip; empty if not given

    bool operator==(const SetUp&) const = default;
};

/// What a set-up is, in words: "5 W, half-wave, antenna at 3 m, face". Empty if nothing is given.
[[nodiscard]] std::string set_up_words(const SetUp& set_up);

/// One call that was tried at a stop. At least one of score and level is there.
struct FieldCall {
    std::size_t line = 0; ///< of the file, from 1; of a GPX file, the number of the waypoint
    std::string stop;     ///< never empty
    geo::LatLon position; ///< of the mover
    std::string base;     ///< station of the scenario that stayed; empty: the one of the command
    SetUp set_up;
    CallDirection direction = CallDirection::from_mover;
    std::optional<int> score;        ///< link::Readability, 0 (nothing) to 5 (clear)
    std::optional<double> level_dbm; ///< at the antenna connector of whoever listened
    std::string note;
    std::string time; ///< as the log has it
};

/// A row that could not be used.
struct BadRow {
    std::size_t line = 0;
    std::string reason; ///< what is wrong and what to do, without file and line
};

struct FieldLog {
    std::filesystem::path file;
    std::vector<FieldCall> calls;
    std::vector<BadRow> bad_rows;
    /// Rows of calls that were planned but have neither score nor level.
    std::size_t not_tried = 0;
    bool invented = false;          ///< the log says of itself that it is invented
    std::vector<std::string> notes; ///< what the user should know, a sentence each
};

/// Reads a log of calls: CSV as docs/field-logs.md has it, or GPX waypoints.
///
/// Of CSV is taken whatever spreadsheets make of it: commas, semicolons or tabs; decimal commas
/// where the delimiter is another; UTF-8 or UTF-16, with or without byte-order mark; any line ends;
/// quoted fields; columns in any order, spelt with spaces, hyphens or capitals; further columns;
/// rows cut short. A row that makes no sense goes to `bad_rows` and the others are used. Positions
/// and set-ups that a row leaves out are those that another row gives for its stop or set-up.
///
/// Throws Error(Fault::input) naming the file: missing, neither CSV nor GPX, without the columns
/// that a log must have, no call in it that can be used (naming the first bad row), more than 64
/// MB.
[[nodiscard]] FieldLog read_field_log(const std::filesystem::path& file);

} // namespace earshot::field
