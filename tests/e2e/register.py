"""A desk's register as people use it, read by Python's own SQLite and SHA-256."""

import hashlib
import json
import os
import shutil
import sqlite3
from pathlib import Path

from world import WorldCase, main


DESK = ["--root", "owner.root", "--trust", "owner.trust", "--desk", "keys/desk.pub"]
PACKAGE = Path(os.environ.get("SOURCE", ".")) / "packages" / "01-frost-node"

OLD_SCHEME = 'first="1" step="1" capacity="999999"'
NEW_SCHEME = 'first="2" step="1" capacity="999998"'


def set_arguments(world, output, *more, register):
    return ["card", "make", "--root", "owner.root", "--trust", "owner.trust", *world.key("desk"),
            "--register", register, "--model", "row-six", "--work-order", "WO-1001", "-o", output,
            *more, "frost-node.crp"]


class Register(WorldCase):
    def setUp(self):
        self.names = f"{self._testMethodName}."
        self.register = self.names + "register"
        self.world.must("serial", "new", self.register, "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            self.world.must("serial", "enrol", self.register, "--station", station)

    def make(self, name, *more, cards=("--units", "60", "--station", "orchard-1")):
        return self.world.run(*set_arguments(self.world, self.names + name, *cards, *more,
                                             register=self.register))

    def must_make(self, name, *more, **kinds):
        done = self.make(name, *more, **kinds)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        return done

    def listed(self):
        return json.loads(self.world.must("serial", "list", self.register, "--json"))

    def database(self):
        return sqlite3.connect(self.world.path(self.register))

    def check(self, register=None):
        return self.world.run("serial", "check", register or self.register, "--json")

    def test_a_set_of_cards_has_numbers_one_after_the_other_and_a_station_admits_it(self):
        self.must_make("card.img", "--cards", "2", "--spares", "1", "--sheet",
                       self.names + "sheet.txt")
        rows = self.listed()["allotments"]
        self.assertEqual([(r["first"], r["count"], r["spare"], r["state"]) for r in rows],
                         [(0, 60, False, "written"), (60, 60, False, "written"),
                          (120, 60, True, "written")])
        self.world.enrol(self.names + "state")
        for row, which in zip(rows, ("-01", "-02", "-spare-01")):
            image = f"{self.names}card{which}.img"
            report = json.loads(self.world.must("card", "verify", image, "--root", "owner.root",
                                                "--json"))
            text = json.dumps(report)
            self.assertIn(row["card"], text)
            self.assertIn("60",
                          self.world.path(f"{self.names}sheet{which}.txt").read_text())
            self.assertEqual(self.world.judge(image, self.names + "state").returncode, 0)
        self.assertEqual(self.check().returncode, 0)

    def test_the_same_steps_make_the_same_cards_byte_for_byte(self):
        self.must_make("a.img")
        first = self.register
        self.register = self.names + "again"
        self.world.must("serial", "new", self.register, "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            self.world.must("serial", "enrol", self.register, "--station", station)
        self.must_make("b.img")
        cards = [self.world.run("card", "list", self.names + name, "--json").stdout
                 for name in ("a.img", "b.img")]
        self.assertEqual(*cards)
        heads = [json.loads(self.check(r).stdout)["head"] for r in (first, self.register)]
        self.assertEqual(*heads)

    def test_the_chain_in_an_export_is_what_hashlib_says(self):
        self.must_make("card.img")
        text = self.world.must("serial", "export", self.register)
        previous, count = bytes(32), 0
        for block in text.split("\n\n")[:-1]:
            body, _, rest = block.partition("digest ")
            stated = rest.split("\n")[0]
            previous = hashlib.sha256(b"cardseal-register 1\n" + previous + body.encode()).digest()
            self.assertEqual(stated, "sha256:" + previous.hex())
            count += 1
        head = json.loads(self.check().stdout)["head"]
        self.assertEqual(head, {"entries": count, "digest": "sha256:" + previous.hex()})

    def test_a_limit_counts_all_cards_and_a_refusal_gives_no_number(self):
        self.must_make("card.img", cards=("--units", "200", "--cards", "2", "--station",
                                          "orchard-1"))
        before = self.listed()
        done = self.make("more.img", cards=("--units", "101", "--station", "orchard-1"))
        self.assertEqual(done.returncode, 1)
        self.assertIn("400 given to orchard-1 before, 101 more now", done.stderr)
        self.assertEqual(self.listed(), before)
        self.must_make("other.img", cards=("--units", "50", "--station", "orchard-2", "--station",
                                           "orchard-1", "--cards", "2"))
        self.assertEqual([(r["station"], r["first"]) for r in self.listed()["allotments"][2:]],
                         [("orchard-2", 400), ("orchard-1", 450)])

    def test_what_is_refused_or_rehearsed_spends_nothing(self):
        before = self.listed()
        self.must_make("card.img", "--dry-run")
        self.assertFalse(self.world.path(self.names + "card.img").exists())
        self.world.path(self.names + "card.img").write_text("here")
        self.assertEqual(self.make("card.img").returncode, 73)
        self.assertEqual(self.make("x.img", cards=("--units", "5", "--station", "nobody"))
                         .returncode, 1)
        self.assertEqual(self.make("x.img", "--first", "5").returncode, 64)
        self.assertEqual(self.listed(), before)

    def test_an_empty_name_is_never_no_register(self):
        by_hand = ["--card-id", "00000000000000a1", "--serial", "1", "--first", "0"]
        for empty in (["--register", ""], ["--register="]):
            for more in ([], by_hand):
                done = self.world.run("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                                      "owner.trust", *self.world.key("desk"), "--station", "orchard-1",
                                      "--model", "row-six", "--units", "1", "--work-order", "WO-1", "-o",
                                      "empty.img", *more, *empty)
                with self.subTest(empty=empty, more=more):
                    self.assertEqual(64, done.returncode, done.stdout + done.stderr)
                    self.assertFalse(self.world.path("empty.img").exists())

    def test_a_register_from_a_backup_gives_nothing_more(self):
        self.must_make("first.img")
        shutil.copy(self.world.path(self.register), self.world.path(self.names + "backup"))
        self.must_make("second.img")
        shutil.copy(self.world.path(self.names + "backup"), self.world.path(self.register))
        done = self.make("third.img")
        self.assertEqual(done.returncode, 1)
        self.assertIn("it is an older copy", done.stderr)
        self.assertIn("too few numbers are left", done.stderr)
        self.assertEqual(self.listed()["windows"][0]["next"], 10_000)
        self.assertEqual(self.check().returncode, 0)
        # A copy without the files beside it gives nothing at all; any card makes it give up.
        copy = self.names + "copy"
        shutil.copy(self.world.path(self.names + "backup"), self.world.path(copy))
        for step in (["serial", "enrol", copy, "--station", "orchard-3"],
                     ["serial", "range", copy, *DESK, "--release", "frost-node.crp", "--count", "1",
                      "--note", "n"],
                     set_arguments(self.world, self.names + "c.img", "--units", "5", "--station",
                                   "orchard-1", register=copy),
                     set_arguments(self.world, self.names + "c.img", "--units", "5", "--station",
                                   "orchard-1", "--dry-run", register=copy)):
            done = self.world.run(*step)
            self.assertEqual(done.returncode, 1, step)
            self.assertIn("an older copy, or a copy by itself", done.stderr)
        self.assertEqual(self.check(copy).returncode, 1)
        done = self.world.run("serial", "meet", copy, self.names + "second.img", *DESK)
        self.assertEqual(done.returncode, 1)
        self.assertIn("missing", done.stdout)
        self.assertIn("9940 numbers were given up", done.stdout)
        self.assertEqual(self.check(copy).returncode, 0)

    def test_a_range_by_hand_is_evidence_too(self):
        take = ["serial", "range", self.register, *DESK, "--release", "frost-node.crp", "--count",
                "20", "--note", "repair shop"]
        self.assertIn("ordinals 0 to 19  FN000001 to FN000020", self.world.must(*take))
        shutil.copy(self.world.path(self.register), self.world.path(self.names + "backup"))
        self.world.must(*take)
        shutil.copy(self.world.path(self.names + "backup"), self.world.path(self.register))
        for done in (self.world.run(*take), self.make("card.img"),
                     self.make("card.img", "--dry-run")):
            self.assertEqual(done.returncode, 1)
            self.assertIn("without entry", done.stderr)

    def test_a_scheme_that_changed_under_its_id_gives_nothing(self):
        self.must_make("card.img")
        folder = self.world.path(self.names + "release")
        shutil.copytree(PACKAGE, folder)
        release = folder / "release.xml"
        text = release.read_text(encoding="utf-8")
        self.assertIn(OLD_SCHEME, text)
        release.write_text(text.replace(OLD_SCHEME, NEW_SCHEME), encoding="utf-8")
        done = self.world.run("serial", "range", self.register, *DESK, "--release", str(release),
                              "--count", "1", "--note", "n")
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertIn("another definition of this scheme", done.stderr)

    def test_an_output_that_can_not_be_spends_nothing(self):
        before = self.listed()
        newest, head = (f"{self.register}.{name}" for name in ("newest", "head"))
        for output, *more, code in (("-", 64), ("nowhere/card.img", 73),
                                    ("card.img", "--sheet", self.names + "card.img", 64),
                                    ("card.img", "--sheet", "nowhere/sheet.txt", 73)):
            done = self.world.run(*set_arguments(
                self.world, output if output == "-" else self.names + output, "--units", "5",
                "--station", "orchard-1", *more, register=self.register))
            self.assertEqual(done.returncode, code, done.stderr)
        for output in (self.register, "./" + self.register, newest, head):
            done = self.world.run(*set_arguments(self.world, output, "--units", "5", "--station",
                                                 "orchard-1", "--force", register=self.register))
            self.assertEqual(done.returncode, 64, done.stderr)
            self.assertIn("the register itself", done.stderr)
        self.assertEqual(self.listed(), before)

    def test_cards_from_before_the_register_are_taken_in(self):
        self.world.make_card("frost-node.crp", self.names + "old.img")
        done = self.world.run("serial", "meet", self.register, self.names + "old.img", "--root",
                              "owner.root", "--trust", "owner.trust", "--desk", "keys/desk.pub")
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        self.assertIn("by-hand", done.stdout)
        self.must_make("new.img")
        row = self.listed()["allotments"][0]
        self.assertEqual((row["first"], row["serial"]), (60, 2))

    def test_numbers_without_a_card_are_taken_and_given_up(self):
        take = ["serial", "range", self.register, *DESK, "--release", "frost-node.crp", "--count",
                "10", "--note", "repair shop", "--json"]
        self.assertEqual(json.loads(self.world.must(*take))["first"], 0)
        give_up = ["serial", "abandon", self.register, *DESK, "--scheme", "fn-serial", "--note",
                   "used before", "--before"]
        self.assertIn("490 numbers", self.world.must(*give_up, "500", "--dry-run"))
        self.assertIn("490 numbers", self.world.must(*give_up, "500"))
        for before, code in (("-1", 64), ("0", 64), ("99999999999999999999", 64), ("10001", 1)):
            self.assertEqual(self.world.run(*give_up, before).returncode, code, before)
        self.assertEqual(json.loads(self.world.must(*take))["first"], 500)
        with self.database() as database:
            rows = database.execute("SELECT coalesce(first, past), past FROM range ORDER BY past, first")
            self.assertEqual(rows.fetchall(), [(0, 0), (0, 10), (10, 500), (500, 510)])

    def test_another_program_can_not_give_a_number_again_and_damage_is_found(self):
        self.must_make("card.img")
        database = self.database()
        for sql in ("DELETE FROM range", "UPDATE range SET past = 30 WHERE first = 0",
                    "INSERT INTO range(window, first, past, use, note, entry) "
                    "VALUES(1, 30, 90, 'hand', '', 1)"):
            with self.assertRaises(sqlite3.IntegrityError, msg=sql):
                database.execute(sql)
        database.rollback()
        database.execute("DROP TRIGGER lot_stays")
        database.execute("UPDATE lot SET quantity = 1")
        database.commit()
        database.close()
        done = self.check()
        self.assertEqual(done.returncode, 1)
        problems = json.loads(done.stdout)["problems"]
        self.assertEqual(len(problems), 2, problems)

    def test_what_is_no_register_is_named(self):
        self.assertEqual(self.check("none.register").returncode, 66)
        self.assertEqual(self.check("owner.root").returncode, 65)
        done = self.world.run("serial", "new", self.register, "--root", "owner.root")
        self.assertEqual(done.returncode, 73)
        self.assertNotIn("--force", done.stderr)
        done = self.world.run("serial", "meet", self.register, "x.img", "--root", "owner.root",
                              "--trust", "owner.trust", "--desk", "keys/omar.pub")
        self.assertIn("this key is no desk's", done.stderr)

    def test_numbers_that_were_used_before_are_given_up_in_a_fresh_register(self):
        self.world.must("serial", "abandon", self.register, *DESK, "--scheme", "fn-serial",
                        "--before", "500", "--note", "used before")
        self.must_make("card.img")
        self.assertEqual(self.listed()["allotments"][0]["first"], 500)


if __name__ == "__main__":
    main()
