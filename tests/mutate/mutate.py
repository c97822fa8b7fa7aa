#!/usr/bin/env python3
"""Do the tests notice when a file of the core is wrong?

    tests/mutate/mutate.py core/advise/verdict.cpp [more files or folders] --tests "verdict:*"
                           [--most 40] [--seed 1] [--build build]

One small change at a time (a comparison or a sign turned round, a term, a condition or a negation
dropped, a constant nudged, least and most exchanged), the tests built and those named by --tests
run (Catch2 names). Prints each change that nothing noticed and `noticed N of M`; exit 1 below nine in ten. A change that
does not compile is not counted. The file is put back whatever happens.
"""
import argparse
import pathlib
import random
import re
import signal
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
LONGEST_S = 300  # a run that takes longer has been noticed: it hangs

# pattern, replacement; each match is one change
CHANGES = [
    (r" < ", " >= "), (r" > ", " <= "), (r" <= ", " > "), (r" >= ", " < "),
    (r" == ", " != "), (r" != ", " == "),
    (r" && ", " || "), (r" \|\| ", " && "),
    (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" / ", " * "),
    (r" \+ [\w.]+(?=[;,)])", ""), (r" && !?[\w.]+(?=[;,)])", ""),
    (r"(?<=[(= ])!(?=[\w(])", ""),
    (r"\bstd::max\b", "std::min"), (r"\bstd::min\b", "std::max"),
    (r"\btrue\b", "false"), (r"\bfalse\b", "true"),
    (r"(?<![\w.\"'%:])(\d+\.\d+|\d+)(?![\w.\"':])", None),  # a constant
    (r"\bLevel::watch\b", "Level::stop"), (r"\bLevel::stop\b", "Level::watch"),
]


def nudged(number):
    return str(int(number) + 1) if number.isdigit() else repr(float(number) * 1.1)


def code_only(line):
    """Whether a place of the line is code: not in a comment, a string or an include."""
    inside = False
    marks = []
    for i, c in enumerate(line):
        if c == '"' and (i == 0 or line[i - 1] != "\\"):
            inside = not inside
        if not inside and line.startswith("//", i):
            marks += [False] * (len(line) - i)
            break
        marks.append(not inside)
    if line.lstrip().startswith("#") or "static_assert" in line or "template" in line:
        return [False] * len(line)
    return marks


def changes_of(text):
    lines = text.split("\n")
    for n, line in enumerate(lines):
        marks = code_only(line)
        for pattern, replacement in CHANGES:
            for match in re.finditer(pattern, line):
                if not all(marks[match.start():match.end()]):
                    continue
                new = nudged(match.group()) if replacement is None else replacement
                changed = line[:match.start()] + new + line[match.end():]
                yield n, line.strip(), changed.strip(), "\n".join(
                    lines[:n] + [changed] + lines[n + 1:])


def run(command):
    try:
        done = subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL,
                              stderr=subprocess.DEVNULL, timeout=LONGEST_S)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def main():
    ask = argparse.ArgumentParser(description=__doc__,
                                  formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("paths", nargs="+", type=pathlib.Path)
    ask.add_argument("--tests", default="*")
    ask.add_argument("--most", type=int, default=40)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--build", type=pathlib.Path, default=pathlib.Path("build"))
    told = ask.parse_args()
    # stopped from outside, the file is still put back
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("stopped"))
    build = ["ninja", "-C", str(told.build), "-j2", "core_tests"]
    test = [str(told.build / "tests" / "core_tests"), told.tests]
    if not (run(build) and run(test)):
        sys.exit("the tests fail before anything is changed")

    files = [f for p in told.paths
             for f in (sorted((ROOT / p).glob("*.cpp")) if (ROOT / p).is_dir() else [ROOT / p])]
    all_changes = [(f, *change) for f in files for change in changes_of(f.read_text())]
    random.Random(told.seed).shuffle(all_changes)
    tried = noticed = 0
    for file, line, before, after, text in all_changes:
        if tried == told.most:
            break
        kept = file.read_text()
        try:
            file.write_text(text)
            if not run(build):
                continue
            tried += 1
            if run(test):
                print(f"unnoticed {file.relative_to(ROOT)}:{line + 1}\n    {before}\n    {after}",
                      flush=True)
            else:
                noticed += 1
        finally:
            file.write_text(kept)
    run(build)
    if tried == 0:
        sys.exit("nothing to change")
    print(f"noticed {noticed} of {tried}")
    sys.exit(0 if noticed >= 0.9 * tried else 1)


if __name__ == "__main__":
    main()
