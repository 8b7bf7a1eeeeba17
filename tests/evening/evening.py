#!/usr/bin/python3
"""One evening of one volunteer, and the README followed line by line.

  evening.py PROGRAM GENERATOR

README: every command of it is run in one shell, in order, in a copy of the samples, and what it says
is printed is what comes. The evening: eight invented stations on the sample ground, from the empty
scenario to the briefing, held to the sentences that a person would act on. What is held is what one
answer owes another, and the order of advice: first what costs nothing.
"""

import csv
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SOURCES = HERE.parents[1]
CAUTION = "A prediction is no guarantee"

failures = []


def hold(true, what, shown=""):
    if not true:
        failures.append(what)
        print(f"NOT SO: {what}\n{shown}\n", flush=True)


# ---- README -------------------------------------------------------------------------------------

def code_blocks(text):
    """The indented blocks, each with the line of prose before it."""
    prose, block = "", []
    for line in text.splitlines() + ["."]:
        if line.startswith("    "):
            block.append(line[4:])
        elif line == "" and block:
            block.append("")
        else:
            if block:
                yield prose, "\n".join(block).rstrip("\n")
                block = []
            if line:
                prose = line
    if block:
        yield prose, "\n".join(block)


def commands_of(block):
    return re.sub(r"\\\n\s*", "", block).splitlines()


def follow_readme(program, generator, folder):
    shutil.copytree(SOURCES / "dem-samples", folder / "dem-samples")
    for built, name in ((program, "src/app/earshot"), (generator, "dem-samples/earshot-generate-terrain")):
        place = folder / "build/release" / name
        place.parent.mkdir(parents=True)
        place.symlink_to(built)
    script, asked, expected = ["shopt -s expand_aliases", f"log={folder}"], [], {}
    for prose, block in code_blocks((SOURCES / "README.md").read_text()):
        if prose.endswith("prints"):
            expected[len(asked) - 1] = block
            continue
        for command in commands_of(block):
            if command.startswith("./dev"):
                continue
            script += [command.split("  #")[0].rstrip() +
                       f' >"$log"/{len(asked)}.out 2>"$log"/{len(asked)}.err </dev/null',
                       f'echo $? >"$log"/{len(asked)}.code']
            asked.append(command)
    subprocess.run(["bash"], input="\n".join(script) + "\n", text=True, cwd=folder, check=True)
    hold(len(asked) > 12 and len(expected) >= 2, "README holds commands and what they print")
    for number, command in enumerate(asked):
        out = (folder / f"{number}.out").read_text()
        err = (folder / f"{number}.err").read_text()
        if "my-net.toml" in command and "start" not in command:
            # Just written, not yet filled in: the elevation that it names is not there.
            hold("elevation.tif" in err, f"README: {command} names what is missing", err)
            continue
        hold((folder / f"{number}.code").read_text().strip() == "0", f"README: {command}", out + err)
        if number in expected:
            passing = re.compile(r"after [0-9.]+ s")
            shown = passing.sub("after", (out + err).strip())
            hold(shown == passing.sub("after", expected[number].strip()),
                 f"README prints what comes of: {command}", shown)
    print(f"README: {len(asked)} commands, {len(expected)} printed answers")


# ---- The evening --------------------------------------------------------------------------------

class Evening:
    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        shutil.copy(SOURCES / "dem-samples/cumberland_3arcsec.tif", folder)
        shutil.copy(HERE / "evening-net.toml", folder / "net.toml")

    def ask(self, *words, code=0):
        done = subprocess.run([self.program, *words], cwd=self.folder, capture_output=True, text=True)
        hold(done.returncode == code, f"exit code {code} of: {' '.join(words)}", done.stdout + done.stderr)
        text = done.stdout + done.stderr
        if code == 0 and "--json" not in words and words[0] not in ("start", "terrain", "help"):
            hold(CAUTION in text, f"the caution stands under: {' '.join(words)}", text)
        # Units are chosen once, in the scenario: no metre may stray into feet and miles.
        if words[0] in ("net", "ladder", "mast", "range", "relay", "walk", "compare") and not {"--json", "two-bands.toml"} & set(words):
            metric = re.search(r"\d (m|km|km2)\b(?!Hz)", text)
            hold(metric is None, f"feet and miles throughout: {' '.join(words)}",
                 metric and text[max(0, metric.start() - 80):metric.end() + 20])
        hold(words[0] == "compare" or "100 %" not in text, f"never a chance of 100 %: {' '.join(words)}", text)
        return text

    def answer(self, *words):
        return json.loads(self.ask(*words, "--json"))


def weaker_db(pair):
    return min(pair["b_hears_a"]["margin_db"], pair["a_hears_b"]["margin_db"])


def pair_line(text, a, b):
    return next(line for line in text.splitlines() if re.match(rf"  {a} +{b} ", line))


def the_evening(program, folder):
    evening = Evening(program, folder)

    # Ground and scenario.
    ground = evening.ask("terrain", "--terrain", "cumberland_3arcsec.tif")
    hold("height unit" in ground and "assumed" in ground, "what was assumed of the heights is said", ground)
    blank = evening.ask("start", "fresh.toml")
    hold("earshot net" in blank, "start says what comes next", blank)

    # Who hears whom: pairs in doubt are marked, and the first advice costs nothing.
    net = evening.ask("net", "net.toml")
    facts = evening.answer("net", "net.toml")
    hold("is cut off" not in net, "nobody is cut off", net)
    for pair in facts["pairs"]:
        worse = weaker_db(pair)
        line = pair_line(net, pair["a"], pair["b"])
        if worse < 0:
            short = re.search(r"(\d+) dB short", line)
            hold(short and abs(int(short[1]) + worse) <= 1.0, "short by the weaker way", line)
        else:
            hold("short" not in line, "no shortage where both ways get through", line)
    marked = [line for line in net.splitlines() if line.endswith(" *")]
    hold(marked and "test this one on foot first" in net, "pairs that two models part on are marked", net)
    help_lines = net.split("What would help, the least first\n")[1].split("Note:")[0].strip().splitlines()
    hold(len(help_lines) >= 3, "there is help for those who miss somebody", net)
    hold("holding the radio at the face" in help_lines[0], "the first help is how the radio is held", help_lines[0])
    for line in help_lines:
        hold("10 W" not in line and "25 W" not in line, "no power that the radio has not", line)

    # One margin for one pair, whatever was asked.
    pair = next(p for p in facts["pairs"] if (p["a"], p["b"]) == ("Start Field", "Far Hollow"))
    path = evening.answer("path", "--scenario", "net.toml", "--from", "Start Field", "--to", "Far Hollow")
    for way, same in (("outward", "b_hears_a"), ("backward", "a_hears_b")):
        hold(abs(path[way]["margin_db"] - pair[same]["margin_db"]) < 0.001, "path and net give one margin",
             (path[way], pair[same]))

    # What gets Far Hollow through.
    ladder = evening.ask("ladder", "--scenario", "net.toml", "--at", "Far Hollow", "--to", "Start Field")
    summary = next(line for line in ladder.splitlines() if line.startswith("In short"))
    hold("gets the call through both ways" in summary, "the ladder leads with what gets the call through", summary)
    hold(re.search(r"half-wave|j-pole", summary), "the ladder names an antenna that the net has", summary)
    hold("+0.0 dB" not in ladder, "no step that brings nothing", ladder)

    # How far on foot: without a gap, and at the farthest.
    reach = evening.ask("range", "--scenario", "net.toml", "--at", "Start Field")
    worst = re.search(r"worst ([0-9.]+) mi (\w+(?:-\w+)?) \(", reach)
    row = re.search(rf"^  {worst[2]} +([0-9.]+) mi", reach, re.M)
    hold(row and float(row[1]) <= float(worst[1]) + 0.01, "the worst direction is that of its row", reach)

    # A relay, its weakest link, and the net with it.
    relay = evening.ask("relay", "--scenario", "net.toml", "--sites", "1", "--apply")
    first = next(line for line in relay.splitlines() if line.startswith("1. relay"))
    hold(re.search(r"weakest link .+ \(margin [+-][0-9.]+ dB, chance [0-9<>]+ %\)", first),
         "a relay's weakest link with its margin and chance", first)
    hold("2 W" in relay and "ft above the ground" in relay, "the radio and height assumed are said", relay)
    served = int(re.search(r"hears (\d+) of 8", first)[1])
    joined = evening.answer("net", "net.toml")
    heard = [p for p in joined["pairs"] if "relay 1" in (p["a"], p["b"])
             and weaker_db(p) >= 0]
    hold(len(heard) == served, "the net hears the relay as was promised", (len(heard), served))
    evening.ask("relay", "--scenario", "net.toml", "--sites", "1", "--apply", code=2)

    # A map of all, and of both ways.
    evening.ask("map", "--scenario", "net.toml", "--range", "3mi", "--bands", "both-ways", "--out", "map.tif")
    evening.ask("map", "--scenario", "net.toml", "--range", "3mi", "--out", "map.png", code=2)

    # The walk, an invented log, and what it teaches.
    walk = evening.ask("walk", "--scenario", "net.toml", "--base", "Start Field", "--from", "Aid One",
                       "--bearing", "20", "--length", "3mi", "--stops", "6", "--out", "log.csv", "--sheet",
                       "log.pdf")
    hold("log.pdf" in walk, "the walk has a sheet", walk)
    with open(folder / "log.csv", newline="") as log:
        rows = list(csv.DictReader(log))
    hold(len(rows) == 12, "one row for each call", len(rows))
    # INVENTED scores: woods that the map does not know take their share.
    for row in rows:
        row["score"] = {"1": "4", "2": "3", "3": "3", "4": "1", "5": "2", "6": "0"}[row["stop"]]
    with open(folder / "log.csv", "w", newline="") as log:
        writer = csv.DictWriter(log, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    asked = ("--scenario", "net.toml", "--base", "Start Field", "--log", "log.csv")
    compared = evening.ask("compare", *asked)
    hold("12 calls" in compared, "every call counts", compared)
    done = subprocess.run([program, "correct", *asked, "--date", "2026-10-03", "--out", "correction.toml"],
                          cwd=folder, capture_output=True, text=True)
    hold((done.returncode == 0) == (folder / "correction.toml").exists(),
         "a correction is written where it helps and nowhere else", done.stdout + done.stderr)

    # Paper.
    brief = evening.ask("brief", "--scenario", "net.toml", "--out", "briefing")
    for name in re.findall(r"^  (briefing/\S+)", brief, re.M):
        hold((folder / name).stat().st_size > 0, f"{name} is written")
    pages = subprocess.run(["pdftotext", "-layout", "briefing/briefing.pdf", "-"], cwd=folder,
                           capture_output=True, text=True, check=True).stdout
    words = " ".join(pages.split())
    for station in (pair["a"], pair["b"], "Aid One", "Aid Two", "Ford", "Long Bend", "High Knob", "Sweep", "relay 1"):
        hold(words.count(station) >= 3, f"{station} is on the map, in the table and on cards", words.count(station))
    hold("146.52" in words, "the frequency is on the card")
    hold(CAUTION in words, "the caution is on paper")

    # A net with repeaters: who is reached through which, on the screen and on the repeater's own card.
    shutil.copy(SOURCES / "dem-samples/two-bands.toml", folder)
    repeated = evening.ask("net", "two-bands.toml")
    hold("The repeater Ridge box serves " in repeated, "whom a repeater serves", repeated)
    evening.ask("brief", "--scenario", "two-bands.toml", "--only", "pdf", "--range", "3km", "--out", "two")
    cards = subprocess.run(["pdftotext", "-layout", "two/briefing.pdf", "-"], cwd=folder, capture_output=True,
                           text=True, check=True).stdout
    hold("Serves" in cards and "look after its power" in cards, "a repeater's card says whom it serves", cards[-3000:])
    print(f"the evening: {len(facts['pairs'])} pairs, {len(help_lines)} pieces of advice")


def main():
    program, generator = (pathlib.Path(word).resolve() for word in sys.argv[1:3])
    # As for a person elsewhere: nothing of this shell is taken along.
    os.environ["LC_ALL"] = "C.UTF-8"
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder)
        (root / "evening").mkdir()
        the_evening(program, root / "evening")
        (root / "readme").mkdir()
        follow_readme(program, generator, root / "readme")
    print(f"{len(failures)} not so")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
