#!/usr/bin/env python3
"""clang-tidy over the core, half of its rooms at a time: their files are put into one, so that the
headers are read once for all of them, which takes longest, and what is found is told by file and
line.

    tests/lint/tidy.py BUILD [ROOM...]    BUILD holds header-deps; all rooms unless told

Ends with one line, `N passed, N failed`, counting halves."""
import os
import pathlib
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

root = pathlib.Path(__file__).resolve().parents[2]
# The rooms without matrices, whose headers cost the most; the others compute.
IN_AND_OUT = {"cli", "logger", "report", "setup"}


def joined(files):
    """The files as one text, and for each of its lines where it comes from."""
    text, origin = [], []
    for file in files:
        for number, line in enumerate(file.read_text().splitlines(), 1):
            text.append(line)
            origin.append((file.relative_to(root), number))
    return "\n".join(text) + "\n", origin


def tidy(build, name, rooms):
    """Whether nothing was found in a half of that name, and what was."""
    source = build / "tidy" / f"{name}.cpp"
    text, origin = joined([file for room in rooms for file in sorted(room.glob("*.cpp"))])
    source.parent.mkdir(parents=True, exist_ok=True)
    source.write_text(text)
    run = subprocess.run(
        ["clang-tidy-14", "--quiet", f"--config-file={root}/.clang-tidy",
         # each of the files includes what it needs
         "--checks=-readability-duplicate-include", str(source), "--",
         # the analyzer looks into short functions alone: else it takes minutes
         "-Xclang", "-analyzer-config", "-Xclang", "mode=shallow",
         "-std=c++20", "-Wall", "-Wextra", "-DEIGEN_DONT_VECTORIZE", '-DHOTBAND_VERSION="0"',
         f"-I{root}/core", "-isystem", str(build / "header-deps")],
        capture_output=True, text=True)

    def named(found):
        file, line = origin[int(found.group(1)) - 1]
        return f"{file}:{line}"

    said = re.sub(re.escape(str(source)) + r":(\d+)", named, run.stdout)
    ok = run.returncode == 0 and "error:" not in said
    if not ok and "error:" not in said:
        said += run.stderr
    return ok, said


def main():
    build = pathlib.Path(sys.argv[1]).resolve()
    names = sys.argv[2:]
    rooms = [r for r in sorted((root / "core").iterdir()) if any(r.glob("*.cpp"))]
    rooms = [r for r in rooms if not names or r.name in names]
    halves = {"what computes": [r for r in rooms if r.name not in IN_AND_OUT],
              "what goes in and out": [r for r in rooms if r.name in IN_AND_OUT]}
    halves = {name: half for name, half in halves.items() if half}
    failed = 0
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        found = pool.map(lambda name: tidy(build, name.replace(" ", "_"), halves[name]), halves)
        for (name, half), (ok, said) in zip(halves.items(), found):
            print(f"{name}, {', '.join(r.name for r in half)}:",
                  "nothing found" if ok else "FOUND")
            if not ok:
                failed += 1
                print(said)
    print(f"{len(halves) - failed} passed, {failed} failed")
    return 1 if failed or not halves else 0


sys.exit(main())
