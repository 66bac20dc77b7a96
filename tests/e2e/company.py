"""A company file says what daily commands need, so that nobody types it again."""

import os
import subprocess

from world import NAME, REASON, SIGNED, SOURCE, WorldCase, main, tool

SCHEMA = SOURCE / "templates" / "company" / "company.xsd"
KEYS = """  <key role="release" file="keys/ines.pem"/>
  <key role="quality" file="keys/omar.pem"/>
  <key role="allot" file="keys/desk.pem"/>
"""
GOOD = ("""<?xml version="1.0" encoding="UTF-8"?>
<company schema="1">
  <root file="owner.root"/>
  <trust file="owner.trust"/>
  <register file="desk.register"/>
""" + KEYS + "</company>\n")


class CompanyFile(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.path("company.xml").write_text(GOOD, encoding="utf-8")

    def setUp(self):
        self.package = f"{self._testMethodName}.crp"

    def run_with(self, *arguments, file="company.xml", **kinds):
        return self.world.run("--company", file, *arguments, **kinds)

    def must(self, *arguments, **kinds):
        done = self.run_with(*arguments, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)
        return done

    def secret(self, person):
        return ["--passphrase-file", f"keys/{person}.pass"]

    def sign(self, role, person):
        return self.must("sign", self.package, "--role", role, *self.secret(person), "--reason",
                         REASON[role], "--time", SIGNED[role], typed=NAME + "\n")

    def test_a_release_from_pack_to_card_names_no_path_twice(self):
        worked = SOURCE / "packages" / "01-frost-node" / "release.xml"
        done = self.must("pack", worked, "-o", self.package)
        self.assertIn("company.xml gives --root owner.root\n", done.stderr)
        done = self.sign("release", "ines")
        self.assertIn("company.xml gives --root owner.root --trust owner.trust "
                      "--key keys/ines.pem\n", done.stderr)
        self.sign("quality", "omar")
        self.assertEqual(0, self.must("verify", self.package).returncode)
        self.must("serial", "new", "desk.register")
        self.must("serial", "enrol", "desk.register", "--station", "orchard-1")
        done = self.must("card", "make", self.package, "--station", "orchard-1", "--model",
                         "row-six", "--units", "12", "--work-order", "WO-1", *self.secret("desk"),
                         "-o", "made.img")
        self.assertIn("--register desk.register --key keys/desk.pem\n", done.stderr)
        self.must("card", "verify", "made.img")

    def test_what_is_named_outranks_it(self):
        done = self.run_with("verify", "frost-node.crp", "--root", "other.root")
        self.assertEqual(66, done.returncode)
        self.assertIn("other.root", done.stderr)
        # Numbers given by hand and the register's exclude each other.
        done = self.must(*self.world.card_arguments("frost-node.crp", "hand.img"))
        self.assertNotIn("--register", done.stderr)
        # A key elsewhere and one that is here exclude each other, too.
        self.must("pack", SOURCE / "packages" / "01-frost-node" / "release.xml", "-o",
                  self.package)
        done = self.must("sign", self.package, "--role", "release", "--public-key",
                         "keys/ines.pub", "--signed-bytes", "out.bytes", "--reason", "x", "--time",
                         SIGNED["release"], typed=NAME + "\n")
        self.assertNotIn("--key", done.stderr)

    def test_what_needs_a_word_that_is_not_there_is_not_given(self):
        self.world.make_card("frost-node.crp", "plain-written.img")
        done = self.run_with("card", "write", "plain-written.img", "plain-written.img.target")
        self.assertNotIn("--by", done.stderr)
        self.assertNotIn("--register", done.stderr)

    def test_a_faulty_one_does_not_stop_help(self):
        self.world.path("bad.xml").write_text("<company", encoding="utf-8")
        for words in (["--help"], ["verify", "--help"]):
            done = self.run_with(*words, file="bad.xml")
            self.assertEqual(0, done.returncode, done.stderr)
            self.assertIn("Usage:", done.stdout)

    def test_it_is_found_by_the_environment_and_never_by_itself(self):
        done = self.world.run("verify", "frost-node.crp")
        self.assertEqual(64, done.returncode, done.stdout)
        environment = {**os.environ, "CARDSEAL_COMPANY": "company.xml"}
        done = subprocess.run([os.environ["CARDSEAL"], "verify", "frost-node.crp"],
                              cwd=self.world.folder, env=environment, capture_output=True,
                              text=True, check=False)
        self.assertEqual(0, done.returncode, done.stderr)

    def test_files_are_named_from_its_folder(self):
        inner = self.world.path("inner")
        inner.mkdir()
        (inner / "company.xml").write_text(GOOD.replace('file="', 'file="../'), encoding="utf-8")
        done = self.run_with("verify", "frost-node.crp", file="inner/company.xml")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("inner/company.xml gives --root owner.root --trust owner.trust", done.stderr)

    def test_a_faulty_one_stops_the_command(self):
        for name, old, new, code, said in (
                ("twice", 'role="quality"', 'role="release"', 65,
                 "twice.xml:7: two keys of one role: found release, expected one key a role"),
                ("role", 'role="allot"', 'role="boss"', 65, "role.xml:8"),
                ("unknown", "<trust ", "<list ", 65, "unknown.xml:4"),
                ("rootless", '  <root file="owner.root"/>\n', "", 65, "rootless.xml:2"),
                ("empty", 'file="owner.trust"', 'file=""', 65, "empty.xml:4"),
                ("version", 'schema="1"', 'schema="2"', 65, "version.xml:2")):
            with self.subTest(name=name):
                text = GOOD.replace(old, new)
                self.assertNotEqual(GOOD, text)
                self.world.path(f"{name}.xml").write_text(text, encoding="utf-8")
                done = self.run_with("verify", "frost-node.crp", file=f"{name}.xml")
                self.assertEqual(code, done.returncode, done.stdout + done.stderr)
                self.assertIn(said, done.stderr)
                self.assertEqual("", done.stdout)
                self.assert_schema(f"{name}.xml", good=False)
        done = self.run_with("verify", "frost-node.crp", file="nowhere.xml")
        self.assertEqual(66, done.returncode)
        self.assertIn("nowhere.xml", done.stderr)

    def test_the_schema_and_the_template_agree_with_it(self):
        self.assert_schema("company.xml", good=True)
        template = SCHEMA.parent / "company.xml"
        self.assert_schema(template, good=True)
        done = self.run_with("verify", "frost-node.crp", "--root", "owner.root", "--trust",
                             "owner.trust", file=template)
        self.assertEqual(0, done.returncode, done.stderr)

    def assert_schema(self, file, good):
        xmllint = tool(self, "xmllint", "libxml2-utils")
        done = subprocess.run([xmllint, "--noout", "--schema", SCHEMA, file],
                              cwd=self.world.folder, capture_output=True, check=False)
        self.assertEqual(0 if good else 3, done.returncode, done.stderr)


if __name__ == "__main__":
    main()
