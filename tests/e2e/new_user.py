"""From nothing to a clean release with `cardseal new` and what `cardseal check` says alone: each
step mends what the check named, in the file and line that it named."""

import hashlib
import os
import re
import shutil
import tempfile
import unittest
from pathlib import Path

from world import main, run

CARDSEAL = os.environ.get("CARDSEAL", "cardseal")
SOURCE = Path(os.environ.get("SOURCE", "."))
OLD, NEW = 0, 1


class NewUser(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-new-")
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)
        done = run(CARDSEAL, "new", "r", cwd=self.folder)
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("next: put your firmware into r/firmware", done.stderr)

    def change(self, name, *changes):
        path = self.folder / "r" / name
        text = path.read_text(encoding="utf-8")
        for change in changes:
            self.assertIn(change[OLD], text)
            text = text.replace(*change)
        path.write_text(text, encoding="utf-8")

    def check(self, code):
        done = run(CARDSEAL, "check", "r/release.xml", cwd=self.folder)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done.stdout + done.stderr

    def found(self, rule, text):
        """Lines of what a rule found, each with its file and line."""
        part = text.split(f"refuse {rule}: ")[1].split("\nrefuse ")[0].split("\nnote ")[0]
        lines = [line.strip() for line in part.splitlines()[1:] if line.startswith("  ")]
        for line in lines:
            self.assertRegex(line, r"^r/[a-z_/]+\.(xml|hex):[1-9][0-9]*: ")
        return lines

    def fill_in(self):
        """What the check of the fresh folder asks for."""
        self.assertIn("r/firmware/my_product.hex: can't read: no such file", self.check(66))
        firmware = SOURCE / "packages" / "01-frost-node" / "firmware" / "frost_node.hex"
        shutil.copy(firmware, self.folder / "r" / "firmware" / "my_product.hex")
        digest = hashlib.sha256(firmware.read_bytes()).hexdigest()
        said = self.check(1)
        self.assertIn(f"has SHA-256 {digest}, the release states {64 * '0'}",
                      self.found("firmware-digest-differs", said)[0])
        self.assertGreater(len(self.found("value-to-fill-in", said)), 15)
        self.change("release.xml", (64 * "0", digest))
        shutil.copy(SOURCE / "templates" / "author" / "devices" / "atmega328p.xml",
                    self.folder / "r" / "profiles" / "device.xml")
        for name in ("board", "station"):
            path = self.folder / "r" / "profiles" / f"{name}.xml"
            path.write_text(re.sub('"to-fill-in; [^"]*"', '"invented"',
                                   path.read_text(encoding="utf-8")), encoding="utf-8")
        said = self.check(1)
        self.assertIn("my-board carries my-device, the release is for atmega328p",
                      self.found("board-device-differs", said)[0])
        self.assertIn("this release can't be packed: 1 refusal", said)
        self.change("profiles/board.xml", ('device="my-device"', 'device="atmega328p"'))

    def test_check_alone_leads_to_a_clean_release(self):
        self.fill_in()
        self.assertIn("this release can be packed: 0 refusals", self.check(0))

    def test_three_mistakes_are_each_named_with_file_line_and_values(self):
        self.fill_in()
        mistakes = (
            (("release.xml", ('millivolts="3300"', 'millivolts="5000"')), "supply-above-board",
             r"r/release\.xml:[0-9]+: .*5050 mV.*3600 mV"),
            (("release.xml", ('permitted="1-6"', 'permitted="1-8"')), "slot-missing",
             r"r/release\.xml:[0-9]+: slots 7, 8 permitted, my-station has slots 1 to 6"),
            (("release.xml", ('address="0x7ff0"', 'address="0x7ffc"'),
              ('address="0x7ff8"', 'address="0x7ff0"')), "serial-outside-region",
             r"r/release\.xml:[0-9]+: .*0x7FFC to 0x8003"),
        )
        for (name, *changes), _, _ in mistakes:
            self.change(name, *changes)
        for (name, *changes), rule, says in mistakes:  # all at once, mended one after the other
            said = self.check(1)
            self.assertTrue(any(re.search(says, line) for line in self.found(rule, said)), said)
            self.assertIn("this release can't be packed: ", said)
            self.change(name, *[(new, old) for old, new in reversed(changes)])
            self.assertNotIn(f"refuse {rule}: ", self.check(0 if rule == mistakes[-1][1] else 1))
        self.assertIn("this release can be packed: 0 refusals", self.check(0))


if __name__ == "__main__":
    main()
