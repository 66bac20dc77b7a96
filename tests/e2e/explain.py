"""Why a package is believed, from the root to the bytes; and by which list it was judged when."""

import hashlib
import json
import shutil

from world import NAME, WorldCase, main

LATER = "2026-04-01T08:00:00Z"


class Explain(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.new_key("vera")
        for end in ("", ".s01"):
            shutil.copy(cls.world.path("owner.trust" + end), cls.world.path("today.trust" + end))
        cls.world.must("trust", "add", "today.trust", "--root", "owner.root", "--time", LATER,
                       "--person", "vera:Vera Holt", "--key", "vera:quality:keys/vera.pub")
        cls.world.must("trust", "revoke", "today.trust", "--root", "owner.root", "--time", LATER,
                       "--key", "keys/omar.pub")
        cls.world.sign_text("today.trust")

    def verify(self, *more, trust="owner.trust", root="owner.root"):
        return self.world.run("verify", "frost-node.crp", "--root", root, "--trust", trust, *more)

    def reasons(self, *more, **kinds):
        done = self.verify("--explain", "--json", *more, **kinds)
        return json.loads(done.stdout)["lists"]

    def sha256(self, name):
        return "sha256:" + hashlib.sha256(self.world.bytes(name)).hexdigest()

    def test_each_step_from_the_root_to_the_bytes_is_told(self):
        (only,) = self.reasons()
        steps = [reason["step"] for reason in only["reasons"]]
        segments = json.loads(self.world.must("show", "frost-node.crp", "--json"))["manifest"]
        count = len(segments["segments"])
        self.assertEqual(["root", "trust-list", "sign-off", "sign-off", "manifest", "chain",
                          *["bytes"] * count, "image", "facts"], steps)
        told = {reason["step"]: reason for reason in only["reasons"]}
        self.assertEqual(self.sha256("owner.root"), told["root"]["digest"])
        self.assertEqual(self.sha256("owner.trust"), told["trust-list"]["digest"])
        keys = {person: json.loads(self.world.must("key", "show", f"keys/{person}.pub", "--json"))
                ["key"] for person in ("owner", "ines", "omar")}
        self.assertEqual([f"noor in this root, key {keys['owner']}"], told["trust-list"]["by"])
        signed = [reason["by"] for reason in only["reasons"] if reason["step"] == "sign-off"]
        self.assertEqual([[f"ines in role release for every product, key {keys['ines']}, active on "
                           "that list"],
                          [f"omar in role quality for every product, key {keys['omar']}, active on "
                           "that list"]], signed)

    def test_the_text_says_the_same(self):
        done = self.verify("--explain")
        self.assertEqual(0, done.returncode, done.stderr)
        for reason in self.reasons()[0]["reasons"]:
            self.assertIn(f"  {reason['step']:<11} {reason['text']}\n", done.stdout)
            for by in reason["by"]:
                self.assertIn(f"by {by}\n", done.stdout)

    def test_a_package_is_judged_by_the_list_of_its_day_and_by_today_s(self):
        done = self.verify("--trust-now", "today.trust")
        self.assertEqual(1, done.returncode)
        self.assertIn("good    frost-node.crp  by the list of its day: trust list 1, root version "
                      "1\n", done.stdout)
        self.assertIn("refused frost-node.crp  by the list of today: trust list 2, root version 1: ",
                      done.stdout)
        self.assertIn("(reason 355)\n", done.stdout)
        said = json.loads(self.verify("--trust-now", "today.trust", "--json").stdout)
        self.assertEqual([("its day", 0), ("today", 355)],
                         [(each["of"], each["verdict"]["reason"]) for each in said["lists"]])
        self.assertEqual(355, said["verdict"]["reason"])
        done = self.verify("--trust-now", "owner.trust")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_a_list_of_an_earlier_root_is_still_the_list_of_its_day(self):
        self.world.must("trust", "rotate", "owner.root", "--person", "vera:Vera Holt",
                        "--root-key", "vera:keys/vera.pub", "-o", "second.root")
        self.world.sign_text("second.root", person="owner")
        for end in ("", ".s01"):
            shutil.copy(self.world.path("owner.trust" + end), self.world.path("under-2" + end))
        self.world.must("trust", "add", "under-2", "--root", "second.root", "--time", LATER)
        self.world.sign_text("under-2", root="second.root", person="vera")
        done = self.verify(root="second.root")
        self.assertEqual(1, done.returncode)  # alone, a list must count now
        self.assertIn("reason 305", done.stderr)
        done = self.verify("--trust-now", "under-2", root="second.root")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("by the list of its day: trust list 1, root version 1\n", done.stdout)
        self.assertIn("by the list of today: trust list 2, root version 2\n", done.stdout)
        today = self.reasons("--trust-now", "under-2", root="second.root")[1]["reasons"]
        self.assertEqual(2, [reason["step"] for reason in today].count("root"))
        done = self.verify("--trust-now", "owner.trust", root="second.root")
        self.assertEqual(1, done.returncode)  # no list of an earlier root is today's
        self.assertIn("owner.trust", done.stderr)
        self.assertIn("reason 305", done.stderr)
        self.assertNotIn("good", done.stdout)

    def test_a_list_of_a_root_whose_keys_are_gone_says_what_to_do(self):
        self.world.must("trust", "rotate", "owner.root", "--person", "vera:Vera Holt",
                        "--root-key", "vera:keys/vera.pub", "--drop-person", "noor", "-o",
                        "vera.root")
        for person in ("owner", "vera"):
            self.world.sign_text("vera.root", person=person)
        for more in ((), ("--trust-now", "owner.trust")):
            done = self.verify(*more, root="vera.root")
            self.assertEqual(1, done.returncode)
            self.assertIn("reason 305", done.stderr)
            self.assertIn("found a list under root 1, expected a list under root 2 (cardseal trust "
                          "add LIST --root NEWEST", done.stderr)

    def test_today_s_list_is_no_older_than_that_of_the_day(self):
        done = self.verify("--trust-now", "owner.trust", trust="today.trust")
        self.assertEqual(64, done.returncode)
        self.assertIn("today's list is older than the list of the package's day: found trust list 1 "
                      "under root 1, expected trust list 2 under root 1 or a newer one", done.stderr)
        for end in ("", ".s01"):
            shutil.copy(self.world.path("owner.trust" + end), self.world.path("other.trust" + end))
        self.world.must("trust", "withdraw", "other.trust", "--root", "owner.root", "--time", LATER,
                        "--manifest", "sha256:" + 64 * "1")
        self.world.sign_text("other.trust")
        done = self.verify("--trust-now", "other.trust", trust="today.trust")
        self.assertEqual(1, done.returncode)
        self.assertIn("reason 306", done.stderr)

    def test_a_withdrawal_is_of_today(self):
        self.world.must("trust", "stop", "--package", "frost-node.crp", "--reason", "wrong file",
                        "--root", "owner.root", "--trust", "owner.trust", *self.world.key("omar"),
                        "--confirm", NAME, "-o", "stop")
        done = self.verify("--trust-now", "owner.trust", "--withdrawal", "stop")
        self.assertEqual(1, done.returncode)
        self.assertIn("good    frost-node.crp  by the list of its day", done.stdout)
        self.assertIn("this package was withdrawn (reason 362)\n", done.stdout)


if __name__ == "__main__":
    main()
