#!/usr/bin/python3
"""The further worked releases as people work with them: signed off, put on a card, judged."""

import json
import subprocess
import tarfile
import tempfile
import unittest
from pathlib import Path

from worked_releases import memory_of, read_text
from world import SOURCE, World, main, tool

TANK_GAUGE = SOURCE / "packages" / "02-tank-gauge"
GATE_REMOTE = SOURCE / "packages" / "03-gate-remote"


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

    def test_the_package_says_that_the_board_feeds_itself_and_that_the_station_locks_it(self):
        said = self.world.must("show", self.PACKAGE)
        self.assertIn("board", next(line for line in said.splitlines() if "supply" in line))
        self.assertIn("reversible", said)


class GateRemote(unittest.TestCase):
    PACKAGE = "gate-remote.crp"
    # Words of 14 bits; the masks of the two configuration words are those of their named bits in
    # gputils' p16f1459.inc.
    WORDS, BLANK, MASKS = 0x2000, 0x3FFF, {0x8007: 0x3EFF, 0x8008: 0x3FF3}

    @classmethod
    def setUpClass(cls):
        cls.world = world_of(cls, "gate-remote", "gr-serial", cls.PACKAGE, "gate-remote 5.1.0",
                             GATE_REMOTE / "release.xml", "--plain-file")
        cls.world.must(*cls.world.card_arguments(cls.PACKAGE, "card.img", model="jig-eight",
                                                 station="jig-1"))

    def read_off(self, path):
        """A file of the card, by mtools; the card has no partition table."""
        mcopy = tool(self, "mcopy", "mtools")
        out = self.world.path("read-off")
        subprocess.run([mcopy, "-n", "-o", "-i", self.world.path("card.img"), f"::{path}", out],
                       check=True, timeout=120)
        return out.read_text(encoding="ascii")

    def sheet(self):
        lines = self.read_off("SETUP.TXT").splitlines()
        return {line[2:24].strip(): line[24:].replace("[  ]", "").strip() for line in lines
                if line.startswith("  ") and len(line) > 24}

    def test_the_hex_file_on_the_card_holds_the_approved_bytes(self):
        approved = memory_of(read_text(GATE_REMOTE / "firmware" / "gate_remote.hex"))
        self.assertEqual(approved, memory_of(self.read_off("REMOTE.HEX")))

    def test_the_sheet_names_the_three_supplies(self):
        sheet = self.sheet()
        self.assertEqual("5.000 V", sheet["supply voltage"])
        self.assertEqual("on, at 4.100 V and at 5.400 V", sheet["verify"])
        self.assertEqual("reversible", sheet["lock"])

    def test_the_sheet_shows_the_sum_that_the_device_s_words_have(self):
        memory = memory_of(read_text(GATE_REMOTE / "firmware" / "gate_remote.hex"))

        def word(at):
            low, high = memory.get(2 * at), memory.get(2 * at + 1)
            return self.BLANK if low is None else low | high << 8

        total = sum(word(at) for at in range(self.WORDS))
        total += sum(word(at) & mask for at, mask in self.MASKS.items())
        self.assertEqual(f"{total & 0xFFFF:04X}", self.sheet()["checksum shown"])

    def test_the_sheet_says_that_each_byte_of_the_number_is_half_a_word(self):
        sheet = self.sheet()
        self.assertEqual("flash 0x3FC0, 8 bytes, binary-be from 1", sheet["serial at"])
        self.assertEqual("34", sheet["after each byte of it"])

    def test_the_order_of_work_verifies_low_then_high_and_locks_at_the_job_s_supply(self):
        steps = [line.split(". ", 1)[1] for line in self.read_off("SETUP.TXT").splitlines()
                 if line[:6].strip().rstrip(".").isdigit() and ". " in line]
        at = steps.index("program")
        self.assertEqual(["program", "verify at 4.100 V", "verify at 5.400 V",
                          "supply back at 5.000 V", "configuration", "power cycle", "lock",
                          "check of the lock", "supply off"], steps[at:])

    def test_the_package_s_verify_line_is_sealed_as_stated(self):
        with tarfile.open(self.world.path(self.PACKAGE)) as tar:
            manifest = tar.extractfile("manifest").read().decode("ascii").splitlines()
        self.assertIn("supply station 5000", manifest)
        self.assertIn("verify low-high 4100 5400", manifest)


if __name__ == "__main__":
    main()
