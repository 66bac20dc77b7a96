"""`cardseal card write`: a card image onto a file and, where the machine lets us, a loop device; then read by others."""

import os
import re
import shutil
import subprocess

from world import WorldCase, change_byte, main, tool

REFUSED = 1


class CardWrite(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.make_card("frost-node.crp", "card.img")
        cls.world.enrol("station.state")
        cls.size = cls.world.path("card.img").stat().st_size

    def target(self, name, extra=1 << 20):
        """A file that stands for a card, with an older volume's first sector."""
        path = self.world.path(name)
        with open(path, "wb") as file:
            file.write(b"\x6b" * 4096)
            file.truncate(self.size + extra)
        return path

    def write(self, target, *more):
        return self.world.run("card", "write", "card.img", target, "--root", "owner.root", *more)

    def confirmed(self, target, *more):
        said = self.write(target, *more)
        self.assertEqual(REFUSED, said.returncode, said.stdout + said.stderr)
        self.assertIn("everything on this device would be lost: found no --confirm", said.stderr)
        self.id = re.search(r"^id +([0-9a-f]{8})$", said.stdout, re.MULTILINE).group(1)
        return self.write(target, "--confirm", self.id, *more)

    def test_nothing_is_written_before_the_device_is_confirmed(self):
        path = self.target("untouched")
        self.write(path)
        said = self.write(path, "--confirm", "00000000")
        self.assertEqual(REFUSED, said.returncode)
        self.assertIn("this is not the device that was confirmed", said.stderr)
        self.assertEqual(b"\x6b" * 4096, path.read_bytes()[:4096])

    def test_a_written_card_is_read_by_card_verify_mtools_and_a_station(self):
        path = self.target("card")
        said = self.confirmed(path)
        self.assertEqual(0, said.returncode, said.stderr)
        self.assertIn("all read back and compared", said.stdout)
        good = self.world.run("card", "verify", path, "--root", "owner.root")
        self.assertEqual(0, good.returncode, good.stdout + good.stderr)
        self.assertEqual(0, self.world.judge(path).returncode)
        mcopy = tool(self, "mcopy", "mtools")
        # The partition begins at sector 8192 (lib/format/SPEC-fat32.md).
        for image in ("card.img", "card"):
            subprocess.run([mcopy, "-n", "-i", f"{self.world.path(image)}@@{8192 * 512}",
                            "::SETUP.TXT", self.world.path(f"{image}.setup")], check=True)
        self.assertEqual(self.world.bytes("card.img.setup"), self.world.bytes("card.setup"))

    def test_an_image_that_does_not_verify_is_not_written(self):
        shutil.copy(self.world.path("card.img"), self.world.path("kept.img"))
        self.addCleanup(os.replace, self.world.path("kept.img"), self.world.path("card.img"))
        listed = self.world.must("card", "list", "card.img")
        sector = int(re.search(r"sector +(\d+)", listed).group(1))
        change_byte(self.world.path("card.img"), sector * 512 + 40)
        path = self.target("not-good")
        said = self.write(path)
        self.assertEqual(REFUSED, said.returncode)
        self.assertIn("this card image does not verify", said.stderr)

    def test_a_card_too_small_or_no_card_at_all_is_refused(self):
        path = self.target("small", extra=-512)
        said = self.write(path)
        self.assertEqual(REFUSED, said.returncode)
        self.assertIn(f"found {self.size - 512} bytes, expected at least {self.size} bytes", said.stderr)
        self.assertEqual(64, self.write("/dev/null").returncode)

    def test_the_image_itself_is_no_card(self):
        os.link(self.world.path("card.img"), self.world.path("link.img"))
        for target in ("card.img", "link.img"):
            said = self.write(target)
            self.assertEqual(64, said.returncode, said.stdout)
            self.assertIn("the image itself lies on this device", said.stderr)
        self.assertEqual(0, self.world.run("card", "verify", "card.img", "--root",
                                           "owner.root").returncode)

    def test_results_of_a_station_are_not_overwritten_unasked(self):
        path = self.target("worked")
        self.assertEqual(0, self.confirmed(path).returncode)
        with open(path, "rb") as file:
            start = file.read(32 << 20)
        # The index names the log's first sector (lib/format/SPEC.md, kind card).
        sector = int(re.search(rb"\nlog-extent (\d+) ", start).group(1))
        change_byte(path, (sector + 1) * 512 + 3)
        said = self.write(path)
        self.assertEqual(REFUSED, said.returncode)
        self.assertIn("the card holds results that a station wrote", said.stderr)
        self.assertEqual(0, self.confirmed(path, "--used").returncode)

    def test_a_loop_device_is_written_verified_and_refused_while_it_is_mounted(self):
        path = self.target("loop")
        losetup = shutil.which("losetup", path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")
        attached = losetup and subprocess.run([losetup, "-f", "--show", path], text=True,
                                              capture_output=True, check=False)
        if not attached or attached.returncode != 0:
            print("skipped: no loop device to be had (root and losetup are needed)")
            self.skipTest("no loop device")
        device = attached.stdout.strip()
        self.addCleanup(subprocess.run, [losetup, "-d", device], check=False)
        said = self.confirmed(device)
        self.assertEqual(0, said.returncode, said.stderr)
        self.assertRegex(said.stdout, r"(?m)^removable  yes$")
        good = self.world.run("card", "verify", device, "--root", "owner.root")
        self.assertEqual(0, good.returncode, good.stdout + good.stderr)
        holder = os.open(device, os.O_RDONLY | os.O_EXCL)
        try:
            now = re.search(r"(?m)^id +([0-9a-f]{8})$", self.write(device).stdout).group(1)
            said = self.write(device, "--confirm", now)
            self.assertNotEqual(0, said.returncode, "written while something held it")
            self.assertIn("busy", (said.stdout + said.stderr).lower())
        finally:
            os.close(holder)


if __name__ == "__main__":
    main()
