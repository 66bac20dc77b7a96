"""Every key of root, release and quality is on a machine of its own, without network. Only what is to
be signed, and what came of it, goes between the two by stick."""

import shutil
import subprocess
import tempfile
import unittest
from pathlib import Path

from world import (CARDSEAL, MADE, NAME, PERSON, REASON, SIGNED, STATION_CHECK, WORKED_RELEASE,
                   change_byte, main, run, tool)

LATER = "2026-04-01T08:00:00Z"


class Machine:
    """A folder that no command of the other machine looks into."""

    def __init__(self, folder):
        self.folder = folder
        folder.mkdir()

    def run(self, *arguments, typed="", program=CARDSEAL):
        return run(program, *arguments, cwd=self.folder, typed=typed)

    def must(self, *arguments, **kinds):
        done = self.run(*arguments, **kinds)
        if done.returncode != 0:
            raise AssertionError(f"{arguments}: exit {done.returncode}\n{done.stdout}{done.stderr}")
        return done.stdout

    def new_key(self, person):
        (self.folder / f"{person}.pass").write_text(f"passphrase of {person}\n")
        self.must("key", "new", *self.key(person))

    def key(self, person):
        return ["--key", f"{person}.pem", "--passphrase-file", f"{person}.pass"]


class TwoMachines(unittest.TestCase):
    def setUp(self):
        self.openssl = tool(self, "openssl", "openssl")
        folder = tempfile.TemporaryDirectory(prefix="cardseal-e2e-")
        self.addCleanup(folder.cleanup)
        home = Path(folder.name)
        self.desk, self.away = Machine(home / "desk"), Machine(home / "away")
        self.stick = home / "stick"
        self.stick.mkdir()
        for person in ("owner", "ines", "omar", "stranger"):
            self.away.new_key(person)
            self.carry(self.away, self.desk, f"{person}.pub")
        self.desk.new_key("desk")

    def carry(self, source, target, *names):
        for name in names:
            shutil.copy(source.folder / name, self.stick / name)
            shutil.move(self.stick / name, target.folder / name)

    def sign_away(self, person, name):
        """With nothing but OpenSSL, the key file and the bytes."""
        self.carry(self.desk, self.away, f"{name}.bytes")
        done = subprocess.run(
            [self.openssl, "pkeyutl", "-sign", "-rawin", "-inkey", f"{person}.pem", "-passin",
             f"file:{person}.pass", "-in", f"{name}.bytes", "-out", f"{name}.sig"],
            cwd=self.away.folder, capture_output=True, timeout=60, check=False)
        self.assertEqual(0, done.returncode, done.stderr)
        self.carry(self.away, self.desk, f"{name}.sig")

    def round_trip(self, person, name, *command, typed=""):
        """Both steps of one signature; what the second one said."""
        step = [*command, "--public-key", f"{person}.pub"]
        before = self.desk.must(*step, "--signed-bytes", f"{name}.bytes", typed=typed)
        self.sign_away(person, name)
        after = self.desk.must(*step, "--attach", f"{name}.sig")
        self.assertIn(before.split("to sign ")[0].strip().splitlines()[-1], after)
        return after

    def make_owner(self):
        unsigned = self.desk.run("trust", "root", "--person", "noor:Noor Tarn", "--root-key",
                                 "noor:owner.pub", "-o", "owner.root")
        self.assertEqual(0, unsigned.returncode, unsigned.stderr)
        self.assertIn("next: 1 more person signs it", unsigned.stderr)
        refused = self.desk.run("trust", "new", "--root", "owner.root", "-o", "owner.trust")
        self.assertNotEqual(0, refused.returncode)
        done = self.round_trip("owner", "root", "trust", "sign", "owner.root", "--confirm",
                               "root 1")
        self.assertIn("1 of 1 person has signed", done)
        self.desk.must("trust", "new", "--root", "owner.root", "--time", MADE, "-o",
                       "owner.trust")
        self.desk.must("trust", "add", "owner.trust", "--root", "owner.root", "--time", MADE,
                       "--person", "ines:Ines Alder", "--person", "omar:Omar Birk", "--person",
                       "desk:Shipping desk", "--key", "ines:release:ines.pub", "--key",
                       "omar:quality:omar.pub", "--key", "desk:allot:desk.pub", "--product",
                       "frost-node:0:1", "--window", "desk.pub:fn-serial:0:9999")
        self.sign_list()

    def sign_list(self):
        return self.round_trip("owner", "list", "trust", "sign", "owner.trust", "--root",
                               "owner.root", "--confirm", "trust list 1")

    def sign_release(self):
        """Release signs bytes that went by stick."""
        self.desk.must("pack", WORKED_RELEASE / "release.xml", "--root", "owner.root", "-o",
                       "frost-node.crp")
        self.round_trip("ines", "release", "sign", "frost-node.crp", "--role", "release",
                        "--root", "owner.root", "--trust", "owner.trust", "--reason",
                        REASON["release"], "--time", SIGNED["release"], typed=NAME + "\n")

    def sign_quality(self):
        """Quality takes the package along, and sees and signs it on the machine that has the key."""
        owner = ["owner.root", "owner.root.s01", "owner.trust", "owner.trust.s01"]
        self.carry(self.desk, self.away, "frost-node.crp", *owner)
        shown = self.away.must("sign", "frost-node.crp", "--role", "quality",
                               *self.away.key(PERSON["quality"]), "--root", "owner.root",
                               "--trust", "owner.trust", "--reason", REASON["quality"], "--time",
                               SIGNED["quality"], "--units-a-station", "500", typed=NAME + "\n")
        self.assertIn("you are about to sign", shown)
        self.carry(self.away, self.desk, "frost-node.crp")

    def make_next(self):
        """The release after it, both of whose sign-offs go by stick as bytes."""
        shutil.copytree(WORKED_RELEASE, self.desk.folder / "next")
        file = self.desk.folder / "next" / "release.xml"
        text = file.read_text(encoding="utf-8")
        for old, new in (('version="2.4.1"', 'version="2.4.2"'), ('sequence="7"', 'sequence="8"')):
            self.assertEqual(1, text.count(old))
            text = text.replace(old, new)
        file.write_text(text, encoding="utf-8")
        self.desk.must("pack", "next/release.xml", "--root", "owner.root", "-o", "next.crp")
        for role, person in (("release", "ines"), ("quality", "omar")):
            self.round_trip(person, f"next-{role}", "sign", "next.crp", "--role", role, "--root",
                            "owner.root", "--trust", "owner.trust", "--reason", REASON[role],
                            "--time", SIGNED[role], typed="frost-node 2.4.2\n")

    def make_card(self, output, *more, package="frost-node.crp", card="00000000000000a1",
                  serial="1", first="0", code=0):
        done = self.desk.run("card", "make", package, "--root", "owner.root", "--trust",
                             "owner.trust", *self.desk.key("desk"), "--card-id", card,
                             "--station", "orchard-1", "--model", "row-six", "--enrolment", "1",
                             "--serial", serial, "--first", first, "--units", "60",
                             "--work-order", "WO-1001", "-o", output, *more)
        self.assertEqual(code, done.returncode, done.stderr)

    def judge(self, card):
        return self.desk.run(card, "--root", "owner.root", "--state", "station.state",
                             program=STATION_CHECK)

    def test_from_the_first_root_to_a_stop(self):
        self.make_owner()
        self.sign_release()
        self.sign_quality()
        self.make_card("shipment.img")
        self.desk.must("--enrol", "orchard-1", "--model", "row-six", "--slots", "6", "--supply",
                       "1800:5400:100", "--enrolment", "1", "--root", "owner.root", "--state",
                       "station.state", program=STATION_CHECK)
        admitted = self.judge("shipment.img")
        self.assertEqual(0, admitted.returncode, admitted.stdout + admitted.stderr)
        self.round_trip("omar", "stop", "trust", "stop", "--package", "frost-node.crp",
                        "--reason", "alarm stays silent", "--root", "owner.root", "--trust",
                        "owner.trust", "--time", LATER, "--confirm", NAME, "-o",
                        "frost-node.stop")
        self.make_card("refused.img", "--withdrawal", "frost-node.stop", code=1)
        self.make_next()
        self.make_card("next.img", "--withdrawal", "frost-node.stop", package="next.crp",
                       card="00000000000000a2", serial="2", first="60")
        taken = self.judge("next.img")
        self.assertIn("learned      1 withdrawal, for good\n", taken.stdout)
        refused = self.judge("shipment.img")
        self.assertIn("reason       362\n", refused.stdout)
        self.no_secret_left_its_machine()

    def no_secret_left_its_machine(self):
        self.assertEqual([], list(self.stick.iterdir()))
        self.assertEqual(["desk.pem"], [file.name for file in self.desk.folder.glob("*.pem")])
        self.assertEqual([], list(self.away.folder.glob("desk.*")))

    def test_what_is_refused_on_the_way(self):
        self.make_owner()
        unsigned = ["trust", "sign", "owner.trust", "--root", "owner.root"]
        by = ["--public-key", "owner.pub"]
        before = (self.desk.folder / "owner.trust").read_bytes()
        for said, *more in (
                ("this key is not on the root", "--public-key", "stranger.pub", "--signed-bytes",
                 "x.bytes", "--confirm", "trust list 1"),
                ("no --public-key", "--attach", "list.sig"),
                ("neither step", *by),
                ("what was typed is not what would be signed", *by, "--signed-bytes", "x.bytes",
                 "--confirm", "trust list 2"),
                ("there is no key to sign with", "--confirm", "trust list 1"),
                ("expected 64 bytes", *by, "--attach", "owner.trust"),
                ("this is not the key's signature over this trust list", *by, "--attach",
                 "root.sig")):
            with self.subTest(said=said):
                done = self.desk.run(*unsigned, *more)
                self.assertNotEqual(0, done.returncode)
                self.assertIn(said, done.stderr)
                self.assertFalse((self.desk.folder / "x.bytes").exists())
        change_byte(self.desk.folder / "list.sig", 3)
        done = self.desk.run(*unsigned, *by, "--attach", "list.sig")
        self.assertIn("nothing was added; give the very file with which the bytes were written",
                      done.stderr)
        self.assertEqual(before, (self.desk.folder / "owner.trust").read_bytes())

    def test_a_stop_says_its_time_again(self):
        self.make_owner()
        self.desk.must("pack", WORKED_RELEASE / "release.xml", "--root", "owner.root", "-o",
                       "frost-node.crp")
        stop = ["trust", "stop", "--package", "frost-node.crp", "--reason", "alarm stays silent",
                "--root", "owner.root", "--trust", "owner.trust", "--confirm", NAME, "-o", "a.stop"]
        for person, role in (("ines", "release"), ("owner", "root")):
            with self.subTest(role=role):
                done = self.desk.run(*stop, "--public-key", f"{person}.pub", "--signed-bytes",
                                     "stop.bytes")
                self.assertEqual(78, done.returncode)
                self.assertIn(f"{person}.pub: this key may not withdraw anything", done.stderr)
        by = ["--public-key", "omar.pub"]
        self.desk.must(*stop, *by, "--time", LATER, "--signed-bytes", "stop.bytes")
        self.sign_away("omar", "stop")
        done = self.desk.run(*stop, *by, "--attach", "stop.sig")
        self.assertEqual(64, done.returncode)
        self.assertIn("the time is part of what was signed", done.stderr)
        done = self.desk.run(*stop, *by, "--time", MADE, "--attach", "stop.sig")
        self.assertIn("this is not the key's signature over this withdrawal", done.stderr)
        self.assertFalse((self.desk.folder / "a.stop").exists())
        self.desk.must(*stop, *by, "--time", LATER, "--attach", "stop.sig")


if __name__ == "__main__":
    main()
