#!/usr/bin/python3
"""Holds the public headers: they include the standard library and one another alone, and the
example that each shows is in the test of its name, line for line."""

import pathlib
import re
import sys

here = pathlib.Path(__file__).resolve().parent
include = here.parent.parent / "include" / "earshot"
faults = []
for header in sorted(include.rglob("*.hpp")):
    name = str(header.relative_to(include))
    text = header.read_text()
    for included in re.findall(r'^ *# *include *[<"]([^>"]+)', text, re.M):
        if not re.fullmatch(r"earshot/.*|[a-z_]+", included):
            faults.append(f"{name} includes {included}")
    shown = [line.strip() for line in re.findall(r"^///     (.*)", text, re.M)]
    test = (here / name.replace("/", "_").replace(".hpp", ".cpp")).read_text()
    tested = [line.strip() for line in test.splitlines()]
    if not shown:
        faults.append(f"{name} shows no example")
    faults += [f"{name} shows what its test has not: {line}" for line in shown if line not in tested]
print("\n".join(faults) or "every public header shows its example")
sys.exit(bool(faults))
