#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

namespace earshot::coverage {

/// Upper convex hull of points that arrive in order of increasing x, as a stack. Answers, in time
/// that grows with the logarithm of its size, which point a ray from beyond the last one touches
/// and which point stands highest above a line of given slope.
class UpperHull {
public:
    struct Vertex {
        double x;
        double y;
        std::size_t index; ///< the caller's own number of the point
    };

    /// Where the answer to the last question of a kind was found. Along a radial the next one is
    /// mostly there or beside it, so that is where a search begins.
    struct Hint {
        std::size_t vertex = 0;
    };

    void clear() { vertices_.clear(); }
    [[nodiscard]] std::span<const Vertex> vertices() const { return vertices_; }

    /// `x` must be larger than that of every point before.
    void push(double x, double y, std::size_t index) {
        while (vertices_.size() >= 2) {
            const Vertex& a = vertices_[vertices_.size() - 2];
            const Vertex& b = vertices_.back();
            if ((b.y - a.y) * (x - b.x) > (y - b.y) * (b.x - a.x)) {
                break;
            }
            vertices_.pop_back();
        }
        vertices_.push_back({x, y, index});
    }

    /// The vertex with the largest (y - from_y) / (from_x - x): where a ray that comes down from
    /// (from_x, from_y), beyond all points, first touches. The hull must not be empty.
    [[nodiscard]] const Vertex& tangent_from(double from_x, double from_y, Hint& hint) const {
        return search(hint, [&](const Vertex& a, const Vertex& b) {
            return (b.y - from_y) * (from_x - a.x) >= (a.y - from_y) * (from_x - b.x);
        });
    }

    /// The vertex with the largest y - slope * x. The hull must not be empty.
    [[nodiscard]] const Vertex& highest_above(double slope, Hint& hint) const {
        return search(hint, [&](const Vertex& a, const Vertex& b) {
            return b.y - a.y >= slope * (b.x - a.x);
        });
    }

private:
    /// Along the hull each of the two searched-for values rises and then falls; `rises(a, b)` tells
    /// whether it still does from a to its right neighbour b.
    template <typename Rises>
    const Vertex& search(Hint& hint, Rises rises) const {
        const std::size_t last = vertices_.size() - 1;
        std::size_t at = std::min(hint.vertex, last);
        // The answer lies in [first, first + edges].
        std::size_t first = 0;
        std::size_t edges = last;
        if (at < last && rises(vertices_[at], vertices_[at + 1])) {
            ++at;
            if (at == last || !rises(vertices_[at], vertices_[at + 1])) {
                hint.vertex = at;
                return vertices_[at];
            }
            first = at + 1;
            edges = last - first;
        } else {
            for (int tries = 0; at > 0; ++tries) {
                if (rises(vertices_[at - 1], vertices_[at])) {
                    hint.vertex = at;
                    return vertices_[at];
                }
                --at;
                if (tries == 2) {
                    break;
                }
            }
            edges = at;
        }
        // Written so that the compiler can choose without branching: where the search goes next
        // cannot be foretold, and a wrong guess costs more than the arithmetic.
        const Vertex* vertex = &vertices_[first];
        while (edges > 0) {
            const std::size_t half = edges - edges / 2;
            vertex += rises(vertex[half - 1], vertex[half]) ? half : 0;
            edges /= 2;
        }
        hint.vertex = static_cast<std::size_t>(vertex - vertices_.data());
        return *vertex;
    }

    std::vector<Vertex> vertices_;
};

} // namespace earshot::coverage
