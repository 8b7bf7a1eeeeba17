#include "geo/compass.hpp"

#include "earshot/geo/geodesic.hpp"

#include <array>
#include <cstddef>

namespace earshot::geo {

std::string_view compass_word(double bearing_deg) {
    constexpr std::array<std::string_view, 8> words{"north", "north-east", "east", "south-east",
                                                    "south", "south-west", "west", "north-west"};
    const double turned = normalize_bearing_deg(bearing_deg + 22.5);
    return words[static_cast<std::size_t>(turned / 45.0) % words.size()];
}

} // namespace earshot::geo
