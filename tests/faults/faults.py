#!/usr/bin/python3
"""Breaks runs of every command that writes, and looks at what is left.

  faults.py PROGRAM GENERATOR [--kills N] [--steps N] [--only COMMAND] [--seed N]

  kill    SIGKILL at random moments; the next run must then come to its end and leave no leftovers
  memory  less and less address space (RLIMIT_AS)
  disk    files may grow no longer than so much (RLIMIT_FSIZE), which stands in for a full disk

After each run every output must be the one that stood there before, byte for byte, or a new one that
its own reader takes whole; and all of them the one or the other. No input may have changed. Exit codes
are 0, 4 or 5 (and 127, where not even the libraries find room). Prints a table of what was tried and
what survived; exit code 1 if anything did not.
"""

import argparse
import csv
import json
import pathlib
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
import xml.etree.ElementTree
import zipfile

from osgeo import gdal

SOURCES = pathlib.Path(__file__).resolve().parents[2]
OLD = b"what stood here before\n"

# Of the invented valley; each with the files that it writes.
COMMANDS = {
    "map": ("map --scenario valley-scenario.toml --at Nessavin --range 6km --out o/m.tif --picture o/m.png",
            ["m.tif", "m.png"]),
    "net": ("net valley-scenario.toml --csv o/n.csv --geojson o/n.geojson", ["n.csv", "n.geojson"]),
    "path": ("path --scenario valley-scenario.toml --from Nessavin --to Quorrel --profile o/p.csv", ["p.csv"]),
    "mast": ("mast --scenario valley-scenario.toml --from Nessavin --to Quorrel --table o/t.csv", ["t.csv"]),
    "range": ("range --scenario valley-scenario.toml --at Nessavin --range 4km --table o/r.csv", ["r.csv"]),
    "relay": ("relay --scenario valley-scenario.toml --most-candidates 200 --out o/s.geojson --out o/s.gpx --out o/s.tif",
              ["s.geojson", "s.gpx", "s.tif"]),
    "walk": ("walk --scenario valley-scenario.toml --base Nessavin --bearing 60 --length 2km --out o/l.csv --sheet o/l.pdf",
             ["l.csv", "l.pdf"]),
    "compare": ('compare --scenario valley-scenario.toml --cover valley-cover.tif --base "Sisk Clinic Tent" '
                "--log valley-log.csv --csv o/c.csv --geojson o/c.geojson --scatter o/c.pdf --map o/c.png",
                ["c.csv", "c.geojson", "c.pdf", "c.png"]),
    "correct": ('correct --scenario valley-scenario.toml --cover valley-cover.tif --base "Sisk Clinic Tent" '
                "--log valley-log.csv --date 2026-05-14 --out o/k.toml", ["k.toml"]),
    "brief": ("brief --scenario valley-scenario.toml --range 4km --out o", ["briefing.pdf", "map.png", "briefing.html",
              "places.geojson", "places.kml", "places.kmz", "places.gpx", "coverage.tif", "coverage-styled.tif",
              "coverage.sld", "coverage.qml"]),
}


def is_whole(file):
    """Whether the reader of its kind takes a file to its end."""
    kind = file.suffix
    try:
        if kind in (".tif", ".png"):
            data = gdal.Open(str(file))
            return all(data.GetRasterBand(k + 1).Checksum() >= 0 for k in range(data.RasterCount))
        if kind in (".geojson", ".json"):
            return bool(json.loads(file.read_text()))
        if kind == ".csv":
            rows = list(csv.reader(file.open(newline="")))
            return len(rows) > 1 and len({len(row) for row in rows}) == 1
        if kind in (".kml", ".gpx", ".sld", ".qml"):
            return xml.etree.ElementTree.parse(file) is not None
        if kind == ".kmz":
            return zipfile.ZipFile(file).testzip() is None
        if kind == ".toml":
            return bool(tomllib.loads(file.read_text()))
        end = file.read_bytes()[-20:]
        return b"%%EOF" in end if kind == ".pdf" else b"</html>" in end
    except Exception:  # whatever a reader says: it is not whole
        return False


class Bench:
    def __init__(self, program, generator, folder):
        self.program, self.folder = program, folder
        for name in ("valley-scenario.toml", "valley-places.csv", "valley-log.csv"):
            shutil.copy(SOURCES / "dem-samples" / name, folder)
        for name in ("valley", "valley-cover"):
            subprocess.run([generator, name, f"{name}.tif"], cwd=folder, check=True)
        self.inputs = {path: path.read_bytes() for path in folder.iterdir()}

    def start(self, name, limits=lambda: None):
        out = self.folder / "o"
        for file in COMMANDS[name][1]:
            (out / file).write_bytes(OLD)
        return subprocess.Popen(["bash", "-c", f'exec "$0" {COMMANDS[name][0]}', self.program], cwd=self.folder,
                                stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, preexec_fn=limits)

    def faults(self, name, finished):
        """What is wrong with what a run has left."""
        out = self.folder / "o"
        new = []
        for file in COMMANDS[name][1]:
            path = out / file
            if not path.exists():
                return f"{file} is gone"
            if path.read_bytes() != OLD:
                new.append(file)
                if not is_whole(path):
                    return f"{file} is neither old nor whole"
        if new and len(new) != len(COMMANDS[name][1]):
            return f"only {', '.join(new)} new"
        if finished and not new:
            return "exit code 0, and nothing written"
        for path, content in self.inputs.items():
            if path.read_bytes() != content:
                return f"the input {path.name} changed"
        return None

    def leftovers(self):
        return [path.name for path in (self.folder / "o").iterdir() if ".part" in path.name]

    def clean(self):
        shutil.rmtree(self.folder / "o", ignore_errors=True)
        (self.folder / "o").mkdir()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("generator")
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--steps", type=int, default=20)
    parser.add_argument("--only", choices=COMMANDS)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    gdal.UseExceptions()
    chance = random.Random(options.seed)
    bad = 0
    with tempfile.TemporaryDirectory() as root:
        bench = Bench(str(pathlib.Path(options.program).resolve()), str(pathlib.Path(options.generator).resolve()),
                      pathlib.Path(root))

        def note(name, what, fault):
            nonlocal bad
            if fault:
                bad += 1
                print(f"{name}, {what}: {fault}", flush=True)
            return 0 if fault else 1

        print("| command | killed | survived | memory steps | survived | disk steps | survived |\n"
              "|---|---|---|---|---|---|---|")
        for name in [options.only] if options.only else COMMANDS:
            bench.clean()
            begun = time.monotonic()
            whole = bench.start(name)
            message = whole.communicate()[1]
            seconds = time.monotonic() - begun
            note(name, "left alone", None if whole.returncode == 0 else message.decode())
            sizes = [(bench.folder / "o" / file).stat().st_size for file in COMMANDS[name][1]]

            survived = 0
            for _ in range(options.kills):
                run = bench.start(name)
                at = chance.uniform(0.0, seconds)
                try:
                    run.wait(at)
                except subprocess.TimeoutExpired:
                    run.send_signal(signal.SIGKILL)
                    run.wait()
                run.stderr.close()
                survived += note(name, f"killed after {at:.3f} s", bench.faults(name, run.returncode == 0))
            run = bench.start(name)
            run.communicate()
            note(name, "the run after", bench.faults(name, True) or
                 (f"left {bench.leftovers()}" if bench.leftovers() else None))

            def limited(what, kind, values):
                lasted = 0
                for value in values:
                    bench.clean()

                    def limits():
                        resource.setrlimit(kind, (value, value))
                        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                    run = bench.start(name, limits)
                    told = run.communicate()[1].decode(errors="replace")
                    fault = bench.faults(name, run.returncode == 0)
                    if run.returncode not in (0, 4, 5, 127):
                        fault = f"exit code {run.returncode}: {told.strip()[-200:]}"
                    elif bench.leftovers():
                        fault = f"left {bench.leftovers()}"
                    lasted += note(name, f"{what} of {value}", fault)
                return lasted
            steps = options.steps
            memory = [(120 + 40 * k) << 20 for k in range(steps)]
            disk = [max(sizes) * k // steps for k in range(steps)]
            lasted = limited("memory", resource.RLIMIT_AS, memory)
            kept = limited("disk", resource.RLIMIT_FSIZE, disk)
            print(f"| {name} | {options.kills} | {survived} | {steps} | {lasted} | {steps} | {kept} |", flush=True)
    print(f"{bad} did not survive")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
