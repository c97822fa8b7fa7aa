# What does an answer cost? Instructions as valgrind counts them, which are the same on any machine:
# of usual answers, each under a ceiling a little above what it costs now, and of ever more draws, parts,
# measured rows and lines of a log, of which each may cost about what those before it did.
import functools
import json
import os
import re
import subprocess
import unittest

PROGRAM = os.environ["HOTBAND_PROGRAM"]
# The C library chooses its routines by the processor, which is worth 2 %: everywhere the plain ones.
PLAIN_ROUTINES = "glibc.cpu.hwcaps=-AVX,-AVX2,-FMA,-FMA4,-AVX512F,-ERMS"
SETUPS = os.path.join(os.path.dirname(__file__), "..", "..", "presets", "setups")


def preset(name):
    with open(os.path.join(SETUPS, name + ".json"), encoding="utf-8") as file:
        return json.load(file)


@functools.cache
def counted(text, *call):
    counting = ["valgrind", "--tool=cachegrind", "--cache-sim=no", "--cachegrind-out-file=/dev/null"]
    done = subprocess.run(
        counting + [PROGRAM, *call, "-"],
        input=text,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        env=os.environ | {"GLIBC_TUNABLES": PLAIN_ROUTINES},
    )
    return int(re.search(r"I +refs: +([\d,]+)", done.stderr).group(1).replace(",", "")) / 1e6


def millions(setup, samples=0):
    """Millions of instructions of an answer, without those of starting the program."""
    call = ("advise", "--samples", str(samples))
    return counted(json.dumps(setup), *call) - counted("{}", *call)


def logged(lines):
    """A logger's file of so many lines, ten a second: holds of 40 s at one throttle after another."""
    text = ["time_s,throttle_pct,voltage_V,current_A,esc_C"]
    for i in range(lines):
        throttle = 40 + 17 * (i // 400) % 60
        text.append(f"{i / 10},{throttle},{25 - throttle / 50},{throttle**2 / 100},{30 + throttle / 2}")
    return "\n".join(text) + "\n"


def rising(parts):
    """The tow plane on a flight of so many parts."""
    setup = preset("draycart-tow-plane")
    setup["flight"]["parts"] = [
        {"throttle_pct": 20 + 75 * i / parts, "seconds": 20} for i in range(parts)
    ]
    return setup


def measured(rows):
    """The test stand with so many measured holds."""
    setup = preset("test-stand-measured")
    row = setup["measured"][1]
    setup["measured"] = [
        dict(
            row,
            throttle_pct=45 + 40 * i / rows,
            pack_A=9 + 24 * i / rows,
            esc_mean_C=40 + 10 * i / rows,
            esc_peak_C=47 + 11 * i / rows,
        )
        for i in range(rows)
    ]
    return setup


class Instructions(unittest.TestCase):
    def under(self, ceiling, name, samples):
        cost = millions(preset(name), samples)
        print(f"{cost:6.0f} million, at most {ceiling}: {name}, {samples} draws")
        self.assertLess(cost, ceiling)

    def straight(self, what, counts, cost):
        """Of counts that double, the later ones cost each at most half as much again."""
        costs = [cost(n) for n in counts]
        print(f"{what}: " + ", ".join(f"{c:.0f} million of {n}" for n, c in zip(counts, costs)))
        each = [
            (after - before) / (more - few)
            for few, more, before, after in zip(counts, counts[1:], costs, costs[1:])
        ]
        self.assertLess(each[-1], 1.5 * each[0])
        self.assertGreater(each[-1], 0)

    def test_the_quickest_answer(self):
        # a million and a half of it hold what each change asks of the other parts against the checks
        self.under(28, "draycart-tow-plane", 0)

    def test_draws_of_a_propeller(self):
        # 1 % of it ranks draws anew for limits a third off and more
        self.under(450, "draycart-tow-plane", 32)

    def test_draws_of_a_rotor(self):
        # the duty of each point sought from averages alone: 3 % more
        self.under(585, "teasel-hover-trainer", 32)

    def test_the_quickest_answer_after_readings(self):
        # every change learned anew: three times as much
        self.under(460, "test-stand-measured", 0)

    def test_draws_after_readings(self):
        # 3 % of it ranks draws anew for limits a third off and more
        self.under(970, "test-stand-measured", 32)

    def test_each_draw(self):
        tow = preset("draycart-tow-plane")
        self.straight("draws", (8, 16, 32), lambda n: millions(tow, n))

    def test_each_part(self):
        self.straight("parts", (8, 16, 32), lambda n: millions(rising(n)))

    def test_each_row(self):
        self.straight("rows", (2, 4, 8), lambda n: millions(measured(n)))

    def test_each_line_of_a_log(self):
        self.straight("lines", (8000, 16000, 32000), lambda n: counted(logged(n), "log"))


if __name__ == "__main__":
    unittest.main()
