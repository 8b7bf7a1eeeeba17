#!/usr/bin/python3
"""Holds the program to its manners where input and output are bad.

  bad_input.py PROGRAM GENERATOR [--only TEXT]

cases.txt has the cases; the files they name are made here. Every run is checked for: the exit code
and words of the case, on one line and without a control character; no signal; no exit code 1; no
file changed, made or left; under 10 s and 1 GiB. A run that asks the system for a socket of the
internet is killed by the kernel (seccomp), and so counts as one that ended by a signal.
"""

import argparse
import concurrent.futures
import ctypes
import os
import pathlib
import re
import resource
import shlex
import shutil
import struct
import subprocess
import sys
import tempfile
import threading

from osgeo import gdal, osr

SOURCES = pathlib.Path(__file__).resolve().parents[2]
SECONDS = 10
MOST_BYTES = 1 << 30


# ---- Files --------------------------------------------------------------------------------------

def raster(path, columns=60, rows=60, bands=1, kind=gdal.GDT_Int16, crs="EPSG:4326", west=-84.30,
           north=36.65, cell=0.00083333, turn=0.0, value=300, nodata=None, unit=None, scale=None):
    made = gdal.GetDriverByName("GTiff").Create(str(path), columns, rows, bands, kind)
    if crs:
        system = osr.SpatialReference()
        system.SetFromUserInput(crs)
        made.SetProjection(system.ExportToWkt())
    if cell is not None:
        made.SetGeoTransform([west, cell, turn, north, turn, -cell])
    for number in range(1, bands + 1):
        band = made.GetRasterBand(number)
        if nodata is not None:
            band.SetNoDataValue(nodata)
        if unit:
            band.SetUnitType(unit)
        if scale is not None:
            band.SetScale(scale)
        band.Fill(value)
    made = None


SCENARIO = """[net]
name = "Invented net"
frequency_mhz = 146.52
[ground]
elevation = "ground.tif"
[[radios]]
name = "handheld"
power_w = 5
threshold_dbm = -116
[[stations]]
name = "Camp"
position = "36.60, -84.25"
antenna_height_m = 2
radio = "handheld"
antenna = "stock"
[[stations]]
name = "Mill"
position = "36.62, -84.22"
antenna_height_m = 2
radio = "handheld"
antenna = "dipole"
[listener]
antenna_height_m = 1.5
radio = "handheld"
antenna = "stock"
"""


def make_files(folder, generator):
    def text(name, content, encoding="utf-8"):
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode(encoding))

    ground = SOURCES / "dem-samples/cumberland_3arcsec.tif"
    shutil.copy(ground, folder / "ground.tif")
    whole = ground.read_bytes()
    text("cut.tif", whole[:len(whole) // 2])
    text("head.tif", whole[:40])
    text("empty.tif", b"")
    text("noise.tif", bytes((i * 7919 + i // 3) % 256 for i in range(5000)))
    text("page.tif", "<html><body>404 not found</body></html>")
    raster(folder / "nocrs.tif", crs=None)
    raster(folder / "noplace.tif", cell=None)
    raster(folder / "colour.tif", bands=3, kind=gdal.GDT_Byte, value=100)
    raster(folder / "complex.tif", kind=gdal.GDT_CFloat32)
    raster(folder / "void.tif", nodata=300)
    raster(folder / "litres.tif", unit="litre")
    raster(folder / "scaled.tif", scale=0.0)
    raster(folder / "high.tif", value=32000)
    raster(folder / "local.tif", crs='LOCAL_CS["workshop",UNIT["metre",1]]')
    raster(folder / "classes.tif", kind=gdal.GDT_Byte, value=10)
    raster(folder / "float-classes.tif", kind=gdal.GDT_Float32, value=10)
    # Headers that promise 2e9 columns and as many rows, of which nothing is there.
    text("vast.tif", struct.pack("<2sHI", b"II", 42, 8) + struct.pack("<H", 9) + b"".join(
        struct.pack("<HHII", *entry) for entry in (
            (256, 4, 1, 2000000000), (257, 4, 1, 2000000000), (258, 3, 1, 16), (259, 3, 1, 1),
            (262, 3, 1, 1), (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, 2000000000), (279, 4, 1, 0))) + b"\0\0\0\0")
    text("vast.vrt", '<VRTDataset rasterXSize="2000000000" rasterYSize="2000000000"><SRS>EPSG:4326</SRS>'
         '<GeoTransform>-84.3,1e-9,0,36.65,0,-1e-9</GeoTransform><VRTRasterBand dataType="Int16" band="1"/>'
         '</VRTDataset>')
    text("wms.xml", '<GDAL_WMS><Service name="TMS"><ServerUrl>http://127.0.0.1:9/${z}</ServerUrl></Service>'
         '<DataWindow><UpperLeftX>-180</UpperLeftX><UpperLeftY>90</UpperLeftY><LowerRightX>180</LowerRightX>'
         '<LowerRightY>-90</LowerRightY><SizeX>360</SizeX><SizeY>180</SizeY></DataWindow>'
         '<Projection>EPSG:4326</Projection><BandsCount>1</BandsCount></GDAL_WMS>')
    text("far.vrt", '<VRTDataset rasterXSize="60" rasterYSize="60"><SRS>EPSG:4326</SRS><GeoTransform>-84.3,'
         '0.000833,0,36.65,0,-0.000833</GeoTransform><VRTRasterBand dataType="Int16" band="1"><SimpleSource>'
         '<SourceFilename>/vsicurl/http://127.0.0.1:9/a.tif</SourceFilename><SourceBand>1</SourceBand>'
         '</SimpleSource></VRTRasterBand></VRTDataset>')
    text("self.vrt", '<VRTDataset rasterXSize="60" rasterYSize="60"><SRS>EPSG:4326</SRS><GeoTransform>-84.3,'
         '0.000833,0,36.65,0,-0.000833</GeoTransform><VRTRasterBand dataType="Int16" band="1"><SimpleSource>'
         '<SourceFilename relativeToVRT="1">self.vrt</SourceFilename><SourceBand>1</SourceBand>'
         '</SimpleSource></VRTRasterBand></VRTDataset>')
    gdal.BuildVRT(str(folder / "good.vrt"), [str(folder / "ground.tif")]).FlushCache()
    (folder / "tiles").mkdir()
    shutil.copy(ground, folder / "tiles/one.tif")
    (folder / "damaged-tiles").mkdir()
    shutil.copy(ground, folder / "damaged-tiles/one.tif")
    text("damaged-tiles/two.TIF", "<html>404</html>")
    text("damaged-tiles/readme.txt", "about the tiles")
    (folder / "no-tiles").mkdir()
    text("no-tiles/readme.txt", "nothing here")
    (folder / "locked").mkdir()
    os.symlink("ground.tif", folder / "link.tif")
    os.symlink("ground.tif", folder / "link.csv")
    os.symlink("link-b.csv", folder / "link-a.csv")
    os.symlink("link-a.csv", folder / "link-b.csv")
    os.mkfifo(folder / "pipe.csv")

    text("net.toml", SCENARIO)

    def net(name, old, new):
        assert old in SCENARIO, old
        text(name, SCENARIO.replace(old, new, 1))

    net("name-twice.toml", '"Mill"', '"Camp"')
    net("no-radio.toml", 'radio = "handheld"', 'radio = "walkie"')
    net("no-antenna.toml", 'antenna = "stock"', 'antenna = "bent coat hanger"')
    net("low.toml", "frequency_mhz = 146.52", "frequency_mhz = 3.5")
    net("text-frequency.toml", "frequency_mhz = 146.52", 'frequency_mhz = "146.52"')
    net("nan-power.toml", "power_w = 5", "power_w = nan")
    net("no-power.toml", "power_w = 5", "power_w = 0")
    net("much-power.toml", "power_w = 5", "power_w = 1e308")
    net("no-place.toml", '"36.60, -84.25"', '"somewhere"')
    net("off.toml", '"36.60, -84.25"', '"36.60, 84.25"')
    net("below.toml", "antenna_height_m = 2", "antenna_height_m = -2")
    net("no-ground.toml", 'elevation = "ground.tif"', 'elevation = "none.tif"')
    net("far-ground.toml", 'elevation = "ground.tif"', 'elevation = "/vsicurl/http://127.0.0.1:9/a.tif"')
    net("no-key.toml", "frequency_mhz = 146.52", "")
    net("odd-key.toml", "power_w = 5", "power_w = 5\npowerr_w = 5")
    net("one.toml", SCENARIO[SCENARIO.index('[[stations]]\nname = "Mill"'):SCENARIO.index("[listener]")], "")
    net("bell.toml", '"Camp"', '"Ca\\u0007mp"')
    net("turned.toml", '"Camp"', '"Ca\\u202emp"')
    net("units.toml", "frequency_mhz = 146.52", 'frequency_mhz = 146.52\nunits = "cubits"')
    net("percent.toml", "[ground]", "[service]\ntime_percent = 120\n[ground]")
    net("places.toml", "[net]", 'places_file = "none.csv"\n[net]')
    net("correction.toml", "[net]", 'correction_file = "none.toml"\n[net]')
    text("latin.toml", SCENARIO.replace('"Camp"', '"Caf\xe9"'), "latin-1")
    text("deep.toml", "a" + ".a" * 50000 + " = 1\n")
    text("nested.toml", "a = " + "[" * 50000 + "]" * 50000 + "\n")
    text("inline.toml", "a = " + "{b = " * 50000 + "1" + "}" * 50000 + "\n")
    text("long.toml", "# " + "x" * (17 << 20))
    text("bytes.toml", bytes(range(256)))
    text("empty.toml", b"")

    text("places.csv", "name,latitude,longitude\nA,36.6,-84.2\nB,36.62,-84.22\n")
    text("no-names.csv", "x,y\n1,2\n")
    text("no-rows.csv", "name,latitude,longitude\n")
    text("pole.csv", "name,latitude,longitude\nA,91,-84.2\n")
    text("words.csv", "name,latitude,longitude\nA,north,west\n")
    text("people.csv", "name,latitude,longitude,people\nA,36.6,-84.2,-5\n")
    text("cut.geojson", '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":')
    text("link.geojson", '{"type":"FeatureCollection","crs":{"type":"link","properties":{"href":'
         '"http://127.0.0.1:9/crs","type":"proj4"}},"features":[{"type":"Feature","properties":{"name":"A"},'
         '"geometry":{"type":"Point","coordinates":[-84.2,36.6]}}]}')
    text("deep.geojson", '{"type":"FeatureCollection","features":' + "[" * 20000 + "]" * 20000 + "}")
    text("entity.gpx", '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a SYSTEM "http://127.0.0.1:9/a">]>'
         '<gpx version="1.1" creator="x"><wpt lat="36.6" lon="-84.2"><name>&a;</name></wpt></gpx>')
    text("laughs.gpx", '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {b} "{("&" + a + ";") * 10}">' for a, b in zip("abcdefghi", "bcdefghij")) +
         ']><gpx version="1.1" creator="x"><wpt lat="36.6" lon="-84.2"><name>&j;</name></wpt></gpx>')
    text("cut.gpx", '<gpx version="1.1" creator="x"><wpt lat="36.6" lon="-84.2"><na')
    text("no-way.gpx", '<gpx version="1.1" creator="x"></gpx>')
    text("line.geojson", '{"type":"LineString","coordinates":[[-84.25,36.60],[-84.22,36.62]]}')
    text("polygon.geojson", '{"type":"Polygon","coordinates":[[[-84.25,36.60],[-84.22,36.60],[-84.22,36.62],'
         '[-84.25,36.60]]]}')
    text("log.csv", "stop,latitude,longitude,score\nA,36.61,-84.24,4\nB,36.615,-84.23,3\n")
    text("no-score.csv", "stop,latitude,longitude\nA,36.61,-84.24\n")
    text("blank-score.csv", "stop,latitude,longitude,score\nA,36.61,-84.24,\n")
    text("odd-score.csv", "stop,latitude,longitude,score\nA,36.61,-84.24,9\n")
    text("loud.csv", "stop,latitude,longitude,level\nA,36.61,-84.24,400dBm\n")
    text("away.csv", "stop,latitude,longitude,score\nA,-36.61,84.24,4\n")
    text("quote.csv", 'stop,latitude,longitude,score\n"A,36.61,-84.24,4\n')
    text("table.csv", "code,name,clutter,height_m,woodland\n10,trees,suburban,10,no\n")
    text("table-head.csv", "code,name\n10,trees\n")
    text("table-clutter.csv", "code,name,clutter,height_m,woodland\n10,trees,jungle,10,no\n")
    text("table-below.csv", "code,name,clutter,height_m,woodland\n10,trees,suburban,-3,no\n")
    text("table-tall.csv", "code,name,clutter,height_m,woodland\n10,trees,suburban,200,no\n")
    text("table-wood.csv", "code,name,clutter,height_m,woodland\n10,trees,urban-or-trees,0,yes\n")
    text("table-twice.csv", "code,name,clutter,height_m,woodland\n10,a,open,0,no\n10,b,open,0,no\n")
    text("table-word.csv", "code,name,clutter,height_m,woodland\nten,a,open,0,no\n")
    text("old.png", b"a picture that is to stay")
    text("old.csv", b"a table that is to stay")


# ---- Runs ---------------------------------------------------------------------------------------

def shut_internet():
    """In the child: sockets of the internet end the process (seccomp; see bpf in the kernel's own
    Documentation/userspace-api/seccomp_filter.rst)."""
    load, jump_equal, give = 0x20, 0x15, 0x06
    kill, allow = 0x80000000, 0x7FFF0000
    numbers = {"x86_64": 41, "aarch64": 198}
    socket = numbers.get(os.uname().machine)
    if socket is None:
        return
    # seccomp_data: the number of the call at 0, its first argument at 16.
    program = [(load, 0, 0, 0), (jump_equal, 0, 4, socket), (load, 0, 0, 16),
               (jump_equal, 1, 0, 2), (jump_equal, 0, 1, 10), (give, 0, 0, kill), (give, 0, 0, allow)]
    code = b"".join(struct.pack("<HBBI", *line) for line in program)
    buffer = ctypes.create_string_buffer(code)
    fprog = struct.pack("<HxxxxxxQ", len(program), ctypes.addressof(buffer))
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(38, 1, 0, 0, 0) != 0 or libc.prctl(22, 2, ctypes.c_char_p(fprog), 0, 0) != 0:
        os.write(2, b"seccomp is not to be had\n")
        os._exit(99)


def state_of(folder):
    state = {}
    for path in sorted(folder.rglob("*")):
        seen = path.lstat()
        state[str(path.relative_to(folder))] = (seen.st_mode, seen.st_size, seen.st_mtime_ns, seen.st_ino)
    return state


class Case:
    def __init__(self, number, code, words, command):
        self.number, self.code, self.words, self.command = number, code, words, command


def read_cases(file):
    """A line `[CODE] command with {}` opens a group; each line below it is one case: what stands in
    the place of {}, two colons, words that the message must hold (several: parted by |)."""
    cases, code, command = [], None, None
    for number, line in enumerate(file.read_text().splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        if line.startswith("["):
            code, command = re.fullmatch(r"\[(\d+)\] (.+)", line).groups()
            continue
        value, words = re.fullmatch(r"(.*?) *:: (.+)", line).groups()
        cases.append(Case(number, int(code), words.split("|"), command.replace("{}", value)))
    return cases


class Runner:
    def __init__(self, program, generator, root):
        self.program, self.generator, self.root = program, generator, pathlib.Path(root)
        self.here = threading.local()
        self.folders = 0
        self.lock = threading.Lock()

    def folder(self):
        if not hasattr(self.here, "folder"):
            with self.lock:
                self.folders += 1
                self.here.folder = self.root / str(self.folders)
            self.here.folder.mkdir()
            make_files(self.here.folder, self.generator)
            self.here.state = state_of(self.here.folder)
        return self.here.folder

    def faults(self, case):
        folder = self.folder()
        out = tempfile.TemporaryFile()
        err = tempfile.TemporaryFile()
        child = subprocess.Popen([self.program, *shlex.split(case.command)], cwd=folder, stdout=out, stderr=err,
                                 stdin=subprocess.DEVNULL, preexec_fn=shut_internet)
        late = threading.Timer(SECONDS, child.kill)
        late.start()
        _, status, used = os.wait4(child.pid, 0)
        late.cancel()
        child.returncode = 0
        err.seek(0)
        message = err.read().decode("utf-8", "replace")
        found = []
        if os.WIFSIGNALED(status):
            found.append(f"ended by signal {os.WTERMSIG(status)}")
        elif os.WEXITSTATUS(status) != case.code:
            found.append(f"exit code {os.WEXITSTATUS(status)} in place of {case.code}")
        if case.code != 0:
            if message.count("\n") != 1 or not message.startswith("earshot: "):
                found.append("not one line")
            if re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", message):
                found.append("a control character in the message")
            for words in case.words:
                if words.strip() not in message:
                    found.append(f"'{words.strip()}' is not in the message")
        if used.ru_maxrss * 1024 > MOST_BYTES:
            found.append(f"{used.ru_maxrss >> 10} MiB of memory")
        now = state_of(folder)
        if now != self.here.state:
            changed = {name for name in now.keys() | self.here.state.keys()
                       if now.get(name) != self.here.state.get(name)}
            found.append(f"changed, made or left: {', '.join(sorted(changed))}")
            shutil.rmtree(folder)
            del self.here.folder
        return found, message


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("generator")
    parser.add_argument("--only", default="", help="cases whose command holds this")
    options = parser.parse_args()
    gdal.UseExceptions()
    cases = [case for case in read_cases(pathlib.Path(__file__).with_name("cases.txt"))
             if options.only in case.command]
    bad = 0
    with tempfile.TemporaryDirectory() as root, concurrent.futures.ThreadPoolExecutor(2) as pool:
        runner = Runner(pathlib.Path(options.program).resolve(), options.generator, root)
        for case, (found, message) in zip(cases, pool.map(runner.faults, cases)):
            if found:
                bad += 1
                print(f"cases.txt, line {case.number}: earshot {case.command}\n  {'; '.join(found)}\n  {message.strip()[:400]}")
    print(f"{len(cases)} cases, {len(cases) - bad} answered well, {bad} not")
    return 1 if bad or not cases else 0


if __name__ == "__main__":
    sys.exit(main())
