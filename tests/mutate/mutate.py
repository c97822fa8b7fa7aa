#!/usr/bin/env python3
"""Do the tests notice when a file of the core is wrong?

    tests/mutate/mutate.py core/advise [more files or folders] [--sample 40] [--seed 1] [--all]

One small change at a time (a comparison or a sign turned round, a term, a condition or a negation
dropped, a constant nudged, least and most exchanged, an argument pair swapped), the unit tests
built and run. A file's own tests come first (NEAR), then all that take less than half a second;
with --all also the slow ones. Prints each change that nothing noticed and `noticed N of M`; exit 1
below nine in ten. A change that does not compile is not counted, nor is one that changes nothing
that could be noticed: those are named, each with its reason, in equivalents.txt beside this file.

All of it happens on a copy of the sources in build-mutate, built quickly. What was noticed is kept
there: the same call again tries only what was not (and --sample 80 goes on after --sample 40).
--again forgets it.
"""
import argparse
import hashlib
import json
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import time
import xml.etree.ElementTree as xml

ROOT = pathlib.Path(__file__).resolve().parents[2]
WORK = ROOT / "build-mutate"
TREE = WORK / "tree"
BUILD = WORK / "build"
TESTS = BUILD / "tests" / "core_tests"
QUICK_S = 0.5  # a test that takes less is tried on every change
SLOWER = 8  # a run that takes so many times longer than it should has been noticed: it hangs

# Tests of a file, by the beginning of their names, where these are not the file's own name.
NEAR = {
    "advise/advise": ["advise", "holds", "text"],
    "advise/candidates": ["candidates", "worth"],
    "advise/changes": ["changes", "worth"],
    "advise/trial": ["trial"],
    "advise/spread": ["spread", "holds"],
    "advise/limits": ["limits"],
    "flight/heat": ["heat"],
    "flight/hold": ["hold", "mission", "spread"],
    "flight/load_fit": ["load", "fit", "operating"],
    "flight/demand_map": ["march", "mission", "trade"],
    "flight/esc_heat": ["march", "mission", "trade"],
    "flight/march": ["march", "mission", "trade", "hold"],
    "flight/settle": ["march", "mission", "trade"],
    "flight/operating": ["operating", "load"],
    "plant/make_plant": ["plant", "sun", "bay"],
    "plant/priors": ["plant", "priors", "untold"],
}

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


class Change:
    def __init__(self, path, line, column, before, after, text):
        self.path, self.line, self.before, self.after, self.text = path, line, before, after, text
        words = "|".join([str(path), before, after, str(column)])
        self.key = hashlib.sha256(words.encode()).hexdigest()[:16]

    def __str__(self):
        return f"{self.path}:{self.line + 1}\n    {self.before}\n    {self.after}"


def changes_of(path, text):
    lines = text.split("\n")
    for n, line in enumerate(lines):
        marks = code_only(line)
        for pattern, replacement in CHANGES:
            for match in re.finditer(pattern, line):
                if not all(marks[match.start():match.end()]):
                    continue
                new = nudged(match.group()) if replacement is None else replacement
                changed = line[:match.start()] + new + line[match.end():]
                if changed == line:  # nought nudged is nought
                    continue
                yield Change(path, n, match.start(), line.strip(), changed.strip(),
                             "\n".join(lines[:n] + [changed] + lines[n + 1:]))


def equivalents():
    """(file, before, after or `any`) of the changes that change nothing; blocks of four lines. One
    that is no change of what its file holds today excuses nothing, and ends the run."""
    blocks = (ROOT / "tests/mutate/equivalents.txt").read_text().split("\n\n")
    rows = [[l.strip() for l in block.splitlines() if not l.startswith("#")] for block in blocks]
    rows = [row for row in rows if row]
    possible = set()
    for name in {row[0] for row in rows}:
        if (ROOT / name).is_file():
            for change in changes_of(name, (ROOT / name).read_text()):
                possible |= {(name, change.before, change.after), (name, change.before, "any")}
    stale = [row for row in rows if len(row) != 4 or tuple(row[:3]) not in possible]
    if stale:
        sys.exit("\n    ".join(["equivalents.txt names what is no change of any file:"] +
                               ["\n    ".join(row) + "\n" for row in stale]))
    return {tuple(row[:3]) for row in rows}


def copy_sources():
    """The tree as it stands; a file that is the same keeps its time, so that nothing is rebuilt."""
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "CMakeLists.txt", "core", "tests",
         "presets"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    for name in listed:
        here, there = ROOT / name, TREE / name
        if not here.is_file():
            continue
        if not there.is_file() or here.read_bytes() != there.read_bytes():
            there.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(here, there)
    for there in [f for f in TREE.rglob("*") if f.is_file()]:
        if str(there.relative_to(TREE)) not in set(listed):
            there.unlink()


def build(jobs):
    if not (BUILD / "build.ninja").exists():
        subprocess.run(
            ["cmake", "-S", str(TREE), "-B", str(BUILD), "-G", "Ninja", "-DCMAKE_BUILD_TYPE=Quick",
             "-DCMAKE_CXX_FLAGS_QUICK=-O1", "-DHOTBAND_BENCH=OFF",
             # what a change leaves unused is no reason not to compile
             "-DHOTBAND_WERROR=OFF"] +
            (["-DCMAKE_EXE_LINKER_FLAGS=-fuse-ld=lld"] if shutil.which("ld.lld") else []),
            check=True, stdout=subprocess.DEVNULL)
    done = subprocess.run(["ninja", "-C", str(BUILD), f"-j{jobs}", "core_tests"],
                          stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return done.returncode == 0


def durations():
    """Seconds of each test; all of them must pass before anything is changed."""
    stamp = hashlib.sha256(TESTS.read_bytes()).hexdigest()
    kept = WORK / "durations.json"
    if kept.exists():
        told = json.loads(kept.read_text())
        if told["stamp"] == stamp:
            return told["seconds"]
    done = subprocess.run([str(TESTS), "-r", "xml", "-d", "yes"], capture_output=True, text=True)
    seconds = {}
    for case in xml.fromstring(done.stdout).iter("TestCase"):
        result = case.find("OverallResult")
        if result.get("success") != "true":
            sys.exit(f"fails before anything is changed: {case.get('name')}")
        seconds[case.get("name")] = float(result.get("durationInSeconds"))
    kept.write_text(json.dumps({"stamp": stamp, "seconds": seconds}))
    return seconds


def stages_for(path, seconds, whole):
    """Names of tests to run, stage by stage."""
    room_file = str(path.relative_to("core").with_suffix(""))
    near = [n + ":" for n in NEAR.get(room_file, [path.stem])]
    own = [n for n in seconds if n.startswith(tuple(near))]
    rest = sorted((n for n in seconds if n not in own), key=seconds.get)
    quick = [n for n in rest if seconds[n] < QUICK_S]
    slow = [[n] for n in rest if seconds[n] >= QUICK_S] if whole else []
    return [stage for stage in [own, quick, *slow] if stage]


def passes(names, seconds):
    spec = ",".join(re.sub(r"([\\,\[])", r"\\\1", n) for n in names)  # as Catch2 escapes
    most = 20 + SLOWER * sum(seconds[n] for n in names)
    try:
        done = subprocess.run([str(TESTS), "--abort", spec],
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=most)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def main():
    ask = argparse.ArgumentParser(description=__doc__,
                                  formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("paths", nargs="+", type=pathlib.Path)
    ask.add_argument("--sample", type=int, default=40, help="changes tried, drawn from all")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--all", action="store_true", help="slow tests of other files as well")
    ask.add_argument("--again", action="store_true", help="forget what was noticed before")
    ask.add_argument("--jobs", type=int, default=2)
    told = ask.parse_args()
    named = equivalents()
    TREE.mkdir(parents=True, exist_ok=True)
    copy_sources()
    if not build(told.jobs):
        sys.exit("does not build before anything is changed")
    seconds = durations()
    kept_file = WORK / "noticed.json"
    kept = {} if told.again or not kept_file.exists() else json.loads(kept_file.read_text())

    paths = [p.resolve().relative_to(ROOT) for p in told.paths]
    files = [f.relative_to(ROOT) for p in paths
             for f in (sorted((ROOT / p).glob("*.cpp")) if (ROOT / p).is_dir() else [ROOT / p])]
    every = [c for f in files for c in changes_of(f, (ROOT / f).read_text())]
    random.Random(told.seed).shuffle(every)
    drawn = []
    equivalent = broken = 0
    for change in every:
        if len(drawn) == told.sample:
            break
        if named & {(str(change.path), change.before, after) for after in (change.after, "any")}:
            equivalent += 1
        elif kept.get(change.key) == "does not compile":
            broken += 1
        else:
            drawn.append(change)
    tried = noticed = 0
    for change in sorted(drawn, key=lambda c: (c.path, c.line)):
        if kept.get(change.key) == "noticed":
            tried += 1
            noticed += 1
            continue
        there = TREE / change.path
        original = there.read_text()
        try:
            there.write_text(change.text)
            if not build(told.jobs):
                kept[change.key] = "does not compile"
                broken += 1
                continue
            tried += 1
            if all(passes(stage, seconds) for stage in stages_for(change.path, seconds, told.all)):
                print(f"unnoticed {change}", flush=True)
            else:
                noticed += 1
                kept[change.key] = "noticed"
        finally:
            there.write_text(original)
            kept_file.write_text(json.dumps(kept))
    if tried == 0:
        sys.exit("nothing to change")
    print(f"noticed {noticed} of {tried} ({broken} more do not compile, {equivalent} are named as "
          f"equivalent) of {len(every)} changes")
    sys.exit(0 if noticed >= 0.9 * tried else 1)


if __name__ == "__main__":
    main()
