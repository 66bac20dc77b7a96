"""A sign-off whose private key Cardseal never sees: OpenSSL makes the signature."""

import base64
import shutil
import subprocess

from world import NAME, PERSON, REASON, SIGNED, WorldCase, change_byte, main, tool

OTHER = ("this is not the key's signature over this sign-off: expected one by the private key of "
         "keys/{person}.pub (nothing was added; give the very options, --time, package and trust "
         "list with which the bytes were written, or write them again)")


class SignElsewhere(WorldCase):
    """Each test has a package of its own, which release has signed."""

    @classmethod
    def prepare(cls):
        cls.world.pack("unsigned.crp")
        shutil.copy(cls.world.path("unsigned.crp"), cls.world.path("released.crp"))
        cls.world.sign("released.crp", "release")
        cls.world.new_key("stranger")

    def setUp(self):
        self.openssl = tool(self, "openssl", "openssl")
        self.package = f"{self._testMethodName}.crp"
        self.bytes, self.signature = f"{self.package}.bytes", f"{self.package}.sig"
        shutil.copy(self.world.path("released.crp"), self.world.path(self.package))
        self.before = self.world.bytes(self.package)

    def arguments(self, *more, role="quality", person=None, package=None, time=None,
                  trust="owner.trust"):
        return ["sign", package or self.package, "--role", role, "--public-key",
                f"keys/{person or PERSON[role]}.pub", "--root", "owner.root", "--trust", trust,
                "--reason", REASON[role], "--time", time or SIGNED[role], *more]

    def write(self, *more, typed=NAME, **kinds):
        return self.world.run(*self.arguments("--signed-bytes", self.bytes, *more, **kinds),
                              typed=typed + "\n")

    def attach(self, *more, **kinds):
        return self.world.run(*self.arguments("--attach", self.signature, *more, **kinds))

    def sign(self, person="omar"):
        """With nothing but OpenSSL, the key file and the bytes."""
        done = subprocess.run(
            [self.openssl, "pkeyutl", "-sign", "-rawin", "-inkey", f"keys/{person}.pem", "-passin",
             f"file:keys/{person}.pass", "-in", self.bytes, "-out", self.signature],
            cwd=self.world.folder, capture_output=True, timeout=60, check=False)
        self.assertEqual(0, done.returncode, done.stderr)

    def must_write(self, *more, **kinds):
        done = self.write(*more, **kinds)
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertEqual(self.before, self.world.bytes(self.package))
        return done

    def assert_refused(self, done, code, said, bytes_written=False):
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        self.assertIn(said, done.stderr)
        self.assertEqual(self.before, self.world.bytes(self.package))
        self.assertEqual(bytes_written, self.world.path(self.bytes).exists())

    def assert_other(self, done, person="omar"):
        self.assert_refused(done, 1, f"{self.signature}: {OTHER.format(person=person)}", True)

    def test_what_openssl_signed_is_byte_for_byte_what_a_key_file_gives(self):
        limits = ["--units-a-station", "500", "--numbers", "0-9999", "--plain-file"]
        written = self.must_write(*limits)
        self.assertIn(f"to sign {self.bytes}  ", written.stdout)
        self.assertIn(f"--attach SIGNATURE for --signed-bytes, and --time {SIGNED['quality']}",
                      written.stderr)
        self.sign()
        attached = self.attach(*limits)
        self.assertEqual(0, attached.returncode, attached.stderr)
        self.assertIn("sign-off 02 by omar in role quality, signed elsewhere", attached.stdout)
        done = self.world.run("verify", self.package, "--root", "owner.root", "--trust",
                              "owner.trust")
        self.assertEqual(0, done.returncode, done.stderr)
        # Ed25519 has one signature for a key and a message (RFC 8032 section 5.1.6).
        shutil.copy(self.world.path("released.crp"), self.world.path("here.crp"))
        here = self.world.run(*self.world.sign_arguments("here.crp", "quality", *limits),
                              typed=NAME + "\n")
        self.assertEqual(0, here.returncode, here.stderr)
        self.assertEqual(self.world.bytes("here.crp"), self.world.bytes(self.package))

    def test_both_steps_show_what_signing_here_shows(self):
        views = [self.must_write().stdout]
        self.sign()
        views.append(self.attach().stdout)
        shutil.copy(self.world.path("released.crp"), self.world.path("shown.crp"))
        views.append(self.world.run(*self.world.sign_arguments("shown.crp", "quality"),
                                    typed=NAME + "\n").stdout)
        # The question for the name stands on standard error, so all but the last line is the view.
        views = [view.splitlines()[:-1] for view in views]
        self.assertEqual(views[2], views[0])
        self.assertEqual(views[2], views[1])
        self.assertIn("you are about to sign", views[0])

    def test_the_bytes_are_the_pre_authentication_encoding_of_the_sign_off(self):
        self.must_write()
        self.sign()
        self.assertEqual(0, self.attach().returncode)
        shown = f"{self.package}.shown"
        self.world.must("show", self.package, "--signed-bytes", "2", "-o", shown)
        written = self.world.bytes(self.bytes)
        self.assertEqual(self.world.bytes(shown), written)
        # DSSE protocol, version 1: "DSSEv1" SP length(type) SP type SP length(body) SP body.
        kind = b"application/vnd.cardseal.signoff.v1"
        head = b"DSSEv1 %d %s " % (len(kind), kind)
        self.assertTrue(written.startswith(head))
        length, _, body = written[len(head):].partition(b" ")
        self.assertEqual(int(length), len(body))
        self.assertTrue(body.startswith(b"cardseal-signoff 1\n"))

    def test_a_signature_of_another_key_is_refused(self):
        self.must_write()
        for person in ("ines", "stranger"):
            self.sign(person)
            self.assert_other(self.attach())

    def test_a_changed_byte_is_refused(self):
        self.must_write()
        self.sign()
        for at in (0, 31, 32, 63):  # of R and of S
            change_byte(self.world.path(self.signature), at)
            self.assert_other(self.attach())
            change_byte(self.world.path(self.signature), at)
        change_byte(self.world.path(self.bytes), len(self.world.bytes(self.bytes)) - 2)
        self.sign()
        self.assert_other(self.attach())

    def test_a_signature_over_the_text_without_its_head_is_refused(self):
        self.must_write()
        text = self.world.bytes(self.bytes)
        self.world.path(self.bytes).write_bytes(text[text.index(b"cardseal-signoff"):])
        self.sign()
        self.assert_other(self.attach())

    def test_a_signature_for_another_package_is_refused(self):
        release = self.world.copy_release("other", ("release.xml", 'sequence="7"', 'sequence="8"'))
        self.world.pack("other.crp", release)
        self.world.sign("other.crp", "release")
        done = self.write(package="other.crp")
        self.assertEqual(0, done.returncode, done.stderr)
        self.sign()
        self.assert_other(self.attach())
        done = self.attach(package="other.crp")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_a_key_that_is_not_on_the_list_is_refused_in_both_steps(self):
        said = "keys/stranger.pub: this key is not on the trust list"
        self.assert_refused(self.write(person="stranger"), 78, said)
        self.must_write()
        self.sign("stranger")
        self.assert_refused(self.attach(person="stranger"), 78, said, True)

    def test_a_key_of_another_role_is_refused_in_both_steps(self):
        said = "keys/ines.pub: this key may not sign in this role: found release"
        self.assert_refused(self.write(person="ines"), 78, said)
        self.must_write()
        self.sign("ines")
        self.assert_refused(self.attach(person="ines"), 78, said, True)

    def test_other_options_than_before_are_refused(self):
        self.must_write("--units-a-station", "500")
        self.sign()
        for more, kinds in (([], {}), (["--units-a-station", "501"], {}),
                            (["--units-a-station", "500", "--plain-file"], {}),
                            (["--units-a-station", "500", "--meaning", "seen"], {}),
                            (["--units-a-station", "500"], {"time": "2026-03-03T16:30:01Z"})):
            with self.subTest(more + list(kinds)):
                self.assert_other(self.attach(*more, **kinds))
        self.assertEqual(0, self.attach("--units-a-station", "500").returncode)

    def test_a_trust_list_that_went_on_in_between_is_refused(self):
        self.must_write()
        self.sign()
        for end in ("", ".s01"):
            shutil.copy(self.world.path("owner.trust" + end), self.world.path("later.trust" + end))
        self.world.must("trust", "add", "later.trust", "--root", "owner.root", "--product",
                        "other:0:1")
        self.world.sign_text("later.trust")
        self.assert_other(self.attach(trust="later.trust"))

    def test_a_package_that_was_signed_in_between_is_refused(self):
        self.world.new_key("vera")
        self.world.make_trust("two.trust", "--person", "vera:Vera Holt", "--key",
                              "vera:quality:keys/vera.pub")
        self.must_write(trust="two.trust")
        self.sign()
        self.world.must(*self.world.sign_arguments(self.package, "quality", person="vera",
                                                   trust="two.trust"), typed=NAME + "\n")
        self.before = self.world.bytes(self.package)
        self.assert_other(self.attach(trust="two.trust"))

    def test_a_package_whose_image_changed_in_between_is_refused(self):
        self.must_write()
        self.sign()
        data = self.world.bytes(self.package)
        at = data.rindex(b"\x0c\x94")  # inside the image: AVR's jmp
        change_byte(self.world.path(self.package), at)
        self.before = self.world.bytes(self.package)
        self.assert_refused(self.attach(), 1, "reason 510", True)

    def test_a_signature_comes_on_once(self):
        self.must_write()
        self.sign()
        self.assertEqual(0, self.attach().returncode)
        self.before = self.world.bytes(self.package)
        self.assert_refused(self.attach(), 1, "this key has signed the package already", True)

    def test_a_signature_is_64_raw_bytes(self):
        self.must_write()
        self.sign()
        raw = self.world.bytes(self.signature)
        for other in (b"", raw[:-1], raw + b"\n", raw + raw, base64.b64encode(raw),
                      raw.hex().encode()):
            with self.subTest(other):
                self.world.path(self.signature).write_bytes(other)
                self.assert_refused(self.attach(), 65,
                                    f"a signature is 64 raw bytes: found {len(other)} bytes, "
                                    "expected 64 bytes", True)
        self.world.path(self.signature).unlink()
        self.assert_refused(self.attach(), 66, self.signature, True)

    def test_what_a_station_would_refuse_gets_no_bytes_to_sign(self):
        self.assert_refused(self.write(package="unsigned.crp"), 1, "reason 341")
        self.world.new_key("ines-2")
        self.world.make_trust("both.trust", "--key", "ines:quality:keys/ines-2.pub")
        self.assert_refused(self.write(person="ines-2", trust="both.trust"), 1, "reason 343")
        self.world.make_trust("revoked.trust")
        self.world.must("trust", "revoke", "revoked.trust", "--root", "owner.root", "--key",
                        "keys/omar.pub", "--even-last")
        self.world.sign_text("revoked.trust")
        self.assert_refused(self.write(trust="revoked.trust"), 1, "reason 355")

    def test_without_the_release_s_name_there_are_no_bytes(self):
        for typed in ("", "frost-node", "yes"):
            self.assert_refused(self.write(typed=typed), 1, "the name typed is not the release's")

    def test_a_file_that_is_there_is_not_replaced(self):
        self.world.path(self.bytes).write_bytes(b"kept")
        self.assert_refused(self.write(), 73, "output exists", True)
        self.assertEqual(b"kept", self.world.bytes(self.bytes))

    def test_options_that_do_not_go_together_are_named(self):
        key = self.world.key("omar")
        here = self.world.sign_arguments(self.package, "quality")
        without = [*here[:here.index("--key")], *here[here.index("--root"):]]
        timeless = self.arguments("--attach", "x.sig")
        del timeless[timeless.index("--time"):timeless.index("--time") + 2]
        for arguments, said in (
                (without, "there is no key to sign with"),
                ([*here, "--signed-bytes", self.bytes], "no --public-key"),
                ([*here, "--attach", "x.sig"], "no --public-key"),
                (self.arguments(), "found neither step"),
                (self.arguments("--signed-bytes", self.bytes, "--attach", "x"), "excludes"),
                (self.arguments("--attach", "x", *key), "excludes"),
                (self.arguments("--signed-bytes", "-"), "standard output shows"),
                (timeless, "the time is part of what was signed: found no --time")):
            with self.subTest(said):
                self.assert_refused(self.world.run(*arguments, typed=NAME + "\n"), 64, said)


if __name__ == "__main__":
    main()
