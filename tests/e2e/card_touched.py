"""A card that was in a desktop's reader, and one that came back: told apart from one that was changed."""

import json
import os
import shutil
import subprocess

from world import WorldCase, change_byte, copy_sparse, main, run, tool

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
PARTITION = 8192  # sector (lib/format/SPEC-fat32.md)


class Touched(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.make_card("frost-node.crp", "card.img")
        cls.world.enrol("station.state")

    def setUp(self):
        self.card = f"{self._testMethodName}.img"
        copy_sparse(self.world.path("card.img"), self.world.path(self.card))

    def verify(self, *more):
        return self.world.run("card", "verify", self.card, "--root", "owner.root", *more)

    def told(self, *more):
        done = self.verify("--json", *more)
        return done.returncode, json.loads(done.stdout)

    def put(self, name, content=b"x"):
        """By mtools, an outside writer."""
        mcopy = tool(self, "mcopy", "mtools")
        source = self.world.path("put")
        source.write_bytes(content)
        image = f"{self.world.path(self.card)}@@{PARTITION * 512}"
        folder = "/".join(name.split("/")[:-1])
        if folder:
            subprocess.run([shutil.which("mmd"), "-D", "s", "-i", image, f"::{folder}"],
                           check=False, capture_output=True)
        subprocess.run([mcopy, "-i", image, source, f"::{name}"], check=True)

    def assert_touched(self):
        code, told = self.told()
        self.assertEqual((0, True, False), (code, told["touched"], told["sound"]), told)
        done = self.verify()
        self.assertIn(f"touched    {self.card}: content sound", done.stdout)
        self.assertIn("write the card again", done.stderr)
        self.assertEqual(0, self.world.judge(self.card, "station.state").returncode)

    def test_the_mark_of_being_in_use_alone_is_a_touch(self):
        change_byte(self.world.path(self.card), PARTITION * 512 + 65, 1)
        self.assert_touched()

    def test_files_that_desktops_leave_are_a_touch(self):
        for name in ("System Volume Information/WPSettings.dat", "._SETUP.TXT", ".DS_Store"):
            self.put(name)
        _, told = self.told()
        self.assertEqual({"System Volume Information/WPSettings.dat", "._SETUP.TXT",
                          ".DS_Store"}, set(told["left_over"]))
        self.assert_touched()

    def test_a_mount_that_only_looked_is_a_touch_at_most(self):
        if os.geteuid() != 0:
            self.skipTest("skipped: mounting needs root")
        there = self.world.path("mounted")
        there.mkdir()
        done = subprocess.run(["mount", "-o", f"loop,offset={PARTITION * 512}", "-t", "vfat",
                               self.world.path(self.card), there], capture_output=True,
                              check=False)
        if done.returncode != 0:
            self.skipTest(f"skipped: this machine mounts no vfat: {done.stderr!r}")
        try:
            self.assertIn("SETUP.TXT", os.listdir(there))
        finally:
            subprocess.run(["umount", there], check=True)
        code, told = self.told()
        self.assertEqual(0, code, told)

    def test_any_other_file_is_refused(self):
        self.put("NOTES.TXT")
        code, told = self.told()
        self.assertEqual((1, False, ["NOTES.TXT"]), (code, told["touched"], told["unplanned"]))
        self.put(".DS_Store")
        code, told = self.told()
        self.assertEqual((1, False), (code, told["touched"]))

    def test_a_touched_card_whose_content_changed_is_not_sound(self):
        self.put(".DS_Store")
        listed = json.loads(self.world.must("card", "list", self.card, "--json"))
        package = next(f for f in listed["files"] if f["path"].endswith(".CRP"))
        change_byte(self.world.path(self.card), package["first_sector"] * 512 + 3000, 4)
        code, told = self.told()
        self.assertEqual((1, False), (code, told["touched"]))

    def test_a_card_that_came_back_is_judged_with_its_log(self):
        done = run(STATION_SIM, self.card, "--state", "station.state",
                   "--cycles", "1", cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        code, told = self.told()
        self.assertEqual((1, ["log-not-empty"]), (code, [p["code"] for p in told["problems"]]))
        code, told = self.told("--returned")
        self.assertEqual((0, True), (code, told["log"]["whole"]), told)
        self.assertGreater(told["log"]["records"], 0)
        done = self.verify("--returned")
        self.assertRegex(done.stdout, r"log +\d+ records in \d+ sectors, whole\n")
        listed = json.loads(self.world.must("card", "list", self.card, "--json"))
        log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
        change_byte(self.world.path(self.card), log["first_sector"] * 512 + 512 + 40, 4)
        code, told = self.told("--returned")
        self.assertEqual((1, [1]), (code, told["log"]["spoiled"]), told)


if __name__ == "__main__":
    main()
