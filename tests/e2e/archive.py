"""What was approved and sent out, kept by digest: taken out, read through, copied, and found again."""

import json
import shutil

from world import WorldCase, change_byte, main, written_blocks

REFUSED, NO_INPUT = 1, 66


class Archive(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.make_card("frost-node.crp", "card.img")
        cls.world.must("archive", "new", "kept")
        cls.added = cls.world.must("archive", "add", "frost-node.crp", "card.img", "owner.trust",
                                   "--archive", "kept", "--root", "owner.root", "--trust",
                                   "owner.trust")

    def run_archive(self, *arguments, code=0, archive="kept"):
        done = self.world.run("archive", arguments[0], *arguments[1:], "--archive", archive)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def items(self, archive="kept"):
        return json.loads(self.run_archive("list", "--json", archive=archive).stdout)["items"]

    def item(self, kind):
        return next(item for item in self.items() if item["kind"] == kind)

    def test_a_package_comes_back_with_the_trust_list_of_its_day(self):
        item = self.item("package")
        self.assertEqual("frost-node 2.4.1", item["title"])
        self.run_archive("get", item["id"][:12], "-o", "taken")
        self.assertEqual(self.world.bytes("frost-node.crp"),
                         self.world.bytes("taken/frost-node.crp"))
        done = self.world.run("verify", "taken/frost-node.crp", "--root", "taken/owner.root",
                              "--trust", "taken/owner.trust")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_a_card_that_is_rebuilt_has_the_same_bytes(self):
        item = self.item("card")
        self.run_archive("get", item["id"], "-o", "rebuilt")
        made, again = self.world.path("card.img"), self.world.path("rebuilt/card.img")
        self.assertEqual(made.stat().st_size, again.stat().st_size)
        self.assertEqual(written_blocks(made), written_blocks(again))
        done = self.world.run("card", "verify", "rebuilt/card.img", "--root", "owner.root")
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

    def test_what_is_not_good_is_not_kept(self):
        text = self.world.bytes("frost-node.crp")
        self.world.path("bent.crp").write_bytes(text[:5000] + bytes([text[5000] ^ 1]) + text[5001:])
        self.world.pack("unsigned.crp")
        shutil.copy(self.world.path("card.img"), self.world.path("bent.img"))
        listed = json.loads(self.world.must("card", "list", "card.img", "--json"))
        file = next(f for f in listed["files"] if f["path"].endswith("P01.CRP"))
        change_byte(self.world.path("bent.img"), file["first_sector"] * 512 + 9000)
        before = self.items()
        for name in ("bent.crp", "unsigned.crp", "bent.img", "keys/omar.pub", "owner.root"):
            with self.subTest(name=name):
                done = self.world.run("archive", "add", name, "--archive", "kept", "--root",
                                      "owner.root", "--trust", "owner.trust")
                self.assertNotEqual(0, done.returncode, done.stdout)
                self.assertIn(name, done.stderr)
        self.assertEqual(before, self.items())

    def test_scrub_finds_one_bit_and_an_import_mends_it(self):
        self.run_archive("export", "--to", "copy")
        self.assertIn("good", self.run_archive("scrub").stdout)
        item = self.item("package")
        digest = item["parts"][0]["sha256"]
        self.run_archive("export", "--to", "spoilt")
        change_byte(self.world.path(f"spoilt/objects/{digest[:2]}/{digest}"), 4321)
        said = self.run_archive("scrub", archive="spoilt", code=REFUSED).stdout
        self.assertIn("FAULT", said)
        self.assertIn("frost-node 2.4.1", said)
        self.run_archive("get", item["id"], "-o", "never", archive="spoilt", code=65)
        self.assertFalse(self.world.path("never").exists())
        self.run_archive("import", "--from", "copy", archive="spoilt")
        self.assertIn("good", self.run_archive("scrub", archive="spoilt").stdout)

    def test_a_name_that_an_archive_can_t_keep_breaks_nothing(self):
        for name in (".frost.crp", "frost\nnode.crp"):
            shutil.copy(self.world.path("frost-node.crp"), self.world.path(name))
            self.world.must("archive", "new", f"kept{len(name)}")
            done = self.world.run("archive", "add", name, "--archive", f"kept{len(name)}", "--root",
                                  "owner.root", "--trust", "owner.trust")
            self.assertEqual(64, done.returncode, done.stdout + done.stderr)
            self.assertEqual([], self.items(f"kept{len(name)}"))

    def test_adding_again_is_no_step(self):
        done = self.world.must("archive", "add", "frost-node.crp", "--archive", "kept", "--root",
                               "owner.root", "--trust", "owner.trust")
        self.assertIn("was there already", done)
        self.assertIn("no archive here",
                      self.run_archive("list", archive="nowhere", code=NO_INPUT).stderr)
        self.assertIn("no item", self.run_archive("get", "00000000", "-o", "x", code=NO_INPUT).stderr)

    def test_the_company_file_names_it(self):
        self.world.path("company.xml").write_text(
            '<company schema="1"><root file="owner.root"/><trust file="owner.trust"/>'
            '<archive folder="kept"/></company>', encoding="utf-8")
        done = self.world.run("--company", "company.xml", "archive", "add", "frost-node.crp")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("--archive kept", done.stderr)


if __name__ == "__main__":
    main()
