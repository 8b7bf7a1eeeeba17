#pragma once

#include "earshot/geo/geodesic.hpp"

#include <optional>
#include <string>
#include <string_view>

/// Positions as people write them. The promise: what cannot be read in one way only is refused.
///
///     const geo::LatLon ridge = geo::parse_position("36 36.07N 84 12.2W");
///     const std::string on_the_map = geo::format_utm(ridge); // "16S 750123 4054321"

namespace earshot::geo {

/// Reads a position on WGS 84 written in any of these ways (case and extra spaces do not matter):
///   decimal degrees        36.6012,-84.2034   36.6012N 84.2034W   N36.6012 W84.2034
///   degrees and minutes    36 36.07N 84 12.2W   36°36.07'N, 84°12.2'W   36 36.07, -84 12.2
///   degrees, minutes, sec. 36 36 04.3N 84 12 12.2W   36°36'04.3"N 84°12'12.2"W
///   UTM                    16S 750123 4054321   16 north 750123 4054321
///   MGRS                   16SGF 50123 54321   16SGF5012354321
///   locator                EM76vo   EM76vo17
///
/// Angles. With hemisphere letters (N, S, E, W or the words) either order is accepted, and both
/// letters stand before their numbers or both after. Without letters latitude comes first and signs
/// tell the hemisphere; a comma or degree signs are then needed to tell the angles apart, unless
/// each is one number. The sign of the degrees holds for the minutes and seconds too. Decimals take
/// a point. Right and typewriter signs for degrees, minutes and seconds are read alike.
///
/// UTM. A zone, a letter or word, easting and northing in metres (a trailing m, mE or mN does not
/// matter). A single letter is always the latitude band, C to X without I and O, never the
/// hemisphere: 16S is the band from 32 to 40 N. It has to agree with the northing, except that N,
/// band and hemisphere at once, takes any northing of the northern hemisphere. The words "north"
/// and "south" name the hemisphere. Beware that southern positions from about 50 to 58 S written
/// with an S for "south" have northings that fit band S, and are read as that.
///
/// MGRS. Two to five digits each of easting and northing; the result is the centre of the square.
/// The squares of the polar regions (A, B, Y, Z) are read too. The zone with its letter may be left
/// out where `near` tells it: the square of that name that is nearest to it is meant.
///
/// Locator. The Maidenhead locator as IARU Region 1 defines it (VHF Handbook, "locator system";
/// from memory): pairs of letters and digits in turn, six to ten of them; the result is the centre.
/// Six make a square of 5 by 2.5 minutes, a few kilometres across: see coarseness().
///
/// Throws Error(Fault::usage) with the offending text, the reason and examples; a latitude
/// beyond 90 or longitude beyond 180 degrees, minutes or seconds of 60 or more, both letters of one
/// axis, a sign together with a letter, UTM poleward of 80 S or 84 N, and an ambiguous form are
/// refused.
[[nodiscard]] LatLon parse_position(std::string_view text,
                                    std::optional<LatLon> near = std::nullopt);
/// What to tell of a position that was read from this text: that it stands for a square of more
/// than 500 m, whose centre was taken. Empty for any other.
[[nodiscard]] std::string coarseness(std::string_view text);

/// "36.60120, -84.20340", with `decimals` from 0 to 15 decimals.
[[nodiscard]] std::string format_decimal(LatLon position, int decimals = 5);
/// "36°36'04.3"N 84°12'12.2"W"
[[nodiscard]] std::string format_dms(LatLon position);
/// "16S 750123 4054321": zone and MGRS latitude band, easting and northing to the nearest metre.
/// Throws Error(Fault::usage) where UTM is not defined, as utm_epsg does.
[[nodiscard]] std::string format_utm(LatLon position);
/// "16SGF5012354321": the 1 m square that holds the position, as MGRS cuts digits off and does not
/// round. Near the poles, the square of the polar grid.
[[nodiscard]] std::string format_mgrs(LatLon position);

/// UTM zone (1 to 60) that a map centred here should use, with the standard's exceptions for
/// Norway and Svalbard. Poleward of the limits of UTM, the zone that would continue there.
[[nodiscard]] int utm_zone(LatLon position);
/// EPSG code of WGS 84 / UTM for that zone and hemisphere. Throws Error(Fault::usage) at and
/// poleward of 84 N and poleward of 80 S, where UTM is not defined.
[[nodiscard]] int utm_epsg(LatLon position);

} // namespace earshot::geo
