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

std::string service_words(const std::vector<plan::PlaceService>& services,
                          std::span<const plan::ServedPlace> places) {
    constexpr std::size_t told = 3;
    std::vector<std::string> misses;
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
        } else if (misses.size() < told) {
            misses.push_back(
                fmt::format("{} because {}", place.station.name, miss_words(*service.miss)));
        }
    }
    std::string words =
        fmt::format("hears {}", served_words(served, services.size(), weight, total));
    if (!misses.empty()) {
        const std::size_t more = services.size() - served - misses.size();
        words += fmt::format("; misses {}{}", fmt::join(misses, "; "),
                             more > 0 ? fmt::format("; and {} more", more) : "");
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
        return fmt::format("{}the ground {} from the relay stands {:.0f} m above the line",
                           one_sided, at, std::max(1.0, std::round(miss.above_line_m)));
    }
    const std::string lacking = short_text(-miss.short_db) + " short";
    if (miss.cause == plan::MissCause::grazing) {
        return fmt::format("{}the line passes only {:.0f} m over the ground {} from the relay ({})",
                           one_sided, std::max(0.0, -miss.above_line_m), at, lacking);
    }
    return fmt::format("{}the {} between them are too far for these radios ({})", one_sided,
                       geo::format_distance(miss.distance_m), lacking);
}

std::string site_words(const plan::RelayAnswer& answer, std::size_t site,
                       std::span<const plan::ServedPlace> places) {
    const plan::RelaySite& here = answer.sites[site];
    if (answer.unit == plan::ServedUnit::places) {
        return service_words(here.services, places) + link_words(here);
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
    return words + link_words(here);
}

std::string site_words(const plan::RelayAnswer& answer, const plan::RankedCandidate& single,
                       std::span<const plan::ServedPlace> places) {
    return answer.unit == plan::ServedUnit::places ? service_words(single.services, places)
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

std::string mast_words(const plan::MastAnswer& answer, const std::string& whose,
                       double wanted_margin_db) {
    const plan::MastRow& lowest = answer.table.front();
    std::string words;
    if (answer.least_height_m) {
        words =
            *answer.least_height_m <= lowest.height_m
                ? fmt::format("the antenna of {} needs no raising: at {:.1f} m the margin is {}",
                              whose, lowest.height_m,
                              margin_text(lowest.margins.least_db(), 1, wanted_margin_db))
                : fmt::format("the antenna of {} must stand {:.1f} m above the ground for a "
                              "margin of {:g} dB",
                              whose, std::ceil(*answer.least_height_m * 10.0 - 1e-6) / 10.0,
                              wanted_margin_db);
        if (!answer.safe_from_m) {
            words += "; higher up it falls below that again";
        } else if (*answer.safe_from_m > *answer.least_height_m) {
            words += fmt::format("; it falls below that again and keeps it only from {:.1f} m on",
                                 *answer.safe_from_m);
        }
    } else {
        words = fmt::format("no height of the antenna of {} up to {:g} m gives a margin of {:g} "
                            "dB; the best is {} at {:.1f} m",
                            whose, answer.table.back().height_m, wanted_margin_db,
                            margin_text(answer.best.margins.least_db(), 1, wanted_margin_db),
                            answer.best.height_m);
    }
    if (!answer.falls.empty()) {
        const plan::MarginFall& most =
            *std::ranges::max_element(answer.falls, {}, &plan::MarginFall::fall_db);
        words += fmt::format(
            "; higher is not always better: from {:.1f} m to {:.1f} m the margin "
            "falls by {:.1f} dB{}",
            most.from_m, most.to_m, most.fall_db,
            answer.falls.size() > 1
                ? fmt::format(", and in {} other ranges of height by less", answer.falls.size() - 1)
                : "");
    }
    return words;
}

std::string fallback_words(const plan::Fallback& fallback) {
    const std::string where = fallback.name.empty()
                                  ? "High ground at " + geo::format_mgrs(fallback.position)
                                  : fallback.name;
    std::string words = fmt::format("{}, {} {}", where, geo::format_distance(fallback.distance_m),
                                    geo::compass_word(fallback.bearing_deg));
    const double climb_m = std::round(fallback.climb_m);
    if (std::isfinite(climb_m) && climb_m != 0.0) {
        words += fmt::format(", {:.0f} m {}", std::abs(climb_m), climb_m > 0.0 ? "up" : "down");
    }
    return words +
           fmt::format(": talks with {} of {} from there", fallback.talks_with, fallback.others);
}

std::string range_words(const plan::FootRange& range) {
    const auto told = [](const plan::Reach& reach) {
        return fmt::format("{}{} {}", geo::format_distance(reach.reach_m),
                           reach.to_the_end ? " or more" : "",
                           geo::compass_word(reach.bearing_deg));
    };
    if (range.best.reach_m <= 0.0) {
        return "no direction has contact even at the first step";
    }
    const bool cut_short = std::ranges::any_of(range.reaches, [&](const plan::Reach& reach) {
        return reach.to_the_end && reach.reach_m <= range.typical_m;
    });
    return fmt::format("half of directions reach {}{}; best {}; worst {}",
                       geo::format_distance(range.typical_m), cut_short ? " or more" : "",
                       told(range.best), told(range.worst));
}

std::string rung_words(const plan::Rung& rung) {
    if (!rung.pull) {
        return "as it is";
    }
    const plan::Pull& pull = *rung.pull;
    const std::string distance = geo::format_distance(pull.distance_m);
    const std::string_view toward = geo::compass_word(pull.bearing_deg);
    switch (pull.lever) {
    case plan::Lever::power:
        return fmt::format("{} to {} at both ends", geo::format_power(pull.from_dbm),
                           geo::format_power(pull.to_dbm));
    case plan::Lever::move:
        return fmt::format("moving {} {}", distance, toward);
    case plan::Lever::antenna_here:
        return fmt::format("an antenna better by {:g} dB here", pull.better_db);
    case plan::Lever::antenna_there:
        return fmt::format("an antenna better by {:g} dB there", pull.better_db);
    case plan::Lever::raise_here:
        return fmt::format("the antenna here raised to {}", geo::format_distance(pull.raised_m));
    case plan::Lever::raise_there:
        return fmt::format("the antenna there raised to {}", geo::format_distance(pull.raised_m));
    case plan::Lever::relay:
        break;
    }
    return fmt::format("a relay {} {} of here, at {}", distance, toward,
                       geo::format_decimal(pull.position));
}

std::string ladder_words(const plan::LadderAnswer& answer) {
    const auto reached = [&](const plan::Rung& rung) { return reached_words(rung, answer.places); };
    if (answer.alone.empty()) {
        return fmt::format("no lever changes anything; {}", reached(answer.start));
    }
    const plan::Rung& first = answer.alone.front();
    std::string words = fmt::format(
        "as it is: {}; first for the effort comes {} ({}{})", reached(answer.start),
        rung_words(first), first.gain_db ? gain_text(*first.gain_db) + ", " : "", reached(first));
    if (answer.stacked.size() > 1) {
        words += fmt::format("; all together: {}", reached(answer.stacked.back()));
    }
    return words;
}

} // namespace earshot::report
