#!/usr/bin/python3
"""Reads every #include under src and include, draws which room uses which, and holds the rules.

  check_rooms.py [--root FOLDER]   checks; prints the drawing, then one line for each fault
  check_rooms.py --write           puts the drawing into DEVELOPERS.md
  check_rooms.py --dot             prints it for Graphviz

The rules: a room includes only rooms below it, and only those its CMakeLists.txt names; nothing
goes round in a circle; coverage/engine is for coverage alone; public headers know no internal ones;
the core is portable; no function is longer than it can be read.
"""

import argparse
import collections
import pathlib
import re
import sys

# Bottom-up. A room may include those before it.
ROOMS = ["base", "maths", "geo", "terrain", "propagation", "link", "coverage", "scenario", "plan",
         "field", "report/say", "report/draw", "report/files", "app"]

# The portable core: what a page in a browser is to be made of. What needs the machine stands in
# these rooms' folders `native`.
CORE = ROOMS[:ROOMS.index("report/say")]
NATIVE = "native"

# Headers of libraries and systems that the core does without.
NOT_PORTABLE = {
    "GDAL": r"^(gdal|ogr|cpl_)",
    "PROJ": r"^proj\.h",
    "the command line": r"^CLI/",
    "threads": r"^(thread|mutex|shared_mutex|condition_variable|future|stop_token|semaphore|latch|"
               r"barrier|pthread\.h|sched\.h)$",
    "signals": r"^(csignal|signal\.h)$",
    "the system": r"^(unistd\.h|fcntl\.h|poll\.h|sys/.*)$",
}

# What the compiler for WebAssembly in Debian 12 lacks.
NOT_IN_CORE = {
    "std::ranges": r"\bstd::(ranges|views)::",
    "std::jthread": r"\bstd::jthread\b",
    "from_chars (base/number.hpp reads numbers)": r"\bfrom_chars\b",
}

# Files of the core that may break these rules, and why.
CORE_EXCEPTIONS = {
}

# Headers that only one room includes.
PRIVATE = {"coverage/engine/": "coverage"}

LONGEST_FUNCTION = 80
# Tables and texts, which are read by the row.
LONG_TABLES = {
    ("src/propagation/p1812/explain.cpp", "explain"),
    ("src/scenario/scenario_keys.cpp", "make_scenario_sections"),
    ("src/scenario/starter.cpp", "starter_scenario"),
}

EXTENSIONS = {".cpp", ".hpp"}


def room_of(path):
    """The room of a path below src or include/earshot, or of an include; None outside all."""
    for room in sorted(ROOMS, key=len, reverse=True):
        if path.startswith(room + "/"):
            return room
    return None


class Source:
    def __init__(self, root, path):
        self.shown = str(path.relative_to(root))
        self.public = self.shown.startswith("include/")
        self.inside = self.shown.removeprefix("include/earshot/").removeprefix("src/")
        self.room = room_of(self.inside)
        # As another file includes it.
        self.name = self.shown.removeprefix("include/").removeprefix("src/")
        self.native = f"/{NATIVE}/" in self.shown
        self.text = path.read_text()
        self.code = blanked(self.text)
        self.includes = [(self.text.count("\n", 0, m.start()) + 1, m.group(1))
                         for m in re.finditer(r'^[ \t]*#[ \t]*include[ \t]*[<"]([^>"]+)[>"]',
                                              self.text, re.M)]

    @property
    def core(self):
        return self.room in CORE and not self.native


def blanked(text):
    """The text with comments, strings and preprocessor lines blanked out, line for line."""
    pattern = re.compile(
        r'//[^\n]*|/\*.*?\*/|R"([^(\s]*)\(.*?\)\1"|"(?:\\.|[^"\\\n])*"|'
        r"(?<![0-9a-fA-F])'(?:\\.|[^'\\\n])+'|^[ \t]*#(?:[^\n]*\\\n)*[^\n]*", re.S | re.M)
    return pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group(0)), text)


def sources_under(root):
    return [Source(root, path) for folder in ("src", "include")
            for path in sorted((root / folder).rglob("*"))
            if path.suffix in EXTENSIONS and "browser" not in path.parts]


# --- rooms ------------------------------------------------------------------------------------

def target_room(include):
    return room_of(include.removeprefix("earshot/"))


def named_in_build(root, room):
    """The rooms that a room's CMakeLists.txt lets it use."""
    text = (root / "src" / room / "CMakeLists.txt").read_text()
    call = re.search(r"earshot_room\(.*?\bROOMS\b(.*?)(\bLIBRARIES\b|\))", text, re.S)
    if call:
        return set(call.group(1).split())
    libraries = " ".join(re.findall(r"target_link_libraries\((.*?)\)", text, re.S))
    return {name for name in ROOMS if "earshot_" + name.replace("/", "_") in libraries.split()}


def edges_of(sources):
    """For each pair of rooms (user, used) where that is seen first."""
    edges = {}
    for source in sources:
        for line, include in source.includes:
            used = target_room(include)
            if source.room and used and used != source.room:
                edges.setdefault((source.room, used), f"{source.shown}:{line} includes {include}")
    return edges


def circle_in(graph):
    """A circle in {node: nodes}, as a list whose end is its start; None without one."""
    done = set()
    for start in graph:
        way, ahead = [start], [iter(sorted(graph.get(start, ())))]
        if start in done:
            continue
        while way:
            following = next(ahead[-1], None)
            if following is None:
                done.add(way.pop())
                ahead.pop()
            elif following in way:
                return way[way.index(following):] + [following]
            elif following not in done:
                way.append(following)
                ahead.append(iter(sorted(graph.get(following, ()))))
    return None


def check_rooms(root, sources, edges):
    for source in sources:
        if source.room is None:
            yield f"{source.shown}: is in no room"
    for (user, used), seen in edges.items():
        if ROOMS.index(used) > ROOMS.index(user):
            yield f"{seen}: {used} is above {user}"
    rooms = collections.defaultdict(set)
    for user, used in edges:
        rooms[user].add(used)
    files = collections.defaultdict(set)
    known = {source.name for source in sources}
    for source in sources:
        files[source.name] |= {include for _, include in source.includes if include in known}
    for what, graph in (("rooms", rooms), ("files", files)):
        if circle := circle_in(graph):
            yield f"{what} in a circle: {' -> '.join(circle)}"
    for room in ROOMS:
        named = named_in_build(root, room)
        for used in sorted(rooms[room] - named):
            yield f"{edges[room, used]}: src/{room}/CMakeLists.txt does not name {used}"
        for unused in sorted(named - rooms[room]):
            yield f"src/{room}/CMakeLists.txt: names {unused}, which nothing there includes"


def check_privacy(sources):
    for source in sources:
        for line, include in source.includes:
            at = f"{source.shown}:{line}"
            for private, room in PRIVATE.items():
                if include.removeprefix("earshot/").startswith(private) and source.room != room:
                    yield f"{at}: {include} is for {room} alone"
            if source.public and room_of(include):
                yield f"{at}: a public header includes the internal {include}"


def check_core(sources):
    for source in sources:
        if not source.core or source.shown in CORE_EXCEPTIONS:
            continue
        for line, include in source.includes:
            for what, pattern in NOT_PORTABLE.items():
                if re.search(pattern, include):
                    yield (f"{source.shown}:{line}: <{include}> brings {what} into the core; its "
                           f"place is src/{source.room}/{NATIVE}")
            if f"/{NATIVE}/" in include:
                yield f"{source.shown}:{line}: the core includes {include}"
        for what, pattern in NOT_IN_CORE.items():
            for m in re.finditer(pattern, source.code):
                line = source.code.count("\n", 0, m.start()) + 1
                yield f"{source.shown}:{line}: the core does without {what}"


# --- long functions ---------------------------------------------------------------------------

def functions_in(code):
    """(name, first line, lines) of every function with a body. Knows the project's layout: the
    brace of a body stands after a space, that of a member's initializer does not."""
    outer = [True]  # for each open brace: is it a namespace or a class
    head = 0  # where the present declaration begins
    started = []
    for m in re.finditer(r"[{};]|\b(?:public|private|protected):", code):
        at = m.start()
        if m.group(0) == "{":
            text = code[head:at]
            if not outer[-1]:
                outer.append(False)
                continue
            if code[at - 1] not in " \n" or re.search(r"=\s*$", text):
                outer.append(False)  # an initializer; the declaration goes on
                continue
            is_type = re.search(r"\b(namespace|class|struct|union|extern)\b", text)
            if is_type and not re.search(r"\)\s*(const|noexcept|override|\s|->.*|:.*)*$", text, re.S):
                outer.append(True)
            elif "(" in text:
                outer.append(False)
                begin = head + len(text) - len(text.lstrip())
                name = re.findall(r"([\w~:]+|operator\W+)\s*\(", text)
                started.append((len(outer), name[0] if name else "?", begin))
            else:
                outer.append(bool(is_type))
            head = at + 1
        elif m.group(0) == "}":
            if len(outer) == 1:
                return
            if started and started[-1][0] == len(outer):
                _, name, begin = started.pop()
                first = code.count("\n", 0, begin) + 1
                yield name, first, code.count("\n", 0, at) + 2 - first
                head = at + 1
            if outer.pop():
                head = at + 1
        elif outer[-1]:
            head = m.end()


def check_length(sources):
    for source in sources:
        for name, line, lines in functions_in(source.code):
            table = (source.shown, name) in LONG_TABLES
            if lines > LONGEST_FUNCTION and not table:
                yield f"{source.shown}:{line}: {name} has {lines} lines, more than {LONGEST_FUNCTION}"


# --- drawing ----------------------------------------------------------------------------------

def drawing(edges):
    """The rooms from the top down; left of each the rooms it uses, from the bottom up."""
    width = max(map(len, ROOMS))
    lines = []
    for k in range(len(ROOMS) - 1, -1, -1):
        marks = ["o" if j == k else "x" if (ROOMS[k], ROOMS[j]) in edges else "." if j < k else " "
                 for j in range(len(ROOMS))]
        for j in range(k + 1, len(ROOMS)):
            if (ROOMS[k], ROOMS[j]) in edges:
                marks[j] = "!"
        lines.append(f"{ROOMS[k]:<{width}}  {'  '.join(marks).rstrip()}")
    # The names of the columns, each under its circle.
    for row in range(max(map(len, ROOMS))):
        letters = [room[row] if row < len(room) else " " for room in ROOMS]
        lines.append(f"{'':<{width}}  {'  '.join(letters).rstrip()}")
    return "\n".join(line.rstrip() for line in lines)


def dot(edges):
    lines = ["digraph rooms {", "  rankdir=BT;", "  node [shape=box];"]
    lines += [f'  "{room}";' for room in ROOMS]
    lines += [f'  "{user}" -> "{used}";' for user, used in sorted(edges)]
    return "\n".join([*lines, "}"])


BEGIN, END = "<!-- drawn by tests/rooms/check_rooms.py --write -->\n", "<!-- end -->"


def with_drawing(page, edges):
    head, _, rest = page.partition(BEGIN)
    _, _, tail = rest.partition(END)
    return f"{head}{BEGIN}\n```text\n{drawing(edges)}\n```\n\n{END}{tail}"


def check_drawing(root, edges):
    page = (root / "DEVELOPERS.md").read_text()
    if BEGIN not in page or with_drawing(page, edges) != page:
        yield "DEVELOPERS.md: its drawing of the rooms is not theirs: check_rooms.py --write"


PAGE_OF_NAMES = "docs/architecture.md"
NOT_NAMES = {"GeoTIFF", "NaN", "check_rooms"}


def check_page(root, sources):
    """Names of functions, types and files in the page's drawings and back quotes must exist."""
    path = root / PAGE_OF_NAMES
    page = path.read_text() if path.exists() else ""
    quoted = re.findall(r"```text(.*?)```|`([^`\n]+)`", page, re.S)
    words = {word for pair in quoted for part in pair
             for word in re.findall(r"\b(?:[a-z]+(?:_[a-z0-9]+)+|[A-Z][a-z0-9]+(?:[A-Z][a-z0-9]*)+|"
                                    r"\w+\.hpp|\w+\.cpp)\b", part)}
    code = "\n".join(source.code for source in sources)
    files = {pathlib.PurePath(source.shown).name for source in sources}
    for word in sorted(words):
        known = word in NOT_NAMES or word in files
        if not known and not re.search(rf"\b{re.escape(word)}\b", code):
            yield f"{PAGE_OF_NAMES}: '{word}' is nowhere in the sources"


def main():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--root", type=pathlib.Path,
                        default=pathlib.Path(__file__).resolve().parents[2])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--dot", action="store_true")
    words = parser.parse_args()
    sources = sources_under(words.root)
    edges = edges_of(sources)
    if words.dot:
        print(dot(edges))
        return 0
    if words.write:
        page = words.root / "DEVELOPERS.md"
        page.write_text(with_drawing(page.read_text(), edges))
        return 0
    print(drawing(edges))
    faults = [*check_rooms(words.root, sources, edges), *check_privacy(sources),
              *check_core(sources), *check_length(sources), *check_drawing(words.root, edges),
              *check_page(words.root, sources)]
    for fault in faults:
        print(f"FAULT {fault}")
    print(f"{len(sources)} files, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
