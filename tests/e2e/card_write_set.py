#!/usr/bin/python3
"""Several card images, each onto a card of its own, asked for at a terminal; the register keeps which card
got what, and no image goes on two."""

import json
import os
import pty
import re
import select
import subprocess
import time

from world import CARDSEAL, WorldCase, main

REFUSED, USAGE = 1, 64
PATIENCE_SECONDS = 60
LARGE = 'cluster-sectors="8" mbr="yes" max-sectors="3842048"'
SMALL = 'cluster-sectors="1" mbr="yes" max-sectors="100000"'  # soon written
FOR_CARD = "q stops): "
FOR_ID = "type its id as above: "


class Desk:
    """Somebody at the terminal: waits for a question, then types."""

    def __init__(self, world, *arguments):
        ours, theirs = pty.openpty()
        self.keyboard = ours
        self.process = subprocess.Popen(
            [CARDSEAL, *arguments], cwd=world.folder, stdin=theirs, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT)
        os.close(theirs)
        self.said = ""

    def wait_for(self, question):
        """What was said since the last question."""
        start = len(self.said)
        end = time.monotonic() + PATIENCE_SECONDS
        while question not in self.said[start:]:
            if not select.select([self.process.stdout], [], [], end - time.monotonic())[0]:
                raise RuntimeError(f"no {question!r} in time: {self.said[start:]}")
            got = os.read(self.process.stdout.fileno(), 65536)
            if not got:
                raise RuntimeError(f"ended without {question!r}: {self.said[start:]}")
            self.said += got.decode()
        return self.said[start:]

    def type(self, line):
        os.write(self.keyboard, line.encode() + b"\n")

    def confirm(self):
        said = self.wait_for(FOR_ID)
        self.type(re.search(r"(?m)^id +([0-9a-f]{8})$", said).group(1))

    def end(self):
        rest, _ = self.process.communicate(timeout=PATIENCE_SECONDS)
        os.close(self.keyboard)
        return self.process.returncode, rest.decode()


class CardWriteSet(WorldCase):
    @classmethod
    def prepare(cls):
        release = cls.world.copy_release("small", ("profiles/row-six.xml", LARGE, SMALL))
        cls.world.make_package("small.crp", release)
        cls.world.must("serial", "new", "desk.register", "--root", "owner.root")
        cls.world.must("serial", "enrol", "desk.register", "--station", "orchard-1")

    def setUp(self):
        for path in (*self.world.folder.glob("card*"), *self.world.folder.glob("reader")):
            path.unlink()
        self.world.must("card", "make", "small.crp", "--root", "owner.root", "--trust",
                        "owner.trust", *self.world.key("desk"), "--register", "desk.register",
                        "--cards", "3", "--station", "orchard-1", "--model", "row-six", "--units",
                        "5", "--work-order", "WO-1001", "-o", "card.img")
        self.images = [f"card-{i:02}.img" for i in (1, 2, 3)]
        self.insert("one")

    def insert(self, name):
        """Another card into the reader, which is a file; what was in it goes to its own name."""
        reader = self.world.path("reader")
        if reader.exists():
            os.replace(reader, self.world.path("card-out-" + self.inserted))
        self.inserted = name
        with open(reader, "wb") as file:
            file.write(name.encode())
            file.truncate(self.world.path("card-01.img").stat().st_size)

    def arguments(self, *more):
        return ["card", "write", *self.images, "reader", "--root", "owner.root", "--register",
                "desk.register", "--by", "Ines Alder", *more]

    def ids(self):
        return {image: json.loads(self.world.must("card", "verify", image, "--root", "owner.root",
                                                  "--json"))["card_id"] for image in self.images}

    def fates(self):
        rows = json.loads(self.world.must("serial", "list", "desk.register", "--json"))
        fate = {row["card"]: row["fate"] for row in rows["allotments"]}
        return [fate[card] for card in self.ids().values()]

    def test_each_image_gets_a_card_and_the_register_knows_which(self):
        desk = Desk(self.world, *self.arguments())
        for i, image in enumerate(self.images):
            self.assertIn(f"{i + 1} of 3      {image}", desk.wait_for(FOR_CARD))
            if i > 0:  # the card before is still in the reader: it is not written over
                desk.type("")
                self.assertIn("has an image of this set already", desk.wait_for(FOR_CARD))
                self.insert(image)
            desk.type("")
            desk.confirm()
        code, rest = desk.end()
        self.assertEqual(0, code, rest)
        self.assertEqual(3, len(re.findall(r"(?m)^written +card-0\d\.img  card [0-9a-f]{16}$", rest)))
        self.assertEqual(["on-card"] * 3, self.fates())
        self.insert("none")
        for image, target in zip(self.images, ("one", *self.images[1:])):
            found = json.loads(self.world.must("card", "verify", f"card-out-{target}", "--root",
                                               "owner.root", "--json"))
            self.assertEqual(self.ids()[image], found["card_id"])
        said = json.loads(self.world.must("trace", "FN000001", "--register", "desk.register",
                                          "--package", "small.crp", "--json"))
        self.assertTrue(said["found"][0]["card_fates"][0]["note"].startswith("id "), said)

    def test_who_stops_goes_on_later_and_a_wrong_id_writes_nothing(self):
        desk = Desk(self.world, *self.arguments())
        desk.wait_for(FOR_CARD)
        desk.type("s")  # leaves the first out
        desk.wait_for(FOR_CARD)
        desk.type("")
        desk.wait_for(FOR_ID)
        desk.type("00000000")
        self.assertIn("nothing was written", desk.wait_for(FOR_CARD))
        self.assertEqual(b"one", self.world.bytes("reader")[:3])
        desk.type("")
        desk.confirm()
        desk.wait_for(FOR_CARD)
        desk.type("q")
        code, rest = desk.end()
        self.assertEqual(REFUSED, code)
        self.assertRegex(rest, r"(?m)^left +card-01\.img")
        self.assertEqual([None, "on-card", None], self.fates())
        self.insert("two")
        desk = Desk(self.world, *self.arguments())
        said = desk.wait_for(FOR_CARD)
        self.assertRegex(said, r"card-02\.img  card [0-9a-f]{16} was written before: id .*passed over")
        desk.type("")
        desk.confirm()
        desk.wait_for(FOR_CARD)
        self.insert("three")
        desk.type("")
        desk.confirm()
        self.assertEqual(0, desk.end()[0])
        self.assertEqual(["on-card"] * 3, self.fates())

    def refused(self, code, word, *arguments):
        said = self.world.run(*arguments)
        self.assertEqual(code, said.returncode, said.stdout + said.stderr)
        self.assertIn(word, said.stderr)
        self.assertEqual(b"one", self.world.bytes("reader")[:3])

    def test_what_a_set_can_not_be_is_refused_before_the_first_card(self):
        self.refused(USAGE, "no terminal to ask at", *self.arguments())
        self.refused(USAGE, "each card of a set has an id of its own",
                     *self.arguments("--confirm", "00000000"))
        self.refused(USAGE, "--register and --by", "card", "write", *self.images, "reader")
        self.refused(USAGE, "IMAGE DEVICE", "card", "write", "card-01.img")
        self.images[2] = "card-01.img"
        desk = Desk(self.world, *self.arguments())
        code, rest = desk.end()
        self.assertEqual(USAGE, code)
        self.assertIn("two of these images are one card", rest)


if __name__ == "__main__":
    main()
