#include "report/say/plan_words.hpp"

#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "report/say/numbers.hpp"
#include "report/say/second_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace earshot::report {
namespace {

std::string link_words(const plan::RelaySite& site) {
    if (site.links.empty()) {
        return {};
    }
    std::vector<std::string> names;
    for (const plan::BackboneLink& link : site.links) {
        names.push_back(fmt::format("{} ({}{})", link.with, margin_text(link.margins.least_db()),
                                    link.try_first ? ", test this link first" : ""));
    }
    return fmt::format("; linked with {}", fmt::join(names, ", "));
}

/// What holding the radio would do for a place that is missed.
std::string held_words(const plan::Miss& miss) {
    return miss.worn && miss.held_is_enough
               ? fmt::format(" (served with the radio held at the face instead of {})",
                             worn_words(miss.worn->from))
               : std::string();
}

std::string service_words(const std::vector<plan::PlaceService>& services,
                          const std::optional<plan::WeakestLink>& weakest,
                          std::span<const plan::ServedPlace> places) {
    constexpr std::size_t told = 3;
    std::vector<std::string> misses;
    std::vector<std::string> more;
    std::vector<std::string_view> to_try;
    std::size_t served = 0;
    double weight = 0.0;
    double total = 0.0;
    for (const plan::PlaceService& service : services) {
        const plan::ServedPlace& place = places[service.place];
        total += place.weight;
        if (service.try_first) {
            to_try.push_back(place.station.name);
        }
        if (!service.miss) {
            ++served;
            weight += place.weight;
        } else if (misses.size() >= told) {
            more.push_back(place.station.name);
        } else {
            misses.push_back(fmt::format("{} because {}{}", place.station.name,
                                         miss_words(*service.miss), held_words(*service.miss)));
        }
    }
    std::string words =
        fmt::format("hears {}", served_words(served, services.size(), weight, total));
    if (!misses.empty()) {
        words += fmt::format("; misses {}{}", fmt::join(misses, "; "),
                             more.empty() ? "" : "; and " + names_words(more));
    }
    if (weakest) {
        words += fmt::format(
            "; weakest link {} (margin {}, chance {})", places[weakest->place].station.name,
            margin_text(weakest->margin_db, 1), chance_text(weakest->chance_percent));
    }
    if (!to_try.empty()) {
        const std::size_t named = std::min(to_try.size(), told);
        words += fmt::format(
            "; test {}{} on foot first: two models part there",
            fmt::join(std::span(to_try).first(named), ", "),
            to_try.size() > named ? fmt::format(" and {} more", to_try.size() - named) : "");
    }
    return words;
}

std::string share_words(const plan::RelayAnswer& answer, double weight) {
    return fmt::format("covers {:.0f} % of the {}", 100.0 * weight / answer.total,
                       answer.unit == plan::ServedUnit::people ? "people" : "area");
}

std::string reached_words(const plan::Rung& rung, std::size_t places) {
    if (rung.range) {
        return fmt::format("typical range {}", geo::format_distance(rung.range->typical_m));
    }
    if (rung.margin_db) {
        return "margin " + margin_text(*rung.margin_db, 1);
    }
    return fmt::format("{} of {} places", rung.places, places);
}

} // namespace

std::string choice_words(const maths::CoverAnswer& answer) {
    const char* method =
        answer.method == maths::CoverMethod::exact ? "exact search" : "greedy search";
    const char* stopped = !answer.stopped    ? ""
                          : answer.timed_out ? ", stopped at its time limit"
                                             : ", stopped before the end";
    if (answer.proven) {
        return fmt::format("{}: no choice among these candidates does better", method);
    }
    if (answer.fewest && !answer.complete()) {
        return fmt::format("{}{}: no choice was found that covers all that can be covered", method,
                           stopped);
    }
    if (answer.fewest) {
        return fmt::format("{}{}: {} sites; fewer than {:.0f} cannot do it", method, stopped,
                           answer.chosen.size(), answer.bound);
    }
    return fmt::format(
        "{}{}: at least {:.0f} % of the best possible choice among these candidates", method,
        stopped, answer.bound > 0.0 ? std::floor(100.0 * answer.covered / answer.bound) : 100.0);
}

std::string served_words(std::size_t served, std::size_t places, double weight, double total) {
    const std::string count = fmt::format("{} of {}", served, places);
    return total == static_cast<double>(places)
               ? count
               : fmt::format("{} ({:.10g} of {:.10g} people)", count, weight, total);
}

std::string miss_words(const plan::Miss& miss) {
    if (miss.cause == plan::MissCause::radios) {
        return "these radios cannot hear each other even side by side";
    }
    if (miss.cause == plan::MissCause::unknown_ground) {
        return "the height of the ground between them is not known";
    }
    const char* one_sided = miss.relay_heard ? "it hears the relay but the relay does not hear it: "
                            : miss.place_heard
                                ? "the relay hears it but it does not hear the relay: "
                                : "";
    const std::string at = geo::format_distance(miss.ground_at_m);
    if (miss.cause == plan::MissCause::blocked) {
        return fmt::format("{}the ground {} from the relay stands {} above the line", one_sided, at,
                           height_text(std::max(1.0, std::round(miss.above_line_m)), 0));
    }
    const std::string lacking = short_text(-miss.short_db) + " short";
    if (miss.cause == plan::MissCause::grazing) {
        return fmt::format("{}the line passes only {} over the ground {} from the relay ({})",
                           one_sided, height_text(std::max(0.0, -miss.above_line_m), 0), at,
                           lacking);
    }
    return fmt::format("{}the {} between them are too far for these radios ({})", one_sided,
                       geo::format_distance(miss.distance_m), lacking);
}

std::string site_words(const plan::RelayAnswer& answer, std::size_t site,
                       std::span<const plan::ServedPlace> places) {
    const plan::RelaySite& here = answer.sites[site];
    if (answer.unit == plan::ServedUnit::places) {
        return service_words(here.services, here.weakest, places) + link_words(here);
    }
    std::string words = share_words(answer, here.alone);
    if (site > 0) {
        words += fmt::format(", {:.0f} % that no site before it does",
                             100.0 * here.added / answer.total);
    }
    if (here.missed_bearing_deg) {
        words += fmt::format("; most of what it misses lies to the {}",
                             geo::compass_word(*here.missed_bearing_deg));
    }
    if (const double percent = std::round(100.0 * here.share_to_try.value_or(0.0)); percent > 0.0) {
        words += fmt::format("; two models part on {:.0f} % of what it serves: test there on foot "
                             "before you count on it",
                             percent);
    }
    return words + link_words(here);
}

std::string site_words(const plan::RelayAnswer& answer, const plan::RankedCandidate& single,
                       std::span<const plan::ServedPlace> places) {
    return answer.unit == plan::ServedUnit::places
               ? service_words(single.services, single.weakest, places)
               : share_words(answer, single.weight);
}

std::string relay_words(const plan::RelayAnswer& answer) {
    std::string words = choice_words(answer.cover);
    // Sifted candidates were all looked at once; it is the second look that was cut short.
    const std::size_t asked = answer.sifted_to > 0 ? answer.sifted_to : answer.candidates;
    const std::size_t evaluated = answer.evaluated - (answer.candidates - asked);
    if (evaluated < asked) {
        words += fmt::format("; the search was stopped after {} of {} candidates, so this is the "
                             "best so far",
                             evaluated, asked);
    }
    if (answer.sifted_to > 0) {
        words += fmt::format("; these are the {} most promising of {}", asked, answer.candidates);
    }
    if (answer.sifted_on_m) {
        words += fmt::format("{} on cells of {}", answer.sifted_to > 0 ? "" : ";",
                             geo::format_distance(*answer.sifted_on_m));
    }
    if (answer.prominent_of) {
        words += fmt::format("; the search was stopped at its start, so these are only the {} most "
                             "prominent of {} candidates",
                             answer.candidates, *answer.prominent_of);
    }
    return words;
}

namespace {

/// What a second model says of the height, where that makes another mast.
std::string second_mast_words(const plan::MastAnswer& answer) {
    constexpr double another_mast = 1.25;
    const auto& first_m = answer.least_height_m;
    const auto& second_m = answer.second_height_m;
    if (!answer.second_has_say || (!first_m && !second_m) ||
        (first_m && second_m && *second_m <= another_mast * *first_m + 1.0)) {
        return {};
    }
    return fmt::format("; by a second model {}: try it with the antenna on a pole before you build",
                       !second_m ? "no height looked at is enough"
                       : first_m ? fmt::format("it takes {}", height_text(*second_m, 1))
                                 : fmt::format("{} would do", height_text(*second_m, 1)));
}

} // namespace

std::string mast_words(const plan::MastAnswer& answer, const std::string& whose,
                       double wanted_margin_db) {
    const plan::MastRow& lowest = answer.table.front();
    std::string words;
    if (answer.least_height_m) {
        words =
            *answer.least_height_m <= lowest.height_m
                ? fmt::format("the antenna of {} needs no raising: at {} the margin is {}", whose,
                              height_text(lowest.height_m, 1),
                              margin_text(lowest.margins.least_db(), 1, wanted_margin_db))
                : fmt::format(
                      "the antenna of {} must stand {} above the ground for a "
                      "margin of {:g} dB",
                      whose, height_text(std::ceil(*answer.least_height_m * 10.0 - 1e-6) / 10.0, 1),
                      wanted_margin_db);
        if (!answer.safe_from_m) {
            words += "; higher up it falls below that again";
        } else if (*answer.safe_from_m > *answer.least_height_m) {
            words += fmt::format("; it falls below that again and keeps it only from {} on",
                                 height_text(*answer.safe_from_m, 1));
        }
    } else {
        words =
            fmt::format("no height of the antenna of {} up to {} gives a margin of {:g} "
                        "dB; the best is {} at {}",
                        whose, geo::format_distance(answer.table.back().height_m), wanted_margin_db,
                        margin_text(answer.best.margins.least_db(), 1, wanted_margin_db),
                        height_text(answer.best.height_m, 1));
    }
    if (!answer.falls.empty()) {
        const plan::MarginFall& most =
            *std::ranges::max_element(answer.falls, {}, &plan::MarginFall::fall_db);
        words += fmt::format(
            "; higher is not always better: from {} to {} the margin "
            "falls by {:.1f} dB{}",
            height_text(most.from_m, 1), height_text(most.to_m, 1), most.fall_db,
            answer.falls.size() > 1
                ? fmt::format(", and in {} other ranges of height by less", answer.falls.size() - 1)
                : "");
    }
    return words + second_mast_words(answer);
}

std::string fallback_words(const plan::Fallback& fallback) {
    if (!fallback.found()) {
        return fmt::format(
            "no better place was found: {} within {} were tried{}",
            fallback.tried == 1 ? "1 place" : fmt::format("{} places", fallback.tried),
            geo::format_distance(fallback.looked_m),
            fallback.useless.empty()
                ? ""
                : fmt::format(", and {}, as planned, talks with nobody", fallback.useless));
    }
    std::string words =
        fmt::format("{}, {} {}", fallback_name(fallback), geo::format_distance(fallback.distance_m),
                    geo::direction_words(fallback.bearing_deg));
    const double climb_m = std::round(fallback.climb_m);
    if (std::isfinite(climb_m) && climb_m != 0.0) {
        words += fmt::format(", {} {}", height_text(std::abs(climb_m), 0),
                             climb_m > 0.0 ? "up" : "down");
    }
    words += fmt::format(": talks with {} of {} from there", fallback.talks_with, fallback.others);
    return fallback.useless.empty()
               ? words
               : words + fmt::format(" (from {}, as planned, with nobody)", fallback.useless);
}

std::string fallback_name(const plan::Fallback& fallback) {
    return fallback.name.empty() ? "High ground at " + geo::format_mgrs(fallback.position)
                                 : fallback.name;
}

std::string range_words(const plan::FootRange& range) {
    const auto told = [](double metres, bool to_the_end, double bearing_deg) {
        return fmt::format("{}{} {}", geo::format_distance(metres), to_the_end ? " or more" : "",
                           geo::direction_words(bearing_deg));
    };
    if (range.best.reach_m <= 0.0) {
        return "no direction has contact even at the first step";
    }
    const bool cut_short = std::ranges::any_of(range.reaches, [&](const plan::Reach& reach) {
        return reach.to_the_end && reach.reach_m <= range.typical_m;
    });
    const plan::Reach& first_lost =
        *std::ranges::min_element(range.reaches, {}, &plan::Reach::unbroken_m);
    const plan::Reach& farthest =
        *std::ranges::max_element(range.reaches, {}, &plan::Reach::farthest_m);
    const bool ends = std::ranges::any_of(range.reaches, &plan::Reach::to_the_end);
    return fmt::format(
        "half of directions reach {}{}, with gaps of a tenth of the way at most; best {}; worst "
        "{}; "
        "without any gap half reach {}, and the worst {}; farthest contact {}{}",
        geo::format_distance(range.typical_m), cut_short ? " or more" : "",
        told(range.best.reach_m, range.best.to_the_end, range.best.bearing_deg),
        told(range.worst.reach_m, range.worst.to_the_end, range.worst.bearing_deg),
        geo::format_distance(range.typical_unbroken_m),
        told(first_lost.unbroken_m, false, first_lost.bearing_deg),
        told(farthest.farthest_m, farthest.farthest_m >= range.looked_m, farthest.bearing_deg),
        ends ? fmt::format("; no farther than {} was looked at",
                           geo::format_distance(range.looked_m))
             : "");
}

std::string pull_words(const plan::Pull& pull, bool both_ends) {
    using enum plan::Lever;
    const std::string distance = geo::format_distance(pull.distance_m);
    const std::string toward = geo::direction_words(pull.bearing_deg);
    const bool there =
        pull.lever == hold_there || pull.lever == antenna_there || pull.lever == raise_there;
    const char* where = !both_ends ? "" : there ? " there" : " here";
    switch (pull.lever) {
    case channel:
        return fmt::format("calling on channel {}{}", pull.channel,
                           pull.repeater.empty() ? "" : " through " + pull.repeater);
    case hold_here:
    case hold_there:
        return fmt::format("holding the radio{} at the face instead of {}", where,
                           worn_words(pull.worn));
    case move:
        return fmt::format("moving {} {}{}", distance, toward,
                           pull.out_of_woods ? ", out of the trees" : "");
    case antenna_here:
    case antenna_there:
        return pull.antenna.empty()
                   ? fmt::format("an antenna better by {:g} dB{}", pull.better_db, where)
                   : fmt::format("the {} antenna{}", pull.antenna, where);
    case raise_here:
    case raise_there:
        return fmt::format("the {}antenna{} raised to {}",
                           pull.antenna.empty() ? "" : pull.antenna + " ", where,
                           geo::format_distance(pull.raised_m));
    case power:
        return fmt::format("{} to {}{}", geo::format_power(pull.from_dbm),
                           geo::format_power(pull.to_dbm),
                           !both_ends                ? ""
                           : pull.here && pull.there ? " at both ends"
                           : pull.here               ? " here"
                                                     : " there");
    case relay:
        break;
    }
    return fmt::format("a relay {} {} of here, at {}", distance, toward,
                       geo::format_decimal(pull.position));
}

std::string worn_words(const std::optional<link::Carried>& worn) {
    return worn == link::Carried::on_hip     ? "on the belt"
           : worn == link::Carried::on_chest ? "on the chest"
                                             : "against the body";
}

std::string names_words(const std::vector<std::string>& names) {
    constexpr std::size_t told = 5;
    const std::size_t shown = std::min(names.size(), told);
    std::string words = fmt::format(
        "{}", fmt::join(names.begin(), names.begin() + static_cast<std::ptrdiff_t>(shown), ", "));
    return shown < names.size() ? fmt::format("{} and {} more", words, names.size() - shown)
                                : words;
}

std::string gain_of(const plan::Rung& rung) {
    constexpr double rounds_to_nothing_db = 0.05;
    return rung.gain_db && std::abs(*rung.gain_db) >= rounds_to_nothing_db
               ? gain_text(*rung.gain_db)
               : std::string();
}

std::string rung_words(const plan::Rung& rung) {
    return rung.pull ? pull_words(*rung.pull) : "as it is";
}

std::string help_words(const plan::Help& help, bool both_ends) {
    std::vector<std::string> steps;
    for (const plan::Pull& pull : help.pulls) {
        steps.push_back(pull_words(pull, both_ends));
    }
    const std::string last = steps.back();
    steps.pop_back();
    return steps.empty() ? last : fmt::format("{} and {}", fmt::join(steps, "; "), last);
}

namespace {

/// Where what a rung reaches hangs on the choice of the model.
std::string in_doubt_words(const plan::Rung& rung, bool one) {
    if (rung.in_doubt == 0) {
        return {};
    }
    return one ? "; two models part on that: test it on foot before you count on it"
               : fmt::format("; two models part on {} of the places: test {} on foot first",
                             rung.in_doubt, rung.in_doubt == 1 ? "it" : "them");
}

/// What gets a call through, or that nothing does.
std::string through_words(const plan::LadderAnswer& answer) {
    const plan::Rung& most = answer.stacked.empty() ? answer.start : answer.stacked.back();
    const bool one = answer.start.margin_db.has_value();
    const double wanted_db = answer.wanted_margin_db;
    const auto margin = [&](const plan::Rung& rung) {
        const double margin_db = rung.margin_db.value_or(0.0);
        return margin_text(margin_db, 1, wanted_db) +
               (margin_db >= wanted_db ? "" : ", " + short_text(margin_db, wanted_db) + " short");
    };
    const std::string start = one ? "as it is: margin " + margin(answer.start)
                                  : "as it is: " + reached_words(answer.start, answer.places);
    if (answer.start.places == answer.places) {
        return start + (one ? "; the call gets through both ways" : "") +
               in_doubt_words(answer.start, one);
    }
    if (answer.help) {
        const std::string then =
            one ? fmt::format("{} gets the call through both ways (margin {})",
                              help_words(*answer.help), margin(answer.help->then))
                : fmt::format("{} reaches {} of {} places, {} as well", help_words(*answer.help),
                              answer.help->then.places, answer.places,
                              names_words(answer.help->reached));
        return start + "; " + then + in_doubt_words(answer.help->then, one);
    }
    return fmt::format("{}; {}", start,
                       one ? fmt::format("nothing tried gets the call through, all together "
                                         "neither (margin {})",
                                         margin(most))
                           : "nothing tried reaches one more");
}

} // namespace

std::string station_help_words(const std::string& station, const plan::Help& help) {
    return fmt::format("{}: {}; then it talks with {} as well", station, help_words(help, false),
                       names_words(help.reached));
}

std::string before_mast_words(const plan::LadderAnswer& answer) {
    if (answer.start.places == answer.places || answer.alone.empty()) {
        return {};
    }
    const plan::Rung& then = answer.help ? answer.help->then : answer.alone.front();
    return fmt::format("before a mast: {} {} (margin {})",
                       answer.help ? help_words(*answer.help) : rung_words(then),
                       answer.help ? "gets the call through as well" : "helps, but not enough",
                       margin_text(then.margin_db.value_or(0.0), 1, answer.wanted_margin_db));
}

std::string ladder_words(const plan::LadderAnswer& answer) {
    const auto reached = [&](const plan::Rung& rung) { return reached_words(rung, answer.places); };
    std::string words = answer.places > 0 ? through_words(answer)
                                          : fmt::format("as it is: {}", reached(answer.start));
    if (answer.alone.empty()) {
        return words + "; no step tried brings anything";
    }
    const plan::Rung& first = answer.alone.front();
    words += fmt::format("; first for the effort comes {} ({}{})", rung_words(first),
                         gain_of(first).empty() ? "" : gain_of(first) + ", ", reached(first));
    if (answer.stacked.size() > 1) {
        words += fmt::format("; all together: {}", reached(answer.stacked.back()));
    }
    return words;
}

} // namespace earshot::report
