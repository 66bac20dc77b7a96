"""The same keys and times give the same bytes, wherever, whenever and by whomever they are made."""

import os
import stat
import tempfile
import unittest
from pathlib import Path

from world import World, main, written_blocks

# Everything that a run could let in by mistake, set far apart.
PLACES = ({"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "HOME": "/nonexistent"},
          {"TZ": "America/St_Johns", "LC_ALL": "de_DE.UTF-8", "LANG": "tr_TR.UTF-8",
           "USER": "somebody", "TMPDIR": "/"})
UMASKS = (0o077, 0o022)
SEALED = ("owner.root", "owner.root.s01", "owner.trust", "owner.trust.s01", "frost-node.crp",
          "setup.txt", "plain-setup.txt")
CARDS = ("card.img", "plain.img")


def build(world):
    world.make_owner().make_package("frost-node.crp")
    world.make_card("frost-node.crp", "card.img", "--sheet", "setup.txt")
    world.make_plain_card("frost-node.crp", "plain.img", "--sheet", "plain-setup.txt")
    return world


class Reproducible(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-e2e-")
        cls.addClassCleanup(folder.cleanup)
        keys = World(Path(folder.name) / "keys-only")
        names = ("a", "another folder/with a space/and ümlaut")
        cls.worlds = []
        for name, place, umask in zip(names, PLACES, UMASKS):
            old = os.umask(umask)
            try:
                cls.worlds.append(build(World(Path(folder.name) / name, keys, place)))
            finally:
                os.umask(old)

    def test_sealed_files_are_the_same_in_every_place(self):
        for name in SEALED:
            with self.subTest(name):
                first, second = (world.bytes(name) for world in self.worlds)
                self.assertGreater(len(first), 0)
                self.assertEqual(first, second)

    def test_cards_are_the_same_in_every_place(self):
        for name in CARDS:
            with self.subTest(name):
                first, second = (world.path(name) for world in self.worlds)
                self.assertEqual(first.stat().st_size, second.stat().st_size)
                blocks = written_blocks(first)
                self.assertGreater(len(blocks), 10)
                self.assertEqual(blocks, written_blocks(second))

    def test_cards_stay_sparse(self):
        for name in CARDS:
            with self.subTest(name):
                used = self.worlds[0].path(name).stat().st_blocks * 512
                self.assertLess(used, 4 * 1024 * 1024)

    def test_a_card_over_an_existing_file_is_the_same(self):
        world = self.worlds[0]
        world.path("over.img").write_bytes(b"\xA5" * 3_000_000)
        world.make_card("frost-node.crp", "over.img", "--force")
        self.assertEqual(written_blocks(world.path("card.img")),
                         written_blocks(world.path("over.img")))
        world.make_card("frost-node.crp", "over.img", "--force")
        self.assertEqual(world.path("card.img").stat().st_size,
                         world.path("over.img").stat().st_size)
        self.assertEqual(written_blocks(world.path("card.img")),
                         written_blocks(world.path("over.img")))

    def test_a_package_over_an_existing_file_is_the_same(self):
        world = self.worlds[1]
        world.pack("once.crp")
        world.path("over.crp").write_bytes(b"\xA5" * 100_000)
        release = world.copy_release("elsewhere")
        world.must("pack", release, "--root", "owner.root", "-o", "over.crp", "--force")
        self.assertEqual(world.bytes("once.crp"), world.bytes("over.crp"))

    def test_another_time_gives_another_package(self):
        # Were the time left out, the comparisons above would show less than they seem to.
        world = self.worlds[0]
        world.pack("later.crp")
        arguments = world.sign_arguments("later.crp", "release")
        arguments[arguments.index("--time") + 1] = "2026-03-02T10:00:01Z"
        world.must(*arguments, typed="frost-node 2.4.1\n")
        world.sign("later.crp", "quality", "--plain-file", "--units-a-station", "500")
        self.assertEqual(len(world.bytes("frost-node.crp")), len(world.bytes("later.crp")))
        self.assertNotEqual(world.bytes("frost-node.crp"), world.bytes("later.crp"))

    def test_private_keys_are_for_their_owner_alone_whatever_the_umask(self):
        old = os.umask(0)
        try:
            self.worlds[0].new_key("extra")
        finally:
            os.umask(old)
        mode = stat.S_IMODE(self.worlds[0].path("keys/extra.pem").stat().st_mode)
        self.assertEqual(0o600, mode)


if __name__ == "__main__":
    main()
