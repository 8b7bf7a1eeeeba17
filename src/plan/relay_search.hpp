#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/map_grid.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "link/receiver_noise.hpp"
#include "maths/cover.hpp"
#include "plan/candidates.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Where relays should stand to serve places or an area.

namespace earshot::plan {

/// The margin that a contact would have, the weaker way, if the path lost nothing, dB.
[[nodiscard]] double margin_without_path_db(const link::Radio& a, const link::Radio& b);

/// A place to be served.
struct ServedPlace {
    link::Station station;
    double weight = 1.0;                  ///< how much it counts, > 0
    std::optional<link::Radio> talking{}; ///< to a repeater, on the frequency that it takes in
};

/// The other side of a relay that is a repeater: what it takes in, and with what.
struct TakenIn {
    propagation::Conditions conditions;
    link::Radio relay;
};

struct RelayQuestion : link::Setting {
    link::Station relay; ///< radio and antenna height of every relay; the rest is unused
    /// Of repeaters, which give out under the conditions of the setting with the radio of `relay`.
    /// Places need a radio for `talking` then. Not for areas, nor for linked relays.
    std::optional<TakenIn> taken_in{};
    double wanted_margin_db = 0.0;   ///< both ways, for a place to count as served
    double backbone_margin_db = 0.0; ///< both ways, for relays (and bases) to count as linked
    std::size_t sites = 1;           ///< how many relays at most, 1 to 1000
    bool fewest = false;             ///< instead: all that can be served, with the fewest relays
    /// The relays must be linked: each to one of `bases`, through others or directly, or among
    /// themselves if there are no bases.
    bool connected = false;
    std::vector<link::Station> bases;
    double range_m = 30000.0; ///< of a relay, when an area is to be served; > 0
    std::size_t ranking = 10; ///< single candidates to list
    double apart_m = 1000.0;  ///< between those listed, so that not all stand on one summit
    maths::CoverLimits limits;
};

/// What keeps a place and a relay from hearing each other well enough.
enum class MissCause {
    radios,         ///< they cannot do so even side by side
    unknown_ground, ///< between them
    blocked,        ///< ground stands in the line
    grazing,        ///< the line passes close over the ground
    distance,
};

struct Miss {
    MissCause cause = MissCause::distance;
    bool relay_heard = false;  ///< at the place, as well as wanted
    bool place_heard = false;  ///< at the relay
    double ground_at_m = 0.0;  ///< from the relay to the ground that is most in the way
    double above_line_m = 0.0; ///< how far that stands above the line; negative below it
    double short_db = 0.0;     ///< of the wanted margin, the weaker way
    double distance_m = 0.0;
    /// If the person there wears the radio on the body: where, and whether holding it at the face
    /// would be enough.
    std::optional<link::HeldAtFace> worn;
    bool held_is_enough = false;
};

/// Whether and why a place hears a relay.
struct PlaceService {
    std::size_t place = 0;     ///< index into the places
    link::PathMargins margins; ///< out: the relay is heard at the place
    std::optional<Miss> miss;  ///< if it is not served
    bool try_first = false;    ///< link::try_first(), by the weaker way
};

/// Of those that a relay serves, the one with the least margin.
struct WeakestLink {
    std::size_t place = 0; ///< index into the places
    double margin_db = 0.0;
    double chance_percent = 0.0; ///< of the weaker way
};

/// A link of the backbone.
struct BackboneLink {
    std::string with; ///< name of a base or of another relay
    link::PathMargins margins;
    bool try_first = false; ///< as of a place
};

struct RelaySite {
    link::Station station; ///< named "relay 1", ... or as the user's list names it
    Candidate candidate;
    double alone = 0.0; ///< weight it serves
    double added = 0.0; ///< of which the sites before it do not
    std::size_t places_served = 0;
    std::vector<PlaceService> services; ///< one for each place; none if an area was asked for
    std::optional<WeakestLink> weakest; ///< of the places served
    /// In which direction most of the area lies that it misses, to the nearest eighth of a turn.
    std::optional<double> missed_bearing_deg;
    /// Of an area: the share of what the site serves that is to be tested first
    /// (link::try_first()).
    std::optional<double> share_to_try;
    std::vector<BackboneLink> links;
};

/// A single candidate, for a list of alternatives.
struct RankedCandidate {
    std::size_t candidate = 0; ///< index into the candidates
    double weight = 0.0;
    std::size_t served = 0;             ///< places, or cells of the area
    std::vector<PlaceService> services; ///< as of a chosen site
    std::optional<WeakestLink> weakest;
};

/// What weights are of.
enum class ServedUnit { places, km2, people };

struct RelayAnswer {
    std::vector<RelaySite> sites; ///< the one that adds the most first
    double served = 0.0;          ///< weight
    double total = 0.0;
    ServedUnit unit = ServedUnit::places;
    std::size_t places_served = 0; ///< or cells of the area
    std::size_t places = 0;
    maths::CoverAnswer cover;             ///< indices into the candidates
    std::vector<RankedCandidate> ranking; ///< the one that serves the most first
    std::size_t candidates = 0;
    std::size_t evaluated = 0; ///< of them; fewer if the user stopped the search
    bool stopped = false;      ///< by the user: the answer is the best so far
    /// If the candidates were sifted on coarse cells first: how wide those are, and how many
    /// candidates went on to the fine ones. None did if the user stopped it before.
    std::optional<double> sifted_on_m;
    std::size_t sifted_to = 0;
    /// If the caller asked of the most prominent candidates only, since the user stopped the search
    /// at its start: of how many.
    std::optional<std::size_t> prominent_of;
};

/// Finds the best sites for relays among candidates: both ways, relay to place and place to relay.
/// The search itself predicts one path for each candidate and place; the sites it settles on are
/// explained from link::two_way_path(). Stops early with the best so far once task.stop_requested()
/// is true (`stopped`), or throws Error(Fault::stopped) if nothing was evaluated by then.
///
/// Throws Error(Fault::usage) for a value out of range, and Error(Fault::input) if there are
/// no places or candidates, or a station is off the ground or in a void of it.
[[nodiscard]] RelayAnswer search_relays(std::span<const Candidate> candidates,
                                        std::span<const ServedPlace> places,
                                        const RelayQuestion& question, Task& task = silent_task());

/// An area to be served, cell by cell.
struct ServiceArea {
    coverage::MapGrid map;
    std::vector<double> weight; ///< of each cell; 0 where there is nothing to serve
    link::Station person;       ///< radio and antenna height of the people there
    ServedUnit unit = ServedUnit::km2;
};

/// The cells of a map within polygons. A cell of the map is `cells_per_side` cells of the ground
/// wide. Every cell weighs its area in km2, or, with `people`, the sum of the values of the raster
/// whose cell centres fall in it (NaN and negative values are skipped). Throws Error(Fault::
/// input) if no cell or no weight lies within, Error(Fault::usage) for `cells_per_side` < 1.
[[nodiscard]] ServiceArea service_area(const terrain::HeightGrid& ground,
                                       const terrain::Shapes& area, int cells_per_side,
                                       const terrain::HeightGrid* people, link::Station person,
                                       const Task& task = silent_task());

/// The same search for an area. Every candidate is swept by the carried engine over the area's
/// map, or by the exact one, slowly, where there is cover. The loss of the way out is taken for the
/// way back too. Memory: one bit for each
/// candidate and each cell with weight; throws Error(Fault::memory) if that is not free.
[[nodiscard]] RelayAnswer search_relays(std::span<const Candidate> candidates,
                                        const ServiceArea& area, const RelayQuestion& question,
                                        Task& task = silent_task());

/// The same search for many candidates, in two stages: all of them on `coarse`, then those `listed`
/// that are most promising there on `fine` (of the same area and person): the best choice, the best
/// choice without it, and so on. Relays that must be linked are searched on `fine` at once, for a
/// link may be worth more than it covers. Stopped in the first stage, the answer is that of
/// `coarse`.
[[nodiscard]] RelayAnswer search_relays_in_stages(std::span<const Candidate> candidates,
                                                  const ServiceArea& coarse,
                                                  const ServiceArea& fine,
                                                  const RelayQuestion& question, std::size_t listed,
                                                  Task& task = silent_task());

/// Why a place and a relay do not hear each other well enough.
[[nodiscard]] Miss miss_between(const link::Station& relay, const ServedPlace& place,
                                const RelayQuestion& question);

} // namespace earshot::plan
