"""A sign-off whose private key never leaves a token: made, kept and used inside SoftHSM2, through
OpenSC's pkcs11-tool alone (PKCS #11 3.0, CKM_EDDSA)."""

import glob
import shutil
import subprocess

from world import NAME, REASON, SIGNED, WorldCase, change_byte, main, tool

PIN = "4711"
MODULES = ("/usr/lib/softhsm/libsofthsm2.so", "/usr/lib/*/softhsm/libsofthsm2.so")


class Token(WorldCase):
    def setUp(self):
        self.util = tool(self, "softhsm2-util", "softhsm2")
        self.pkcs11 = tool(self, "pkcs11-tool", "opensc")
        modules = [path for pattern in MODULES for path in glob.glob(pattern)]
        if not modules:
            print("skipped: SoftHSM's module is missing (Debian package softhsm2)")
            self.skipTest("SoftHSM's module is missing")
        self.module = modules[0]
        self.package = f"{self._testMethodName}.crp"
        self.trust = f"{self._testMethodName}.trust"
        self.folder = self.world.path(f"{self._testMethodName}.token")
        self.folder.mkdir()
        configuration = self.world.path(f"{self._testMethodName}.conf")
        configuration.write_text(f"directories.tokendir = {self.folder}\n"
                                 "objectstore.backend = file\n", encoding="utf-8")
        self.environment = {"SOFTHSM2_CONF": str(configuration), "PATH": "/usr/bin:/bin"}
        self.must(self.util, "--init-token", "--free", "--label", "quality", "--pin", PIN,
                  "--so-pin", "0815")
        self.token("--login", "--pin", PIN, "--keypairgen", "--key-type", "EC:edwards25519",
                   "--label", "omar", "--id", "01")
        self.public = f"{self._testMethodName}.pub"
        self.token("--read-object", "--type", "pubkey", "--label", "omar", "-o", self.public)
        self.world.make_trust(self.trust, "--key", f"omar:quality:{self.public}")
        self.world.pack(self.package)
        self.world.must(*self.world.sign_arguments(self.package, "release", trust=self.trust),
                        typed=NAME + "\n")

    def must(self, *arguments):
        done = subprocess.run(arguments, cwd=self.world.folder, env=self.environment,
                              capture_output=True, timeout=60, check=False)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

    def token(self, *arguments):
        self.must(self.pkcs11, "--module", self.module, "--token-label", "quality", *arguments)

    def arguments(self, *more):
        return ["sign", self.package, "--role", "quality", "--public-key", self.public, "--root",
                "owner.root", "--trust", self.trust, "--reason", REASON["quality"], "--time",
                SIGNED["quality"], "--plain-file", *more]

    def write_and_sign(self):
        done = self.world.run(*self.arguments("--signed-bytes", "token.bytes"), typed=NAME + "\n")
        self.assertEqual(0, done.returncode, done.stderr)
        self.token("--login", "--pin", PIN, "--sign", "--mechanism", "EDDSA", "--label", "omar",
                   "-i", "token.bytes", "-o", "token.sig")
        self.world.path("token.bytes").unlink()

    def test_a_token_s_signature_makes_a_package_that_a_station_admits(self):
        self.write_and_sign()
        done = self.world.run(*self.arguments("--attach", "token.sig"))
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("by omar in role quality, signed elsewhere", done.stdout)
        self.world.must("verify", self.package, "--root", "owner.root", "--trust", self.trust)
        card = self.world.card_arguments(self.package, f"{self.package}.img")
        card[card.index("--trust") + 1] = self.trust
        self.world.must(*card)
        self.world.enrol("token.state")
        done = self.world.judge(f"{self.package}.img", "token.state")
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

    def test_openssl_agrees_with_the_token(self):
        openssl = tool(self, "openssl", "openssl")
        self.write_and_sign()
        self.world.must(*self.arguments("--attach", "token.sig"))
        self.world.must("show", self.package, "--signed-bytes", "2", "-o", "shown.bytes")
        self.must(openssl, "pkeyutl", "-verify", "-pubin", "-inkey", self.public, "-rawin", "-in",
                  "shown.bytes", "-sigfile", "token.sig")

    def test_a_changed_signature_of_a_token_is_refused(self):
        self.write_and_sign()
        before = self.world.bytes(self.package)
        shutil.copy(self.world.path("token.sig"), self.world.path("changed.sig"))
        change_byte(self.world.path("changed.sig"), 40)
        done = self.world.run(*self.arguments("--attach", "changed.sig"))
        self.assertEqual(1, done.returncode)
        self.assertIn("this is not the key's signature over this sign-off", done.stderr)
        self.assertEqual(before, self.world.bytes(self.package))


if __name__ == "__main__":
    main()
