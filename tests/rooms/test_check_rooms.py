#!/usr/bin/python3
"""Breaks each rule in a copy of the sources and sees that the check says so."""

import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

HERE = pathlib.Path(__file__).resolve().parent
SOURCES = HERE.parents[1]


def faults_of(root):
    run = subprocess.run([sys.executable, HERE / "check_rooms.py", "--root", root],
                         capture_output=True, text=True)
    assert run.returncode in (0, 1), run.stderr
    faults = {line for line in run.stdout.splitlines() if line.startswith("FAULT ")}
    assert (run.returncode == 1) == bool(faults)
    return faults


class Broken(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.before = faults_of(SOURCES)

    def faults_with(self, name, added, replaced=None):
        """New faults once a file has more at its end, or a text of it replaced."""
        with tempfile.TemporaryDirectory() as folder:
            root = pathlib.Path(folder)
            for part in ("src", "include"):
                shutil.copytree(SOURCES / part, root / part,
                                ignore=shutil.ignore_patterns("node_modules"))
            (root / "docs").mkdir()
            for page in ("DEVELOPERS.md", "docs/architecture.md"):
                shutil.copy(SOURCES / page, root / page)
            text = (root / name).read_text() if (root / name).exists() else ""
            text = text.replace(replaced, added) if replaced else text + added
            (root / name).write_text(text)
            return "\n".join(faults_of(root) - self.before)

    def test_an_include_of_a_room_above(self):
        said = self.faults_with("src/geo/units.cpp", '#include "plan/ladder.hpp"\n')
        self.assertIn("plan is above geo", said)
        self.assertIn("rooms in a circle", said)
        self.assertIn("src/geo/CMakeLists.txt does not name plan", said)
        self.assertIn("DEVELOPERS.md", said)

    def test_a_header_that_includes_itself_again(self):
        said = self.faults_with("src/geo/again.hpp", '#include "geo/again.hpp"\n')
        self.assertIn("files in a circle: geo/again.hpp -> geo/again.hpp", said)

    def test_a_room_named_but_not_used(self):
        said = self.faults_with("src/terrain/CMakeLists.txt", "ROOMS maths base",
                                replaced="ROOMS base")
        self.assertIn("names maths, which nothing there includes", said)

    def test_a_file_in_no_room(self):
        self.assertIn("is in no room", self.faults_with("src/stray.hpp", "#pragma once\n"))

    def test_a_name_that_is_gone(self):
        said = self.faults_with("docs/architecture.md", "Then `sort_by_luck` and `LuckyDesk`.")
        self.assertIn("'sort_by_luck' is nowhere", said)
        self.assertIn("'LuckyDesk' is nowhere", said)

    def test_the_engine_seen_from_outside(self):
        said = self.faults_with("src/app/main.cpp", '#include "coverage/engine/kernels.hpp"\n')
        self.assertIn("is for coverage alone", said)

    def test_a_public_header_with_internals(self):
        said = self.faults_with("include/earshot/geo/geodesic.hpp", '#include "geo/units.hpp"\n')
        self.assertIn("a public header includes the internal geo/units.hpp", said)

    def test_libraries_of_the_machine_in_the_core(self):
        for header, what in (("gdal_priv.h", "GDAL"), ("proj.h", "PROJ"), ("CLI/App.hpp", "line"),
                             ("thread", "threads"), ("csignal", "signals"), ("unistd.h", "system")):
            said = self.faults_with("src/link/budget.cpp", f"#include <{header}>\n")
            self.assertIn(f"<{header}> brings", said)
            self.assertIn(what, said)

    def test_what_the_other_compiler_lacks(self):
        for code in ("std::ranges::sort(list);", "std::jthread worker;",
                     "std::from_chars(first, last, value);"):
            said = self.faults_with("src/plan/mast.cpp", f"inline void f() {{ {code} }}\n")
            self.assertIn("the core does without", said)
            remark = self.faults_with("src/plan/mast.cpp", f"// {code}\n")
            self.assertEqual(remark, "")

    def test_a_long_function(self):
        body = "    // a line\n" * 78
        said = self.faults_with("src/geo/units.cpp", f"void f(int a) {{\n{body}}}\n")
        self.assertEqual(said, "")
        said = self.faults_with("src/geo/units.cpp", f"void f(int a) {{\n{body}    ;\n}}\n")
        self.assertIn("f has 81 lines", said)


if __name__ == "__main__":
    unittest.main()
