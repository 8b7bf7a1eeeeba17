#include "maths/graph.hpp"

#include <algorithm>
#include <iterator>
#include <limits>
#include <numeric>

namespace earshot::maths {
namespace {

Nodes common(const Nodes& a, const Nodes& b) {
    Nodes both;
    std::set_intersection(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(both));
    return both;
}

void largest_first(std::vector<Nodes>& groups) {
    std::sort(groups.begin(), groups.end(), [](const Nodes& a, const Nodes& b) {
        return a.size() != b.size() ? a.size() > b.size() : a < b;
    });
}

class GroupSearch {
public:
    GroupSearch(const Neighbours& graph, std::size_t limit) : graph_(graph), limit_(limit) {}

    Groups run() && {
        Nodes all(graph_.size());
        std::iota(all.begin(), all.end(), std::size_t{0});
        extend(std::move(all), {});
        largest_first(found_.groups);
        return std::move(found_);
    }

private:
    /// Adds to the group at hand, in all ways, nodes of `candidates`. All of these and of `done`
    /// are neighbours of the whole group; groups with one of `done` were found before.
    void extend(Nodes candidates, Nodes done) {
        if (candidates.empty() && done.empty()) {
            if (graph_.empty()) {
                return;
            }
            if (found_.groups.size() == limit_) {
                found_.complete = false;
                return;
            }
            found_.groups.push_back(group_);
            std::sort(found_.groups.back().begin(), found_.groups.back().end());
            return;
        }
        // A group without the pivot holds a node that is not its neighbour, or it could grow.
        Nodes branches;
        const Nodes& near = graph_[pivot(candidates, done)];
        std::set_difference(candidates.begin(), candidates.end(), near.begin(), near.end(),
                            std::back_inserter(branches));
        for (const std::size_t node : branches) {
            if (!found_.complete) {
                return;
            }
            group_.push_back(node);
            extend(common(candidates, graph_[node]), common(done, graph_[node]));
            group_.pop_back();
            candidates.erase(std::lower_bound(candidates.begin(), candidates.end(), node));
            done.insert(std::upper_bound(done.begin(), done.end(), node), node);
        }
    }

    /// The node with most neighbours among the candidates: it leaves fewest branches.
    [[nodiscard]] std::size_t pivot(const Nodes& candidates, const Nodes& done) const {
        std::size_t best = 0;
        std::size_t most = 0;
        bool first = true;
        for (const Nodes* nodes : {&candidates, &done}) {
            for (const std::size_t node : *nodes) {
                const std::size_t count = common(candidates, graph_[node]).size();
                if (first || count > most) {
                    first = false;
                    best = node;
                    most = count;
                }
            }
        }
        return best;
    }

    const Neighbours& graph_;
    std::size_t limit_;
    Nodes group_;
    Groups found_;
};

} // namespace

Groups full_groups(const Neighbours& graph, std::size_t limit) {
    return GroupSearch(graph, limit).run();
}

std::vector<Nodes> connected_parts(const Neighbours& graph) {
    std::vector<Nodes> parts;
    std::vector<bool> seen(graph.size(), false);
    for (std::size_t start = 0; start < graph.size(); ++start) {
        if (seen[start]) {
            continue;
        }
        Nodes part{start};
        seen[start] = true;
        for (std::size_t i = 0; i < part.size(); ++i) {
            for (const std::size_t next : graph[part[i]]) {
                if (!seen[next]) {
                    seen[next] = true;
                    part.push_back(next);
                }
            }
        }
        std::sort(part.begin(), part.end());
        parts.push_back(std::move(part));
    }
    largest_first(parts);
    return parts;
}

Nodes splitting_nodes(const Neighbours& graph) {
    Nodes splitting;
    // A depth-first search numbers nodes in the order it meets them. The reach of a node is the
    // earliest node that it or any found through it touches.
    std::size_t count = 0;
    std::vector<std::size_t> met(graph.size(), 0);
    std::vector<std::size_t> reach(graph.size(), 0);
    const std::function<void(std::size_t, bool)> visit = [&](std::size_t node, bool first) {
        met[node] = reach[node] = ++count;
        std::size_t branches = 0;
        bool splits = false;
        for (const std::size_t next : graph[node]) {
            if (met[next] != 0) {
                reach[node] = std::min(reach[node], met[next]);
                continue;
            }
            ++branches;
            visit(next, false);
            reach[node] = std::min(reach[node], reach[next]);
            splits = splits || reach[next] >= met[node];
        }
        if (first ? branches > 1 : splits) {
            splitting.push_back(node);
        }
    };
    for (std::size_t node = 0; node < graph.size(); ++node) {
        if (met[node] == 0) {
            visit(node, true);
        }
    }
    std::sort(splitting.begin(), splitting.end());
    return splitting;
}

std::vector<std::vector<std::size_t>>
shortest_ways(const Neighbours& graph, std::size_t start,
              const std::function<double(std::size_t, std::size_t)>& strength) {
    constexpr std::size_t unmet = std::numeric_limits<std::size_t>::max();
    std::vector<std::size_t> hops(graph.size(), unmet);
    std::vector<std::size_t> previous(graph.size(), unmet);
    std::vector<double> weakest(graph.size(), -std::numeric_limits<double>::infinity());
    hops[start] = 0;
    weakest[start] = std::numeric_limits<double>::infinity();
    // In order of hops, so that the best way to a node is known before the way goes on from it.
    std::vector<std::size_t> order{start};
    for (std::size_t i = 0; i < order.size(); ++i) {
        const std::size_t node = order[i];
        for (const std::size_t next : graph[node]) {
            if (hops[next] == unmet) {
                hops[next] = hops[node] + 1;
                order.push_back(next);
            }
            const double along = std::min(weakest[node], strength(node, next));
            if (hops[next] == hops[node] + 1 &&
                (previous[next] == unmet || along > weakest[next])) {
                weakest[next] = along;
                previous[next] = node;
            }
        }
    }
    std::vector<std::vector<std::size_t>> ways(graph.size());
    for (const std::size_t node : order) {
        if (node != start) {
            ways[node] = ways[previous[node]];
        }
        ways[node].push_back(node);
    }
    return ways;
}

} // namespace earshot::maths
