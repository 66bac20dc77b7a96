#!/usr/bin/python3
"""A station that checks every signature and writes nothing on the card, its write-protect tab on: card and
station must agree on it, and results come back as what two people counted."""

import json
import os
import re
import shutil
import subprocess
import tempfile
import unittest
from pathlib import Path

from world import World, change_byte, main, run, tool

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
PARTITION = 8192 * 512  # bytes before it
UNITS = 12


class NoLog(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-nolog-")
        cls.addClassCleanup(folder.cleanup)
        cls.world = world = World(Path(folder.name) / "world").make_owner()
        small = ("profiles/row-six.xml", 'cluster-sectors="8" mbr="yes" max-sectors="3842048"',
                 'cluster-sectors="1" mbr="yes" max-sectors="100000"')  # soon copied
        world.make_package("logged.crp", world.copy_release("logged", small))
        world.make_package("frost.crp", world.copy_release("release", small, (
            "profiles/row-six.xml", 'reads="signed-package"', 'reads="signed-no-log"')))
        world.must("serial", "new", "desk.register", "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            world.must("serial", "enrol", "desk.register", "--station", station)
        cls.make("frost.crp", "card.img", "orchard-1", "WO-1")
        cls.make("logged.crp", "logged.img", "orchard-1", "WO-2")
        world.enrol("writes.state")
        world.enrol("silent.state", "--no-log")

    @classmethod
    def make(cls, package, output, station, order):
        cls.world.must("card", "make", package, "--root", "owner.root", "--trust", "owner.trust",
                       *cls.world.key("desk"), "--register", "desk.register", "--station", station,
                       "--model", "row-six", "--units", UNITS, "--work-order", order, "-o", output,
                       "--sheet", f"{output}.txt")

    def ran(self, *arguments, code=0):
        said = self.world.run(*arguments)
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return said.stdout + said.stderr

    def test_the_card_is_sound_has_no_log_and_says_so_to_people(self):
        self.assertIn("log        none, as signed",
                      self.ran("card", "verify", "card.img", "--root", "owner.root"))
        self.assertNotIn("log        none", self.ran("card", "verify", "logged.img", "--root", "owner.root"))
        mtype = tool(self, "mtype", "mtools")
        at = f"{self.world.path('card.img')}@@{PARTITION}"
        note = subprocess.check_output([mtype, "-i", at, "::/CARDSEAL/NOLOG.TXT"], text=True)
        self.assertIn("no run log", note)
        self.assertNotEqual(0, subprocess.run([mtype, "-i", at, "::/CARDSEAL/LOG.CSV"],
                                              capture_output=True, check=False).returncode)
        sheet = self.world.path("card.img.txt").read_text(encoding="ascii")
        self.assertIn("write-protect tab on: the station writes nothing on it", sheet)
        self.assertIn("HAND TALLY", sheet)
        self.assertNotIn("writes its log", sheet)
        self.assertIn("write-protect tab off", self.world.path("logged.img.txt").read_text(encoding="ascii"))

    def test_whoever_makes_the_card_is_told_that_no_log_will_come_back(self):
        for package, told in (("frost.crp", True), ("logged.crp", False)):
            said = self.ran("card", "make", package, "--root", "owner.root", "--trust", "owner.trust",
                            *self.world.key("desk"), "--register", "desk.register", "--station", "orchard-1",
                            "--model", "row-six", "--units", "1", "--work-order", "WO-9", "-o", "told.img",
                            "--dry-run")
            with self.subTest(package=package):
                self.assertEqual(told, "writes no log" in said, said)

    def test_station_and_card_must_agree(self):
        for card, state, reason in (("card.img", "silent.state", 0), ("logged.img", "writes.state", 0),
                                    ("card.img", "writes.state", 508), ("logged.img", "silent.state", 508)):
            said = self.world.judge(card, state)
            with self.subTest(card=card, state=state):
                self.assertEqual(1 if reason else 0, said.returncode, said.stdout + said.stderr)
                self.assertEqual(reason != 0, re.search(r"\b508\b", said.stdout) is not None)

    def test_units_that_no_board_got_are_named_or_none_is_good(self):
        """An empty slot took the second unit: eleven boards came back, all good."""
        self.make("frost.crp", "empty.img", "orchard-2", "WO-4")
        card = self.card_of("empty.img")
        first = self.row_of(card)["first"]
        counted = ["--issued", UNITS - 1, "--good", UNITS - 1, "--scrap", 0, "--counter", f"0:{UNITS}"]
        said = self.tally(card, *counted, code=1)
        self.assertIn(f"the station's counter says {UNITS}, {UNITS - 1} good", said)
        self.assertIn("name no unit to make them fit", said)
        self.assertEqual((UNITS, 0), self.kept(card))
        self.tally(card, *counted, "--no-board", f"FN{first + UNITS + 1:06}", code=65)
        self.tally(card, *counted, "--no-board", f"FN{first + 2:06}", "-o", "empty.html")
        self.assertEqual((UNITS, UNITS - 1), self.kept(card))
        page = self.world.path("empty.html").read_text(encoding="utf-8")
        self.assertIn("no board got: 1", page)
        traced = self.ran("trace", f"FN{first + 2:06}", "--register", "desk.register", "--package",
                          "frost.crp")
        self.assertIn("not known to have ended well", traced)  # settled by the desk: lot settle --as no-board

    def kept(self, card):
        row = self.row_of(card)
        return row["begun"], row["good"]

    def test_json_tells_the_three_kinds_of_card_apart(self):
        self.world.make_plain_card("logged.crp", "plain.img")
        for card, kind in (("card.img", ("tally", True)), ("logged.img", ("log", True)),
                           ("plain.img", ("tally", False))):
            found = json.loads(self.ran("card", "verify", card, "--root", "owner.root", "--json"))
            with self.subTest(card=card):
                self.assertEqual(kind, (found["results_come_back_as"], found["station_checks_signatures"]))

    def test_a_scenario_of_the_log_is_refused_where_there_is_none(self):
        for event in ("log-records 4", "log-damaged 2", "cycle 1 card-pulled 1"):
            self.world.path("day.txt").write_text(event + "\n", encoding="ascii")
            said = run(STATION_SIM, "card.img", "--state", "silent.state", "--scenario", "day.txt",
                       cwd=self.world.folder)
            with self.subTest(event=event):
                self.assertEqual(64, said.returncode, said.stdout + said.stderr)

    def row_of(self, card):
        rows = json.loads(self.ran("serial", "list", "desk.register", "--json"))["allotments"]
        return next(row for row in rows if row["card"] == card)

    def card_of(self, image):
        return self.ran("card", "verify", image, "--root", "owner.root").split("card ", 1)[1].split()[0]

    def tally(self, card, *counted, code=0):
        return self.ran("reconcile", "--register", "desk.register", "--tally", card, *counted, "--initials",
                        "AB:CD", "--package", "frost.crp", code=code)

    def test_the_note_is_signed(self):
        shutil.copy(self.world.path("card.img"), self.world.path("changed.img"))
        content = self.world.path("changed.img").read_bytes()
        at = content.index(b"This card has no run log")
        change_byte(self.world.path("changed.img"), at)
        self.ran("card", "verify", "changed.img", "--root", "owner.root", code=1)
        self.assertRegex(self.world.judge("changed.img", "silent.state").stdout, r"\b507\b")

    def test_units_are_spent_on_a_card_that_nothing_writes_to(self):
        shutil.copy(self.world.path("silent.state"), self.world.path("work.state"))
        card = self.world.path("card.img")
        before = card.read_bytes()
        def work():
            return run(STATION_SIM, "card.img", "--state", "work.state", "--cycles", "1",
                       cwd=self.world.folder)
        card.chmod(0o444)
        for left in (UNITS - 6, 0):
            said = work()
            self.assertEqual(0, said.returncode, said.stdout + said.stderr)
            self.assertIn(f"{left} units left", said.stdout)
        self.assertRegex(self.world.judge("card.img", "work.state").stdout, r"\b395\b")
        self.assertEqual(before, card.read_bytes())

    def test_results_come_back_as_a_tally(self):
        self.make("frost.crp", "tally.img", "orchard-2", "WO-3")
        said = self.ran("reconcile", "tally.img", "--register", "desk.register", code=65)
        self.assertIn("--tally", said)
        card = self.card_of("tally.img")
        tally = ["reconcile", "--register", "desk.register", "--tally", card, "--issued", UNITS, "--good",
                 UNITS, "--scrap", 0, "--counter", f"0:{UNITS}", "--initials", "AB:CD", "--package"]
        self.assertIn("another package", self.ran(*tally, "logged.crp", code=78))
        said = self.ran(*tally, "frost.crp", "-o", "tally.html")
        self.assertIn(f"{UNITS} good", said)
        page = self.world.path("tally.html").read_text(encoding="utf-8")
        self.assertIn("The station of this card writes no log", page)
        self.ran("review", "tally.img", "--root", "owner.root", "-o", "sheet.html")
        page = self.world.path("sheet.html").read_text(encoding="utf-8")
        self.assertIn("writes nothing on it", page)
        self.assertNotIn("writes its log", page)
        self.assertNotIn("checks nothing", page)
        traced = self.ran("trace", f"FN{self.row_of(card)['first'] + 1:06}", "--register", "desk.register", "--package",
                          "frost.crp")
        self.assertIn("WO-3", traced)
        self.assertIn("good", traced)


if __name__ == "__main__":
    main()
