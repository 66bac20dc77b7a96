"""What becomes of a card is kept in the register, from the card it was written to until it is gone."""

import json
import os
import re
import shutil
import subprocess

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
                   "8", "--station", "orchard-1", "--model", "row-six", "--units", "10",
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

    def size_of(self, image, path):
        """An empty card as large as the image."""
        with open(path, "wb") as file:
            file.truncate(self.world.path(image).stat().st_size)
        return path.name

    def confirmed(self, image, target, keep=False):
        if not keep:
            self.size_of(image, self.world.path(target))
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

    def test_the_same_card_is_written_over_and_that_is_kept_too(self):
        self.assertEqual(0, self.confirmed("card-04.img", "same-card").returncode)
        again = self.confirmed("card-04.img", "same-card", keep=True)
        self.assertEqual(0, again.returncode, again.stderr)
        told = json.loads(self.world.must("trace", "FN000031", "--register", "desk.register",
                                          "--package", "frost-node.crp", "--json"))
        self.assertEqual(["on-card", "erased", "on-card"],
                         [f["fate"] for f in told["found"][0]["card_fates"]])

    def test_the_register_knows_before_the_first_byte(self):
        """A card that was begun and broken off stays noted: who wrote it says what is on it."""
        path = self.world.path("full")
        asked = self.write("card-05.img", self.size_of("card-05.img", path))
        device = re.search(r"^id +([0-9a-f]{8})$", asked.stdout, re.MULTILINE)[1]
        limit = 8 << 20  # bytes that a file may grow to: the write breaks off behind the boot sectors
        shell = f"trap '' XFSZ; ulimit -f {limit // 1024}; exec \"$@\""
        path.unlink()
        self.size_of("card-05.img", path)
        done = subprocess.run(
            ["bash", "-c", shell, "limited", os.environ["CARDSEAL"], "card", "write",
             "card-05.img", "full", "--root", "owner.root", "--register", "desk.register", "--by",
             "Ines Alder", "--confirm", device], cwd=self.world.folder, capture_output=True,
            text=True, check=False)
        self.assertNotEqual(0, done.returncode, done.stdout)
        self.assertEqual("on-card", self.allotments()[4]["fate"])
        card = self.allotments()[4]["card"]
        self.assertIn(f"cardseal card note {card} erased", done.stderr)
        self.assertEqual(0, self.note(card, "erased").returncode)
        self.assertEqual(0, self.confirmed("card-05.img", "whole").returncode)

    def test_an_image_is_known_by_what_it_holds(self):
        other = self.allotments()[5]["card"]  # the name of one card for the image of another
        shutil.copy(self.world.path("card-07.img"), self.world.path(other))
        self.assertEqual(0, self.confirmed(other, "named").returncode)
        fates = [row["fate"] for row in self.allotments()]
        self.assertEqual([None, "on-card"], fates[5:7])

    def test_an_id_is_taken_as_people_type_it(self):
        card = self.allotments()[7]["card"].upper()
        self.assertEqual(0, self.note(card, "returned").returncode)

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
        self.assertIn(f"cardseal card lost {row['card']}", done.stderr)
        self.assertEqual(REFUSED, self.confirmed("card-03.img", "other-card").returncode)
        self.assertIn("  lost", self.world.must("serial", "list", "desk.register"))
        self.world.must("serial", "check", "desk.register")

    def test_a_plain_card_says_its_id_too(self):
        done = self.note("plain.img", "returned", register="plain.register")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_bad_input_is_named_and_nothing_is_noted(self):
        before = self.world.bytes("desk.register")
        good = self.allotments()[2]["card"]
        for arguments, code, said in (
                ((good, "gone"), USAGE, "what became of the card"),
                (("00000000000000ff", "lost"), REFUSED, "this register made no card of this id"),
                (("elsewhere.img", "lost"), REFUSED, "this register made no card of this id"),
                (("owner.root", "lost"), REFUSED, "owner.root"),
                (("nowhere.img", "lost"), 66, "nowhere.img"),
                ((good, "lost", "none.register"), 66, "none.register"),
                ((good, "lost", "desk.register", "two\nlines"), USAGE, "the note can't be kept"),
                ((good, "found"), USAGE, "on-card, returned, destroyed, lost, erased")):
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
