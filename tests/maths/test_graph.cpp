#include "maths/graph.hpp"

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/biconnected_components.hpp>
#include <boost/graph/breadth_first_search.hpp>
#include <boost/graph/bron_kerbosch_all_cliques.hpp>
#include <boost/graph/connected_components.hpp>
#include <boost/graph/undirected_graph.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <functional>
#include <iterator>
#include <limits>
#include <random>
#include <set>

namespace earshot::maths {
namespace {

// Boost.Graph 1.74 is the reference for all of this file's random graphs.
using BoostGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS>;

struct RandomGraph {
    Neighbours ours;
    BoostGraph theirs;
};

RandomGraph random_graph(std::size_t nodes, double density, std::mt19937& random) {
    RandomGraph graph{Neighbours(nodes), BoostGraph(nodes)};
    std::uniform_real_distribution<double> share(0.0, 1.0);
    for (std::size_t a = 0; a < nodes; ++a) {
        for (std::size_t b = a + 1; b < nodes; ++b) {
            if (share(random) < density) {
                graph.ours[a].push_back(b);
                graph.ours[b].push_back(a);
                boost::add_edge(a, b, graph.theirs);
            }
        }
    }
    for (Nodes& neighbours : graph.ours) {
        std::ranges::sort(neighbours);
    }
    return graph;
}

/// Calls a check on graphs of all sizes and densities.
void with_random_graphs(const std::function<void(const RandomGraph&)>& check) {
    std::mt19937 random(20240519);
    for (std::size_t nodes = 1; nodes <= 16; ++nodes) {
        for (const double density : {0.0, 0.1, 0.2, 0.35, 0.6, 0.9, 1.0}) {
            for (int repeat = 0; repeat < 4; ++repeat) {
                check(random_graph(nodes, density, random));
            }
        }
    }
}

struct CollectGroups {
    std::set<Nodes>* groups;
    template <typename Clique, typename Graph>
    void clique(const Clique& clique, const Graph& graph) {
        Nodes nodes;
        for (const auto node : clique) {
            nodes.push_back(boost::get(boost::vertex_index, graph, node));
        }
        std::ranges::sort(nodes);
        groups->insert(nodes);
    }
};

} // namespace

TEST_CASE("groups that all hear one another are Boost's maximal cliques") {
    with_random_graphs([](const RandomGraph& graph) {
        std::set<Nodes> expected;
        boost::bron_kerbosch_all_cliques(graph.theirs, CollectGroups{&expected}, 1);
        const Groups found = full_groups(graph.ours, 100000);
        CHECK(found.complete);
        const std::set<Nodes> groups(found.groups.begin(), found.groups.end());
        CHECK(groups == expected);
        CHECK(groups.size() == found.groups.size());
        CHECK(std::ranges::is_sorted(found.groups, std::greater<>(), &Nodes::size));
    });
}

TEST_CASE("the search for groups stops at its limit") {
    // J. Moon and L. Moser, "On cliques in graphs", Israel J. Math. 3 (1965): the complement of n/3
    // triangles has the most maximal cliques there can be, 3^(n/3). Here 3^4 = 81.
    Neighbours graph(12);
    for (std::size_t a = 0; a < 12; ++a) {
        for (std::size_t b = 0; b < 12; ++b) {
            if (a / 3 != b / 3) {
                graph[a].push_back(b);
            }
        }
    }
    CHECK(full_groups(graph, 1000).groups.size() == 81);
    CHECK(full_groups(graph, 81).complete);
    const Groups some = full_groups(graph, 80);
    CHECK(some.groups.size() == 80);
    CHECK_FALSE(some.complete);
    CHECK(full_groups({}, 10).groups.empty());
}

TEST_CASE("stations whose loss splits the net are Boost's articulation points") {
    with_random_graphs([](const RandomGraph& graph) {
        std::vector<std::size_t> expected;
        boost::articulation_points(graph.theirs, std::back_inserter(expected));
        std::ranges::sort(expected);
        CHECK(splitting_nodes(graph.ours) == expected);
    });
}

TEST_CASE("parts of the net are Boost's connected components") {
    with_random_graphs([](const RandomGraph& graph) {
        std::vector<std::size_t> part_of(graph.ours.size());
        const std::size_t count = boost::connected_components(graph.theirs, part_of.data());
        const std::vector<Nodes> parts = connected_parts(graph.ours);
        CHECK(parts.size() == count);
        std::size_t nodes = 0;
        for (const Nodes& part : parts) {
            nodes += part.size();
            for (const std::size_t node : part) {
                CHECK(part_of[node] == part_of[part.front()]);
            }
        }
        CHECK(nodes == graph.ours.size());
    });
}

TEST_CASE("ways have Boost's fewest hops, and of those the strongest weakest hop") {
    with_random_graphs([](const RandomGraph& graph) {
        const std::size_t nodes = graph.ours.size();
        const auto strength = [](std::size_t a, std::size_t b) {
            return static_cast<double>((std::min(a, b) * 7 + std::max(a, b) * 13) % 23);
        };
        std::vector<std::size_t> hops(nodes, 0);
        boost::breadth_first_search(graph.theirs, 0,
                                    boost::visitor(boost::make_bfs_visitor(boost::record_distances(
                                        hops.data(), boost::on_tree_edge()))));
        const auto ways = shortest_ways(graph.ours, 0, strength);
        // All ways with the fewest hops, one after the other: the reference for the weakest hop.
        const std::function<double(std::size_t)> best = [&](std::size_t to) {
            if (to == 0) {
                return std::numeric_limits<double>::infinity();
            }
            double strongest = -1.0;
            for (const std::size_t before : graph.ours[to]) {
                if (hops[before] + 1 == hops[to] && (before == 0 || hops[before] > 0)) {
                    strongest = std::max(strongest, std::min(best(before), strength(before, to)));
                }
            }
            return strongest;
        };
        CHECK(ways[0] == std::vector<std::size_t>{0});
        for (std::size_t to = 1; to < nodes; ++to) {
            if (hops[to] == 0) {
                CHECK(ways[to].empty());
                continue;
            }
            REQUIRE(ways[to].size() == hops[to] + 1);
            CHECK(ways[to].front() == 0);
            CHECK(ways[to].back() == to);
            double weakest = std::numeric_limits<double>::infinity();
            for (std::size_t i = 0; i + 1 < ways[to].size(); ++i) {
                CHECK(std::ranges::binary_search(graph.ours[ways[to][i]], ways[to][i + 1]));
                weakest = std::min(weakest, strength(ways[to][i], ways[to][i + 1]));
            }
            CHECK(weakest == best(to));
        }
    });
}

} // namespace earshot::maths
