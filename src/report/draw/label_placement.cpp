#include "report/draw/label_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <numeric>

namespace earshot::report {
namespace {

constexpr std::size_t none = static_cast<std::size_t>(-1);

/// Where the straight line from the middle of a box toward a point leaves the box.
Point toward(const Box& box, Point point) {
    const Point middle = box.middle();
    const double dx = point.x - middle.x;
    const double dy = point.y - middle.y;
    const double share =
        std::max(std::abs(dx) / (box.width / 2.0), std::abs(dy) / (box.height / 2.0));
    return share > 1.0 ? Point{middle.x + dx / share, middle.y + dy / share} : point;
}

/// The point of a box nearest to another point.
Point nearest(const Box& box, Point point) {
    return {std::clamp(point.x, box.x, box.right()), std::clamp(point.y, box.y, box.bottom())};
}

/// Places around a mark, the best first: right of it, left, above, below, in the corners; then on
/// wider and wider rings.
std::vector<LabelPlace> candidates(const LabelWish& wish, double gap) {
    const Box& mark = wish.mark;
    const double width = wish.width;
    const double height = wish.height;
    const Point middle = mark.middle();
    const double right = mark.right() + gap;
    const double left = mark.x - gap - width;
    const double above = mark.y - gap - height;
    const double below = mark.bottom() + gap;
    const double beside = middle.y - height / 2.0;
    const double centred = middle.x - width / 2.0;
    const double corner = 0.7 * gap;
    std::vector<LabelPlace> list;
    for (const Point at :
         {Point{right, beside}, Point{left, beside}, Point{right, above + corner},
          Point{right, below - corner}, Point{centred, above}, Point{centred, below},
          Point{left, above + corner}, Point{left, below - corner},
          Point{right, above + height / 2.0}, Point{right, below - height / 2.0},
          Point{left, above + height / 2.0}, Point{left, below - height / 2.0},
          Point{middle.x, above}, Point{middle.x, below}, Point{middle.x - width, above},
          Point{middle.x - width, below}}) {
        list.push_back({{at.x, at.y, width, height}, std::nullopt});
    }
    constexpr int directions = 24;
    constexpr std::array rings{1.0, 2.0, 3.2, 4.6, 6.2, 8.0, 10.5, 13.5, 17.0}; // in label heights
    for (const double ring : rings) {
        for (int k = 0; k < directions; ++k) {
            // From the upper right on, alternating sides.
            const int turn = (k % 2 == 0 ? 1 : -1) * ((k + 1) / 2);
            const double angle = (turn + 0.5) * 2.0 * std::numbers::pi / directions;
            const double reach = ring * height;
            const Point foot{middle.x + (mark.width / 2.0 + reach) * std::cos(angle),
                             middle.y + (mark.height / 2.0 + reach) * std::sin(angle)};
            // The label's near edge is at the foot of the leader.
            LabelPlace place;
            place.box = {foot.x - width / 2.0 + std::cos(angle) * width / 2.0,
                         foot.y - height / 2.0 + std::sin(angle) * height / 2.0, width, height};
            const Point end = nearest(place.box, middle);
            place.leader = {toward(mark, end), end};
            list.push_back(place);
        }
    }
    return list;
}

bool inside(const Box& box, const Box& frame) {
    return box.x >= frame.x && box.y >= frame.y && box.right() <= frame.right() &&
           box.bottom() <= frame.bottom();
}

bool turns_left(Point a, Point b, Point c) {
    return (b.x - a.x) * (c.y - a.y) > (b.y - a.y) * (c.x - a.x);
}

bool cross(const LabelPlace::Line& a, const LabelPlace::Line& b) {
    return turns_left(a.from, a.to, b.from) != turns_left(a.from, a.to, b.to) &&
           turns_left(b.from, b.to, a.from) != turns_left(b.from, b.to, a.to);
}

bool collide(const LabelPlace& a, const LabelPlace& b) {
    return overlap_area(a.box, b.box) > 0.0 ||
           (a.leader && crosses(a.leader->from, a.leader->to, b.box)) ||
           (b.leader && crosses(b.leader->from, b.leader->to, a.box)) ||
           (a.leader && b.leader && cross(*a.leader, *b.leader));
}

class Placement {
public:
    Placement(const Box& frame, const std::vector<LabelWish>& wishes,
              const std::vector<LabelPlace>& standing, double gap)
        : wishes_(wishes), options_(wishes.size()), chosen_(wishes.size(), none) {
        for (std::size_t k = 0; k < wishes.size(); ++k) {
            if (wishes[k].width > 0.0 && frame.holds(wishes[k].mark.middle())) {
                for (const LabelPlace& place : candidates(wishes[k], gap)) {
                    if (inside(place.box, frame) && !covers_mark(k, place) &&
                        std::ranges::none_of(standing, [&](const LabelPlace& other) {
                            return collide(other, place);
                        })) {
                        options_[k].push_back(place);
                    }
                }
            }
        }
    }

    void choose() {
        for (const std::size_t label : by_need()) {
            chosen_[label] = first_free(label, options_[label].size());
        }
    }

    /// Once more over all labels; false if nothing changed.
    bool improve() {
        bool changed = false;
        for (std::size_t label = 0; label < wishes_.size(); ++label) {
            if (chosen_[label] == none) {
                changed = push_in(label) || changed;
            } else if (const std::size_t better = first_free(label, chosen_[label]);
                       better != none) {
                chosen_[label] = better;
                changed = true;
            }
        }
        return changed;
    }

    [[nodiscard]] std::vector<std::optional<LabelPlace>> places() const {
        std::vector<std::optional<LabelPlace>> list(wishes_.size());
        for (std::size_t k = 0; k < wishes_.size(); ++k) {
            if (chosen_[k] != none) {
                list[k] = options_[k][chosen_[k]];
            }
        }
        return list;
    }

private:
    /// Leaders keep off other marks too, but may start at one that lies on top of their own.
    [[nodiscard]] bool covers_mark(std::size_t label, const LabelPlace& place) const {
        for (std::size_t k = 0; k < wishes_.size(); ++k) {
            const Box& mark = wishes_[k].mark;
            if (overlap_area(mark, place.box) > 0.0) {
                return true;
            }
            if (place.leader && k != label && overlap_area(mark, wishes_[label].mark) == 0.0 &&
                crosses(place.leader->from, place.leader->to, mark)) {
                return true;
            }
        }
        return false;
    }

    /// Important labels first, then those with the fewest free places.
    [[nodiscard]] std::vector<std::size_t> by_need() const {
        std::vector<std::size_t> order(wishes_.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) {
            return wishes_[a].important != wishes_[b].important
                       ? wishes_[a].important
                       : options_[a].size() < options_[b].size();
        });
        return order;
    }

    /// The labels that a place collides with; stops looking when there are more than `most`.
    [[nodiscard]] std::vector<std::size_t> in_the_way(std::size_t label, const LabelPlace& place,
                                                      std::size_t most) const {
        std::vector<std::size_t> list;
        for (std::size_t k = 0; k < wishes_.size() && list.size() <= most; ++k) {
            if (k != label && chosen_[k] != none && collide(place, options_[k][chosen_[k]])) {
                list.push_back(k);
            }
        }
        return list;
    }

    /// The best place that is free, of those before `end`.
    [[nodiscard]] std::size_t first_free(std::size_t label, std::size_t end) const {
        for (std::size_t k = 0; k < end; ++k) {
            if (in_the_way(label, options_[label][k], 0).empty()) {
                return k;
            }
        }
        return none;
    }

    /// Finds a place for a label by moving those in its way elsewhere.
    bool push_in(std::size_t label) {
        constexpr std::size_t most_moved = 3;
        for (std::size_t k = 0; k < options_[label].size(); ++k) {
            const std::vector<std::size_t> others =
                in_the_way(label, options_[label][k], most_moved);
            if (others.size() > most_moved) {
                continue;
            }
            const std::vector<std::size_t> before = chosen_;
            chosen_[label] = k;
            for (const std::size_t other : others) {
                chosen_[other] = none;
            }
            bool all = true;
            for (const std::size_t other : others) {
                chosen_[other] = first_free(other, options_[other].size());
                all = all && chosen_[other] != none;
            }
            if (all) {
                return true;
            }
            chosen_ = before;
        }
        return false;
    }

    const std::vector<LabelWish>& wishes_;
    std::vector<std::vector<LabelPlace>> options_; ///< the best first
    std::vector<std::size_t> chosen_;              ///< of the options
};

} // namespace

std::vector<std::optional<LabelPlace>> place_labels(const Box& frame,
                                                    const std::vector<LabelWish>& wishes,
                                                    const std::vector<LabelPlace>& standing,
                                                    double gap) {
    constexpr int most_passes = 6;
    Placement placement(frame, wishes, standing, gap);
    placement.choose();
    for (int pass = 0; pass < most_passes && placement.improve(); ++pass) {
    }
    return placement.places();
}

} // namespace earshot::report
