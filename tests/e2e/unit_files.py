#!/usr/bin/python3
"""A firmware file for each board, for a station that gives no numbers itself: each holds one serial, the
sheet has a line for each, and the card verifies only with all of them as they should be."""

import json
import re
import subprocess
import tempfile
import unittest
from pathlib import Path

from world import World, main, tool

PARTITION = 8192 * 512  # bytes before it
SERIAL_AT = 0x7FF0      # in the worked release: "FN000001" in ASCII, then the number, low byte first
UNITS = 30
FIRST = 20


class UnitFiles(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-units-")
        cls.addClassCleanup(folder.cleanup)
        cls.world = World(Path(folder.name) / "world").make_owner(
            "--window", "keys/desk.pub:fn-serial:10000:19999")
        cls.release = cls.world.copy_release(
            "release", ("profiles/bench-one.xml", 'serial="counter"', 'serial="unit-file"'),
            ("profiles/bench-one.xml", 'name="FIRMWARE.HEX"', 'name="N####.HEX"'),
            ("profiles/bench-one.xml", 'configuration="no" serial="before"',
             'configuration="no" serial="after"'),
            ("profiles/bench-one.xml", 'cluster-sectors="8" mbr="yes" max-sectors="3842048"',
             'cluster-sectors="1" mbr="yes" max-sectors="100000"'))  # soon copied
        cls.world.make_package("frost.crp", cls.release)
        cls.world.must(*cls.arguments("card.img", "--slots", "1", "--sheet", "sheet.txt"))

    @classmethod
    def arguments(cls, output, *more, first=FIRST, units=UNITS):
        return ["card", "make", "frost.crp", "--root", "owner.root", "--trust", "owner.trust",
                *cls.world.key("desk"), "--card-id", "00000000000000a1", "--station", "bench-1",
                "--model", "bench-one", "--serial", "1", "--first", first, "--units", units,
                "--work-order", "WO-8", "-o", output, *more]

    def verified(self, card, code=0):
        said = self.world.run("card", "verify", card, "--root", "owner.root", "--json")
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return json.loads(said.stdout)

    def test_each_file_holds_the_firmware_and_one_serial_as_outside_readers_take_it(self):
        mcopy = tool(self, "mcopy", "mtools")
        objcopy = tool(self, "objcopy", "binutils")
        out = self.world.path("out")
        out.mkdir()
        subprocess.run([mcopy, "-n", "-i", f"{self.world.path('card.img')}@@{PARTITION}",
                        "::/BENCH/*", out], check=True)
        names = sorted(path.name for path in out.iterdir())
        self.assertEqual([f"N{FIRST + i:04}.HEX" for i in range(UNITS)], names)
        firmware = self.binary(objcopy, self.world.path("release/firmware/frost_node.hex"))
        for i, name in enumerate(names):
            held = self.binary(objcopy, out / name)
            number = FIRST + i + 1  # the scheme begins with 1
            serial = f"FN{number:06}".encode() + number.to_bytes(4, "little")
            self.assertEqual(serial, held[SERIAL_AT:SERIAL_AT + 12])
            self.assertEqual(firmware[:SERIAL_AT].ljust(SERIAL_AT, b"\xff"), held[:SERIAL_AT])
            self.assertEqual(b"", held[SERIAL_AT + 12:].strip(b"\xff"))

    def binary(self, objcopy, path):
        target = path.with_suffix(".bin")
        subprocess.run([objcopy, "-I", "ihex", "-O", "binary", "--gap-fill", "0xff", path, target],
                       check=True)
        return target.read_bytes()

    def test_the_card_verifies_and_names_the_file_that_does_not(self):
        self.assertEqual([], self.verified("card.img")["problems"])
        listed = json.loads(self.world.must("card", "list", "card.img", "--json"))["files"]
        files = [file for file in listed if file["path"].startswith("BENCH/")]
        self.assertEqual(UNITS, len(files))
        card = self.world.bytes("card.img")
        for file in (files[0], files[-1]):
            changed = bytearray(card)
            at = file["first_sector"] * 512 + 12
            changed[at] = ord("0") if changed[at] != ord("0") else ord("1")
            self.world.path("changed.img").write_bytes(changed)
            problems = self.verified("changed.img", code=1)["problems"]
            self.assertEqual([file["path"]], [problem["item"] for problem in problems])
        # Two files that changed places would give two boards the other's numbers: both are named.
        changed = bytearray(card)
        one, other = (file["first_sector"] * 512 for file in files[:2])
        size = files[0]["size"]
        changed[one:one + size], changed[other:other + size] = (card[other:other + size],
                                                                card[one:one + size])
        self.world.path("changed.img").write_bytes(changed)
        problems = self.verified("changed.img", code=1)["problems"]
        self.assertEqual([file["path"] for file in files[:2]],
                         [problem["item"] for problem in problems])

    def test_a_file_that_is_gone_is_missed(self):
        mdel = tool(self, "mdel", "mtools")
        image = self.world.path("gone.img")
        image.write_bytes(self.world.bytes("card.img"))
        subprocess.run([mdel, "-i", f"{image}@@{PARTITION}", "::/BENCH/N0025.HEX"], check=True)
        problems = self.verified("gone.img", code=1)["problems"]
        self.assertIn("BENCH/N0025.HEX", [problem["item"] for problem in problems])

    def test_the_sheet_has_a_line_to_tick_for_each_board_and_nothing_to_count(self):
        text = self.world.bytes("sheet.txt").decode("ascii")
        lines = re.findall(r"(?m)^  BENCH/N(\d{4})\.HEX +FN(\d{6}) +\[  \] \[  \]\r$", text)
        self.assertEqual([(f"{FIRST + i:04}", f"{FIRST + i + 1:06}") for i in range(UNITS)], lines)
        self.assertIn("never load it", text)
        self.assertNotIn("count up by", text)
        page = self.world.must("review", "card.img", "--root", "owner.root", "-o", "-")
        for word in ("BENCH/N0020.HEX", "BENCH/N0049.HEX", "two boards of one number"):
            self.assertIn(word, page)
        self.assertNotIn("count up by", page)

    def refused(self, words, *arguments, code=78, **where):
        said = self.world.run(*self.arguments("bad.img", *arguments, **where))
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        for word in words:
            self.assertIn(word, said.stderr)
        self.assertFalse(self.world.path("bad.img").exists())

    def test_what_can_not_be_is_refused_with_what_could(self):
        self.refused(("6 slots on", "one slot"))
        self.refused(("10029", "N####.HEX"), "--slots", "1", first=10000)
        wrong = self.world.copy_release(
            "wrong", ("profiles/bench-one.xml", 'serial="counter"', 'serial="unit-file"'))
        said = self.world.run("check", wrong)
        self.assertEqual(65, said.returncode, said.stdout)
        self.assertIn("such as U####.HEX", said.stderr)


if __name__ == "__main__":
    main()
