"""A trust list that changes: keys revoked and packages withdrawn, and what stations make of it."""

import hashlib
import json
import re
import shutil

from world import MADE, NAME, WorldCase, main

NEXT = "frost-node 2.4.2"
LATER = "2026-04-01T08:00:00Z"


class TrustCase(WorldCase):
    """Each test has a trust list and a station of its own: `self.trust` and `self.state`."""

    @classmethod
    def prepare(cls):
        cls.world.pack_next("next.crp")
        cls.sign_next("next.crp", "ines", "omar")
        cls.world.make_card("frost-node.crp", "old.img")
        for person in ("vera", "stranger"):
            cls.world.new_key(person)

    @classmethod
    def sign_next(cls, package, release, quality, trust="owner.trust"):
        for role, person in (("release", release), ("quality", quality)):
            cls.world.must(*cls.world.sign_arguments(package, role, person=person, trust=trust),
                           typed=NEXT + "\n")

    def setUp(self):
        name = self._testMethodName
        self.trust, self.state = f"{name}.trust", f"{name}.state"
        for end in ("", ".s01"):
            shutil.copy(self.world.path("owner.trust" + end), self.world.path(self.trust + end))

    def path(self, end=""):
        return self.world.path(self.trust + end)

    def digest(self, package="frost-node.crp"):
        return json.loads(self.world.must("show", package, "--json"))["package"]

    def change(self, verb, *arguments, trust=None):
        return self.world.run("trust", verb, trust or self.trust, "--root", "owner.root", "--time",
                              LATER, *arguments)

    def must_change(self, verb, *arguments):
        done = self.change(verb, *arguments)
        self.assertEqual(0, done.returncode, done.stderr)
        return done

    def sign(self, *more, key="owner"):
        return self.world.run("trust", "sign", self.trust, "--root", "owner.root",
                              *self.world.confirm(self.trust), *self.world.key(key), *more)

    def must_sign(self, *more):
        done = self.sign(*more)
        self.assertEqual(0, done.returncode, done.stderr)
        return done

    def files(self):
        """Every file that begins with the list's name."""
        return {path.name: path.read_bytes()
                for path in self.world.folder.glob(self.trust + "*")}

    def assert_refused_unwritten(self, done, code, said):
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertEqual("", done.stdout)
        self.assertIn(said, done.stderr)
        self.assertEqual(self.kept, self.files())

    def card(self, package, output, serial="2", first="100", desk="desk", trust=None):
        arguments = self.world.card_arguments(package, output)
        for option, value in (("--trust", trust or self.trust), ("--key", f"keys/{desk}.pem"),
                              ("--passphrase-file", f"keys/{desk}.pass"), ("--serial", serial),
                              ("--first", first), ("--card-id", f"{int(serial):016x}")):
            arguments[arguments.index(option) + 1] = value
        return self.world.run(*arguments)

    def judge(self, card, code, said):
        done = self.world.judge(card, self.state)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertIn(said, done.stdout + done.stderr)

    def admit_card(self, package, *more, **kinds):
        """The station admits a card, and with it learns of the card's trust list."""
        card = f"{self._testMethodName}.img"
        self.world.path(card).unlink(missing_ok=True)
        done = self.card(package, card, *more, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)
        self.judge(card, 0, "admitted")


class Stopped(TrustCase):
    def test_a_station_with_the_new_list_refuses_a_withdrawn_package(self):
        self.world.enrol(self.state)
        self.judge("old.img", 0, "admitted")
        done = self.must_change("withdraw", "--package", "frost-node.crp")
        self.assertIn(f"withdrawn   {NAME}  {self.digest()}", done.stdout)
        self.must_sign()
        self.judge("old.img", 0, "admitted")  # nobody told the station yet
        self.admit_card("next.crp")
        self.judge("old.img", 1, "reason       362\n")

    def test_the_desk_makes_no_card_of_a_withdrawn_package_and_verify_refuses_it(self):
        self.must_change("withdraw", "--manifest", self.digest())
        self.must_sign()
        done = self.card("frost-node.crp", "none.img")
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 362", done.stderr)
        self.assertFalse(self.world.path("none.img").exists())
        done = self.world.run("verify", "frost-node.crp", "--root", "owner.root", "--trust",
                              self.trust)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 362", done.stderr)

    def test_a_station_with_the_new_list_refuses_what_a_revoked_key_signed(self):
        self.world.enrol(self.state)
        self.must_change("add", "--person", "vera:Vera Holt", "--key",
                         "vera:quality:keys/vera.pub")
        self.must_change("revoke", "--key", "keys/omar.pub")
        self.must_sign()
        self.judge("old.img", 0, "admitted")
        fresh = "by-vera.crp"
        self.world.pack(fresh, self.world.path("next/release.xml"))
        self.sign_next(fresh, "ines", "vera", trust=self.trust)
        self.admit_card(fresh)
        self.judge("old.img", 1, "reason       355\n")

    def test_a_revoked_key_signs_no_more(self):
        self.must_change("revoke", "--key", "keys/omar.pub", "--even-last")
        self.must_sign()
        self.world.pack("more.crp")
        self.world.must(*self.world.sign_arguments("more.crp", "release", trust=self.trust),
                        typed=NAME + "\n")
        before = self.world.bytes("more.crp")
        done = self.world.run(*self.world.sign_arguments("more.crp", "quality", trust=self.trust),
                              typed=NAME + "\n")
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 355", done.stderr)
        self.assertEqual(before, self.world.bytes("more.crp"))

    def test_a_station_with_the_new_list_refuses_cards_of_a_revoked_desk(self):
        self.world.enrol(self.state)
        self.must_change("add", "--person", "vera:Vera Holt", "--key", "vera:allot:keys/vera.pub")
        self.must_change("add", "--window", "keys/vera.pub:fn-serial:20000:29999")
        self.must_change("revoke", "--key", "keys/desk.pub")
        self.must_sign()
        done = self.card("next.crp", "none.img")
        self.assertEqual(78, done.returncode)
        self.assertIn("an active key of role allot", done.stderr)
        self.admit_card("next.crp", first="20000", desk="vera")
        self.judge("old.img", 1, "reason       311\n")

    def test_a_station_ignores_an_older_list(self):
        self.world.enrol(self.state)
        self.must_change("withdraw", "--package", "frost-node.crp")
        self.must_sign()
        self.admit_card("next.crp")
        # A card of the good package with the list before: judged by the newer one, and admitted.
        self.admit_card("next.crp", serial="3", first="200", trust="owner.trust")
        self.judge("old.img", 1, "reason       362\n")

    def test_a_station_that_never_met_the_new_list_still_works(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        self.must_sign()
        self.world.enrol(self.state)
        self.judge("old.img", 0, "admitted")


class Changed(TrustCase):
    """What each command makes of the list's text."""

    def setUp(self):
        super().setUp()
        self.kept = self.files()

    def text(self):
        return self.path().read_text(encoding="utf-8")

    def test_a_signed_list_gets_the_next_sequence_and_its_signature_goes(self):
        before = self.text()
        self.must_change("revoke", "--key", "keys/desk.pub")
        digest = hashlib.sha256(before.encode()).hexdigest()
        expected = (before.replace("sequence 1\nprevious -", f"sequence 2\nprevious sha256:{digest}")
                    .replace(MADE, LATER).replace("desk allot - active", "desk allot - revoked"))
        self.assertNotEqual(before, expected)
        self.assertEqual(expected, self.text())
        self.assertFalse(self.path(".s01").exists())
        done = self.world.run("verify", self.trust, "--root", "owner.root")
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 303", done.stderr)

    def test_a_draft_takes_further_changes_under_its_own_sequence(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        self.must_change("withdraw", "--manifest", "sha256:" + 64 * "0")
        self.must_change("revoke", "--key", "keys/desk.pub")
        text = self.text()
        self.assertIn("\nsequence 2\n", text)
        self.assertTrue(text.endswith(f"withdrawn 2\nmanifest sha256:{64 * '0'}\n"
                                      f"manifest {self.digest()}\n"))
        self.must_sign()
        self.must_change("withdraw", "--manifest", "sha256:" + 64 * "1")
        self.assertIn("\nsequence 3\n", self.text())
        self.assertIn("\nwithdrawn 3\n", self.text())

    def test_what_is_impossible_is_refused_before_anything_is_written(self):
        package = "frost-node.crp"
        for verb, arguments, code, said in (
                ("revoke", ["--key", "keys/stranger.pub"], 78,
                 "keys/stranger.pub: this key is not on the trust list: found "),
                ("revoke", ["--key", "keys/omar.pub"], 1,
                 "keys/omar.pub: without this key no package of frost-node can be signed off: "
                 "found 0 persons left in role quality, expected at least 1 (add the key that "
                 "takes its place first"),
                ("revoke", ["--key", "keys/desk.pub", "--key", "keys/ines.pub"], 1,
                 "found 0 persons left in role release"),
                ("revoke", ["--key", "keys/desk.pub", "--key", "keys/desk.pub"], 1,
                 "keys/desk.pub: this key is revoked already: found the key of desk in role allot"),
                ("revoke", ["--key", "owner.root"], 65, "owner.root"),
                ("revoke", ["--key", "none.pub"], 66, "none.pub"),
                ("revoke", [], 64, "--key"),
                ("withdraw", [], 64, "there is nothing to withdraw"),
                ("withdraw", ["--manifest", self.digest()[7:]], 64,
                 "a package's digest is not in its form"),
                ("withdraw", ["--manifest", self.digest().upper()], 64, "lower-case hex digits"),
                ("withdraw", ["--package", package, "--manifest", self.digest()], 1,
                 f"{self.digest()}: this package is withdrawn already: found {self.digest()}"),
                ("withdraw", ["--package", "owner.root"], 65, "the package is cut short"),
                ("withdraw", [value for i in range(33) for value in
                              ("--manifest", f"sha256:{i:064x}")], 78,
                 "a station can't hold more withdrawn packages: expected at most 32"),
                ("add", ["--window", "keys/desk.pub:fn-serial:9999:20000"], 64,
                 "two windows of one scheme share numbers: found 9999 to 20000, expected outside 0 "
                 "to 9999"),
                ("add", ["--key", "desk:quality:keys/desk.pub"], 64,
                 "this key is on the trust list already"),
        ):
            with self.subTest(f"{verb} {said}"):
                self.assert_refused_unwritten(self.change(verb, *arguments), code, said)

    def test_a_revoked_key_gets_no_window_and_does_not_come_back(self):
        self.must_change("revoke", "--key", "keys/desk.pub")
        self.kept = self.files()
        self.assert_refused_unwritten(
            self.change("add", "--window", "keys/desk.pub:fn-serial:10000:19999"), 64,
            "only a key of role allot gives out numbers")
        self.assert_refused_unwritten(
            self.change("add", "--key", "desk:allot:keys/desk.pub"), 64,
            "a revoked one stays revoked: make another key")

    def test_the_last_key_goes_when_that_is_said(self):
        self.must_change("revoke", "--key", "keys/omar.pub", "--even-last")
        self.must_sign()
        done = self.world.run("verify", "frost-node.crp", "--root", "owner.root", "--trust",
                              self.trust)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 355", done.stderr)

    def test_a_package_of_another_owner_is_not_withdrawn(self):
        other = "other-owner"
        self.world.must("trust", "root", "--person", "noor:Noor Tarn", "--root-key",
                        "noor:keys/stranger.pub", *self.world.key("stranger"), "-o",
                        f"{other}.root")
        self.world.must("pack", self.world.path("next/release.xml"), "--root", f"{other}.root",
                        "-o", f"{other}.crp")
        self.assert_refused_unwritten(self.change("withdraw", "--package", f"{other}.crp"), 1,
                                      "reason 361")


class Compared(TrustCase):
    """What `trust diff` and `trust sign` say of a change."""

    def key(self, person):
        return json.loads(self.world.must("key", "show", f"keys/{person}.pub", "--json"))["key"]

    def diff(self, before, after, *more):
        return self.world.run("trust", "diff", before, after, *more)

    def assert_signs_nothing(self, done, code, said):
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertIn(said, done.stderr)
        self.assertFalse(self.path(".s01").exists())

    def test_each_change_is_one_line_the_gravest_first(self):
        self.must_change("add", "--person", "vera:Vera Holt", "--key",
                         "vera:quality:keys/vera.pub:frost-node", "--window",
                         "keys/desk.pub:fn-serial:10000:19999", "--product", "frost-node:0:3",
                         "--threshold", "release:2", "--key", "omar:release:keys/stranger.pub")
        self.must_change("revoke", "--key", "keys/omar.pub", "--even-last")
        self.must_change("withdraw", "--package", "frost-node.crp")
        keys = {person: self.key(person) for person in ("vera", "stranger", "omar", "desk")}
        added = sorted([f"key added: vera in role quality, product frost-node, {keys['vera']}",
                        f"key added: omar in role release, every product, {keys['stranger']}"],
                       key=lambda line: line[-64:])
        lines = [
            *added,
            f"numbers added: fn-serial 10000 to 19999 for shipment, {keys['desk']}",
            f"key revoked: omar in role quality, every product, {keys['omar']}",
            f"package withdrawn: {self.digest()}",
            "more persons needed in role release: was 1 person, now 2 persons",
            "product frost-node goes on: was epoch 0, lowest sequence 1, now epoch 0, lowest "
            "sequence 3",
            "person added: vera, Vera Holt",
            "sequence: was 1, now 2",
            f"claimed time: was {MADE}, now {LATER}",
        ]
        done = self.diff("owner.trust", self.trust)
        self.assertEqual(1, done.returncode, done.stderr)
        sums = [hashlib.sha256(self.world.bytes(name)).hexdigest()
                for name in ("owner.trust", self.trust)]
        self.assertEqual([f"before  owner.trust  sequence 1, sha256:{sums[0]}",
                          f"after   {self.trust}  sequence 2, sha256:{sums[1]}",
                          *(f"  {line}" for line in lines), "differs 10 changes"],
                         done.stdout.splitlines())
        done = self.diff("owner.trust", self.trust, "--json")
        self.assertEqual(1, done.returncode)
        told = json.loads(done.stdout)
        self.assertEqual((1, False), (told["schema"], told["same"]))
        self.assertEqual({"file": self.trust, "trust": f"sha256:{sums[1]}", "root_version": 1,
                          "sequence": 2}, told["after"])
        self.assertEqual(lines, [change["text"] for change in told["changes"]])
        self.assertEqual(["key-added", "key-added", "window-added", "key-revoked"],
                         [change["what"] for change in told["changes"][:4]])
        # Signing shows the same, from the list that was kept.
        shown = self.must_sign().stdout
        for line in lines:
            self.assertIn(f"  {line}\n", shown)

    def test_the_same_list_differs_in_nothing(self):
        done = self.diff("owner.trust", self.trust)
        self.assertEqual((0, "same    nothing differs"),
                         (done.returncode, done.stdout.splitlines()[-1]))
        told = json.loads(self.diff("owner.trust", self.trust, "--json").stdout)
        self.assertEqual((True, []), (told["same"], told["changes"]))

    def test_what_is_no_trust_list_is_not_compared(self):
        for file, code in (("owner.root", 65), ("none.trust", 66), ("frost-node.crp", 65)):
            with self.subTest(file):
                done = self.diff("owner.trust", file)
                self.assertEqual((code, ""), (done.returncode, done.stdout))
                self.assertIn(file, done.stderr)

    def test_the_list_in_force_is_kept_with_its_signature(self):
        self.must_change("revoke", "--key", "keys/desk.pub")
        self.must_change("withdraw", "--package", "frost-node.crp")
        for end in ("", ".s01"):
            self.assertEqual(self.world.bytes("owner.trust" + end),
                             self.path(".before" + end).read_bytes())
        done = self.world.run("verify", self.trust + ".before", "--root", "owner.root")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_a_list_that_takes_something_back_is_not_signed(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        self.must_sign()
        self.must_change("revoke", "--key", "keys/desk.pub")
        text = self.path().read_text(encoding="utf-8")
        digest = self.digest()
        self.path().write_text(text.replace(f"withdrawn 1\nmanifest {digest}\n", "withdrawn 0\n"),
                               encoding="utf-8")
        done = self.sign()
        self.assert_signs_nothing(done, 1, f"{self.trust}: this list may not take the place of the "
                                  f"one before: found no longer withdrawn: {digest}, expected a "
                                  "list that takes nothing back")
        self.assertIn(f"  not allowed: no longer withdrawn: {digest}\n", done.stdout)

    def test_windows_that_share_numbers_are_not_signed(self):
        self.must_change("add", "--window", "keys/desk.pub:fn-serial:10000:19999")
        text = self.path().read_text(encoding="utf-8")
        self.path().write_text(text.replace(" 10000 19999", " 9999 19999"), encoding="utf-8")
        self.assert_signs_nothing(self.sign(), 1, "reason 308")

    def test_without_the_list_before_it_has_to_be_named(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        self.path(".before").unlink()
        shown = self.must_sign("--before", "owner.trust").stdout
        self.assertIn(f"  package withdrawn: {self.digest()}\n", shown)
        before = self.path().read_bytes()
        done = self.sign()
        self.assertEqual(66, done.returncode, done.stderr)
        self.assertIn("expected sha256:"
                      f"{hashlib.sha256(self.world.bytes('owner.trust')).hexdigest()}", done.stderr)
        self.assertIn("name the list in force with --before", done.stderr)
        self.assertEqual(before, self.path().read_bytes())

    def test_a_signed_list_that_was_edited_by_hand_is_no_draft(self):
        self.must_change("revoke", "--key", "keys/omar.pub", "--even-last")
        self.must_sign()
        text = self.path().read_text(encoding="ascii")
        self.assertIn(" revoked\n", text)
        self.path().write_text(text.replace(" revoked\n", " active\n"), encoding="ascii")
        done = self.change("add", "--person", "vera:Vera Elm")
        self.assertNotEqual(0, done.returncode)
        self.assertEqual(text.replace(" revoked\n", " active\n"),
                         self.path().read_text(encoding="ascii"))

    def test_a_list_far_ahead_is_not_signed(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        text = self.path().read_text(encoding="ascii")
        self.path().write_text(re.sub(r"^sequence \d+$", "sequence 5000", text, flags=re.M),
                               encoding="ascii")
        done = self.sign()
        self.assertEqual(1, done.returncode, done.stderr)
        self.assertIn("at most 1000 further", done.stderr)

    def test_a_list_before_that_the_root_did_not_sign_is_refused(self):
        self.must_change("withdraw", "--package", "frost-node.crp")
        shutil.copy(self.world.path("owner.trust"), self.path(".bare"))
        self.assert_signs_nothing(self.sign("--before", self.trust + ".bare"), 1, "reason 303")

    def test_the_first_list_is_compared_with_nothing(self):
        first = self.trust + ".first"
        self.world.must("trust", "new", "--root", "owner.root", "--time", MADE, "-o", first)
        self.world.must("trust", "add", first, "--root", "owner.root", "--time", MADE,
                        "--product", "frost-node:0:1")
        shown = self.world.must("trust", "sign", first, "--root", "owner.root", *self.world.confirm(first),
                                *self.world.key("owner"))
        self.assertIn("before  nothing: this is the owner's first list\n", shown)
        self.assertIn("  product added: frost-node, epoch 0, lowest sequence 1\n", shown)


if __name__ == "__main__":
    main()
