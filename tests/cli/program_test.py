# Does the program keep its contract on the command line? Exit 0 with the answer on standard output;
# exit 2 with one line a problem on standard error and nothing on standard output.
import json
import os
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["HOTBAND_PROGRAM"]

SETUP = json.dumps(
    {
        "hotband": 1,
        "pack": {"cells": 6, "capacity_mAh": 5000},
        "esc": {"rating_A": 100, "pwm_Hz": 8000},
        "load": {"kind": "propeller", "full_throttle_A": 80},
        "flight": {"parts": [{"throttle_pct": 60, "seconds": 40}, {"throttle_pct": 100, "seconds": 5}]},
    }
)


def run(*words, text=""):
    return subprocess.run(
        [PROGRAM, *words], input=text, capture_output=True, encoding="utf-8", timeout=60
    )


class Program(unittest.TestCase):
    def answer(self, *words, text=""):
        done = run(*words, text=text)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        return done.stdout

    def problems(self, *words, text=""):
        done = run(*words, text=text)
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        return done.stderr.splitlines()

    def test_advises_on_standard_input_a_dash_and_a_file_alike(self):
        with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
            file.write(SETUP)
            file.flush()
            from_file = self.answer("advise", file.name)
        self.assertEqual(json.loads(from_file)["hotband"], 1)
        self.assertEqual(self.answer("advise", text=SETUP), from_file)
        self.assertEqual(self.answer("advise", "-", text=SETUP), from_file)

    def test_without_samples_there_is_no_range(self):
        peak = json.loads(self.answer("advise", "--samples", "0", text=SETUP))["esc"]["peak_C"]
        self.assertIsNone(peak["p10"])
        self.assertIsNone(peak["p90"])
        self.assertIsInstance(peak["p50"], float)

    def test_samples_must_be_a_whole_number(self):
        for words in (["--samples"], ["--samples", "-3"], ["--samples", "4.5"], ["--samples", "x"]):
            lines = self.problems("advise", *words, text=SETUP)
            self.assertEqual(len(lines), 1)
            self.assertIn("--samples", lines[0])

    def test_every_problem_has_a_line_with_its_path(self):
        setup = json.loads(SETUP)
        setup["esc"]["rating_A"] = 4000
        setup["pack"]["cells"] = 0
        lines = self.problems("advise", text=json.dumps(setup))
        self.assertEqual(len(lines), 2)
        self.assertEqual({line.split(": ")[0] for line in lines}, {"esc.rating_A", "pack.cells"})

    def test_a_link_leads_back_to_the_setup(self):
        link = self.answer("link", text=SETUP).strip()
        from_word = self.answer("unlink", link)
        self.assertEqual(self.answer("unlink", text=link + "\n"), from_word)
        self.assertEqual(self.answer("advise", text=from_word), self.answer("advise", text=SETUP))

    def test_a_damaged_link_is_one_problem(self):
        link = self.answer("link", text=SETUP).strip()
        self.assertEqual(len(self.problems("unlink", link[: len(link) // 2])), 1)

    def test_one_case_or_a_list_of_them(self):
        case = {
            "mode": "active", "Voc": 22, "R_src": 0.01, "L_src": 2e-7, "C": 1e-3, "R_esr": 0.01,
            "R_on": 1e-3, "V_f0": 0.5, "r_d": 1e-3, "R_m": 0.012, "L_m": 1.2e-5, "E": 9, "D": 0.5,
            "f": 8000,
        }  # fmt: skip
        one = json.loads(self.answer("cycle", text=json.dumps(case)))
        self.assertEqual(one["conduction"], "CCM")
        self.assertEqual(json.loads(self.answer("cycle", text=json.dumps([case]))), [one])

    def test_fields_help_and_version(self):
        self.assertIn("esc.rating_A", self.answer("fields"))
        self.assertIn("advise", self.answer("--help"))
        self.assertEqual(self.answer("advise", "--help"), self.answer("--help"))
        self.assertRegex(self.answer("--version"), r"^hotband \d+\.\d+\.\d+\n$")

    def test_what_it_does_not_know_it_says_in_one_line(self):
        for words in (["fly"], ["advise", "--fast"], ["advise", "/no/such/file"], ["advise", "/tmp"],
                      ["fields", "more"], ["link", "a", "b"]):  # fmt: skip
            self.assertEqual(len(self.problems(*words)), 1, words)

    def test_no_command_is_a_question_for_help(self):
        done = run()
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        self.assertIn("hotband advise", done.stderr)


if __name__ == "__main__":
    unittest.main()
