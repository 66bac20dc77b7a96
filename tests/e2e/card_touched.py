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

    def work(self, card):
        self.world.enrol(f"{card}.state")
        done = run(STATION_SIM, card, "--state", f"{card}.state", "--cycles", "1",
                   cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

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
        for name in ("System Volume Information/WPSettings.dat", "._.Trashes", ".DS_Store"):
            self.put(name)
        _, told = self.told()
        self.assertEqual({"System Volume Information/",
                          "System Volume Information/WPSettings.dat", "._.Trashes", ".DS_Store"},
                         set(told["left_over"]))
        self.assert_touched()

    def test_a_touched_card_has_its_sheet_and_a_touched_image_is_not_written(self):
        self.put(".DS_Store")
        sheet = f"{self.card}.html"
        done = self.world.run("review", self.card, "--root", "owner.root", "-o", sheet)
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("frost-node", self.world.path(sheet).read_text(encoding="utf-8"))
        target = self.world.path(f"{self.card}.target")
        with open(target, "wb") as file:
            file.truncate(self.world.path(self.card).stat().st_size)
        done = self.world.run("card", "write", self.card, target, "--root", "owner.root")
        self.assertEqual(1, done.returncode, done.stdout)
        self.assertIn("a system had the image mounted", done.stderr)

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

    def test_a_file_that_a_station_could_take_for_firmware_is_no_left_over(self):
        listed = json.loads(self.world.must("card", "list", self.card, "--json"))
        planned = {f["path"].rsplit(".", 1)[-1] for f in listed["files"]}
        self.assertIn("TXT", planned)
        for name in ("._NOTES.TXT", "System Volume Information/EVIL.TXT"):
            self.put(name)
        code, told = self.told()
        self.assertEqual((1, False, 2), (code, told["touched"], len(told["unplanned"])), told)

    def test_names_that_only_look_like_a_system_s_are_refused(self):
        for name in (".Trash-FIRMWARE.HEX", "BENCH/Thumbs.db"):
            self.put(name)
        code, told = self.told()
        self.assertEqual((1, {".Trash-FIRMWARE.HEX", "BENCH/", "BENCH/Thumbs.db"}),
                         (code, set(told["unplanned"])))

    def test_an_empty_folder_that_nobody_planned_is_refused(self):
        mmd = tool(self, "mmd", "mtools")
        image = f"{self.world.path(self.card)}@@{PARTITION * 512}"
        subprocess.run([mmd, "-i", image, "::NOTES"], check=True)
        code, told = self.told()
        self.assertEqual((1, ["NOTES/"]), (code, told["unplanned"]))

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
        self.work(self.card)
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
        self.assertEqual((1, [1], False), (code, told["log"]["spoiled"], told["good"]), told)
        done = self.verify("--returned")
        self.assertIn("content sound; reconcile it, and count its boards by hand", done.stdout)
        self.assertNotIn("send it out", done.stdout)

    def test_another_card_s_log_is_noticed(self):
        self.work(self.card)
        other = f"{self._testMethodName}-2.img"
        arguments = self.world.card_arguments("frost-node.crp", other)
        arguments[arguments.index("--card-id") + 1] = "00000000000000a2"
        self.world.must(*arguments)
        sectors = []
        for card in (self.card, other):
            listed = json.loads(self.world.must("card", "list", card, "--json"))
            log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
            sectors.append((log["first_sector"] * 512, log["size"]))
        with open(self.world.path(other), "rb") as file:
            file.seek(sectors[1][0])
            content = file.read(sectors[1][1])
        with open(self.world.path(self.card), "r+b") as file:
            file.seek(sectors[0][0])
            file.write(content)
        code, told = self.told("--returned")
        self.assertEqual((1, ["log-other-card"]), (code, [p["code"] for p in told["problems"]]))

    def test_a_log_whose_header_is_damaged_is_told_with_the_rest(self):
        listed = json.loads(self.world.must("card", "list", self.card, "--json"))
        log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
        change_byte(self.world.path(self.card), log["first_sector"] * 512 + 3, 4)
        code, told = self.told("--returned")
        self.assertEqual((1, ["log-header"]), (code, [p["code"] for p in told["problems"]]))


if __name__ == "__main__":
    main()
