"""A lost card is stopped and noted in one step: the stop is what stations take, the register has both."""

import json
import os
import subprocess

from world import SIGNED, WorldCase, main, run, tool

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
REFUSED, CANNOT_CREATE, CONFIG = 1, 73, 78


class CardLost(WorldCase):
    @classmethod
    def prepare(cls):
        cls.made = 0

    def setUp(self):
        CardLost.made += 1
        self.name = f"t{CardLost.made}"
        self.register = f"{self.name}.register"
        self.world.must("serial", "new", self.register, "--root", "owner.root")
        self.world.must("serial", "enrol", self.register, "--station", "orchard-1")
        self.make("--cards", "2", "-o", f"{self.name}.img")

    def make(self, *more):
        self.world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                        "owner.trust", *self.world.key("desk"), "--register", self.register,
                        "--station", "orchard-1", "--model", "row-six", "--units", "6",
                        "--work-order", "WO-7", *more)

    def lose(self, card, *more, output=None, key=None, code=0):
        key = self.world.key("omar") if key is None else key
        done = self.world.run("card", "lost", card, "--register", self.register, "--by",
                              "Sanna Reed", "--note", "not in the parcel", "--reason",
                              "lost in the post", "--root", "owner.root", "--trust", "owner.trust",
                              *key, "--time", SIGNED["quality"], "-o",
                              output or f"{self.name}.stop", *more)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def cards(self):
        return json.loads(self.world.must("lot", "show", "WO-7", "--register", self.register,
                                          "--json"))["cards"]

    def confirm(self, place=0):
        card = self.cards()[place]["card"]
        return card, ("--confirm", f"lost card {card[:8]}")

    def test_the_card_is_noted_and_the_stop_is_what_a_station_takes(self):
        card, confirm = self.confirm()
        done = self.lose(card, *confirm)
        self.assertIn("ordinals 0 to 5: 6 units", done.stdout)
        self.assertEqual(["lost", "image"], [c["standing"] for c in self.cards()])
        self.assertEqual([True, False], [c["stopped"] for c in self.cards()])
        verified = self.world.run("verify", f"{self.name}.stop", "--root", "owner.root", "--trust",
                                  "owner.trust")
        self.assertEqual(0, verified.returncode, verified.stdout + verified.stderr)
        # The next card carries it; the lost one is then refused, whoever found it.
        self.make("--withdrawal", f"{self.name}.stop", "-o", f"{self.name}-next.img")
        self.world.enrol(f"{self.name}.state", station="orchard-1")
        for image in (f"{self.name}-next.img", f"{self.name}-01.img"):
            done = run(STATION_SIM, image, "--state", f"{self.name}.state", "--cycles", "1",
                       cwd=self.world.folder)
            self.assertEqual(0 if "next" in image else REFUSED, done.returncode,
                             done.stdout + done.stderr)
        self.assertIn("398", done.stdout + done.stderr)  # lib/trust/REASONS.md: allotment withdrawn
        # Its numbers are spent: the next card goes on behind both.
        self.assertEqual([0, 6, 12], [c["first_ordinal"] for c in self.cards()])
        self.world.must("serial", "check", self.register)

    def test_a_file_that_is_gone_is_written_again_from_the_register(self):
        _, confirm = self.confirm()
        self.lose(f"{self.name}-01.img", *confirm)
        first = [self.world.bytes(f"{self.name}.stop{end}") for end in ("", ".s01")]
        before = self.world.bytes(self.register)
        self.lose(f"{self.name}-01.img", key=[], output=f"{self.name}-again.stop")
        self.assertEqual(first, [self.world.bytes(f"{self.name}-again.stop{end}")
                                 for end in ("", ".s01")])
        self.assertEqual(before, self.world.bytes(self.register))

    def test_nothing_is_noted_when_the_stop_can_t_be_made(self):
        card, confirm = self.confirm()
        self.world.path(f"{self.name}.stop").write_text("here already")
        self.assertIn("there already", self.lose(card, *confirm, code=CANNOT_CREATE).stderr)
        self.assertIn("have quality sign it", self.lose(
            card, *confirm, key=self.world.key("ines"), output="no.stop", code=CONFIG).stderr)
        self.lose(card, "--confirm", "yes", output="no.stop", code=REFUSED)
        self.lose(card, *confirm, output="nowhere/no.stop", code=CANNOT_CREATE)
        self.assertIn("made no card", self.lose("00112233445566aa", *confirm, output="no.stop",
                                                code=REFUSED).stderr)
        self.assertEqual(["image", "image"], [c["standing"] for c in self.cards()])
        self.world.must("card", "note", card, "destroyed", "--register", self.register, "--by",
                        "Sanna Reed", "--note", "cut up")
        self.assertIn("lost after destroyed", self.lose(card, *confirm, output="no.stop",
                                                        code=REFUSED).stderr)
        self.assertFalse(self.world.path("no.stop").exists())

    def test_a_key_that_is_elsewhere_signs_the_same_bytes(self):
        openssl = tool(self, "openssl", "openssl")
        card, confirm = self.confirm()
        public = ["--public-key", "keys/omar.pub"]
        self.lose(card, *confirm, "--signed-bytes", f"{self.name}.bytes", key=public)
        self.assertEqual("image", self.cards()[0]["standing"])
        self.assertFalse(self.world.path(f"{self.name}.stop").exists())
        subprocess.run([openssl, "pkeyutl", "-sign", "-rawin", "-inkey", "keys/omar.pem", "-passin",
                        "file:keys/omar.pass", "-in", f"{self.name}.bytes", "-out",
                        f"{self.name}.sig"], cwd=self.world.folder, check=True)
        self.lose(card, "--attach", f"{self.name}.sig", key=public)
        self.assertEqual(["lost", True], [self.cards()[0][key] for key in ("standing", "stopped")])
        # The same as signed here: Ed25519 gives one signature (RFC 8032, 5.1.6).
        other, confirm = self.confirm(1)
        self.lose(other, *confirm, output=f"{self.name}-2.stop")
        one, two = (self.world.bytes(f"{self.name}{end}.stop").splitlines() for end in ("", "-2"))
        self.assertEqual(1, sum(1 for a, b in zip(one, two) if a != b))  # the allotment alone


if __name__ == "__main__":
    main()
