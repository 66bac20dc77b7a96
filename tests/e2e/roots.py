"""The owner's root changes hands: made, signed by several, carried to stations by cards."""

import hashlib
import json
import os
import pty
import shutil
import subprocess

from world import CARDSEAL, WorldCase, main, tool

LATER = "2026-04-01T08:00:00Z"


class RootCase(WorldCase):
    """Persons noor (v1, alone), bo and cleo; each test has files of its own, named by `self.name`."""

    @classmethod
    def prepare(cls):
        cls.world.make_card("frost-node.crp", "first.img")
        for person in ("bo", "cleo", "stranger"):
            cls.world.new_key(person)

    def setUp(self):
        self.name = self._testMethodName
        self.second = f"{self.name}.root"
        self.trust = f"{self.name}.trust"
        for end in ("", ".s01"):
            shutil.copy(self.world.path("owner.trust" + end), self.world.path(self.trust + end))

    def run_trust(self, *arguments, typed=""):
        return self.world.run("trust", *arguments, typed=typed)

    def rotate(self, *more, current="owner.root", output=None):
        return self.run_trust("rotate", current, *more, "-o", output or self.second)

    def must_rotate(self, *more, **kinds):
        done = self.rotate(*more, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)
        return done

    def add_bo(self, threshold="2"):
        return self.must_rotate("--person", "bo:Bo Alder", "--root-key", "bo:keys/bo.pub",
                                "--threshold", threshold)

    def sign(self, person, root=None, version="2"):
        return self.run_trust("sign", root or self.second, *self.world.key(person), "--confirm",
                              f"root {version}")

    def must_sign(self, *persons, **kinds):
        for person in persons:
            done = self.sign(person, **kinds)
            self.assertEqual(0, done.returncode, done.stderr)
        return done

    def carry_list(self, root=None, signers=("owner", "bo")):
        """The trust list goes on under the new root."""
        root = root or self.second
        self.world.must("trust", "add", self.trust, "--root", root, "--time", LATER)
        for person in signers:
            self.world.sign_text(self.trust, root=root, person=person)

    def card(self, output, root, serial="2", first="100"):
        arguments = self.world.card_arguments("frost-node.crp", output)
        for option, value in (("--trust", self.trust), ("--root", root), ("--serial", serial),
                              ("--first", first), ("--card-id", f"{int(serial):016x}")):
            arguments[arguments.index(option) + 1] = value
        return self.world.run(*arguments)

    def must_make_card(self, *arguments, **kinds):
        done = self.card(*arguments, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)

    def judge(self, card, code, said, root="owner.root"):
        done = self.world.station_check(card, "--root", root, "--state", f"{self.name}.state")
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertIn(said, done.stdout + done.stderr)
        return done.stdout


class Rotated(RootCase):
    def test_a_station_takes_the_new_root_from_a_card_and_refuses_cards_of_the_old(self):
        self.world.enrol(f"{self.name}.state")
        self.judge("first.img", 0, "admitted")
        self.add_bo()
        self.must_sign("owner", "bo")
        self.carry_list()
        self.must_make_card("second.img", self.second)
        said = self.judge("second.img", 0, "admitted")
        self.assertIn("learned      root version 2, after 1\n", said)
        self.assertIn("learned      trust list 2\n", said)
        self.judge("first.img", 1, "reason       315\n")
        self.judge("second.img", 0, "admitted", root=self.second)

    def test_a_station_two_roots_behind_catches_up_with_one_card(self):
        self.world.enrol(f"{self.name}.state")
        self.add_bo()
        self.must_sign("owner", "bo")
        third = f"{self.name}-3.root"
        self.must_rotate("--person", "cleo:Cleo Fell", "--root-key", "cleo:keys/cleo.pub",
                         "--drop-person", "noor", current=self.second, output=third)
        self.must_sign("owner", "bo", "cleo", root=third, version="3")
        self.carry_list(root=third, signers=("bo", "cleo"))
        self.must_make_card("third.img", third)
        said = self.judge("third.img", 0, "admitted")
        self.assertIn("learned      root version 3, after 1\n", said)
        for root in ("owner.root", self.second, third):
            done = self.world.run("card", "verify", "third.img", "--root", root)
            self.assertEqual(0, done.returncode, done.stdout)
            self.assertIn("roots      to version 3", done.stdout)
        report = json.loads(self.world.must("card", "verify", "third.img", "--root", third,
                                            "--json"))
        self.assertEqual(3, report["root_version"])

    def test_the_roots_on_a_card_are_a_tar_file_that_others_read(self):
        tar = tool(self, "tar", "tar")
        self.add_bo()
        self.must_sign("owner", "bo")
        self.carry_list()
        self.must_make_card("tar.img", self.second)
        mcopy = tool(self, "mcopy", "mtools")
        listed = json.loads(self.world.must("card", "list", "tar.img", "--json"))
        self.assertIn("CARDSEAL/ROOTS.TAR", json.dumps(listed))
        partition = "@@" + str(self.first_sector("tar.img") * 512)
        subprocess.run([mcopy, "-i", f"tar.img{partition}", "::CARDSEAL/ROOTS.TAR", "roots.tar"],
                       cwd=self.world.folder, check=True, timeout=60)
        names = subprocess.run([tar, "tf", "roots.tar"], cwd=self.world.folder, check=True,
                               capture_output=True, text=True, timeout=60).stdout.split()
        self.assertEqual(["root/000001", "root/000001.s01", "root/000002", "root/000002.s01",
                          "root/000002.s02"], names)
        text = subprocess.run([tar, "xOf", "roots.tar", "root/000002"], cwd=self.world.folder,
                              check=True, capture_output=True, timeout=60).stdout
        self.assertEqual(self.world.bytes(self.second), text)

    def first_sector(self, card):
        """Of the one partition; 0 when the volume is bare."""
        sector = self.head(card)
        if sector[82:90] == b"FAT32   ":
            return 0
        return int.from_bytes(sector[454:458], "little")

    def head(self, card):
        with open(self.world.path(card), "rb") as file:
            return file.read(512)

    def test_the_next_root_s_text_follows_from_the_one_before(self):
        first = self.world.bytes("owner.root")
        said = self.add_bo().stdout
        digest = "sha256:" + hashlib.sha256(first).hexdigest()
        text = self.world.path(self.second).read_text(encoding="utf-8")
        for line in (f"owner {digest}", "version 2", "threshold 2", f"previous {digest}"):
            self.assertIn(line + "\n", text)
        self.assertEqual(first, self.world.bytes(self.second + ".v1"))
        self.assertEqual(self.world.bytes("owner.root.s01"),
                         self.world.bytes(self.second + ".v1.s01"))
        self.assertIn("more persons needed: was 1, now 2\n", said)
        self.assertIn("person added: bo, Bo Alder\n", said)
        aloud = hashlib.sha256(text.encode()).hexdigest()
        self.assertIn(" ".join(aloud[at:at + 4] for at in range(0, 64, 4)), said)

    def test_a_root_counts_only_when_old_and_new_persons_have_signed(self):
        self.add_bo()
        verify = ("verify", self.second)
        for persons, code, counts in ((["bo"], 1, ("old root    0 of 1", "new root    1 of 2")),
                                      (["owner"], 0, ("old root    1 of 1", "new root    2 of 2"))):
            done = self.must_sign(*persons)
            for count in counts:
                persons_have = " person has" if count.endswith(" 1") else " persons have"
                self.assertIn(count + persons_have + " signed", done.stdout)
            judged = self.world.run(*verify)
            self.assertEqual(code, judged.returncode, judged.stderr)
            self.assertIn("reason 309" if code else "root version 2", judged.stdout + judged.stderr)

    def test_the_old_root_s_threshold_is_asked_for_too(self):
        self.add_bo()
        self.must_sign("owner", "bo")
        third = f"{self.name}-3.root"
        self.must_rotate("--drop-person", "noor", "--threshold", "1", current=self.second,
                         output=third)
        self.must_sign("bo", root=third, version="3")
        self.assertIn("reason 309", self.world.run("verify", third).stderr)
        self.must_sign("owner", root=third, version="3")
        self.assertEqual(0, self.world.run("verify", third).returncode)

    def test_nothing_is_signed_without_its_name(self):
        self.add_bo()
        for typed in ("", "root", "root 1", "yes"):
            done = self.run_trust("sign", self.second, *self.world.key("bo"), typed=typed + "\n")
            self.assertEqual(1, done.returncode, done.stderr)
            self.assertIn("nothing was signed", done.stderr)
            self.assertFalse(self.world.path(self.second + ".s01").exists())
        done = self.run_trust("sign", self.second, *self.world.key("bo"), typed="root 2\n")
        self.assertEqual(0, done.returncode, done.stderr)
        done = self.run_trust("sign", "owner.trust", "--root", "owner.root",
                              *self.world.key("owner"), "--confirm", "trust list 2")
        self.assertEqual(1, done.returncode)
        self.assertIn("found trust list 2, expected trust list 1 (nothing was signed)",
                      done.stderr)

    def test_two_who_sign_at_once_both_count(self):
        self.add_bo()
        arguments = ["trust", "sign", self.second, *self.world.key("owner")]
        person, terminal = pty.openpty()  # only somebody at a terminal is asked
        with subprocess.Popen([CARDSEAL, *arguments], cwd=self.world.folder, text=True,
                              env={**os.environ, **(self.world.environment or {})}, stdin=terminal,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE) as first:
            os.close(terminal)
            asked = ""
            while not asked.endswith("to sign it: "):
                letter = first.stderr.read(1)
                self.assertTrue(letter, "ended before it asked: " + asked)
                asked += letter
            self.must_sign("bo")
            os.write(person, b"root 2\n")
            said, error = first.communicate(timeout=60)
        os.close(person)
        self.assertEqual(0, first.returncode, error)
        self.assertIn("new root    2 of 2 persons have signed", said)
        self.assertEqual(0, self.world.run("verify", self.second).returncode)

    def test_a_rotation_that_finds_a_name_taken_leaves_nothing(self):
        for taken in (self.second, self.second + ".v1"):
            with self.subTest(taken):
                self.world.path(taken).write_text("mine\n", encoding="utf-8")
                done = self.rotate("--threshold", "1")
                self.assertEqual(73, done.returncode, done.stderr)
                self.assertIn(taken, done.stderr)
                self.assertEqual([self.world.path(taken)],
                                 list(self.world.folder.glob(self.second + "*")))
                self.world.path(taken).unlink()
        self.world.path(self.second + ".v1.s01").write_text("mine\n", encoding="utf-8")
        self.assertEqual(73, self.rotate("--threshold", "1").returncode)
        self.world.path(self.second + ".v1.s01").unlink()
        self.assertEqual([], list(self.world.folder.glob(self.second + "*")))
        self.must_rotate("--threshold", "1")

    def test_a_key_of_neither_root_signs_nothing(self):
        self.add_bo()
        done = self.sign("stranger")
        self.assertEqual(78, done.returncode)
        self.assertIn("a signature is not by a key of the root", done.stderr)

    def test_what_is_impossible_is_refused_before_anything_is_written(self):
        for arguments, said in (
                (["--threshold", "2"], "this root could never be signed by enough persons: found "
                                       "threshold 2, expected 1 to 1, the persons who have a key"),
                (["--threshold", "0"], "the threshold is out of range"),
                (["--drop-person", "noor"], "could never be signed by enough persons"),
                (["--drop-person", "vera"], "the root holds no such person: found vera"),
                (["--drop-key", "keys/bo.pub"], "the root holds no such key: found keys/bo.pub"),
                (["--root-key", "bo:keys/bo.pub"], "nobody of this id is on the root: found bo, "
                 "expected the id of a person on the root (add the person too: --person bo:NAME)"),
                (["--root-key", "noor:keys/owner.pub"], "this key is on the root already")):
            with self.subTest(said):
                done = self.rotate(*arguments)
                self.assertEqual(64, done.returncode, done.stdout + done.stderr)
                self.assertIn(said, done.stderr)
                self.assertEqual([], list(self.world.folder.glob(self.second + "*")))

    def test_a_root_without_those_before_it_is_an_error_that_says_so(self):
        self.add_bo()
        self.must_sign("owner", "bo")
        self.world.path(self.second + ".v1").unlink()
        done = self.world.run("verify", self.second)
        self.assertEqual(66, done.returncode, done.stderr)
        self.assertIn("the roots before version 2 belong beside", done.stderr)

    def test_a_list_goes_on_under_the_new_root_and_shows_it(self):
        self.add_bo()
        self.must_sign("owner", "bo")
        self.world.must("trust", "add", self.trust, "--root", self.second, "--time", LATER)
        done = self.run_trust("sign", self.trust, "--root", self.second, *self.world.key("bo"),
                              typed="trust list 2\n")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("  root version: was 1, now 2\n", done.stdout)
        done = self.card("none.img", self.second)
        self.assertIn("reason 303", done.stderr)  # one of two
        done = self.card("none.img", "owner.root")
        self.assertIn("reason", done.stderr)

    def test_two_roots_are_compared(self):
        self.add_bo()
        done = self.run_trust("diff", "owner.root", self.second, "--json")
        self.assertEqual(1, done.returncode)
        said = json.loads(done.stdout)
        self.assertEqual(["threshold-raised", "key-added", "person-added"],
                         [change["what"] for change in said["changes"]])
        self.assertEqual((1, 2), (said["before"]["version"], said["after"]["version"]))
        self.assertEqual(0, self.run_trust("diff", "owner.root", "owner.root").returncode)

    def test_a_station_of_another_second_root_is_not_judged_in_silence(self):
        self.world.enrol(f"{self.name}.state")
        self.add_bo()
        self.must_sign("owner", "bo")
        self.carry_list()
        self.must_make_card("learned.img", self.second)
        self.judge("learned.img", 0, "admitted")
        other = f"{self.name}-other.root"
        self.must_rotate("--person", "cleo:Cleo Fell", "--root-key", "cleo:keys/cleo.pub",
                         output=other)
        self.must_sign("owner", root=other)
        self.judge("learned.img", 78, "the station holds another root", root=other)

    def test_a_card_of_another_root_is_not_good_at_the_desk_either(self):
        self.add_bo()
        self.must_sign("owner", "bo")
        done = self.world.run("card", "verify", "first.img", "--root", self.second)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 315", done.stdout)
        self.carry_list()
        self.must_make_card("known.img", self.second)
        other = f"{self.name}-other.root"
        self.must_rotate("--person", "cleo:Cleo Fell", "--root-key", "cleo:keys/cleo.pub",
                         output=other)
        self.must_sign("owner", root=other)
        done = self.world.run("card", "verify", "known.img", "--root", other)
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 316", done.stdout)

    def test_two_persons_make_the_first_root(self):
        both = f"{self.name}-both.root"
        self.world.must("trust", "root", "--person", "noor:Noor Tarn", "--person", "bo:Bo Alder",
                        "--root-key", "noor:keys/owner.pub", "--root-key", "bo:keys/bo.pub",
                        "--threshold", "2", *self.world.key("owner"), "-o", both)
        self.assertIn("reason 303", self.world.run("verify", both).stderr)
        self.must_sign("bo", root=both, version="1")
        self.assertEqual(0, self.world.run("verify", both).returncode)


class Listed(RootCase):
    """What is said of a list, and what is refused of a change."""

    def add(self, *arguments):
        return self.run_trust("add", self.trust, "--root", "owner.root", "--time", LATER,
                              *arguments)

    def test_a_threshold_is_stated_again(self):
        for persons in ("2", "3", "1"):
            done = self.add("--threshold", f"quality:{persons}")
            self.assertEqual(0, done.returncode, done.stderr)
            text = self.world.path(self.trust).read_text(encoding="utf-8")
            self.assertIn(f"thresholds 1\nthreshold quality {persons}\n", text)
        for wrong in ("quality:0", "quality:9", "nobody:1", "quality"):
            self.assertEqual(64, self.add("--threshold", wrong).returncode)

    def test_a_key_of_nobody_is_an_error_that_says_what_to_do(self):
        done = self.add("--key", "vera:quality:keys/bo.pub")
        self.assertEqual(64, done.returncode)
        self.assertIn("nobody of this id is on the trust list: found vera, expected the id of a "
                      "person on the list (add the person too: --person vera:NAME)", done.stderr)

    def test_lists_as_json_hold_windows_thresholds_and_withdrawals(self):
        withdrawn = "sha256:" + 64 * "3"
        self.world.must("trust", "withdraw", self.trust, "--root", "owner.root", "--manifest",
                        withdrawn)
        self.add("--threshold", "quality:2")
        shown = json.loads(self.world.must("show", self.trust, "--json"))
        self.world.sign_text(self.trust)
        verified = json.loads(self.world.must("verify", self.trust, "--root", "owner.root",
                                              "--json"))
        self.assertEqual(shown, verified)
        self.assertEqual([{"role": "quality", "persons": 2}], shown["thresholds"])
        self.assertEqual([withdrawn], shown["withdrawn"])
        desk = json.loads(self.world.must("key", "show", "keys/desk.pub", "--json"))["key"]
        self.assertEqual([{"key": desk, "scheme": "fn-serial", "first": 0, "last": 9999,
                           "use": "shipment"}],
                         shown["windows"])
        self.assertEqual({"desk", "ines", "noor", "omar"},
                         {person["id"] for person in shown["persons"]})
        root = json.loads(self.world.must("show", "owner.root", "--json"))
        self.assertEqual((1, 1, None), (root["version"], root["threshold"], root["previous"]))


if __name__ == "__main__":
    main()
