#include "report/say/second_words.hpp"

#include "earshot/link/path.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/p1812.hpp"
#include "propagation/second_opinion.hpp"
#include "report/say/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

using propagation::irregular::Mechanism;

constexpr std::string_view test_it = "test it on foot before you count on it";

/// What of the ground the two reckon with in different ways.
std::string cause_words(const link::TwoWayPath& path,
                        const propagation::irregular::Result& result) {
    if (path.outward.loss.sight.clear) {
        return "In sight of each other";
    }
    if (result.mechanism == Mechanism::scatter) {
        return "Far beyond the horizon";
    }
    const double gap_m = result.geometry.distance_m - result.geometry.horizons_m();
    constexpr double one_edge = 0.02; // of the path
    return gap_m > one_edge * result.geometry.distance_m
               ? fmt::format("Two edges of the ground {} apart", geo::format_distance(gap_m))
               : "One edge of the ground between";
}

/// Who hears whom.
std::string outcome_words(const link::TwoWayPath& path, bool out, bool back) {
    if (out && back) {
        return "they would hear each other";
    }
    if (!out && !back) {
        return "they would not hear each other";
    }
    return fmt::format("only {} would hear {}", (out ? path.b : path.a).name,
                       (out ? path.a : path.b).name);
}

} // namespace

std::string try_words() {
    return fmt::format("{}: two models of the ground part on it, by {:g} dB or more or on whether "
                       "it is heard at all.",
                       try_key, link::models_part_db);
}

std::string_view MethodWord::word() const {
    return link::readability(std::min(out_db, back_db)).name;
}

SecondWords::SecondWords(const link::TwoWayPath& path, double wanted_margin_db) {
    const propagation::Method method = path.conditions.method;
    const link::Direction& out = path.outward;
    const link::Direction& back = path.backward;
    const auto add = [&](propagation::Method by, double out_apart_db, double back_apart_db) {
        methods_.push_back({propagation::method_info(by).name, out.loss.total_db() + out_apart_db,
                            out.budget.margin_db - out_apart_db,
                            back.budget.margin_db - back_apart_db});
    };
    add(method, 0.0, 0.0);
    if (method == propagation::Method::short_range) {
        const auto apart_db = [](const propagation::PathLoss& loss) {
            return propagation::standard_loss_db(loss) - loss.total_db();
        };
        add(propagation::Method::p1812, apart_db(out.loss), apart_db(back.loss));
    }
    const auto second = propagation::second_method(method);
    if (!second) {
        return;
    }
    second_ = propagation::method_info(*second).name;
    const propagation::SecondOpinion opinion = propagation::second_opinion(
        path.profile, {path.a.antenna_height_m, path.b.antenna_height_m}, path.conditions);
    warnings_ = opinion.warnings;
    applies_ = !std::isnan(out.apart_db);
    if (!applies_) {
        words_ = fmt::format("{} has no say here{}{}.", second_, warnings_.empty() ? "" : ": ",
                             warnings_.empty() ? "" : warnings_.front());
        return;
    }
    add(*second, out.apart_db, back.apart_db);
    try_first_ = link::try_first(out.budget.margin_db, out.apart_db, wanted_margin_db) ||
                 link::try_first(back.budget.margin_db, back.apart_db, wanted_margin_db);
    const auto& irregular =
        out.loss.irregular_terrain ? out.loss.irregular_terrain : opinion.loss->irregular_terrain;
    words_ = fmt::format("{}: {} and {} differ by {:.0f} dB{}{}.", cause_words(path, *irregular),
                         methods_.front().method, second_, std::abs(out.apart_db),
                         try_first_ ? "; " : "", try_first_ ? test_it : "");
}

std::string standard_words(const link::TwoWayPath& path, double wanted_margin_db) {
    const propagation::PathLoss& loss = path.outward.loss;
    const double more_db = loss.total_db() - propagation::standard_loss_db(loss);
    if (!(std::abs(more_db) >= 1.0)) {
        return {};
    }
    const double out_db = path.outward.budget.margin_db;
    const double back_db = path.backward.budget.margin_db;
    const double weaker_db = std::min(out_db, back_db);
    const auto reaches = [&](double margin_db) { return margin_db >= wanted_margin_db; };
    const bool out = reaches(out_db + more_db);
    const bool back = reaches(back_db + more_db);
    const bool stays = out == reaches(out_db) && back == reaches(back_db);
    return fmt::format(
        "by p1812, the pure standard, which {}, the weaker way has {} instead of {}; {}",
        loss.p1812->troposcatter_db < loss.basic_loss_db + 5.0
            ? "counts scatter from the upper air, made for 100 km and more"
            : "leaves out the ground beside low antennas",
        margin_text(weaker_db + more_db, 1, wanted_margin_db),
        margin_text(weaker_db, 1, wanted_margin_db),
        stays ? "who hears whom stays the same"
              : fmt::format("{}: {}", outcome_words(path, out, back), test_it));
}

std::string hangs_words(const link::TwoWayPath& path, double wanted_margin_db) {
    const auto second = propagation::second_method(path.conditions.method);
    const link::Direction& out = path.outward;
    const link::Direction& back = path.backward;
    const auto reaches = [&](double margin_db) { return margin_db >= wanted_margin_db; };
    const bool by_other_out = reaches(out.budget.margin_db - out.apart_db);
    const bool by_other_back = reaches(back.budget.margin_db - back.apart_db);
    if (std::isnan(out.apart_db) || (reaches(out.budget.margin_db) == by_other_out &&
                                     reaches(back.budget.margin_db) == by_other_back)) {
        return {};
    }
    return fmt::format(" By {} {}: {}.", propagation::method_info(*second).name,
                       outcome_words(path, by_other_out, by_other_back), test_it);
}

} // namespace earshot::report
