#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace earshot::coverage {

/// Heights in order of distance, with the largest of each block of 16 and of 256, so that a search
/// for an extreme can pass over blocks that cannot hold it.
class BlockTops {
public:
    /// Takes `count` heights, `height(index)` each.
    template <typename Height>
    void fill(std::size_t count, Height height) {
        height_m_.resize(count);
        for (std::size_t i = 0; i < count; ++i) {
            height_m_[i] = height(i);
        }
        raise(height_m_, small_points, small_);
        raise(small_, large_points / small_points, large_);
    }

    [[nodiscard]] double operator[](std::size_t index) const { return height_m_[index]; }

    /// Calls `visit(index)` for the points from `first` to `last` in order, leaving out every block
    /// for which `may_matter(top_m, from, to)` is false: none of the points from `from` to `to`,
    /// its share of the ones asked for, is higher than `top_m`.
    template <typename MayMatter, typename Visit>
    void search(std::size_t first, std::size_t last, MayMatter may_matter, Visit visit) const {
        for (std::size_t large = first / large_points; large <= last / large_points; ++large) {
            const std::size_t from = std::max(first, large * large_points);
            const std::size_t to = std::min(last, (large + 1) * large_points - 1);
            if (!may_matter(large_[large], from, to)) {
                continue;
            }
            for (std::size_t small = from / small_points; small <= to / small_points; ++small) {
                const std::size_t a = std::max(from, small * small_points);
                const std::size_t b = std::min(to, (small + 1) * small_points - 1);
                if (!may_matter(small_[small], a, b)) {
                    continue;
                }
                for (std::size_t i = a; i <= b; ++i) {
                    visit(i);
                }
            }
        }
    }

private:
    static constexpr std::size_t small_points = 16;
    static constexpr std::size_t large_points = 256;

    /// The largest of every `size` values in turn.
    static void raise(const std::vector<double>& values, std::size_t size,
                      std::vector<double>& tops) {
        tops.resize((values.size() + size - 1) / size);
        for (std::size_t block = 0; block < tops.size(); ++block) {
            const std::size_t end = std::min(values.size(), (block + 1) * size);
            double top = values[block * size];
            for (std::size_t i = block * size + 1; i < end; ++i) {
                top = values[i] > top ? values[i] : top;
            }
            tops[block] = top;
        }
    }

    std::vector<double> height_m_, small_, large_;
};

} // namespace earshot::coverage
