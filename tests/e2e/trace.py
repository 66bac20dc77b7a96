"""From a label back to card, station, firmware, settings and the people who approved them."""

import hashlib
import json

from world import SOURCE, WorldCase, main

NO, USAGE = 1, 64
FIRMWARE = SOURCE / "packages" / "01-frost-node" / "firmware" / "frost_node.hex"


class Trace(WorldCase):
    @classmethod
    def prepare(cls):
        world = cls.world
        world.must("serial", "new", "desk.register", "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            world.must("serial", "enrol", "desk.register", "--station", station)
        world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust", "owner.trust",
                   *world.key("desk"), "--register", "desk.register", "--cards", "2", "--station",
                   "orchard-1", "--station", "orchard-2", "--model", "row-six", "--units", "60",
                   "--work-order", "WO-1001", "-o", "card.img")
        world.must("serial", "range", "desk.register", "--root", "owner.root", "--trust",
                   "owner.trust", "--desk", "keys/desk.pub", "--release", "frost-node.crp",
                   "--count", "5", "--note", "bench samples")

    def trace(self, *arguments):
        return self.world.run("trace", *arguments, "--register", "desk.register", "--package",
                              "frost-node.crp")

    def asked(self, *arguments, code=0):
        done = self.trace(*arguments, "--json")
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return json.loads(done.stdout)

    def test_a_label_leads_to_its_card_station_file_settings_and_people(self):
        found = self.asked("FN000061")["found"]  # number 61 is the 61st unit: first of the second card
        self.assertEqual(1, len(found))
        unit = found[0]
        self.assertEqual({"ordinal": 60, "number": 61, "text": "FN000061"}, unit["unit"])
        self.assertEqual(("orchard-2", 1, "WO-1001", "production"),
                         (unit["station"], unit["allotment"], unit["work_order"], unit["class"]))
        listed = json.loads(self.world.must("serial", "list", "desk.register", "--json"))
        self.assertEqual(listed["allotments"][1]["card"], unit["card"])
        package = unit["package"]
        self.assertEqual(hashlib.sha256(FIRMWARE.read_bytes()).hexdigest(), package["firmware_sha256"])
        self.assertEqual(3300, package["supply_mv"])
        self.assertEqual([("ines", "release"), ("omar", "quality")],
                         [(s["person"], s["role"]) for s in package["signoffs"]])
        self.assertEqual("not-reported", unit["result"])

    def test_it_reads_as_people_ask(self):
        said = self.trace("FN000001", "--root", "owner.root", "--trust", "owner.trust")
        self.assertEqual(0, said.returncode, said.stderr)
        lines = said.stdout.splitlines()
        self.assertEqual("unit FN000001", lines[0])
        self.assertIn("  station           orchard-1, enrolment 1, allotment 1", lines)
        self.assertTrue(any("omar in role quality" in line for line in lines), said.stdout)
        self.assertIn("  sign-offs         verified by the root and trust list given", lines)
        self.assertEqual("", said.stderr, "a sound package was complained of")
        plain = self.trace("FN000001").stdout
        self.assertIn("  sign-offs         as they stand: not verified", plain)

    def test_a_sign_off_that_was_edited_is_not_told_as_one(self):
        whole = self.world.bytes("frost-node.crp")
        self.assertEqual(1, whole.count(b"tests 41 to 58"))
        self.world.path("forged.crp").write_bytes(whole.replace(b"tests 41 to 58", b"TESTS 41 to 58"))
        said = self.world.run("trace", "FN000001", "--register", "desk.register", "--package",
                              "forged.crp", "--root", "owner.root", "--trust", "owner.trust")
        self.assertEqual(65, said.returncode)
        self.assertIn("forged.crp", said.stderr)
        self.assertEqual("", said.stdout)

    def test_a_number_given_by_hand_is_told_with_its_note(self):
        apart = self.asked("FN000121")["apart"]
        self.assertEqual(("hand", "bench samples"), (apart[0]["use"], apart[0]["note"]))

    def test_what_nobody_gave_and_what_is_no_serial_are_told_apart(self):
        said = self.trace("FN000999")
        self.assertEqual(NO, said.returncode)
        self.assertIn("this register gave that number to nobody", said.stderr)
        said = self.trace("FN99")
        self.assertEqual(NO, said.returncode)
        self.assertIn("no package given makes such a serial", said.stderr)
        self.assertEqual(USAGE, self.trace().returncode)
        self.assertEqual(USAGE, self.trace("FN000001", "--ordinal", "3").returncode)
        self.assertEqual([], self.asked("FN000999", code=NO)["found"])

    def test_a_package_sealed_again_is_not_taken_for_the_one_that_was_used(self):
        other = self.world.copy_release("again", ("release.xml", 'sequence="7"', 'sequence="8"'))
        self.world.pack("again.crp", other)
        done = self.world.run("trace", "FN000001", "--register", "desk.register", "--package",
                              "again.crp", "--json")
        self.assertEqual(0, done.returncode, done.stderr)
        package = json.loads(done.stdout)["found"][0]["package"]
        self.assertEqual(["manifest"], list(package))


if __name__ == "__main__":
    main()
