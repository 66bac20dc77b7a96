"""cardseal image on the command line: what it reads, changes, compares, explains and writes."""

import json
import os
import re
import tempfile
import unittest
from pathlib import Path

from converters import END, hex_record, s_record
from one_program import BUILT, digest
from world import main, run

CARDSEAL = os.environ.get("CARDSEAL", "cardseal")
NO, USAGE, BAD_DATA = 1, 64, 65
PACKAGE = Path(os.environ.get("SOURCE", ".")) / "packages" / "01-frost-node"
ARM = BUILT / "arm-none-eabi-gcc" / "frost.elf"


def image(*parts):
    return {address + at: byte for address, data in parts for at, byte in enumerate(data)}


class ImageCommand(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-image-")
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)
        self.write("app.hex", hex_record(0x100, 0, b"application"), hex_record(0x110, 0, b"more"),
                   hex_record(0, 5, b"\0\0\1\1"), END)
        self.write("boot.s19", s_record(0, 0, b"boot"), s_record(1, 0x200, b"loader"),
                   s_record(9, 0))

    def write(self, name, *lines):
        (self.folder / name).write_text("\n".join(lines) + "\n", encoding="ascii")

    def run_image(self, *arguments):
        return run(CARDSEAL, "image", *arguments, cwd=self.folder)

    def read(self, *arguments, code=0):
        done = self.run_image(*arguments, "--json")
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return json.loads(done.stdout)

    def assert_image(self, expected, *arguments):
        self.assertEqual(digest(expected), self.read(*arguments)["sha256"], arguments)

    def assert_error(self, code, error, *arguments):
        found = self.read(*arguments, code=code)["error"]
        self.assertEqual(error, {key: found[key] for key in error})

    APP = ((0x100, b"application"), (0x110, b"more"))

    def test_changes_are_made_in_the_order_that_the_help_states(self):
        whole = image(*self.APP, (0x200, b"loader"))
        self.assert_image(whole, "app.hex", "--merge", "boot.s19")
        self.assert_image(image((0x100, b"app"), (0x204, b"er")), "app.hex", "--merge", "boot.s19",
                          "--crop", "0x100-0x102", "--crop", "516-0x300")
        for move in ("+0x50", "80"):
            self.assert_image(image((0x150, b"application"), (0x160, b"more")), "app.hex",
                              "--move", move)
        self.assert_image(image((0, b"application"), (0x10, b"more")), "app.hex", "--move", "-256")
        self.assert_image(image((0x100, b"application\xff"), (0x110, b"more")), "app.hex",
                          "--align", "4")
        self.assert_image(image((0x100, b"application\0\0\0\0\0more")), "app.hex", "--fill", "0")
        self.assert_image(image((0xFE, b"\x55\x55application"), (0x110, b"more")), "app.hex",
                          "--fill", "0xFE-0x104:0x55")
        # Cropped, then moved, then aligned, then filled.
        self.assert_image(image((0, b"app\xff\0\0\0\0\0\0\0\0\0\0\0\0more")), "app.hex", "--crop",
                          "0x100-0x102", "--crop", "0x110-0x113", "--move", "-0x100", "--align", "4",
                          "--fill", "0")

    def test_regions_list_every_byte_once(self):
        found = self.read("app.hex", "--region", "code:0x100-0x10F", "--region", "data:0x112-0x1FF")
        self.assertEqual([("code", 11), ("data", 2), ("", 2)],
                         [(each["name"], each["bytes"]) for each in found["regions"]])
        self.assertEqual(digest(image((0x100, b"application"))), found["regions"][0]["sha256"])
        self.assert_error(USAGE, {"code": "regions-overlap"}, "app.hex", "--region", "a:0-5",
                          "--region", "b:5-6")

    def test_every_output_is_read_back_to_the_same_image_and_start(self):
        expected = self.read(ARM)
        for name, *arguments in (("a.hex",), ("b.hex", "--record-length", "255", "--crlf"),
                                 ("a.s19", "--to", "s-record"),
                                 ("b.s19", "--to", "s-record", "--address-width", "32", "--crlf",
                                  "--record-length", "250")):
            with self.subTest(name):
                done = self.run_image(ARM, *arguments, "-o", name)
                self.assertEqual(0, done.returncode, done.stderr)
                found = self.read(name)
                self.assertEqual(expected["sha256"], found["sha256"])
                self.assertEqual(expected["start"]["value"], found["start"]["value"])
                self.assertEqual([], found["notes"])
        self.assertEqual(0, self.run_image(ARM, "--fill", "0xA5", "--to", "raw", "-o",
                                           "a.bin").returncode)
        self.assertEqual(self.read(ARM, "--fill", "0xA5")["sha256"],
                         self.read("a.bin", "--format", "raw", "--address", "0x8000000")["sha256"])

    def test_standard_output_holds_nothing_but_the_image(self):
        done = self.run_image("app.hex", "--to", "s-record", "-o", "-")
        self.assertEqual((0, ""), (done.returncode, done.stderr))
        self.assertEqual(["S0", "S1", "S1", "S5", "S9"],
                         [line[:2] for line in done.stdout.splitlines()])

    def test_the_start_address_is_written_as_stated_and_never_moved_in_silence(self):
        def written(*arguments):
            done = self.run_image("app.hex", "-o", "-", *arguments)
            self.assertEqual(0, done.returncode, done.stderr)
            return [line for line in done.stdout.split() if line[7:9] == "05"], done.stderr

        self.assertEqual(([hex_record(0, 5, b"\0\0\1\1")], ""), written())
        self.assertEqual(([], ""), written("--start", "none"))
        self.assertEqual(([hex_record(0, 5, b"\0\0\0\x55")], ""), written("--start", "0x55"))
        self.assertEqual(([], "the start address is left out, as the image was moved; --start "
                              "states one\n"), written("--move", "1"))
        self.write("other.hex", hex_record(0, 5, b"\0\0\1\2"), END)
        self.assert_error(BAD_DATA, {"code": "image-two-starts", "file": "other.hex", "line": 1,
                                     "found": "0x102"}, "app.hex", "--merge", "other.hex")
        self.read("app.hex", "--merge", "other.hex", "--start", "none")

    def test_files_that_contradict_each_other_are_not_merged(self):
        self.write("patch.hex", hex_record(0x103, 0, b"L"), END)
        self.assert_error(BAD_DATA, {"code": "image-conflict", "file": "patch.hex", "line": 1,
                                     "item": "address 0x103", "found": "0x4C on line 1",
                                     "expected": "0x6C in app.hex on line 1"},
                          "app.hex", "--merge", "patch.hex")

    def test_comparing_exits_1_and_shows_what_is_around_a_difference(self):
        self.write("other.s19", s_record(1, 0x100, b"appliances!"), s_record(1, 0x110, b"more"),
                   s_record(9, 0))
        self.assertEqual(0, self.run_image("app.hex", "--against", "app.hex").returncode)
        done = self.run_image("app.hex", "--against", "other.s19")
        self.assertEqual(NO, done.returncode, done.stderr)
        self.assertIn("differ    6 bytes; 0 only in the first, 0 only in the second, 9 equal\n",
                      done.stdout)
        self.assertIn("  differ  0x00000105  6 bytes  636174696f6e / 616e63657321  (line 1 / line 1)\n"
                      "    0x00000100  1   61 70 70 6c 69 63 61 74 69 6f 6e -- -- -- -- --\n"
                      "                2   61 70 70 6c 69 61 6e 63 65 73 21 -- -- -- -- --\n"
                      "    0x00000110  =   6d 6f 72 65 -- -- -- -- -- -- -- -- -- -- -- --\n",
                      done.stdout)

    def test_a_read_back_is_explained_difference_by_difference(self):
        memory = bytearray(b"\xff" * 0x300)
        memory[0x100:0x10B], memory[0x110:0x114] = b"application", b"more"
        memory[0x200:0x204] = b"FN01"
        memory[0x113] ^= 0x01  # a bit that the mask leaves open
        memory[0x2FF], memory[0x104] = 7, 0
        rules = ("--serial", "number:0x200:464E3031", "--mask", "fuses:0x113:F0", "--kept",
                 "trim:0x2F0-0x2FF", "--unreadable", "boot:0x104-0x104")

        def explained(code):
            (self.folder / "board.bin").write_bytes(memory)
            made = self.run_image("board.bin", "--format", "raw", "--address", "0", "--force", "-o",
                                  "board.hex")
            self.assertEqual(0, made.returncode, made.stderr)
            return self.read("app.hex", "--read-back", "board.hex", *rules, code=code)["read_back"]

        found = explained(0)
        self.assertEqual({"serial": 4, "kept": 1, "unreadable": 1, "configuration": 1,
                          "unexplained": 0}, found["bytes"])
        self.assertEqual([("unreadable", "boot", 0x104), ("configuration", "fuses", 0x113),
                          ("serial", "number", 0x200), ("kept", "trim", 0x2FF)],
                         [(r["cause"], r["name"], r["address"]) for r in found["ranges"]])
        memory[0x203] = 0x32  # the next unit's number
        memory[0x113] ^= 0x10  # a bit that counts
        found = explained(NO)
        self.assertEqual([0x113, 0x203],
                         [r["address"] for r in found["ranges"] if r["cause"] == "unexplained"])

    def test_a_read_back_is_explained_by_device_profile_and_unit(self):
        release = PACKAGE / "release.xml"
        text = release.read_text(encoding="utf-8")
        device = PACKAGE / re.search(r'<device profile="([^"]+)"', text)[1]
        place = int(re.search(r'<place region="flash" address="(0x[0-9a-f]+)"', text)[1], 16)
        firmware = PACKAGE / "firmware" / "frost_node.hex"
        memory = bytearray(b"\xff" * 0x8000)
        for segment in self.read(firmware)["segments"]:
            done = self.run_image(firmware, "--crop", "{}-{}".format(
                segment["address"], segment["address"] + segment["length"] - 1), "--to", "raw", "-o",
                "part.bin", "--force")
            self.assertEqual(0, done.returncode, done.stderr)
            part = (self.folder / "part.bin").read_bytes()
            memory[segment["address"]:segment["address"] + len(part)] = part
        memory[place:place + 12] = b"FN000006\6\0\0\0"  # number 1 is ordinal 0
        (self.folder / "board.bin").write_bytes(memory)
        self.write("fuses.hex", ":020000040082" + "78", hex_record(0, 0, b"\x62\xd9\xff"), END)
        done = self.run_image("board.bin", "--format", "raw", "--address", "0", "--merge",
                              "fuses.hex", "-o", "board.hex")
        self.assertEqual(0, done.returncode, done.stderr)
        asked = (firmware, "--read-back", "board.hex", "--erased", "none", "--device", device,
                 "--release", release)
        found = self.read(*asked, "--unit", "5")["read_back"]
        self.assertEqual((12, 0), (found["bytes"]["serial"], found["bytes"]["unexplained"]))
        found = self.read(*asked, "--unit", "6", code=NO)["read_back"]
        self.assertEqual([(place + 7, 2)],
                         [(r["address"], r["length"]) for r in found["ranges"] if r["cause"] == "unexplained"])
        self.assert_error(USAGE, {"found": "--release alone"}, *asked)
        done = self.run_image(*asked, "--unit", "999999", "--json")  # past the scheme
        self.assertEqual(USAGE, done.returncode, done.stdout)
        done = self.run_image(*asked, "--unit", "-1")
        self.assertEqual(USAGE, done.returncode, done.stdout)
        self.write("fuses.hex", ":020000040082" + "78", hex_record(0, 0, b"\x62\xd8\xff"), END)
        done = self.run_image("board.bin", "--format", "raw", "--address", "0", "--merge",
                              "fuses.hex", "-o", "other.hex")
        self.assertEqual(0, done.returncode, done.stderr)
        found = self.read(firmware, "--read-back", "other.hex", *asked[3:], "--unit", "5", code=NO)
        self.assertEqual([0x820001], [r["address"] for r in found["read_back"]["ranges"]
                                      if r["cause"] == "unexplained"])
        self.assert_error(USAGE, {"found": "no --read-back"}, "app.hex", "--device", device)
        self.assert_error(BAD_DATA, {"file": str(release)}, firmware, "--read-back", "board.hex",
                          "--device", release)

    def test_elf_is_read_as_stated_and_its_options_are_for_elf_only(self):
        by_sections = self.read(ARM)
        by_segments = self.read(ARM, "--elf-by", "segments")
        self.assertEqual(("sections", "segments"), (by_sections["elf_by"], by_segments["elf_by"]))
        self.assertGreater(by_segments["image_size"], by_sections["image_size"])
        self.assertEqual(2 * by_sections["segments"][0]["address"],
                         self.read(ARM, "--elf-by", "segments", "--address-unit", "2")["segments"][0]
                         ["address"])
        self.assert_error(USAGE, {"code": "elf-option"}, "app.hex", "--address-unit", "2")
        (self.folder / "cut.elf").write_bytes(ARM.read_bytes()[:5000])
        self.assert_error(BAD_DATA, {"code": "elf-truncated", "file": "cut.elf"}, "cut.elf")

    def test_words_that_can_not_be_read_are_usage_errors(self):
        for arguments in (("--crop", "5"), ("--crop", "9-5"), ("--move", "x"), ("--align", "0"),
                          ("--align", "4:256"), ("--fill", "0x100"), ("--fill", "5:1"),
                          ("--fill", "0-1:2:3"), ("--region", "0-5"), ("--serial", "a:0"),
                          ("--serial", "a:0:5"), ("--mask", "a:0:XY"), ("--erased", ""),
                          ("--start", "?", "-o", "x"), ("--to", "elf", "-o", "x"),
                          ("--to", "raw", "--address-width", "16", "-o", "x"),
                          ("--to", "raw", "--start", "5", "-o", "x"),
                          ("--to", "raw", "--crlf", "-o", "x"), ("--to", "raw"), ("--crlf",),
                          ("--record-length", "8"), ("--force",),
                          ("--to", "raw", "--record-length", "16", "-o", "x"),
                          ("--move", ""), ("--crop", ""), ("--fill", ""), ("--align", ""),
                          ("--against", ""), ("--read-back", ""), ("-o", ""), ("--start", ""),
                          ("--elf-by", ""), ("--region", ""),
                          ("--to", "s-record", "--address-width", "20", "-o", "x"),
                          ("--to", "s-record", "--record-length", "253", "-o", "x"),
                          ("--elf-by", "parts"), ("--format", "hex"), ("--allow", "all"),
                          ("--kept", "a:0-1")):
            with self.subTest(arguments):
                done = self.run_image("app.hex", *arguments)
                self.assertEqual((USAGE, ""), (done.returncode, done.stdout), done.stderr)
                self.assertTrue(done.stderr.startswith("cardseal: "))
        self.assertFalse((self.folder / "x").exists())


if __name__ == "__main__":
    main()
