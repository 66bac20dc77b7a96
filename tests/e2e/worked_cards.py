#!/usr/bin/python3
"""The further worked releases as people work with them: signed off, put on a card, judged."""

import json
import tarfile
import tempfile
import unittest
from pathlib import Path

from world import SOURCE, World, main

TANK_GAUGE = SOURCE / "packages" / "02-tank-gauge"


def luhn_good(digits):
    """ISO/IEC 7812-1, annex B: from the right every second digit counts twice, digit by digit."""
    total = 0
    for at, digit in enumerate(reversed(digits)):
        value = int(digit) * (1 + at % 2)
        total += value // 10 + value % 10
    return total % 10 == 0


def world_of(test, product, scheme, package, name, release, *quality):
    """An owner who lets this product be made, and its package signed off."""
    folder = tempfile.TemporaryDirectory(prefix="cardseal-worked-")
    test.addClassCleanup(folder.cleanup)
    world = World(Path(folder.name) / "world").make_owner(
        "--product", f"{product}:0:1", "--window", f"keys/desk.pub:{scheme}:0:9999")
    world.pack(package, release)
    world.sign(package, "release", typed=name)
    world.sign(package, "quality", *quality, typed=name)
    return world


class TankGauge(unittest.TestCase):
    PACKAGE = "tank-gauge.crp"
    STATION = {"station": "wharf-1", "model": "quay-four"}

    @classmethod
    def setUpClass(cls):
        cls.world = world_of(cls, "tank-gauge", "tg-serial", cls.PACKAGE, "tank-gauge 3.0.2",
                             TANK_GAUGE / "release.xml", "--units-a-station", "200")
        cls.world.must(*cls.world.card_arguments(cls.PACKAGE, "card.img", "--class", "pilot",
                                                 **cls.STATION))

    def enrol(self, state, *more):
        self.world.enrol(state, *more, slots="4", supply="1800:5000:100", **self.STATION)

    def test_a_station_that_works_boards_with_a_supply_of_their_own_admits_the_card(self):
        self.enrol("own.state", "--own-supply-ok")
        said = self.world.judge("card.img", "own.state")
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)

    def test_any_other_station_refuses_it_for_the_kind_of_supply(self):
        self.enrol("other.state")
        said = self.world.judge("card.img", "other.state")
        self.assertEqual(1, said.returncode)
        self.assertIn("405", said.stdout + said.stderr)  # lib/trust/REASONS.md, SUPPLY KIND

    def test_the_package_holds_both_documents_as_they_stand_in_the_folder(self):
        with tarfile.open(self.world.path(self.PACKAGE)) as tar:
            held = {Path(name).name: tar.extractfile(name).read() for name in tar.getnames()}
        for name in ("release-notes.txt", "acceptance-test.txt"):
            self.assertEqual((TANK_GAUGE / name).read_bytes(), held.get(name), name)

    def test_numbers_begin_with_the_class_of_work_and_end_with_a_check_digit(self):
        classes = {"engineering": "X", "pilot": "P", "production": "N", "rework": "R", "sample": "M"}
        for work, letter in classes.items():
            said = json.loads(self.world.must("serial", "units", self.PACKAGE, "0-99", "--class",
                                              work, "--json"))
            for unit in said["units"]:
                self.assertEqual(f"{letter}TG{unit['number']:06}", unit["text"][:-1])
                self.assertTrue(luhn_good(unit["text"][3:]), unit)
                self.assertEqual(unit["text"].encode().ljust(16, b"\xff").hex(), unit["bytes"][0])
                self.assertEqual(unit["number"].to_bytes(8, "little").hex(), unit["bytes"][1])

    def test_the_card_says_that_the_board_feeds_itself_and_that_the_station_locks_it(self):
        said = self.world.must("show", self.PACKAGE)
        self.assertIn("board", next(line for line in said.splitlines() if "supply" in line))
        self.assertIn("reversible", said)


if __name__ == "__main__":
    main()
