#!/usr/bin/python3
"""Several packages on one card: each with numbers, a sheet and a log of its own, and a station works
some units of each. Several firmware files side by side for a station that reads plain files."""

import json
import os
import subprocess
import tempfile
import unittest
from pathlib import Path

from world import World, main, run, tool

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
SECTOR = 512
PARTITION = 8192  # sectors before it


class SeveralPackages(unittest.TestCase):
    """frost-node, and rime-node: the same release as another product, for another file name."""

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-several-")
        cls.addClassCleanup(folder.cleanup)
        cls.world = World(Path(folder.name) / "world").make_owner(
            "--product", "rime-node:0:1", "--window", "keys/desk.pub:rn-serial:500:9999")
        cls.world.make_package("frost.crp")
        cls.make_other("rime.crp", "rime-node", "RIME NODE 2.4.1", "RIME.HEX")
        cls.world.must("serial", "new", "desk.register", "--root", "owner.root")
        for station in ("orchard-1", "bench-1"):
            cls.world.must("serial", "enrol", "desk.register", "--station", station)

    @classmethod
    def make_other(cls, package, product, title, file, scheme="rn-serial"):
        world = cls.world
        release = world.copy_release(
            package + ".d",
            ("release.xml", 'product="frost-node"', f'product="{product}"'),
            ("release.xml", 'title="FROST NODE 2.4.1"', f'title="{title}"'),
            ("release.xml", 'scheme="fn-serial"', f'scheme="{scheme}"'),
            ("release.xml", '<literal text="FN"/>', '<literal text="RN"/>'),
            ("profiles/frost-node-board.xml", 'product="frost-node"', f'product="{product}"'),
            ("profiles/bench-one.xml", 'name="FIRMWARE.HEX"', f'name="{file}"'))
        world.pack(package, release)
        world.sign(package, "release", typed=f"{product} 2.4.1")
        world.sign(package, "quality", "--plain-file", "--units-a-station", "500",
                   typed=f"{product} 2.4.1")

    def arguments(self, output, *more, packages=("frost.crp", "rime.crp"), station="orchard-1",
                  model="row-six"):
        return ["card", "make", *packages, "--root", "owner.root", "--trust", "owner.trust",
                *self.world.key("desk"), "--station", station, "--model", model, "--work-order",
                "WO-7", "-o", output, *more]

    def make(self, output, *more, **where):
        return self.world.must(*self.arguments(output, "--register", "desk.register", "--force",
                                               *more, **where))

    def by_hand(self, output, *more, **where):
        return self.world.run(*self.arguments(
            output, "--card-id", "00000000000000a1", "--serial", "40", "--units", "5", "--force",
            *more, **where))

    def refused(self, said, code, *words):
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        for word in words:
            self.assertIn(word, said.stderr)

    def test_units_of_several_packages_are_conceded_by_label(self):
        world = self.world
        world.must("serial", "new", "concede.register", "--root", "owner.root")
        world.must("serial", "enrol", "concede.register", "--station", "orchard-1")
        world.must(*self.arguments("concede.img", "--register", "concede.register", "--units", "6"))
        world.enrol("concede.state", station="orchard-1")
        world.path("fail.txt").write_text("tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        for job in ("1", "2"):
            done = run(STATION_SIM, "concede.img", "--state", "concede.state", "--job", job,
                       "--scenario", "fail.txt", cwd=world.folder)
            self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        world.must("card", "note", "concede.img", "returned", "--register", "concede.register",
                   "--by", "Floor", "--note", "back")
        world.run("reconcile", "concede.img", "--register", "concede.register")
        show = ("lot", "show", "WO-7", "--register", "concede.register", "--json")
        cards = json.loads(world.must(*show))["cards"]
        self.assertEqual([[(2, 2)]] * 2, [[(span["first"], span["last"]) for span in card["open"]]
                                          for card in cards])
        numbers = [card["first_ordinal"] + 2 for card in cards]  # of the second unit of each
        done = world.run("lot", "concede", "WO-7", "--number", "CN-3", "--serial",
                         f"RN{numbers[1]:06}", "--serial", f"FN{numbers[0]:06}", "--package",
                         "frost.crp", "--package", "rime.crp", "--register", "concede.register",
                         "--root", "owner.root", "--trust", "owner.trust", *world.key("omar"),
                         "--reason", "read back by hand", "-o", "CN-3", "--confirm",
                         "concession CN-3")
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        lot = json.loads(world.must(*show))
        self.assertEqual((12, [1, 1]), (lot["shippable"], [card["counts"]["conceded"]
                                                           for card in lot["cards"]]))
        # In the text a card's units are counted over its packages, in their order on it.
        self.assertIn(f"units {cards[0]['card']} 2 2\nunits {cards[0]['card']} 8 8\n",
                      world.bytes("CN-3").decode())

    def allotments(self, card):
        rows = json.loads(self.world.must("serial", "list", "desk.register", "--json"))
        return [row for row in rows["allotments"] if row["card"] == card]

    def verified(self, card, code=0):
        said = self.world.run("card", "verify", card, "--root", "owner.root", "--json")
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return json.loads(said.stdout)

    def sim(self, card, job, cycles):
        said = run(STATION_SIM, card, "--state", "station.state", "--job", job, "--cycles", cycles,
                   cwd=self.world.folder)
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)

    def test_a_station_works_some_units_of_each_and_the_register_knows_which(self):
        self.make("card.img", "--units", "20", "--units", "12")
        report = self.verified("card.img")
        self.assertEqual([20, 12], [a["units"] for a in report["allotments"]])
        card = report["card_id"]
        self.assertEqual(2, len(self.allotments(card)))
        for path in self.world.folder.glob("station.state*"):
            path.unlink()
        self.world.enrol("station.state")
        for job, title in ((1, "FROST NODE 2.4.1"), (2, "RIME NODE 2.4.1")):
            said = self.world.station_check("card.img", "--root", "owner.root", "--state",
                                            "station.state", "--job", job, "--json")
            judged = json.loads(said.stdout)
            self.assertEqual((title, job, 2),
                             (judged["package"]["title"], judged["job"], judged["jobs"]))
        said = self.world.station_check("card.img", "--root", "owner.root", "--state",
                                        "station.state", "--job", 3)
        self.assertIn("509", said.stdout)  # lib/trust/REASONS.md: the card has no such job
        # Job 1, job 2, and back to job 1: six boards in a cycle.
        for job, cycles in ((1, 1), (2, 1), (1, 1)):
            self.sim("card.img", job, cycles)
        self.world.must("card", "note", "card.img", "on-card", "--register", "desk.register",
                        "--by", "Ines Alder", "--note", "reader 1")
        self.world.must("card", "note", "card.img", "returned", "--register", "desk.register",
                        "--by", "Ines Alder", "--note", "parcel 1")
        self.world.must("reconcile", "card.img", "--register", "desk.register")
        rows = self.allotments(card)
        self.assertEqual([12, 6], [row["begun"] for row in rows])
        self.assertEqual([12, 6], [row["good"] for row in rows])
        self.assertEqual(["returned", "returned"], [row["fate"] for row in rows])
        self.assertIn("good", self.world.must("card", "verify", "card.img", "--root", "owner.root",
                                              "--returned"))
        self.world.must("serial", "check", "desk.register")
        self.recall_tells_the_jobs_apart(card)

    def recall_tells_the_jobs_apart(self, card):
        said = json.loads(self.world.must(
            "recall", "--where", f"card={card}", "--register", "desk.register", "--package",
            "frost.crp", "--package", "rime.crp", "card.img", "--json"))
        units = said["units"]
        self.assertEqual((18, 14), (units["affected"], units["cleared"]), said)

    def test_each_job_has_a_sheet_of_its_own_on_paper_and_as_text(self):
        self.make("sheets.img", "--units", "20", "--units", "12", "--sheet", "sheet.txt")
        text = self.world.bytes("sheet.txt").decode("ascii")
        self.assertIn("THE WORK OF 2 PACKAGES", text)
        for job, title, units in ((1, "FROST NODE 2.4.1", 20), (2, "RIME NODE 2.4.1", 12)):
            self.assertIn(f"  {job}. {title}: {units} units, supply 3.300 V", text)
            self.assertIn(f"SET-UP SHEET {job} OF 2: {title}", text)
            self.assertIn(f"Choose number {job}. The display must show:\r\n     {title}", text)
            page = self.world.must("review", "sheets.img", "--root", "owner.root", "--job", job,
                                   "-o", "-")
            self.assertIn(f"choose number {job}.", page)
            self.assertIn(f"<bdi>{title}</bdi>", page)
        lines = [line for line in text.splitlines() if "package fingerprint" not in line]
        self.assertLess(max(map(len, lines)), 84)  # as wide as the sheet of one package
        said = self.world.run("review", "sheets.img", "--root", "owner.root", "-o", "-")
        self.refused(said, 64, "1 FROST NODE 2.4.1, 2 RIME NODE 2.4.1")
        said = self.world.run("review", "sheets.img", "--root", "owner.root", "--job", "3", "-o",
                              "-")
        self.refused(said, 64, "no such job")

    def test_a_dry_run_shows_every_file_and_gives_no_number(self):
        before = self.world.must("serial", "list", "desk.register")
        said = self.make("dry.img", "--units", "7", "--cards", "2", "--dry-run")
        for path in ("P01.CRP", "P02.CRP", "A01.TXT", "A02.TXT", "A02.S01", "LOG.CSV"):
            self.assertIn(f"CARDSEAL/{path}", said)
        self.assertIn(" free", said)
        # A header, and for each of 14 units three tries with a begin and an end.
        self.assertRegex(said, rf"LOG.CSV +{(1 + 14 * 6) * SECTOR} bytes")
        self.assertFalse(self.world.path("dry-01.img").exists())
        self.assertEqual(before, self.world.must("serial", "list", "desk.register"))

    def test_what_does_not_go_on_one_card_together_is_refused_and_spends_no_number(self):
        before = self.world.must("serial", "list", "desk.register")
        self.make_other("same-title.crp", "rime-node", "Frost Node 2.4.1", "RIME.HEX")
        self.make_other("sequel.crp", "rime-node", "RIME NODE 2.5", "SEQUEL.HEX")
        cases = (
            (("frost.crp", "frost.crp"), "one package is named twice"),
            (("rime.crp", "sequel.crp"), "takes the older no more"),
            (("frost.crp", "same-title.crp"), "would show one title"),
        )
        for packages, code in cases:
            said = self.world.run(*self.arguments("bad.img", "--register", "desk.register",
                                                  "--units", "5", packages=packages))
            self.refused(said, 78, code)
            self.assertFalse(self.world.path("bad.img").exists())
        self.assertEqual(before, self.world.must("serial", "list", "desk.register"))

    def test_two_packages_of_one_scheme_get_no_range_together(self):
        """A register never gives one range twice; by hand somebody could."""
        self.make_other("shared.crp", "rime-node", "SHARED", "SHARED.HEX", scheme="fn-serial")
        packages = ("frost.crp", "shared.crp")
        for first, good in ((100, False), (104, False), (96, False), (105, True), (95, True)):
            said = self.by_hand("hand.img", "--first", "100", "--first", first, packages=packages)
            if good:
                self.assertEqual(0, said.returncode, said.stderr)
            else:
                self.refused(said, 78, "the same numbers", f"from 100 and from {first}")

    def test_a_card_holds_no_more_packages_than_a_station_remembers_or_an_index_lists(self):
        five = []
        for at in range(5):
            five.append(f"five-{at}.crp")
            self.make_other(five[-1], "rime-node", f"FIVE {at}", f"FIVE{at}.HEX")
        said = self.world.run(*self.arguments("bad.img", "--register", "desk.register", "--units",
                                              "1", packages=five))
        self.refused(said, 78, "5 packages", "at most 4")
        nine = five + [f"nine-{at}.crp" for at in range(4)]
        for at, name in enumerate(nine[5:]):
            self.make_other(name, "rime-node", f"NINE {at}", f"NINE{at}.HEX")
        said = self.world.run(*self.arguments(
            "bad.img", "--register", "desk.register", "--units", "1", packages=nine,
            station="bench-1", model="bench-one"))
        self.refused(said, 64, "9 packages", "at most 8")

    def test_options_for_each_package_are_stated_once_or_for_each(self):
        said = self.world.run(*self.arguments("bad.img", "--register", "desk.register", "--units",
                                              "5", "--units", "6", "--units", "7"))
        self.refused(said, 64, "--units", "3 times", "once, or 2 times")
        said = self.by_hand("bad.img", "--first", "0", "--first", "500", "--slots", "9")
        self.refused(said, 1)  # the station and the release have six
        said = self.by_hand("bad.img", "--first", "0")
        self.refused(said, 64, "--first 1 times", "once for each of 2 packages")
        said = self.by_hand("hand.img", "--first", "0", "--first", "500")
        self.assertEqual(0, said.returncode, said.stderr)
        self.assertEqual([(40, 0), (41, 500)], [(a["serial"], a["first"]) for a in
                                                self.verified("hand.img")["allotments"]])

    def test_several_firmware_files_stand_side_by_side_and_are_proved_equal_to_their_images(self):
        self.make("plain.img", "--units", "9", "--units", "4", "--sheet", "plain.txt",
                  station="bench-1", model="bench-one")
        self.verified("plain.img")
        text = self.world.bytes("plain.txt").decode("ascii")
        for file in ("BENCH/FIRMWARE.HEX", "BENCH/RIME.HEX"):
            self.assertRegex(text, rf"(?m)^  file +{file} ")
            self.assertIn(f", file {file}", text)
        page = self.world.must("review", "plain.img", "--root", "owner.root", "--job", "2", "-o",
                               "-")
        self.assertIn("BENCH/RIME.HEX", page)
        self.assertNotIn("BENCH/FIRMWARE.HEX", page)
        # An outside reader takes the files off; the converter's memory is the package's image.
        mcopy = tool(self, "mcopy", "mtools")
        for file in ("FIRMWARE.HEX", "RIME.HEX"):
            subprocess.run([mcopy, "-n", "-i", f"plain.img@@{PARTITION * SECTOR}",
                            f"::/BENCH/{file}", file], cwd=self.world.folder, check=True)
            self.world.must("image", file, "--against",
                            "rime.crp.d/firmware/frost_node.hex")
        self.changed_file_is_named("BENCH/RIME.HEX")

    def changed_file_is_named(self, path):
        listed = json.loads(self.world.must("card", "list", "plain.img", "--json"))["files"]
        at = next(file["first_sector"] for file in listed if file["path"] == path) * SECTOR
        with open(self.world.path("plain.img"), "r+b") as card:
            card.seek(at + 20)
            card.write(b"0" if card.read(1) != b"0" else b"1")
        problems = self.verified("plain.img", code=1)["problems"]
        self.assertIn(path, [problem["item"] for problem in problems])

    def test_plain_files_that_would_be_taken_for_one_another_are_refused(self):
        for name in ("FIRMWARE.HEX", "F1RMWARE.HEX"):  # the same, and with a one
            self.make_other("alike.crp", "rime-node", "RIME NODE B", name)
            said = self.world.run(*self.arguments(
                "bad.img", "--register", "desk.register", "--units", "5",
                packages=("frost.crp", "alike.crp"), station="bench-1", model="bench-one"))
            self.refused(said, 78, "plain file", "BENCH/FIRMWARE.HEX", f"BENCH/{name}")
            for path in ("alike.crp", "alike.crp.d"):
                run("rm", "-rf", path, cwd=self.world.folder)


if __name__ == "__main__":
    main()
