"""A lot comes back: a station works through its card with a slot whose contact is loose, the account
names that slot, and reading it again changes nothing. A plain card comes back as a hand tally."""

import json
import os
import re
import shutil
import tempfile
import unittest
from pathlib import Path

from world import WORKED_HEX, WORKED_RELEASE, World, main, run

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
SECTOR = 512
SERIAL_AT = "0x7ff2"  # in the worked release's first place of the serial


class WayBack(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-back-")
        cls.addClassCleanup(folder.cleanup)
        cls.world = World(Path(folder.name) / "world").make_owner().make_package("frost-node.crp")

    def setUp(self):
        """A register, a card of 60 units for orchard-1 and its memory, anew for each test."""
        for name in ("desk.register", "card.img", "plain.img", "station.state", "dump.hex"):
            for path in self.world.folder.glob(name + "*"):
                path.unlink()
        self.must("serial", "new", "desk.register", "--root", "owner.root")
        self.must("serial", "enrol", "desk.register", "--station", "orchard-1")
        self.make_card("card.img", "orchard-1", "row-six", 60)
        self.world.enrol("station.state")

    def must(self, *arguments):
        return self.world.must(*arguments)

    def make_card(self, name, station, model, units, package="frost-node.crp"):
        self.must("card", "make", package, "--root", "owner.root", "--trust",
                  "owner.trust", *self.world.key("desk"), "--register", "desk.register",
                  "--station", station, "--model", model, "--units", units, "--work-order",
                  "WO-1001", "-o", name)

    def sim(self, *arguments, scenario=""):
        (self.world.folder / "day.txt").write_text(scenario, encoding="ascii")
        return run(STATION_SIM, "card.img", "--state", "station.state", "--scenario", "day.txt",
                   *arguments, cwd=self.world.folder)

    def work(self, *arguments, scenario=""):
        said = self.sim(*arguments, scenario=scenario)
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)
        return said.stdout

    def reconcile(self, *arguments, code=0):
        said = self.world.run("reconcile", *arguments, "--register", "desk.register")
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return said.stdout + said.stderr

    def account(self, *arguments, code=0):
        said = self.world.run("reconcile", *arguments, "--register", "desk.register", "--json")
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return json.loads(said.stdout)

    def codes(self, account):
        return [problem["code"] for problem in account["problems"]]

    def entries(self):
        return json.loads(self.must("serial", "list", "desk.register", "--json"))["head"]["entries"]

    def allotment(self, station):
        rows = json.loads(self.must("serial", "list", "desk.register", "--json"))["allotments"]
        return next(row for row in rows if row["station"] == station)

    def test_the_account_says_which_slot_is_loose_and_reading_it_again_changes_nothing(self):
        self.work("--fixture", "FX-07", scenario="seed 3\nslot 4 loose-contact 60\n")
        said = self.reconcile("card.img")
        self.assertIn("orchard-1, slot 4: ", said)
        self.assertIn("look at the fixture", said)
        account = self.account("card.img")
        self.assertEqual([4], [found["slot"] for found in account["slots_that_differ"]])
        one = account["allotments"][0]
        self.assertEqual(60, one["good"] + one["failed"])
        self.assertEqual((0, 0), (one["in_doubt"], one["unused"]))
        self.assertEqual([4], sorted({unit["slot"] for unit in one["not_good"]}))
        row = self.allotment("orchard-1")
        self.assertEqual((60, one["good"]), (row["begun"], row["good"]))
        entries = self.entries()
        self.assertIn("the register knew all of it", self.reconcile("card.img"))
        self.assertEqual(entries, self.entries())
        self.must("serial", "check", "desk.register")

    def test_a_day_without_trouble_names_no_slot(self):
        self.work()
        account = self.account("card.img")
        self.assertEqual([], account["slots_that_differ"])
        self.assertEqual(60, account["allotments"][0]["good"])
        self.assertEqual(10, account["yields"]["slots"][0]["units"])

    def test_cuts_and_a_pulled_card_leave_units_in_doubt_and_no_record_spoiled(self):
        self.work(scenario="cycle 2 power-cut 60\ncycle 4 card-pulled 8\n"
                           "cycle 10 slot 2 verify-error 0x0100\ncycle 10 card-pulled 13\n")
        account = self.account("card.img")
        self.assertEqual([], account["problems"])
        one = account["allotments"][0]
        self.assertEqual(60, one["good"] + one["failed"] + one["in_doubt"] + one["unused"])
        self.assertGreater(one["in_doubt"], 0)
        ordinals = [unit["ordinal"] for unit in one["not_good"]]
        self.assertEqual(len(ordinals), len(set(ordinals)))

    def test_dry_run_tells_the_same_and_keeps_nothing(self):
        self.work("--cycles", "2")
        entries = self.entries()
        self.assertIn("12 good", self.reconcile("card.img", "--dry-run"))
        self.assertEqual(entries, self.entries())
        self.assertEqual(0, self.allotment("orchard-1")["begun"])

    def test_a_card_that_comes_back_twice_is_told_from_a_copied_one(self):
        self.work("--cycles", "3")
        shutil.copy(self.world.path("card.img"), self.world.path("early.img"))
        shutil.copy(self.world.path("station.state"), self.world.path("early.state"))
        self.work("--cycles", "3")
        both = self.account("early.img", "card.img")
        self.assertEqual([], both["problems"])
        self.assertEqual(36, both["allotments"][0]["good"])
        # The copy goes on where the station is, not where the copy is: each lacks what the other has.
        shutil.copy(self.world.path("early.img"), self.world.path("copy.img"))
        said = run(STATION_SIM, "copy.img", "--state", "station.state", "--cycles", "1",
                   cwd=self.world.folder)
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)
        self.assertIn("card-copied", self.codes(self.account("card.img", "copy.img", code=1)))

    def test_a_station_whose_memory_was_set_back_is_found_by_its_serials(self):
        shutil.copy(self.world.path("station.state"), self.world.path("kept.state"))
        self.work("--cycles", "2")
        log = self.extract("first.csv")
        shutil.copy(self.world.path("kept.state"), self.world.path("station.state"))
        self.world.path("station.state.note").unlink()
        self.make_blank_log()
        self.work("--cycles", "1", scenario="cycle 1 slot 1 no-board\n")
        account = self.account(log, "card.img", code=1)
        self.assertIn("serial-twice", self.codes(account))
        # Five serials went to two boards each, and five places of the session have two serials, one
        # of them the sixth: all six are in doubt, and only the cycle that came once is good.
        self.assertIn("place-twice", self.codes(account))
        self.assertEqual(6, account["allotments"][0]["in_doubt"])
        self.assertEqual(6, account["allotments"][0]["good"])
        self.assertEqual(6, self.allotment("orchard-1")["good"])

    def log_sectors(self):
        listed = json.loads(self.must("card", "list", "card.img", "--json"))
        entry = next(file for file in listed["files"] if file["path"] == "CARDSEAL/LOG.CSV")
        return entry["first_sector"], entry["size"] // SECTOR

    def extract(self, name):
        first, count = self.log_sectors()
        with open(self.world.path("card.img"), "rb") as image:
            image.seek(first * SECTOR)
            self.world.path(name).write_bytes(image.read(count * SECTOR))
        return name

    def make_blank_log(self):
        first, count = self.log_sectors()
        with open(self.world.path("card.img"), "r+b") as image:
            image.seek((first + 1) * SECTOR)
            image.write((b" " * (SECTOR - 1) + b"\n") * (count - 1))

    def test_an_extracted_log_opens_as_a_table_and_reads_as_the_image_does(self):
        self.work("--cycles", "2", scenario="tries 1\nslot 2 loose-contact 100\n")
        self.extract("log.csv")
        lines = [line.rstrip() for line in
                 self.world.path("log.csv").read_text(encoding="ascii").splitlines()]
        records = [line.split(",") for line in lines[1:] if line]
        self.assertEqual(24, len(records))
        self.assertEqual({17}, {len(record) for record in records})
        self.assertEqual({"ORCHARD-1"}, {record[0] for record in records})
        self.assertEqual(2, sum(record[6] == "NO-CONTACT" for record in records))
        from_image = self.account("card.img")
        from_log = self.account("log.csv")
        self.assertEqual(from_image["allotments"], from_log["allotments"])

    def test_a_spoiled_record_is_reported_with_its_sector(self):
        self.work("--cycles", "2")
        log = self.world.path(self.extract("log.csv"))
        content = bytearray(log.read_bytes())
        content[5 * SECTOR + 3] ^= 1
        log.write_bytes(content)
        account = self.account("log.csv", code=1)
        self.assertIn("record-spoiled", self.codes(account))
        self.assertRegex(account["problems"][0]["what"], r"sector 5 \(1 such sector\)$")

    def test_a_dumped_board_holds_the_approved_firmware_and_its_own_serial(self):
        self.work("--cycles", "1", "--dump", "3:dump.hex")
        said = self.world.run("image", WORKED_HEX, "--read-back", "dump.hex", "--release",
                              "frost-node.crp", "--unit", "3", "--erased", "FF")
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)
        other = self.world.run("image", WORKED_HEX, "--read-back", "dump.hex", "--release",
                               "frost-node.crp", "--unit", "4", "--erased", "FF")
        self.assertEqual(1, other.returncode, other.stdout + other.stderr)
        against = self.world.run("image", WORKED_HEX, "--against", "dump.hex")
        self.assertEqual(1, against.returncode)  # the serial's own bytes differ, and nothing else
        self.assertNotIn("unexplained", said.stdout.replace("0 unexplained", ""))

    def test_a_serial_that_does_not_hold_fails_its_board(self):
        self.work("--cycles", "1", scenario=f"tries 1\ncycle 1 slot 2 verify-error {SERIAL_AT}\n")
        one = self.account("card.img")["allotments"][0]
        self.assertEqual((5, 1), (one["good"], one["failed"]))
        self.assertEqual([(2, "VERIFY")],
                         [(unit["slot"], unit["outcome"]) for unit in one["not_good"]])

    def test_a_used_up_card_and_another_s_are_refused(self):
        self.work()
        said = self.sim()
        self.assertEqual(1, said.returncode)
        self.assertIn("395 CARD USED UP", said.stdout)

    def test_a_full_log_stops_the_work_and_what_was_written_counts(self):
        said = self.sim(scenario="log-records 30\n")  # two cycles of twelve, and not a third
        self.assertEqual(1, said.returncode)
        self.assertIn("611 LOG FULL", said.stdout)
        one = self.account("card.img")["allotments"][0]
        self.assertEqual((12, 48), (one["good"], one["unused"]))

    def test_a_damaged_log_stops_the_work_and_leaves_that_board_in_doubt(self):
        said = self.sim(scenario="log-damaged 20\n")  # in the second cycle: an end that is not written
        self.assertEqual(1, said.returncode)
        self.assertIn("612 ", said.stdout)
        one = self.account("card.img")["allotments"][0]
        self.assertEqual((7, 5, 48), (one["good"], one["in_doubt"], one["unused"]))

    def test_a_slot_that_is_switched_off_gets_no_board_and_no_record(self):
        self.work("--cycles", "2", scenario="slot 2 off\n")
        account = self.account("card.img")
        self.assertEqual(10, account["allotments"][0]["good"])
        self.assertEqual([1, 3, 4, 5, 6], [row["slot"] for row in account["yields"]["slots"]])

    def test_what_a_station_finds_before_programming_is_the_outcome(self):
        found = ["wrong-device", "wrong-revision", "over-current", "locked"]
        self.work("--cycles", "1", scenario="tries 1\n" + "".join(
            f"cycle 1 slot {slot} {what}\n" for slot, what in enumerate(found, 1)))
        account = self.account("card.img")
        self.assertEqual([what.upper() for what in found],
                         [unit["outcome"] for unit in account["allotments"][0]["not_good"]])

    def test_a_board_has_the_memory_of_its_device_and_no_more(self):
        device = WORKED_RELEASE / "profiles/atmega328p.xml"
        self.work("--cycles", "1", "--device", device, "--dump", "3:dump.hex")
        said = self.world.run("image", "dump.hex", "--json")
        image = json.loads(said.stdout)
        self.assertEqual(0x8000, sum(segment["length"] for segment in image["segments"]
                                     if segment["address"] == 0))
        back = self.world.run("image", WORKED_HEX, "--read-back", "dump.hex", "--release",
                              "frost-node.crp", "--unit", "3", "--device", device)
        self.assertEqual(0, back.returncode, back.stdout + back.stderr)
        # With half of that memory the serial has no place, and no board is good.
        text = device.read_text(encoding="utf-8")
        self.assertIn('size="0x8000"', text)
        self.world.path("half.xml").write_text(text.replace('size="0x8000"', 'size="0x4000"', 1),
                                               encoding="utf-8")
        said = self.work("--cycles", "1", "--device", "half.xml")
        self.assertNotIn("GOOD", said)
        self.assertIn("VERIFY", said)

    def plain_card(self):
        self.must("serial", "enrol", "desk.register", "--station", "bench-1")
        self.make_card("plain.img", "bench-1", "bench-one", 20)
        return self.allotment("bench-1")["card"]

    TALLY = ["--issued", "20", "--good", "18", "--scrap", "2", "--counter", "400:420",
             "--initials", "AB:CD"]

    def test_a_plain_card_comes_back_as_a_hand_tally(self):
        card = self.plain_card()
        said = self.reconcile("--tally", card, *self.TALLY)
        self.assertIn("20 issued, 18 good, 2 scrap", said)
        self.assertIn("name every scrapped one", said)
        row = self.allotment("bench-1")
        self.assertEqual((20, 0), (row["begun"], row["good"]))
        first = row["first"]
        named = ["--scrapped", f"{first + 3},{first + 11}"]
        self.reconcile("--tally", card, *self.TALLY, *named)
        row = self.allotment("bench-1")
        self.assertEqual((20, 18), (row["begun"], row["good"]))
        entries = self.entries()
        self.assertIn("knew all of it", self.reconcile("--tally", card, *self.TALLY, *named))
        self.assertEqual(entries, self.entries())

    HAND = ["--plain", "BENCH/FIRMWARE.HEX", "--slots", "1-6", "--boards", "20", "--counter", "400"]

    def plain_sim(self, *arguments, scenario="", code=0, **other):
        """`other`: settings that are keyed in otherwise."""
        hand = [other.get(before.strip("-"), value)
                for before, value in zip(["", *self.HAND], self.HAND)]
        (self.world.folder / "day.txt").write_text(scenario, encoding="ascii")
        said = run(STATION_SIM, "plain.img", "--scenario", "day.txt", *hand, *arguments,
                   cwd=self.world.folder)
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        return said.stdout + said.stderr

    def test_a_plain_card_is_worked_through_by_hand_and_its_count_closes_the_lot(self):
        card = self.plain_card()
        first = self.allotment("bench-1")["first"]
        said = self.plain_sim("--serial", f"0x7ff0:FN{first:06}",
                              scenario="cycle 1 slot 4 over-current\ncycle 3 slot 2 locked\n")
        self.assertIn("20 issued, 18 good, 2 scrap", said)
        self.assertIn("400 before, 420 after", said)
        scrap = re.findall(r"^scrap +board \d+, (\S+)$", said, re.M)
        self.assertEqual([f"FN{first + 3:06}", f"FN{first + 13:06}"], scrap)
        self.reconcile("--tally", card, *self.TALLY, "--scrapped", ",".join(scrap), "--package",
                       "frost-node.crp")
        row = self.allotment("bench-1")
        self.assertEqual((20, 18), (row["begun"], row["good"]))

    def test_a_plain_station_s_board_holds_the_file_and_what_was_keyed_in(self):
        self.plain_card()
        self.plain_sim("--dump", "7:dump.hex")
        against = self.world.run("image", WORKED_HEX, "--against", "dump.hex")
        self.assertEqual(0, against.returncode, against.stdout + against.stderr)
        self.world.path("dump.hex").unlink()
        self.plain_sim("--serial", "0x7ff0:FN000061", "--dump", "7:dump.hex")
        lines = self.world.path("dump.hex").read_text(encoding="ascii").upper()
        self.assertIn(b"FN000067".hex().upper(), lines)
        self.world.path("dump.hex").unlink()
        self.plain_sim("--serial", "0x7ff0:FN000061", "--serial", "0x7ff8:4:61", "--dump", "7:dump.hex")
        back = self.world.run("image", WORKED_HEX, "--read-back", "dump.hex", "--release",
                              "frost-node.crp", "--unit", "66", "--erased", "FF")
        self.assertEqual(0, back.returncode, back.stdout + back.stderr)
        self.assertIn("1 to 8 bytes", self.plain_sim("--serial", "0x7ff8:9:61", code=64))
        self.assertIn("counted up", self.plain_sim("--serial", "0x7ff8:1:250", code=65))
        self.assertIn("counted up", self.plain_sim("--serial", "0x7ff0:FN9", code=65))
        self.assertIn("no such file", self.plain_sim(plain="BENCH/OTHER.HEX", code=65))
        self.assertIn("no slots", self.plain_sim(slots="0-3", code=64))

    def test_a_corrected_tally_never_makes_scrap_good(self):
        card = self.plain_card()
        first = self.allotment("bench-1")["first"]
        self.reconcile("--tally", card, *self.TALLY, "--scrapped", f"{first + 3},{first + 11}")
        entries = self.entries()
        said = self.reconcile("--tally", card, *self.TALLY, "--scrapped",
                              f"{first + 4},{first + 11}", code=65)
        self.assertIn("is good in the register", said)
        self.assertIn("keep it with the lot", said)
        self.assertEqual(entries, self.entries())
        self.assertEqual(18, self.allotment("bench-1")["good"])

    def test_scrap_is_named_by_the_label_s_text_when_the_package_is_there(self):
        card = self.plain_card()
        first = self.allotment("bench-1")["first"]
        serials = [self.must("trace", "--ordinal", first + unit, "--register", "desk.register",
                             "--package", "frost-node.crp").splitlines()[0].removeprefix("unit ")
                   for unit in (3, 11)]
        named = ["--scrapped", ",".join(serials)]
        self.assertIn("--package", self.reconcile("--tally", card, *self.TALLY, *named, code=64))
        self.reconcile("--tally", card, *self.TALLY, *named, "--package", "frost-node.crp")
        self.assertEqual((20, 18), (self.allotment("bench-1")["begun"],
                                    self.allotment("bench-1")["good"]))
        said = self.must("trace", serials[0], "--register", "desk.register", "--package",
                         "frost-node.crp")
        self.assertIn("begun, and not known to have ended well", said)
        said = self.reconcile("--tally", card, *self.TALLY, "--scrapped", "nonsense", "--package",
                              "frost-node.crp", code=64)
        self.assertIn("no such serial", said)

    def test_a_tally_for_a_card_with_a_log_is_refused_when_the_log_was_read(self):
        self.work("--cycles", "2")
        self.reconcile("card.img")
        entries = self.entries()
        tally = ["--issued", "6", "--good", "6", "--scrap", "0", "--counter", "0:6", "--initials",
                 "AB:CD"]
        card = self.allotment("orchard-1")["card"]
        self.assertIn("more units as begun", self.reconcile("--tally", card, *tally, code=65))
        self.assertEqual(entries, self.entries())

    def test_a_package_whose_stations_all_write_logs_takes_no_tally(self):
        shutil.copytree(WORKED_RELEASE, self.world.path("logged"))
        release = self.world.path("logged") / "release.xml"
        text = release.read_text(encoding="utf-8")
        self.assertEqual(1, text.count('<station profile="profiles/bench-one.xml"/>'))
        release.write_text(text.replace('<station profile="profiles/bench-one.xml"/>', ""),
                           encoding="utf-8")
        self.world.pack("logged.crp", release)
        self.world.sign("logged.crp", "release")
        self.world.sign("logged.crp", "quality", "--units-a-station", "500")
        card = self.allotment("orchard-1")["card"]
        said = self.reconcile("--tally", card, *self.TALLY, "--package", "logged.crp", code=78)
        self.assertIn("made from another package", said)
        self.make_card("logged.img", "orchard-1", "row-six", 20, package="logged.crp")
        rows = json.loads(self.must("serial", "list", "desk.register", "--json"))["allotments"]
        said = self.reconcile("--tally", rows[-1]["card"], *self.TALLY, "--package", "logged.crp",
                              code=78)
        self.assertIn("all stations of this package write a log", said)

    def test_a_tally_by_one_person_and_one_that_contradicts_itself_change_nothing(self):
        card = self.plain_card()
        entries = self.entries()
        one_person = [*self.TALLY[:-1], "AB:AB"]
        self.assertIn("two people", self.reconcile("--tally", card, *one_person, code=65))
        self.assertEqual(entries, self.entries())
        short = [*self.TALLY]
        short[short.index("400:420")] = "400:419"
        account = self.account("--tally", card, *short, code=1)
        self.assertEqual(["tally-counter"], self.codes(account))
        self.reconcile("--tally", "00000000000000ff", *self.TALLY, code=78)

    def test_a_plain_card_has_no_log_and_the_message_says_what_to_do(self):
        self.plain_card()
        self.assertIn("--tally", self.reconcile("plain.img", code=65))

    def test_a_card_of_another_desk_is_named_and_nothing_is_kept(self):
        self.world.make_card("frost-node.crp", "other.img")
        said = run(STATION_SIM, "other.img", "--state", "station.state", "--cycles", "1",
                   cwd=self.world.folder)
        self.assertEqual(0, said.returncode, said.stdout + said.stderr)
        entries = self.entries()
        self.assertEqual(["card-unknown"], self.codes(self.account("other.img", code=1)))
        self.assertEqual(entries, self.entries())
        self.world.path("other.img").unlink()

    def test_bad_scenarios_name_their_line(self):
        for line in ("slot 33 loose-contact 5", "cycle 0 power-cut 1", "cycle 1 slot 1 on-fire",
                     "cycle 1 slot 1 verify-error", "tries 4", "nonsense", "slot 0 off",
                     "slot 2 off now", "log-damaged 0"):
            said = self.sim(scenario="seed 1\n" + line + "\n")
            self.assertEqual(65, said.returncode, line)
            self.assertIn("day.txt:2", said.stderr)


if __name__ == "__main__":
    main()
