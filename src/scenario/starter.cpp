#include "scenario/scenario.hpp"

namespace earshot::scenario {

std::string_view starter_scenario() {
    return R"(# A scenario for Earshot: who stands where, with what radio, over what ground.
# Lines that start with # are remarks. Units stand in the keys: _m metres, _ft feet, _w watts.
# docs/scenario-file.md lists everything that can be written here.

[net]
name = "Our net"
frequency_mhz = 146.52      # the simplex frequency, 30 to 6000
# noise = "residential"     # city, residential, rural (if left out), quiet-rural or none

[ground]
# Elevation: files in any common format, or folders of tiles, from the folder of this file.
elevation = "elevation.tif"
# cover_class = "open"      # one kind of cover everywhere, or cover = "worldcover.tif"

# What counts as being heard. Margin 0 dB is speech that can just be read.
[service]
margin_db = 0
time_percent = 50           # the loss is not exceeded for this share of the time (1 to 50)
places_percent = 50         # nor at this share of places around each station (1 to 99)

# One section for each kind of radio.
[[radios]]
name = "handheld"
power_w = 5
powers_w = [1, 5]           # all it can be set to; may be left out
sensitivity_uv = 0.35       # or threshold_dbm = -116
bandwidth_khz = 12.5

# Kinds of antenna of your own. These usual ones need no section: stock, quarter-wave,
# quarter-wave-counterpoise, ground-plane, half-wave, dipole, j-pole.
[[antennas]]
name = "roll-up"
gain_dbi = 1.5              # or gain_dbd
polarization = "vertical"

# One section for each station. Positions: 36.6012,-84.2034 or 36 36.07N 84 12.20W or UTM or MGRS.
[[stations]]
name = "Camp"
position = "36.6012, -84.2034"
antenna_height_ft = 20      # above the ground; or antenna_height_m
radio = "handheld"
antenna = "roll-up"
# person = "..."            # for the card: who is there,
# role = "..."              # what for,
# fallback = "School"       # and where they go if nobody hears them

[[stations]]
name = "Walker"
position = "36 38.00N 84 08.00W"
antenna_height_m = 1.5
radio = "handheld"
antenna = "stock"
carried = "face"            # clear, face, chest or hip; or body_loss_db

# Who is to be reached at places and on maps.
[listener]
antenna_height_m = 1.5
radio = "handheld"
antenna = "stock"
carried = "face"

# Places to be heard at, with how many people each stands for. More can come from a file of places,
# GeoJSON, GPX, KML or CSV: put   places_file = "places.csv"   above [net].
[[places]]
name = "School"
position = "36.6250, -84.1800"
people = 120

# How losses are predicted. Left out, it is short-range: Recommendation ITU-R P.1812
# for small radios near the ground.
# [method]
# name = "short-range"

# The plan of channels, for the cards.
[[channels]]
name = "Talk"
frequency_mhz = 146.52
use = "all calls"           # and tone_hz = 100.0 for a sub-audible tone
power = "low first, full if not heard"

# What earshot brief shows besides the map.
[briefing]
title = "Field day of our net"
date = "the first Saturday in June"
# prepared_by = "..."
# declination_deg = -5.5    # how far east of true north a compass points; west is negative
range_km = 12               # how far from each station to map
paths = [["Camp", "Walker"], ["Camp", "School"]]
ladder = ["Walker", "Camp"] # what would help Walker to reach Camp
)";
}

} // namespace earshot::scenario
