#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

/// What a scenario says for the people who are briefed: nothing here changes a prediction.

namespace earshot::scenario {

/// A frequency that people set their radios to, as the plan of channels has it.
struct Channel {
    std::string name;
    double frequency_mhz = 0.0;
    std::optional<double> tone_hz; ///< sub-audible tone that opens the receivers' squelch
    std::string use;               ///< what it is for; may be empty
    std::string power;             ///< how much to transmit with, in words; may be empty
};

/// Who is at a station, and where they go if they are not heard. All may be empty.
struct Duty {
    std::string person;
    std::string role;
    std::string fallback; ///< name of a place or of another station
};

/// What a briefing is to show.
struct BriefingPlan {
    std::string title; ///< empty: the name of the net
    std::string date;
    std::string prepared_by;
    std::optional<double> declination_deg; ///< of the magnetic needle, east positive
    std::optional<double> range_m;         ///< how far from each station to map
    std::vector<std::pair<std::string, std::string>> paths; ///< names of stations or places
    /// What the ladder is of: a station alone (to all places, or its range on foot), or a station
    /// and the place or station to be reached. Empty: no ladder.
    std::vector<std::string> ladder;
    std::vector<std::string> remarks; ///< for all who read it, a sentence each
};

} // namespace earshot::scenario
