# Does the program keep its contract on the command line? Exit 0 with the answer on standard output;
# exit 2 with one line a problem on standard error and nothing on standard output; exit 1 when the
# answer could not be written.
import json
import os
import re
import subprocess
import tempfile
import time
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

    def test_samples_are_bounded(self):
        for number in ("10001", "2147483647", "99999999999999999999"):
            lines = self.problems("advise", "--samples", number, text=SETUP)
            self.assertEqual(len(lines), 1)
            self.assertIn("0 to 10000", lines[0])

    def test_problems_by_the_thousand_are_a_hundred_and_a_count(self):
        setup = json.loads(SETUP)
        setup["measured"] = [{"throttle_pct": 60, "trace": [[]] * 6000}] * 200
        began = time.monotonic()
        lines = self.problems("advise", text=json.dumps(setup, separators=(",", ":")))
        self.assertLess(time.monotonic() - began, 20)  # s; one on an idle machine
        self.assertEqual(len(lines), 101)
        self.assertEqual(lines[0].split(":")[0], "measured[0].trace[0]")
        self.assertEqual(lines[-1], "and 1,199,900 more")

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

    def test_a_heat_case_without_an_answer_is_named_by_its_place(self):
        case = {
            "Cj": 1, "Cb": 40, "Cs": 60, "Gjb": 3, "Gbs": 4, "A": 0.016, "H": 0.06, "L": 0.08,
            "eps": 0.85, "schedule": [{"t_end": 300, "P0": 25, "v": 10, "T_amb": 25}],
            "T_init": [25, 25, 25], "times": [300],
        }  # fmt: skip
        stiff = {**case, "Gjb": 1e15}
        began = time.monotonic()
        T = json.loads(self.answer("heat", text=json.dumps([case, stiff])))[1]["T"][0]
        self.assertLess(time.monotonic() - began, 5)  # s; it took 18
        self.assertAlmostEqual(T[0], T[1], places=6)
        frozen = {**case, "schedule": [{"t_end": 300, "P0": -1e5, "v": 10, "T_amb": 25}]}
        lines = self.problems("heat", text=json.dumps([case, frozen]))
        self.assertEqual([line.split(":")[0] for line in lines], ["[1]"])
        self.assertIn("absolute zero", lines[0])

    def test_what_cannot_be_written_is_said(self):
        for words in (["fields"], ["--help"], ["advise"], ["advise", "--lines"]):
            with open("/dev/full", "w") as full:
                done = subprocess.run(
                    [PROGRAM, *words], input=SETUP.encode(), stdout=full, stderr=subprocess.PIPE
                )
            self.assertEqual(done.returncode, 1, words)
            self.assertRegex(done.stderr.decode(), r"^cannot write to standard output: .+\n$")
            closed = subprocess.run(
                ["sh", "-c", '"$0" "$@" >&-', PROGRAM, *words], input=SETUP.encode(),
                stderr=subprocess.PIPE,
            )  # fmt: skip
            self.assertEqual(closed.returncode, 1, words)
            self.assertRegex(closed.stderr.decode(), r"^cannot write to standard output: .+\n$")

    def test_what_cannot_be_read_is_said(self):
        for script in ('"$0" advise <&-', '"$0" advise --lines <&-', '"$0" advise < /tmp',
                       '"$0" log /tmp', '"$0" unlink <&-'):  # fmt: skip
            done = subprocess.run(["sh", "-c", script, PROGRAM], capture_output=True, timeout=60)
            self.assertEqual((done.returncode, done.stdout), (2, b""), script)
            self.assertRegex(done.stderr.decode(), r"^cannot read .+: .+\n$")

    def test_an_input_without_end_is_refused(self):
        for words in (["advise"], ["link"], ["cycle"], ["heat"], ["unlink", "-"], ["log"]):
            with open("/dev/zero", "rb") as zeros:
                done = subprocess.run(
                    [PROGRAM, *words], stdin=zeros, capture_output=True, timeout=60
                )
            self.assertEqual((done.returncode, done.stdout), (2, b""), words)
            self.assertEqual(done.stderr.count(b"\n"), 1)

    def test_a_line_in_is_a_line_out(self):
        wrong = json.dumps({"hotband": 1, "pack": {"cells": 0}})
        text = "\n".join([SETUP, wrong, "", "x" * 5_000_000, SETUP])
        out = self.answer("advise", "--lines", "--samples", "0", text=text).splitlines()
        self.assertEqual(len(out), 5)
        one = self.answer("advise", "--samples", "0", text=SETUP).strip()
        self.assertEqual((out[0], out[4]), (one, one))
        for line, path in ((out[1], "pack.cells"), (out[2], "JSON"), (out[3], "JSON")):
            problems = json.loads(line)["problems"]
            self.assertIn(path, [problem["path"] for problem in problems])
        self.assertEqual(self.answer("advise", "--lines", text=""), "")

    def test_lines_stream_at_constant_memory(self):
        with subprocess.Popen(
            [PROGRAM, "advise", "--lines", "--samples", "0"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        ) as running:  # fmt: skip

            def ask(setup):
                running.stdin.write(setup.encode() + b"\n")
                running.stdin.flush()
                return running.stdout.readline()  # it comes before the input ends

            def peak_kB():
                with open(f"/proc/{running.pid}/status") as status:
                    return int(re.search(r"VmHWM:\s+(\d+)", status.read()).group(1))

            first = ask(SETUP)
            for _ in range(20):
                ask("[" * 100 + "1" * 100_000)
            before = peak_kB()
            for _ in range(100):
                self.assertEqual(ask(SETUP), first)
                ask("[" * 100 + "1" * 100_000)
            self.assertLess(peak_kB() - before, 2000)  # kB; all lines are 10 MB
            running.stdin.close()
            self.assertEqual(running.wait(), 0)

    def test_a_loggers_file_gives_rows_to_learn_from(self):
        rows = "".join(f"{i / 2};{60 if i > 20 else 0};{30 + i / 10}\n" for i in range(140))
        log = ("Zeit [s];Gas [%];Regler Temperatur [\u00b0C]\n" + rows).replace(".", ",")
        answer = json.loads(self.answer("log", text=log))
        self.assertEqual(answer["file"]["roles"]["esc_C"]["confidence"], "sure")
        measured = [hold["measured"] for hold in answer["holds"]]
        self.assertEqual([row["throttle_pct"] for row in measured], [60])
        setup = {**json.loads(SETUP), "measured": measured}
        report = json.loads(self.answer("advise", "--samples", "0", text=json.dumps(setup)))
        self.assertEqual(report["learned"]["rows"], 1)
        with tempfile.NamedTemporaryFile("w", suffix=".json") as options:
            json.dump({"setup": json.loads(SETUP), "columns": {"throttle_pct": None}}, options)
            options.flush()
            told = json.loads(self.answer("log", "--options", options.name, text=log))
        self.assertIsNone(told["file"]["roles"]["throttle_pct"])
        for text in ("", "just words\n", SETUP):
            self.assertEqual(self.problems("log", text=text)[0].split(":")[0], "log")

    def test_fields_help_and_version(self):
        self.assertIn("esc.rating_A", self.answer("fields"))
        self.assertIn("advise", self.answer("--help"))
        self.assertEqual(self.answer("advise", "--help"), self.answer("--help"))
        self.assertRegex(self.answer("--version"), r"^hotband \d+\.\d+\.\d+\n$")

    def test_what_it_does_not_know_it_says_in_one_line(self):
        for words in (["fly"], ["advise", "--fast"], ["advise", "/no/such/file"], ["advise", "/tmp"],
                      ["fields", "more"], ["link", "a", "b"],
                      ["log", "--options"], ["log", "--samples", "3"], ["link", "--lines"]):  # fmt: skip
            self.assertEqual(len(self.problems(*words)), 1, words)

    def test_no_command_is_a_question_for_help(self):
        done = run()
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        self.assertIn("hotband advise", done.stderr)


if __name__ == "__main__":
    unittest.main()
