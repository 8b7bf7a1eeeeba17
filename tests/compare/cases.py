"""What is compared: the ground, and the questions put to the program about it.

The questions follow from a seed alone, so that they are the same on every machine. Each runs in one
folder that holds the ground of make_ground(). A case is a name, the program's arguments, and the
files it writes.
"""

import dataclasses
import random
import subprocess

import numpy
from osgeo import gdal, osr

gdal.UseExceptions()

SAMPLE = "cumberland.tif"
VALLEY = "valley.tif"
COVER = "valley-cover.tif"


@dataclasses.dataclass(frozen=True)
class Case:
    name: str
    arguments: tuple
    files: tuple = ()  # written besides what is printed
    tags: frozenset = frozenset()  # "percent": not half of times and places; "cover": under it


def write_raster(path, values, like, no_data=None, kind=gdal.GDT_Float32):
    rows, columns = values.shape
    out = gdal.GetDriverByName("GTiff").Create(str(path), columns, rows, 1, kind)
    out.SetGeoTransform(like.GetGeoTransform())
    out.SetSpatialRef(like.GetSpatialRef())
    if no_data is not None:
        out.GetRasterBand(1).SetNoDataValue(no_data)
    out.GetRasterBand(1).WriteArray(values)


def make_ground(folder, generate, sources):
    """Puts the ground into `folder`: the sample, the invented valley and what is made of it."""
    (folder / SAMPLE).symlink_to(sources / "dem-samples/cumberland_3arcsec.tif")
    for name in ("valley-places.csv", "valley-log.csv"):
        (folder / name).symlink_to(sources / "dem-samples" / name)
    for kind, name in (("valley", VALLEY), ("valley-cover", COVER)):
        subprocess.run([generate, kind, folder / name, "--cell-m", "120"], check=True)
    valley = gdal.Open(str(folder / VALLEY))
    heights = valley.ReadAsArray().astype("float32")

    holes = heights.copy()
    holes[100:112, 60:75] = -9999.0
    holes[40, 90:110] = -9999.0
    write_raster(folder / "holes.tif", holes, valley, -9999.0)

    zones = numpy.full(heights.shape, 4, "uint8")
    zones[:, :110] = 1
    zones[:, 110:150] = 3
    write_raster(folder / "zones.tif", zones, valley, kind=gdal.GDT_Byte)

    feet = numpy.round(heights / 0.3048)
    write_raster(folder / "feet.tif", feet, valley)

    north = gdal.GetDriverByName("GTiff").Create(
        str(folder / "north.tif"), heights.shape[1], heights.shape[0], 1, gdal.GDT_Float32)
    north.SetGeoTransform((-150.3, 0.0022, 0.0, 64.3, 0.0, -0.0011))
    degrees = osr.SpatialReference()
    degrees.ImportFromEPSG(4326)
    north.SetSpatialRef(degrees)
    north.GetRasterBand(1).WriteArray(heights)
    north = None

    text = (sources / "dem-samples/valley-scenario.toml").read_text()
    (folder / "valley-net.toml").write_text(text)
    for name, net in NETS.items():
        (folder / f"{name}.toml").write_text(net)


# --- where stations stand ---------------------------------------------------------------------

def position(lat, lon):
    return f"{lat:.6f},{lon:.6f}"


class Places:
    """Random positions on a ground, from a seed."""

    def __init__(self, seed, lat, lon):
        self.random = random.Random(seed)
        self.lat = lat
        self.lon = lon

    def number(self, low, high):
        return low + (high - low) * self.random.random()

    def one(self):
        return position(self.number(*self.lat), self.number(*self.lon))


def on_sample(seed):
    return Places(seed, (36.47, 36.71), (-84.39, -84.10))


def on_valley(seed):
    return Places(seed, (35.40, 35.61), (16.78, 17.12))


RADIO = ("--antenna-height", "6m", "--power", "5W")

# What is said about the prediction, by name.
CONDITIONS = {
    "plain": (("--frequency", "146MHz"), ()),
    "uhf": (("--frequency", "446.1MHz"), ()),
    "seldom": (("--frequency", "146MHz", "--time", "10%", "--places", "90%"), ("percent",)),
    "uhf-rare": (("--frequency", "446.1MHz", "--time", "1%", "--places", "50%"), ("percent",)),
    "woodland": (("--frequency", "146MHz", "--cover-everywhere", "woodland"), ("cover",)),
    "woodland-seldom": (("--frequency", "446.1MHz", "--cover-everywhere", "woodland", "--time",
                         "10%", "--places", "90%"), ("percent", "cover")),
    "suburban": (("--frequency", "446.1MHz", "--cover-everywhere", "suburban", "--indoors",
                  "traditional"), ("cover",)),
    "noise": (("--frequency", "52MHz", "--noise", "residential", "--polarization", "horizontal",
               "--channel", "wide", "--quality", "rare-repetition"), ()),
    "air": (("--frequency", "146MHz", "--delta-n", "70", "--n0", "350", "--prediction-deviation",
             "5dB"), ()),
}
METHODS = ("free-space", "single-edge", "bullington", "bullington-p526", "epstein-peterson",
           "deygout", "deygout-p526", "cascaded-p526")


# --- maps -------------------------------------------------------------------------------------

ONE = "margin,chance,loss,received,sight"
SEVERAL = "margin,chance,readability,heard,serving"


def maps():
    def case(name, ground, sites, words, tags=(), bands=ONE):
        arguments = ["map", "--json", "--terrain", ground, "--bands", bands, "--out", "map.tif"]
        for site in sites:
            arguments += ["--at", site]
        return Case(f"map {name}", (*arguments, *RADIO, *words), ("map.tif",), frozenset(tags))

    ridge = "36.5792,-84.2108"
    mill = "35.489252,16.919453"
    far = ("--grid", "utm", "--cell", "450m", "--range", "13km")
    near = ("--range", "3km")
    for name in ("plain", "uhf", "seldom", "woodland"):
        words, tags = CONDITIONS[name]
        for engine in ("carried", "exact"):
            yield case(f"sample {name} {engine}", SAMPLE, [ridge],
                       (*words, *far, "--engine", engine), tags)
    for name in ("plain", "uhf-rare", "suburban", "noise", "air"):
        words, tags = CONDITIONS[name]
        yield case(f"valley {name}", VALLEY, [mill], (*words, *near), tags)
    for engine in ("carried", "exact"):
        for name in ("plain", "seldom"):
            words, tags = CONDITIONS[name]
            yield case(f"valley {name} with cover {engine}", VALLEY, [mill],
                       (*words, *near, "--cover", COVER, "--engine", engine), (*tags, "cover"))
    plain = CONDITIONS["plain"][0]
    yield case("sample near, cells of the elevation", SAMPLE, [ridge], (*plain, *near))
    yield case("sample preview", SAMPLE, [ridge], (*plain, *far, "--preview"))
    yield case("sample coarse steps", SAMPLE, [ridge],
               (*plain, *far, "--step", "250m", "--receiver-antenna-height", "10m"))
    yield case("valley with voids", "holes.tif", [mill], (*plain, *near))
    yield case("valley with zones", VALLEY, [mill], (*plain, *near, "--zones", "zones.tif"))
    yield case("valley in feet", "feet.tif", [mill], (*plain, *near, "--height-unit", "us-ft"))
    yield case("far north", "north.tif", ["64.2,-150.1"], (*plain, "--range", "3km"))
    several = [ridge, "36.60,-84.20", "36.65,-84.30"]
    for name in ("plain", "seldom"):
        words, tags = CONDITIONS[name]
        yield case(f"sample {name}, three stations", SAMPLE, several,
                   (*words, "--grid", "utm", "--cell", "600m", "--range", "10km"), tags, SEVERAL)
    for method in METHODS:
        yield case(f"sample {method}", SAMPLE, [ridge],
                   (*plain, "--method", method, "--grid", "utm", "--cell", "900m", "--range",
                    "13km"))
    for correction in ("none", "correction.toml"):
        yield Case(f"map of a scenario, correction {correction}",
                   ("map", "--json", "--scenario", "valley-net.toml", "--cover", COVER,
                    "--correction", correction, "--at", "Ombrel Mill", "--range", "3km",
                    "--bands", ONE, "--out", "map.tif"), ("map.tif",), frozenset({"cover"}))


# --- paths ------------------------------------------------------------------------------------

def paths():
    radios = ("--from-antenna-height", "6m", "--to-antenna-height", "1.5m", "--from-power", "25W",
              "--to-power", "2W", "--to-gain=-3dBi", "--to-carried", "hip", "--from-feeder-loss",
              "1.5dB")
    for where, ground, places in (("sample", SAMPLE, on_sample(11)),
                                  ("valley", VALLEY, on_valley(12))):
        for name, (words, tags) in CONDITIONS.items():
            for count in range(3):
                yield Case(f"path {where} {name} {count + 1}",
                           ("path", "--json", "--terrain", ground, "--from", places.one(), "--to",
                            places.one(), *radios, *words), (), frozenset(tags))
        for method in METHODS:
            yield Case(f"path {where} {method}",
                       ("path", "--json", "--terrain", ground, "--from", places.one(), "--to",
                        places.one(), *radios, "--frequency", "146MHz", "--method", method))
    places = on_valley(13)
    for name in ("plain", "seldom"):
        words, tags = CONDITIONS[name]
        for count in range(3):
            yield Case(f"path valley {name} with cover {count + 1}",
                       ("path", "--json", "--explain", "--terrain", VALLEY, "--cover", COVER,
                        "--zones", "zones.tif", "--from", places.one(), "--to", places.one(),
                        *radios, *words), (), frozenset((*tags, "cover")))
    yield Case("path near, in words",
               ("path", "--terrain", SAMPLE, "--from", "36.60,-84.20", "--to", "36.68,-84.10",
                "--frequency", "146MHz", "--explain", "--profile", "profile.csv"),
               ("profile.csv",))
    yield Case("path of a scenario, corrected",
               ("path", "--json", "--scenario", "valley-net.toml", "--cover", COVER,
                "--correction", "correction.toml", "--from", "Ombrel Mill", "--to", "Quorrel"))


# --- nets -------------------------------------------------------------------------------------

def net_toml(title, ground, places, stations, keys, method, mhz):
    text = [f'[net]\nname = "{title}"\nfrequency_mhz = {mhz}\nnoise = "rural"\n',
            f"[service]\nmargin_db = 3\n{keys}\n", f"[ground]\n{ground}\n", f"[method]\n{method}\n"]
    radios = (("low", 2, 0.0), ("handheld", 5, 0.0), ("base", 50, 1.5))
    for name, power_w, feeder_db in radios:
        text.append(f'[[radios]]\nname = "{name}"\npower_w = {power_w}\nsensitivity_uv = 0.25\n'
                    f"bandwidth_khz = 12.5\nfeeder_loss_db = {feeder_db}\n")
    for k in range(stations):
        radio = radios[int(places.number(0, 3))][0]
        antenna = ("stock", "half-wave", "j-pole")[int(places.number(0, 3))]
        height_m = round(places.number(1.2, 9.0), 1)
        text.append(f'[[stations]]\nname = "S{k + 1}"\nposition = "{places.one()}"\n'
                    f'antenna_height_m = {height_m}\nradio = "{radio}"\nantenna = "{antenna}"\n')
    return "\n".join(text)


NETS = {
    "net-sample": net_toml("Sample", f'elevation = "{SAMPLE}"', on_sample(21), 14, "", "", 146.52),
    "net-sample-seldom": net_toml("Sample, seldom", f'elevation = "{SAMPLE}"', on_sample(22), 14,
                                  "time_percent = 10\nplaces_percent = 90", "", 446.1),
    "net-valley": net_toml("Valley", f'elevation = "{VALLEY}"\ncover = "{COVER}"', on_valley(23),
                           14, "time_percent = 30\nplaces_percent = 70", "", 146.52),
    "net-woods": net_toml("Woods", f'elevation = "{VALLEY}"\ncover_class = "woodland"',
                          on_valley(24), 12, "", "", 446.1),
    "net-deygout": net_toml("Deygout", f'elevation = "{SAMPLE}"', on_sample(25), 12, "",
                            'name = "deygout"', 146.52),
}


def nets():
    for name in NETS:
        yield Case(f"net {name}", ("net", "--json", "--scenario", f"{name}.toml"))
    yield Case("net in words", ("net", "--scenario", "valley-net.toml", "--csv", "net.csv",
                                "--geojson", "net.geojson"), ("net.csv", "net.geojson"))
    yield Case("net corrected", ("net", "--json", "--scenario", "valley-net.toml", "--correction",
                                 "correction.toml"))


# --- plans ------------------------------------------------------------------------------------

def relays():
    places = on_sample(31)
    served = []
    for k in range(6):
        served += ["--place", f"P{k + 1}={places.one()}"]
    few = ("--most-candidates", "250", "--relay-antenna-height", "6m", "--around", "5km")
    for name in ("plain", "seldom", "woodland-seldom"):
        yield Case(f"relay sample {name}",
                   ("relay", "--json", "--terrain", SAMPLE, *served, "--power", "1W", "--gain",
                    "-6dBi", "--margin", "6dB", "--sites", "2", *few, *CONDITIONS[name][0]))
    yield Case("relay linked",
               ("relay", "--json", "--scenario", "valley-net.toml", "--cover", COVER, "--sites",
                "2", "--linked", "--base", "Ombrel Mill", "--margin", "8dB", *few))
    yield Case("relay with a map",
               ("relay", "--json", "--scenario", "valley-net.toml", "--sites", "1", "--range",
                "3km", *few, "--out", "relay.tif", "--out", "relay.geojson"),
               ("relay.tif", "relay.geojson"))
    yield Case("relay in words",
               ("relay", "--terrain", SAMPLE, *served, "--sites", "1", *few,
                *CONDITIONS["plain"][0]))


def masts():
    for where, ground, places in (("sample", SAMPLE, on_sample(41)),
                                  ("valley", VALLEY, on_valley(42))):
        for name in ("plain", "seldom", "woodland"):
            words, tags = CONDITIONS[name]
            yield Case(f"mast {where} {name}",
                       ("mast", "--json", "--terrain", ground, "--from", places.one(), "--to",
                        places.one(), "--limit", "15m", "--height-step", "1m", "--margin", "10dB",
                        *words), (), frozenset(tags))
    yield Case("mast in words",
               ("mast", "--terrain", SAMPLE, "--from", "36.60,-84.20", "--to", "36.68,-84.10",
                "--limit", "10m", "--margin", "20dB", "--frequency", "146MHz", "--table",
                "mast.csv"), ("mast.csv",))


def ladders():
    places = on_sample(51)
    for name in ("plain", "seldom", "woodland"):
        words, tags = CONDITIONS[name]
        yield Case(f"ladder to a place {name}",
                   ("ladder", "--json", "--terrain", SAMPLE, "--at", places.one(), "--to",
                    f"Camp={places.one()}", "--power", "2W", "--there-power", "2W", *words), (),
                   frozenset(tags))
    yield Case("ladder to several places",
               ("ladder", "--json", "--scenario", "valley-net.toml", "--at", "Sisk Clinic Tent",
                "--to-all", "--with-relay"))
    yield Case("ladder on foot",
               ("ladder", "--json", "--terrain", VALLEY, "--at", "35.489252,16.919453", "--power",
                "1W", "--there-power", "1W", "--range", "6km", "--frequency", "446.1MHz",
                "--gain=-8dBi"))
    yield Case("ladder in words",
               ("ladder", "--terrain", SAMPLE, "--at", "36.60,-84.20", "--to",
                "Camp=36.68,-84.10", "--frequency", "146MHz"))


def ranges():
    for name, (words, tags) in CONDITIONS.items():
        places = on_valley(61)
        yield Case(f"range valley {name}",
                   ("range", "--json", "--terrain", VALLEY, "--at", places.one(), "--range", "6km",
                    "--power", "0.5W", "--gain=-8dBi", "--there-gain=-8dBi", "--margin", "10dB",
                    "--directions", "24", *words), (), frozenset(tags))
    yield Case("range valley with cover",
               ("range", "--json", "--terrain", VALLEY, "--cover", COVER, "--at",
                "35.489252,16.919453", "--range", "8km", "--directions", "24", "--frequency",
                "146MHz"))
    yield Case("range in words",
               ("range", "--terrain", SAMPLE, "--at", "36.60,-84.20", "--range", "8km",
                "--frequency", "446.1MHz", "--power", "0.5W", "--table", "range.csv"),
               ("range.csv",))


def field():
    yield Case("correction fitted",
               ("correct", "valley-log.csv", "--scenario", "valley-net.toml", "--cover", COVER,
                "--date", "2026-05-14", "--even-if-worse", "--out", "fitted.toml"), ("fitted.toml",))
    yield Case("log compared",
               ("compare", "--json", "--scenario", "valley-net.toml", "--cover", COVER, "--log",
                "valley-log.csv"), (), frozenset({"cover"}))


def all_cases():
    cases = [*maps(), *paths(), *nets(), *relays(), *masts(), *ladders(), *ranges(), *field()]
    assert len({case.name for case in cases}) == len(cases)
    return cases
