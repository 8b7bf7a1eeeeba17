#include "plan/mast.hpp"

#include "base/require.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/receiver_noise.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::plan {
namespace {

constexpr double fall_worth_telling_db = 0.1;

void check(const MastRequest& request) {
    require_usage(request.lowest_m >= 0.0 && request.highest_m > request.lowest_m &&
                      request.highest_m <= geo::highest_antenna_m,
                  "antenna heights from {:g} m to {:g} m are not possible; the limit must be above "
                  "the lowest, which is 0 m or more, and at most 3000 m",
                  request.lowest_m, request.highest_m);
    constexpr double most_heights = 20000.0;
    require_usage(request.height_step_m > 0.0 &&
                      (request.highest_m - request.lowest_m) / request.height_step_m <=
                          most_heights,
                  "a step of {:g} m between heights is not possible; it must be more than 0 m and "
                  "give at most {:.0f} heights",
                  request.height_step_m, most_heights);
    require_usage(std::isfinite(request.wanted_margin_db),
                  "the wanted margin must be a number of dB");
}

std::vector<MarginFall> falls_in(const std::vector<MastRow>& table) {
    std::vector<MarginFall> falls;
    std::size_t top = 0; // where the fall at hand began
    for (std::size_t k = 1; k <= table.size(); ++k) {
        const bool falling =
            k < table.size() && table[k].margins.least_db() < table[k - 1].margins.least_db();
        if (falling) {
            continue;
        }
        const double fall_db = table[top].margins.least_db() - table[k - 1].margins.least_db();
        if (fall_db > fall_worth_telling_db) {
            falls.push_back({table[top].height_m, table[k - 1].height_m, fall_db});
        }
        top = k;
    }
    return falls;
}

} // namespace

MastAnswer least_mast(const link::Station& a, const link::Station& b, const MastRequest& request,
                      const Task& task) {
    check(request);
    link::Station first = a;
    link::Station second = b;
    link::Station& raised = request.end == PathEnd::first ? first : second;
    const link::Radio held = raised.radio;
    // Nobody stands beside an antenna that is too high to be held.
    const auto raise = [&](double height_m) {
        raised.antenna_height_m = height_m;
        raised.radio = held;
        if (height_m > link::held_up_to_m && held.body_loss_db > 0.0) {
            raised.radio.body_loss_db = 0.0;
            link::renew_noise(raised.radio);
        }
    };
    raise(request.lowest_m);
    // Refuses what cannot be predicted, with its reasons.
    (void)link::two_way_path(request, first, second);
    link::PathPredictor predictor(request);
    const auto raised_to = [&](double height_m, bool with_second = false) {
        task.throw_if_stopped();
        raise(height_m);
        return MastRow{height_m, predictor.margins(first, second, with_second)};
    };
    MastAnswer answer;
    const auto steps = static_cast<std::size_t>(
        std::ceil((request.highest_m - request.lowest_m) / request.height_step_m - 1e-9));
    for (std::size_t k = 0; k <= steps; ++k) {
        answer.table.push_back(
            raised_to(std::min(request.lowest_m + request.height_step_m * static_cast<double>(k),
                               request.highest_m),
                      true));
    }
    const auto meets = [&](const MastRow& row) {
        return row.margins.least_db() >= request.wanted_margin_db;
    };
    // Where between this height, which has the wanted margin, and the one before it is first met.
    const auto refined = [&](std::size_t k) {
        constexpr double fine_enough_m = 0.01;
        double with_m = answer.table[k].height_m;
        double without_m = k == 0 ? with_m : answer.table[k - 1].height_m;
        while (with_m - without_m > fine_enough_m) {
            const double middle_m = (without_m + with_m) / 2.0;
            (meets(raised_to(middle_m)) ? with_m : without_m) = middle_m;
        }
        return with_m;
    };
    const auto least = std::find_if(answer.table.begin(), answer.table.end(), meets);
    if (least != answer.table.end()) {
        answer.least_height_m = refined(static_cast<std::size_t>(least - answer.table.begin()));
        std::size_t safe = answer.table.size();
        while (safe > 0 && meets(answer.table[safe - 1])) {
            --safe;
        }
        if (safe < answer.table.size()) {
            answer.safe_from_m = refined(safe);
        }
    }
    answer.best = *std::max_element(answer.table.begin(), answer.table.end(),
                                    [](const MastRow& x, const MastRow& y) {
                                        return x.margins.least_db() < y.margins.least_db();
                                    });
    answer.falls = falls_in(answer.table);
    answer.second_has_say = !std::isnan(answer.best.margins.apart_db);
    const auto by_second =
        std::find_if(answer.table.begin(), answer.table.end(), [&](const MastRow& row) {
            return row.margins.least_db() - row.margins.apart_db >= request.wanted_margin_db;
        });
    if (by_second != answer.table.end()) {
        answer.second_height_m = by_second->height_m;
    }
    return answer;
}

} // namespace earshot::plan
