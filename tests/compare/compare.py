#!/usr/bin/python3
"""Holds the program to what it answered before: maps, paths and plans.

  compare.py store PROGRAM GENERATOR COMMIT   stores the answers of a program
  compare.py check PROGRAM GENERATOR [--only PATTERN]   asks the same again and compares

Levels, losses and margins may move by 0.001 dB, other numbers by rounding alone, and nothing else
may change but what INTENDED lists. The last lines are a table of what was compared.
"""

import argparse
import collections
import concurrent.futures
import dataclasses
import gzip
import json
import math
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import numpy
from osgeo import gdal

import cases

SOURCES = pathlib.Path(__file__).resolve().parents[2]
STORED = SOURCES / "tests/reference/before"

LIMIT_DB = 0.001
LIMIT_PERCENT = 0.01  # of chance: 0.001 dB moves it by 0.005 % where it is steepest
RELATIVE = 1e-6  # of all other numbers


@dataclasses.dataclass(frozen=True)
class Intent:
    """A change that was meant: where it may show, and why."""
    reason: str
    case: str  # matches the name of the case
    place: str  # matches where in the answer
    tags: frozenset = frozenset()  # any of these on the case; all cases if empty
    most: float = math.inf  # by how much a number may change


INTENDED = []

# Never the same twice, or of the machine.
PASSING = {"sweep_seconds", "CREATED", "PROGRAM"}


def intent_for(case, place, size):
    for intent in INTENDED:
        if (re.search(intent.case, case.name) and re.search(intent.place, place)
                and (not intent.tags or intent.tags & case.tags) and size <= intent.most):
            return intent
    return None


# --- asking -----------------------------------------------------------------------------------

def answer_of(program, ground, case, kept):
    """Runs a case. Returns what it printed and the texts it wrote; moves a raster to `kept`."""
    with tempfile.TemporaryDirectory(prefix="earshot-compare-") as folder:
        for name in os.listdir(ground):
            os.symlink(ground / name, pathlib.Path(folder) / name)
        run = subprocess.run([program, *case.arguments], cwd=folder, capture_output=True, text=True)
        if run.returncode != 0:
            return {"exit": run.returncode, "said": run.stderr}
        answer = {"printed": json.loads(run.stdout) if "--json" in case.arguments else run.stdout}
        for name in case.files:
            path = pathlib.Path(folder) / name
            if name.endswith(".tif"):
                shutil.copy(path, kept)
            elif name.endswith(".geojson"):
                answer[name] = json.loads(path.read_text())
            else:
                answer[name] = path.read_text()
        return answer


def ask_all(program, generator, kept_folder, only=""):
    """Yields each case whose name `only` matches, with its answer and where its raster is."""
    with tempfile.TemporaryDirectory(prefix="earshot-ground-") as name:
        ground = pathlib.Path(name)
        cases.make_ground(ground, generator, SOURCES)
        (ground / "correction.toml").symlink_to(STORED / "correction.toml")
        todo = [case for case in cases.all_cases() if re.search(only, case.name)]
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            kept = [kept_folder / raster_name(case) for case in todo]
            asked = [pool.submit(answer_of, program, ground, case, raster)
                     for case, raster in zip(todo, kept)]
            for case, future, raster in zip(todo, asked, kept):
                yield case, future.result(), raster


def raster_name(case):
    return re.sub(r"[^a-z0-9]+", "-", case.name.lower()) + ".tif"


def has_raster(case):
    return any(name.endswith(".tif") for name in case.files)


def store(program, generator, commit):
    """Writes the program's answers to STORED."""
    shutil.rmtree(STORED / "maps", ignore_errors=True)
    (STORED / "maps").mkdir(parents=True)
    answers = {"commit": commit, "cases": {}}
    with tempfile.TemporaryDirectory(prefix="earshot-compare-") as kept:
        for case, answer, raster in ask_all(program, generator, pathlib.Path(kept)):
            if "exit" in answer:
                sys.exit(f"{case.name}: exit code {answer['exit']}: {answer['said']}\n"
                         f"  {' '.join(case.arguments)}")
            answers["cases"][case.name] = {"arguments": case.arguments, **answer}
            if has_raster(case):
                gdal.Translate(str(STORED / "maps" / raster.name), str(raster), creationOptions=[
                    "COMPRESS=DEFLATE", "PREDICTOR=3", "ZLEVEL=9", "INTERLEAVE=BAND"])
    text = json.dumps(answers, separators=(",", ":"))
    with open(STORED / "answers.json.gz", "wb") as file:
        file.write(gzip.compress(text.encode(), mtime=0))
    print(f"stored {len(answers['cases'])} answers")


# --- comparing --------------------------------------------------------------------------------

@dataclasses.dataclass
class Row:
    """A line of the table."""
    compared: int = 0
    worst: float = 0.0
    where: str = ""

    def see(self, count, difference, where):
        self.compared += count
        if difference > self.worst:
            self.worst = difference
            self.where = where


def kind_of(place):
    """What a number is by its name: dB, percent of chance, or another number."""
    name = place.rsplit(".", 1)[-1]
    if re.search(r"_db(m|i)?$|^((best )?margin|path loss|received power)", name):
        return "dB"
    if name.startswith("chance"):
        return "chance, %"
    return "other, relative"


LIMITS = {"dB": LIMIT_DB, "chance, %": LIMIT_PERCENT, "other, relative": RELATIVE}


class Comparison:
    def __init__(self):
        self.rows = collections.defaultdict(Row)  # by command and kind
        self.intended = collections.defaultdict(Row)  # by reason
        self.faults = []

    def differ(self, case, place, words, size=math.inf):
        """Notes a difference; true if it was meant."""
        intent = intent_for(case, place, size)
        if intent:
            self.intended[intent.reason].see(1, size, f"{case.name}: {place}")
        else:
            self.faults.append(f"{case.name}: {place}: {words}")
        return intent is not None

    def number(self, case, place, was, now):
        kind = kind_of(place)
        difference = abs(now - was)
        if kind == "other, relative":
            difference /= max(abs(was), 1.0)
        if not difference <= LIMITS[kind]:
            if self.differ(case, place, f"was {was!r}, is {now!r}", difference):
                return
        self.rows[case.name.split()[0], kind].see(1, difference, f"{case.name}: {place}")

    def value(self, case, place, was, now):
        if isinstance(was, dict) and isinstance(now, dict):
            if list(was) != list(now):
                self.differ(case, place, f"keys were {list(was)}, are {list(now)}")
            for key in was.keys() & now.keys() - PASSING:
                self.value(case, f"{place}.{key}" if place else key, was[key], now[key])
        elif isinstance(was, list) and isinstance(now, list):
            if len(was) != len(now):
                self.differ(case, place, f"had {len(was)} entries, has {len(now)}")
            for k, (before, after) in enumerate(zip(was, now)):
                # The name tells what a number is, so it stays at the end.
                head, _, name = place.rpartition(".")
                self.value(case, f"{head}[{k}].{name}", before, after)
        elif is_number(was) and is_number(now):
            self.number(case, place, was, now)
        else:
            self.rows[case.name.split()[0], "words and answers"].see(1, 0.0, "")
            if isinstance(was, str) and isinstance(now, str) and "\n" in was:
                self.text(case, place, was.splitlines(), now.splitlines())
            elif was != now:
                size = (difference_of_numbers(was, now)
                        if isinstance(was, str) and isinstance(now, str) else math.inf)
                self.differ(case, place, f"was {was!r}, is {now!r}", size)

    def text(self, case, place, was, now):
        if len(was) != len(now):
            self.differ(case, place, f"had {len(was)} lines, has {len(now)}")
        for before, after in zip(was, now):
            if before != after:
                name = f"{place} line {(before.split() or [''])[0]}".strip()
                self.differ(case, name, f"was {before!r}, is {after!r}",
                            difference_of_numbers(before, after))

    def raster(self, case, stored, made):
        was = gdal.Open(str(stored))
        now = gdal.Open(str(made))
        self.value(case, "map", frame_of(was), frame_of(now))
        if was.RasterCount != now.RasterCount or was.RasterXSize != now.RasterXSize:
            return
        for k in range(1, was.RasterCount + 1):
            name = was.GetRasterBand(k).GetDescription()
            self.band(case, name, was.GetRasterBand(k), now.GetRasterBand(k))

    def band(self, case, name, was_band, now_band):
        was = was_band.ReadAsArray().astype("float64")
        now = now_band.ReadAsArray().astype("float64")
        blank = was_band.GetNoDataValue()
        if not numpy.array_equal(was == blank, now == blank):
            changed = int(numpy.sum((was == blank) != (now == blank)))
            self.differ(case, name, f"{changed} cells known before are not now, or the reverse")
        kind = kind_of(name)
        known = (was != blank) & (now != blank)
        difference = numpy.where(known, numpy.abs(now - was), 0.0)
        beyond = difference > LIMITS[kind]
        row, column = numpy.unravel_index(numpy.argmax(difference), difference.shape)
        where = f"{case.name}: {name} at column {column}, row {row}"
        if beyond.any():
            words = (f"{int(beyond.sum())} of {int(known.sum())} cells beyond {LIMITS[kind]:g}, "
                     f"most {difference.max():.6f} at column {column}, row {row}")
            if self.differ(case, name, words, difference.max()):
                return
        self.rows["map", kind].see(int(known.sum()), float(difference.max()), where)


def frame_of(raster):
    """All of a raster but its cells."""
    return {"columns": raster.RasterXSize, "rows": raster.RasterYSize,
            "transform": list(raster.GetGeoTransform()), "crs": raster.GetProjection(),
            "metadata": {k: v for k, v in raster.GetMetadata().items() if k not in PASSING},
            "bands": [[raster.GetRasterBand(k).GetDescription(),
                       raster.GetRasterBand(k).GetUnitType(),
                       raster.GetRasterBand(k).GetNoDataValue()]
                      for k in range(1, raster.RasterCount + 1)]}


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def difference_of_numbers(before, after):
    """Of two lines that are the same but for numbers, the largest relative one; else infinite."""
    number = r"-?\d+\.\d+"
    if re.sub(number, "#", before) != re.sub(number, "#", after):
        return math.inf
    pairs = zip(map(float, re.findall(number, before)), map(float, re.findall(number, after)))
    return max((abs(now - was) / max(abs(was), 1.0) for was, now in pairs), default=math.inf)


def check(program, generator, only):
    """Asks again and compares; the number of faults."""
    stored = json.loads(gzip.decompress((STORED / "answers.json.gz").read_bytes()))
    comparison = Comparison()
    seen = set()
    with tempfile.TemporaryDirectory(prefix="earshot-compare-") as kept:
        for case, answer, raster in ask_all(program, generator, pathlib.Path(kept), only):
            seen.add(case.name)
            before = stored["cases"].get(case.name)
            if before is None or before.pop("arguments") != list(case.arguments):
                comparison.faults.append(f"{case.name}: is another question than was stored")
                continue
            if "exit" in answer:
                comparison.faults.append(
                    f"{case.name}: exit code {answer['exit']}: {answer['said'].strip()}")
                continue
            for part, was in before.items():
                comparison.value(case, "" if part == "printed" else part, was, answer[part])
            if has_raster(case):
                comparison.raster(case, STORED / "maps" / raster.name, raster)
            sys.stdout.flush()
    for name in stored["cases"].keys() - seen:
        if re.search(only, name):
            comparison.faults.append(f"{name}: was stored and is not asked any more")
    report(comparison, stored["commit"])
    return len(comparison.faults)


MOST_SHOWN = 40


def report(comparison, commit):
    for fault in comparison.faults[:MOST_SHOWN]:
        print(f"FAULT {fault}")
    if len(comparison.faults) > MOST_SHOWN:
        print(f"... and {len(comparison.faults) - MOST_SHOWN} more")
    print(f"\nAgainst commit {commit[:12]}")
    print(f"{'command':<12} {'kind':<18} {'compared':>9} {'worst':>10}  where")
    for (command, kind), row in sorted(comparison.rows.items()):
        print(f"{command:<12} {kind:<18} {row.compared:>9} {row.worst:>10.2g}  {row.where}")
    for reason, row in comparison.intended.items():
        print(f"changed by intent: {reason}: {row.compared} values or bands, most {row.worst:.3g}"
              f" ({row.where})")
    print(f"{len(comparison.faults)} faults")


def main():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    verbs = parser.add_subparsers(dest="verb", required=True)
    for verb in ("store", "check"):
        sub = verbs.add_parser(verb)
        sub.add_argument("program")
        sub.add_argument("generator")
        if verb == "store":
            sub.add_argument("commit")
        else:
            sub.add_argument("--only", default="", metavar="PATTERN", help="names of cases")
    words = parser.parse_args()
    program = str(pathlib.Path(words.program).resolve())
    generator = str(pathlib.Path(words.generator).resolve())
    if words.verb == "store":
        store(program, generator, words.commit)
        return 0
    return 1 if check(program, generator, words.only) else 0


if __name__ == "__main__":
    sys.exit(main())
