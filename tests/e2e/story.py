"""A season of the tank gauge, told by packages/02-tank-gauge/story/tell: what it leaves behind, against
the logs that the simulated stations wrote, read here without any of our code."""

import csv
import json
import os
import subprocess
import tempfile
import unittest
from pathlib import Path

from world import CARDSEAL, SOURCE, main, run

SECTOR = 512
TELL = SOURCE / "packages" / "02-tank-gauge" / "story" / "tell"
LOGS = ("pilot-01.img", "pilot-02.img", "wo3010-01.img", "wo3010-02.img", "wo3010-03.img",
        "wo3020-01.img", "wo3020-03.img", "wo3030.img")


class Story(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-story-")
        cls.addClassCleanup(folder.cleanup)
        cls.folder = Path(folder.name) / "season"
        path = os.pathsep.join(str(Path(os.environ[name]).parent) for name in
                               ("CARDSEAL", "STATION_CHECK", "STATION_SIM"))
        done = subprocess.run(["bash", TELL, cls.folder], capture_output=True, text=True,
                              env={**os.environ, "PATH": path + os.pathsep + os.environ["PATH"]},
                              timeout=500, check=False)
        if done.returncode != 0:
            raise RuntimeError(f"exit {done.returncode}\n{done.stdout[-3000:]}{done.stderr[-3000:]}")
        cls.told = done.stdout
        cls.records = {image: cls.read_log(image) for image in LOGS}

    @classmethod
    def cardseal(cls, *arguments):
        done = run(CARDSEAL, *arguments, cwd=cls.folder)
        if done.returncode != 0:
            raise RuntimeError(done.stdout + done.stderr)
        return done.stdout

    @classmethod
    def read_log(cls, image):
        """Rows of the log, fields by lib/format/SPEC-station.md: station, enrolment, session, cycle,
        slot, ordinal, what."""
        listed = json.loads(cls.cardseal("card", "list", image, "--json"))
        log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
        with open(cls.folder / image, "rb") as file:
            file.seek(log["first_sector"] * SECTOR)
            text = file.read(log["size"]).decode("ascii")
        return [row for row in csv.reader(text.splitlines()[1:]) if row and row[0].strip()
                and row[0].startswith(("WHARF", "SLIP"))]

    def lot(self, work_order, register="north.register"):
        return json.loads(self.cardseal("lot", "show", work_order, "--register", register, "--json"))

    def test_every_lot_is_closed_and_its_units_add_up(self):
        for work_order, register in (("WO-3001", "north"), ("WO-3010", "north"),
                                     ("WO-3011", "south"), ("WO-3020", "north"),
                                     ("WO-3030", "north")):
            with self.subTest(work_order=work_order):
                lot = self.lot(work_order, f"{register}.register")
                self.assertTrue(lot["closed"])
                self.assertEqual(0, lot["open"])
                self.assertEqual(lot["issued"], sum(lot["counts"].values()))
                self.assertEqual(lot["issued"], sum(card["units"] for card in lot["cards"]))
        counts = self.lot("WO-3010")["counts"]
        self.assertEqual(12, counts["reworked"])
        self.assertEqual(15, self.lot("WO-3020")["counts"]["unknown"])  # the lost card

    def test_good_units_are_those_of_the_logs(self):
        for work_order, images in (("WO-3001", LOGS[:2]), ("WO-3010", LOGS[2:5]),
                                   ("WO-3020", LOGS[5:7]), ("WO-3030", LOGS[7:])):
            with self.subTest(work_order=work_order):
                ended = {}
                for image in images:
                    for row in self.records[image]:
                        ended.setdefault(int(row[5]), set()).add(row[6].strip())
                good = sum(1 for words in ended.values() if "GOOD" in words)
                self.assertGreater(good, 0)
                self.assertEqual(good, self.lot(work_order)["counts"]["good"])

    def test_no_number_is_on_two_cards(self):
        seen = {}
        for register in ("north.register", "south.register"):
            listed = json.loads(self.cardseal("serial", "list", register, "--json"))
            for row in listed["allotments"]:
                for ordinal in range(row["first"], row["first"] + row["count"]):
                    self.assertNotIn(ordinal, seen)
                    seen[ordinal] = row["card"]
        self.assertEqual(8 + 80 + 45 + 12 + 12, len(seen))

    def test_the_three_lists_of_the_recall_are_what_the_logs_say(self):
        begun = {}
        for rows in self.records.values():
            for row in rows:
                begun.setdefault(int(row[5]), set()).add((row[4].strip(), row[2].strip()))
        affected = {ordinal for ordinal, places in begun.items() if ("3", "4") in places}
        # A reworked board is affected under its new number, too.
        first = {card["card"]: card["first_ordinal"] for card in self.lot("WO-3010")["cards"]}
        now = self.lot("WO-3030")["cards"][0]["first_ordinal"]
        lines = (self.folder / "reworked.txt").read_text().splitlines()
        self.assertEqual(12, len(lines))
        old = [first[card] + int(place) - 1 for card, place, _ in map(str.split, lines)]
        follows = {now + i for i, ordinal in enumerate(old) if ordinal in affected}
        self.assertTrue(affected)
        self.assertTrue(follows - affected)
        affected |= follows
        lists = {"affected": set(), "possibly": set(), "cleared": set()}
        told = json.loads(self.cardseal(
            "recall", *LOGS, "--where", "slot=3", "--where", "session=4", "--register",
            "north.register", "--register", "south.register", "--package", "release.crp",
            "--package", "deviating.crp", "--json"))
        for span in told["spans"]:
            lists[span["list"]] |= set(range(span["first_ordinal"],
                                             span["first_ordinal"] + span["count"]))
        self.assertIn(f"affected  {len(affected)} units", self.told)  # as the story prints it
        self.assertEqual(affected, lists["affected"])
        lost = next(c for c in self.lot("WO-3020")["cards"] if c["standing"] == "lost")
        plain = self.lot("WO-3011", "south.register")["cards"][0]
        unknown = set()
        for card in (lost, plain):  # a card that never came back, and a station without a log
            unknown |= set(range(card["first_ordinal"], card["first_ordinal"] + card["units"]))
        self.assertEqual(unknown, lists["possibly"])
        self.assertEqual(157, sum(map(len, lists.values())))
        self.assertFalse(lists["affected"] & lists["cleared"])

    def test_a_reworked_board_is_found_under_both_numbers(self):
        card, place, now = (self.folder / "reworked.txt").read_text().splitlines()[0].split()
        lot = self.lot("WO-3010")
        first = next(c for c in lot["cards"] if c["card"] == card)["first_ordinal"]
        old = json.loads(self.cardseal("trace", "--ordinal", first + int(place) - 1, "--register",
                                       "north.register", "--package", "release.crp", "--json"))
        self.assertEqual("reworked", old["found"][0]["settled"]["as"])
        self.assertEqual([(now, "WO-3030")], [(number["label"], number["work_order"])
                                              for number in old["found"][0]["after"]])
        new = json.loads(self.cardseal("trace", now, "--register", "north.register", "--package",
                                       "release.crp", "--json"))
        self.assertEqual("good", new["found"][0]["result"])
        self.assertEqual("rework", new["found"][0]["class"])
        self.assertEqual([(card, int(place))], [(number["card"], number["place"])
                                                for number in new["found"][0]["before"]])
        self.assertIn(f"was before        {old['found'][0]['unit']['text']} (card {card}", self.told)

    def test_a_trace_with_its_log_names_session_slot_fixture_and_reel(self):
        row = next(row for row in self.records["wo3010-01.img"] if row[6].strip() == "GOOD")
        told = json.loads(self.cardseal("trace", "--ordinal", row[5], "--register",
                                        "north.register", "--package", "release.crp", "--log",
                                        "wo3010-01.img", "--log", "wo3010-02.img", "--json"))
        work = told["found"][0]["work"]
        end = next(one for one in work if one["outcome"] == "GOOD")
        self.assertEqual((int(row[2]), int(row[3]), int(row[4])),
                         (end["session"], end["cycle"], end["slot"]))
        self.assertEqual(("FX-220-1", "R-20931"), (end["fixture"], end["reel"]))
        self.assertTrue(all(one["slot"] == end["slot"] for one in work))
        self.assertEqual({"place": "1", "line": "LINE-1", "silicon": [],
                          "reels": [{"lot": "R-20931", "part": "U1"}]}, told["found"][0]["ordered"])

    def test_the_deviation_s_use_is_signed_with_the_closure(self):
        text = (self.folder / "WO-3020.close").read_text(encoding="utf-8")
        self.assertIn('\ndeviation "DV-26-031" 45 200\n', text)
        self.assertIn("1; 15 units of theirs unknown", text)

    def test_registers_and_archive_are_sound(self):
        for register in ("north.register", "south.register"):
            self.cardseal("serial", "check", register)
        self.assertIn("0 problems", self.cardseal("archive", "scrub", "--archive", "kept"))


if __name__ == "__main__":
    main()
