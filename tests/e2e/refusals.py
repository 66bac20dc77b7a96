"""What somebody at the desk reads when trust says no, word for word; and what a signer is kept from."""

import os
import pty
import re
import shutil
import subprocess

from world import CARDSEAL, NAME, REASON, SIGNED, SOURCE, World, WorldCase, change_byte, main

APPROVED = SOURCE / "tests" / "e2e" / "approved" / "refusals.txt"
LATER = "2026-04-01T08:00:00Z"


def masked(text):
    text = re.sub(r"[0-9a-f]{64}", "<64 digits>", text)
    return re.sub(r"\b[0-9a-f]{4}( [0-9a-f]{4}){3,}\b", "<digits>", text)


class Refusals(WorldCase):
    @classmethod
    def prepare(cls):
        world = cls.world
        world.pack("unsigned.crp")
        shutil.copy(world.path("unsigned.crp"), world.path("released.crp"))
        world.sign("released.crp", "release")
        for end in ("", ".s01"):
            shutil.copy(world.path("owner.trust" + end), world.path("revoked.trust" + end))
        world.must("trust", "revoke", "revoked.trust", "--root", "owner.root", "--key",
                   "keys/omar.pub", "--even-last", "--time", LATER)
        world.sign_text("revoked.trust")
        shutil.copy(world.path("frost-node.crp"), world.path("changed.crp"))
        change_byte(world.path("changed.crp"), world.path("changed.crp").stat().st_size // 2)
        other = World(world.folder / "other").make_owner()
        shutil.copy(other.path("owner.root"), world.path("other.root"))
        shutil.copy(other.path("owner.root.s01"), world.path("other.root.s01"))

    def verify(self, package, root="owner.root", trust="owner.trust"):
        return ["verify", package, "--root", root, "--trust", trust]

    def sign(self, package, role, person, *more, trust="owner.trust"):
        return ["sign", package, "--role", role, *self.world.key(person), "--root", "owner.root",
                "--trust", trust, "--reason", REASON[role], "--time", SIGNED[role], *more]

    def cases(self):
        card = self.world.card_arguments
        return [
            ("a package that nobody signed", self.verify("unsigned.crp"), ""),
            ("a package that quality has not signed", self.verify("released.crp"), ""),
            ("a package whose signer was revoked", self.verify("frost-node.crp",
                                                               trust="revoked.trust"), ""),
            ("a package that was changed", self.verify("changed.crp"), ""),
            ("another owner's root", self.verify("frost-node.crp", root="other.root"), ""),
            ("quality before release", self.sign("unsigned.crp", "quality", "omar"), NAME),
            ("another role's key", self.sign("released.crp", "quality", "ines"), NAME),
            ("release twice", self.sign("released.crp", "release", "ines"), NAME),
            ("another name typed", self.sign("released.crp", "quality", "omar"), "frost-node 2.4"),
            ("a card of a package that is not signed off", card("released.crp", "x.img"), ""),
            ("more units than quality allows",
             [*card("frost-node.crp", "x.img")[:-2], "-o", "x.img", "--units", "501"], ""),
            ("numbers of nobody's window",
             [word if word != "0" else "20000" for word in card("frost-node.crp", "x.img")], ""),
        ]

    def test_the_words_are_the_approved_ones(self):
        found = ""
        for title, arguments, typed in self.cases():
            arguments = self.once(arguments, "--units")
            done = self.world.run(*arguments, typed=typed + "\n" if typed else "")
            self.assertNotEqual(0, done.returncode, title)
            self.assertFalse(self.world.path("x.img").exists())
            said = [line for line in (done.stdout + done.stderr).splitlines()
                    if line.startswith(("cardseal:", "refused", "because", "reason", "what to do",
                                        "where", "next"))]
            found += f"{title} (exit {done.returncode})\n" + "".join(
                f"  {masked(line)}\n" for line in said)
        if "REFUSALS_APPROVE" in os.environ:
            APPROVED.write_text(found, encoding="utf-8")
        self.assertEqual(APPROVED.read_text(encoding="utf-8"), found,
                         "when this is right: REFUSALS_APPROVE=1 and this test once more")

    def once(self, arguments, option):
        """The last of two counts."""
        arguments = list(map(str, arguments))
        while arguments.count(option) > 1:
            at = arguments.index(option)
            del arguments[at:at + 2]
        return arguments

    def test_a_package_that_changes_while_it_is_read_is_not_signed(self):
        package = "watched.crp"
        shutil.copy(self.world.path("released.crp"), self.world.path(package))
        ours, theirs = pty.openpty()
        signing = subprocess.Popen(
            [CARDSEAL, *map(str, self.sign(package, "quality", "omar"))], cwd=self.world.folder,
            stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        os.close(theirs)
        try:
            asked = b""
            while b"type the release's name to sign" not in asked:
                piece = os.read(signing.stderr.fileno(), 4096)
                self.assertNotEqual(b"", piece, asked)
                asked += piece
            shutil.copy(self.world.path("unsigned.crp"), self.world.path(package))
            os.write(ours, (NAME + "\n").encode())
            _, said = signing.communicate(timeout=60)
        finally:
            os.close(ours)
            signing.kill()
        self.assertEqual(1, signing.returncode, said)
        self.assertIn(b"the package changed between view and signature", said)
        self.assertEqual(self.world.bytes("unsigned.crp"), self.world.bytes(package))

    def test_a_passphrase_comes_from_a_descriptor(self):
        package = "descriptor.crp"
        shutil.copy(self.world.path("released.crp"), self.world.path(package))
        arguments = self.sign(package, "quality", "omar")
        at = arguments.index("--passphrase-file")
        arguments[at:at + 2] = ["--passphrase-fd", "9"]
        done = subprocess.run(["bash", "-c", 'exec "$@" 9< keys/omar.pass', "x", CARDSEAL,
                               *map(str, arguments)], cwd=self.world.folder, input=NAME + "\n",
                              capture_output=True, text=True, check=False)
        self.assertEqual(0, done.returncode, done.stderr)


if __name__ == "__main__":
    main()
