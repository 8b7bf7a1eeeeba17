#pragma once

#include <cstddef>
#include <functional>
#include <vector>

/// Who can pass a message to whom when stations relay for one another.

namespace earshot::maths {

/// An undirected graph: the neighbours of each node, without the node itself, in rising order.
/// Whoever is a neighbour has the other as one.
using Neighbours = std::vector<std::vector<std::size_t>>;
/// Nodes in rising order.
using Nodes = std::vector<std::size_t>;

struct Groups {
    std::vector<Nodes> groups; ///< the largest first, then by their nodes
    bool complete = true;      ///< false if there are more than were asked for
};

/// The largest groups in which all are neighbours of all, each not part of a larger one (maximal
/// cliques), one node alone included. C. Bron and J. Kerbosch, "Algorithm 457: finding all cliques
/// of an undirected graph", Comm. ACM 16 (1973), with the pivot of E. Tomita, A. Tanaka and H.
/// Takahashi, Theor. Comp. Sci. 363 (2006). There may be 3^(n/3) of them: it stops after `limit`.
[[nodiscard]] Groups full_groups(const Neighbours& graph, std::size_t limit);

/// The parts of the graph that no way connects; the largest first, then by their nodes.
[[nodiscard]] std::vector<Nodes> connected_parts(const Neighbours& graph);

/// Nodes without which their part of the graph falls apart (articulation points): J. Hopcroft and
/// R. Tarjan, "Algorithm 447: efficient algorithms for graph manipulation", Comm. ACM 16 (1973).
[[nodiscard]] Nodes splitting_nodes(const Neighbours& graph);

/// The way to every node with the fewest hops, both ends included; empty if there is none, only
/// the node itself for the start. Of several ways with equally few hops it is the one whose weakest
/// hop has the largest `strength`, which must be the same both ways.
[[nodiscard]] std::vector<std::vector<std::size_t>>
shortest_ways(const Neighbours& graph, std::size_t start,
              const std::function<double(std::size_t, std::size_t)>& strength);

} // namespace earshot::maths
