"""A signed stop of its own: made by one person of quality, taken to stations by any card."""

import hashlib
import json

from world import NAME, WorldCase, main

LATER = "2026-04-01T08:00:00Z"


class Stops(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.pack_next("next.crp")
        for role in ("release", "quality"):
            cls.world.sign("next.crp", role, typed="frost-node 2.4.2")
        cls.world.make_card("frost-node.crp", "old.img")
        cls.digest = json.loads(cls.world.must("show", "frost-node.crp", "--json"))["package"]

    def setUp(self):
        self.name = self._testMethodName
        self.stop_file = f"{self.name}.stop"
        self.state = f"{self.name}.state"

    def stop(self, *what, person="omar", confirm=None, typed=""):
        more = ["--confirm", confirm] if confirm else []
        return self.world.run("trust", "stop", *what, "--reason", "alarm stays silent", "--root",
                              "owner.root", "--trust", "owner.trust", "--time", LATER,
                              *self.world.key(person), *more, "-o", self.stop_file, typed=typed)

    def must_stop(self, *what, **kinds):
        done = self.stop(*what, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)
        return done

    def card(self, package, output, *more, serial="2", first="100"):
        arguments = self.world.card_arguments(package, output, *more)
        for option, value in (("--serial", serial), ("--first", first),
                              ("--card-id", f"{int(serial):016x}")):
            arguments[arguments.index(option) + 1] = value
        return self.world.run(*arguments)

    def judge(self, card, code, said):
        done = self.world.judge(card, self.state)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertIn(said, done.stdout + done.stderr)
        return done.stdout

    def test_a_card_of_another_package_takes_the_stop_to_a_station_for_good(self):
        self.world.enrol(self.state)
        self.judge("old.img", 0, "admitted")
        self.must_stop("--package", "frost-node.crp", confirm=NAME)
        done = self.card("next.crp", f"{self.name}.img", "--withdrawal", self.stop_file)
        self.assertEqual(0, done.returncode, done.stderr)
        self.judge(f"{self.name}.img", 0, "learned      1 withdrawal, for good\n")
        said = self.judge("old.img", 1, "reason       362\n")
        self.assertIn("because      this package was withdrawn\nwhere ", said)
        self.assertIn("what to do   ask quality\n", said)

    def test_a_stop_stays_although_its_card_is_refused(self):
        self.world.enrol(self.state)
        self.must_stop("--package", "frost-node.crp", confirm=NAME)
        arguments = ["--withdrawal", self.stop_file]
        done = self.card("next.crp", f"{self.name}.img", *arguments)
        self.assertEqual(0, done.returncode, done.stderr)
        other = f"{self.name}-2.state"
        self.world.enrol(other, station="orchard-2")
        done = self.world.judge(f"{self.name}.img", other)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason       387\n", done.stdout)
        self.assertIn("learned      1 withdrawal, for good; it stays, although the card is "
                      "refused\n", done.stdout)

    def test_no_card_is_made_of_what_the_stop_stops(self):
        self.must_stop("--package", "frost-node.crp", confirm=NAME)
        done = self.card("frost-node.crp", "none.img", "--withdrawal", self.stop_file)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 362", done.stderr)
        done = self.world.run("verify", "frost-node.crp", "--root", "owner.root", "--trust",
                              "owner.trust", "--withdrawal", self.stop_file)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 362", done.stderr)

    def test_a_lost_desk_key_is_stopped(self):
        self.world.enrol(self.state)
        key = json.loads(self.world.must("key", "show", "keys/desk.pub", "--json"))["key"]
        done = self.stop("--lost-key", "keys/desk.pub", confirm="key of desk")
        self.assertIn(f"found key of desk, expected key of desk {key[:8]} (nothing was signed)",
                      done.stderr)
        self.must_stop("--lost-key", "keys/desk.pub", confirm=f"key of desk {key[:8]}")
        done = self.card("next.crp", "none.img", "--withdrawal", self.stop_file)
        self.assertEqual(78, done.returncode)
        self.assertIn("an active key of role allot", done.stderr)

    def test_a_package_stop_with_a_key_s_bytes_stops_no_key(self):
        self.world.enrol(self.state)
        key = json.loads(self.world.must("key", "show", "keys/ines.pub", "--json"))["key"]
        self.must_stop("--manifest", "sha256:" + key, confirm="package " + key[:8])
        done = self.card("next.crp", f"{self.name}.img", "--withdrawal", self.stop_file)
        self.assertEqual(0, done.returncode, done.stderr)
        self.judge(f"{self.name}.img", 0, "learned      1 withdrawal, for good\n")
        self.judge("old.img", 0, "admitted")

    def test_the_card_and_the_desk_tell_what_it_stops(self):
        self.must_stop("--manifest", self.digest, confirm="package " + self.digest[7:15])
        done = self.card("next.crp", f"{self.name}.img", "--withdrawal", self.stop_file)
        self.assertEqual(0, done.returncode, done.stderr)
        said = self.world.must("card", "verify", f"{self.name}.img", "--root", "owner.root")
        self.assertIn(f"withdraws  package {self.digest}: alarm stays silent (omar)\n", said)
        said = self.world.must("verify", self.stop_file, "--root", "owner.root", "--trust",
                               "owner.trust")
        self.assertIn(f"withdraws package {self.digest}, signed by omar\n", said)
        shown = json.loads(self.world.must("show", self.stop_file, "--json"))
        self.assertEqual((self.digest, "omar", LATER),
                         (shown["manifest"], shown["person"], shown["time"]))

    def test_only_quality_or_withdraw_may_stop(self):
        for person in ("ines", "desk", "owner"):
            done = self.stop("--package", "frost-node.crp", person=person, confirm=NAME)
            self.assertEqual(78, done.returncode, done.stderr)
            self.assertIn("this key may not withdraw anything", done.stderr)
            self.assertFalse(self.world.path(self.stop_file).exists())

    def test_nothing_is_stopped_without_its_name(self):
        for typed in ("", "yes", "frost-node"):
            done = self.stop("--package", "frost-node.crp", typed=typed + "\n")
            self.assertEqual(1, done.returncode, done.stderr)
            self.assertIn("nothing was signed", done.stderr)
            self.assertFalse(self.world.path(self.stop_file).exists())
        self.must_stop("--package", "frost-node.crp", typed=NAME + "\n")

    def test_one_stop_stops_one_thing_in_its_form(self):
        for what, said in (([], "one withdrawal stops one thing: found 0 things"),
                           (["--manifest", self.digest, "--lost-key", "keys/desk.pub"],
                            "found 2 things"),
                           (["--manifest", self.digest[7:]], "digest is not in its form"),
                           (["--allotment", "sha256:12"], "digest is not in its form"),
                           (["--allotment", "owner.root"], "reason 102"),
                           (["--package", "owner.root"], "the package is cut short")):
            with self.subTest(said):
                done = self.stop(*what)
                self.assertNotEqual(0, done.returncode)
                self.assertIn(said, done.stderr)
                self.assertFalse(self.world.path(self.stop_file).exists())

    def test_a_stop_that_was_changed_is_refused_everywhere(self):
        self.must_stop("--package", "frost-node.crp", confirm=NAME)
        path = self.world.path(self.stop_file)
        path.write_bytes(path.read_bytes().replace(b"silent", b"silenT"))
        done = self.world.run("verify", self.stop_file, "--root", "owner.root", "--trust",
                              "owner.trust")
        self.assertIn("reason 331", done.stderr)
        done = self.card("next.crp", "none.img", "--withdrawal", self.stop_file)
        self.assertIn("reason 331", done.stderr)
        self.assertFalse(self.world.path("none.img").exists())

    def test_a_station_that_has_the_stop_refuses_the_allotment(self):
        self.world.enrol(self.state)
        card = f"{self.name}.img"
        self.assertEqual(0, self.card("next.crp", card, serial="7", first="700").returncode)
        self.judge(card, 0, "admitted")
        self.extract(card)
        self.must_stop("--allotment", "a.txt", confirm=self.allotment_name())
        bringer = f"{self.name}-2.img"
        done = self.card("next.crp", bringer, "--withdrawal", self.stop_file, serial="8",
                         first="800")
        self.assertEqual(0, done.returncode, done.stderr)
        self.judge(bringer, 0, "learned      1 withdrawal")
        said = self.judge(card, 1, "reason       398\n")
        self.assertIn("because      this allotment was withdrawn\n", said)

    def extract(self, card):
        """The one text on the card that starts like an allotment, by its bytes alone."""
        data = self.world.bytes(card)
        at = data.index(b"cardseal-allotment 1\n")
        self.world.path("a.txt").write_bytes(data[at:data.index(b"\0", at)])

    def allotment_name(self):
        return "allotment " + hashlib.sha256(self.world.bytes("a.txt")).hexdigest()[:8]


if __name__ == "__main__":
    main()
