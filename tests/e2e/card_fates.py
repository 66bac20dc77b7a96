"""What becomes of a card is kept in the register, from the card it was written to until it is gone."""

import json
import re

from world import WorldCase, main

REFUSED, USAGE = 1, 64


class CardFates(WorldCase):
    @classmethod
    def prepare(cls):
        world = cls.world
        world.must("serial", "new", "desk.register", "--root", "owner.root")
        world.must("serial", "enrol", "desk.register", "--station", "orchard-1")
        world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                   "owner.trust", *world.key("desk"), "--register", "desk.register", "--cards",
                   "4", "--station", "orchard-1", "--model", "row-six", "--units", "10",
                   "--work-order", "WO-1001", "-o", "card.img")
        world.make_card("frost-node.crp", "elsewhere.img")
        world.must("serial", "new", "plain.register", "--root", "owner.root")
        world.must("serial", "enrol", "plain.register", "--station", "bench-1")
        world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                   "owner.trust", *world.key("desk"), "--register", "plain.register", "--station",
                   "bench-1", "--model", "bench-one", "--units", "10", "--work-order", "WO-1002",
                   "-o", "plain.img")

    def allotments(self):
        return json.loads(self.world.must("serial", "list", "desk.register", "--json"))[
            "allotments"]

    def note(self, card, fate, register="desk.register", note="said on the phone"):
        return self.world.run("card", "note", card, fate, "--register", register, "--by",
                              "Ines Alder", "--note", note)

    def write(self, image, target, *more):
        return self.world.run("card", "write", image, target, "--root", "owner.root", "--register",
                              "desk.register", "--by", "Ines Alder", *more)

    def confirmed(self, image, target):
        path = self.world.path(target)
        with open(path, "wb") as file:
            file.truncate(self.world.path(image).stat().st_size)
        asked = self.write(image, target)
        found = re.search(r"^id +([0-9a-f]{8})$", asked.stdout, re.MULTILINE)
        self.assertIsNotNone(found, asked.stdout + asked.stderr)
        return self.write(image, target, "--confirm", found[1])

    def test_a_card_that_was_written_is_noted_and_no_second_one_is(self):
        done = self.confirmed("card-01.img", "first-card")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("is noted as written by Ines Alder", done.stdout)
        self.assertEqual("on-card", self.allotments()[0]["fate"])
        again = self.confirmed("card-01.img", "second-card")
        self.assertEqual(REFUSED, again.returncode)
        self.assertIn("found on-card after on-card", again.stderr)
        self.assertEqual(b"\0" * 512, self.world.bytes("second-card")[:512])
        self.assertEqual(0, self.note("card-01.img", "destroyed").returncode)
        self.assertEqual(0, self.confirmed("card-01.img", "second-card").returncode)

    def test_a_trace_tells_it(self):
        card = self.allotments()[1]["card"]
        for fate in ("on-card", "returned"):
            self.assertEqual(0, self.note(card, fate).returncode)
        told = self.world.must("trace", "FN000011", "--register", "desk.register", "--package",
                               "frost-node.crp")
        self.assertRegex(told, r"the card +on-card by Ines Alder, .* \(claimed\): said on the phone")
        told = json.loads(self.world.must("trace", "FN000011", "--register", "desk.register",
                                          "--package", "frost-node.crp", "--json"))
        self.assertEqual([("on-card", "Ines Alder", "said on the phone"),
                          ("returned", "Ines Alder", "said on the phone")],
                         [(f["fate"], f["by"], f["note"]) for f in told["found"][0]["card_fates"]])

    def test_a_lost_card_says_what_to_do_and_stays_off_other_cards(self):
        row = self.allotments()[2]
        done = self.note("card-03.img", "lost")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("10 were given, 0 are reported begun", done.stdout)
        self.assertIn(f"cardseal trust stop --allotment {row['sealed_text']}", done.stderr)
        self.assertEqual(REFUSED, self.confirmed("card-03.img", "other-card").returncode)
        self.assertIn("  lost", self.world.must("serial", "list", "desk.register"))
        self.world.must("serial", "check", "desk.register")

    def test_a_plain_card_says_its_id_too(self):
        done = self.note("plain.img", "returned", register="plain.register")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_bad_input_is_named_and_nothing_is_noted(self):
        before = self.world.bytes("desk.register")
        good = self.allotments()[3]["card"]
        for arguments, code, said in (
                ((good, "gone"), USAGE, "what became of the card"),
                (("00000000000000ff", "lost"), REFUSED, "this register made no card of this id"),
                (("elsewhere.img", "lost"), REFUSED, "this register made no card of this id"),
                (("owner.root", "lost"), REFUSED, "owner.root"),
                (("nowhere.img", "lost"), 66, "nowhere.img"),
                ((good, "lost", "none.register"), 66, "none.register"),
                ((good, "lost", "desk.register", "two\nlines"), USAGE, "the note can't be kept")):
            with self.subTest(said=said):
                done = self.note(*arguments)
                self.assertEqual(code, done.returncode, done.stdout + done.stderr)
                self.assertIn(said, done.stderr)
        done = self.world.run("card", "write", "card-04.img", "x", "--register", "desk.register")
        self.assertEqual(USAGE, done.returncode)
        self.assertIn("--by", done.stderr)
        self.assertEqual(before, self.world.bytes("desk.register"))


if __name__ == "__main__":
    main()
