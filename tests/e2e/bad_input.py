"""Bad input, as people meet it: exit code, the message word for word, and nothing left half written."""

import hashlib
import json
import os
import re
import subprocess
import unittest

from world import (NAME, WORKED_HEX, WORKED_RELEASE, WorldCase, change_byte, copy_sparse, main, tool)

NO, USAGE, BAD_DATA, NO_INPUT, NO_CREATE, IO, NO_PERMISSION, CONFIG = 1, 64, 65, 66, 73, 74, 77, 78
RELEASE = WORKED_RELEASE / "release.xml"
SUPPLY = '<supply source="station" millivolts="3300"/>'
AGAIN = "get the file again from the person who sent it"


class BadInput(WorldCase):
    def setUp(self):
        self.before = self.tree()

    def tree(self):
        """{path: (size, digest of what is no hole)} of the whole folder."""
        found = {}
        for path in sorted(self.world.folder.rglob("*")):
            if path.name == "station.state":
                continue  # a station's memory may grow with every card that it judges
            size = path.stat().st_size
            small = path.is_file() and size < 1 << 20
            found[str(path.relative_to(self.world.folder))] = (
                path.is_dir() or size, small and hashlib.sha256(path.read_bytes()).hexdigest())
        return found

    def assert_said(self, done, code, message, on_stdout=""):
        """`message` is all that stands on standard error; nothing was made or changed."""
        self.assertEqual((code, message + "\n" if message else ""), (done.returncode, done.stderr))
        if on_stdout is not None:
            self.assertEqual(on_stdout, done.stdout)
        self.assertEqual(self.before, self.tree())

    def assert_pack(self, changes, code, message="", refusal=None):
        """Packs a changed copy of the worked release."""
        name = self.id().rsplit(".", 1)[-1]
        while self.world.path(name).exists():
            name += "x"
        release = self.world.copy_release(name, *changes)
        self.before = self.tree()
        done = self.world.run("pack", release, "--root", "owner.root", "-o", "out.crp")
        self.assert_said(done, code, message and f"cardseal: {name}/{message}", None)
        if refusal is not None:
            rule, *places = refusal
            self.assertEqual("\n".join([rule, *(f"  {name}/{place}" for place in places)]),
                             re.split("\n(?:warn|note) ", done.stdout, maxsplit=1)[0])
            self.assertRegex(done.stdout.splitlines()[-1], r"^this release can't be packed: ")

    @staticmethod
    def digests(old, new):
        """Of the worked firmware, and of the same with this change."""
        text = WORKED_HEX.read_bytes()
        return [hashlib.sha256(t).hexdigest()
                for t in (text, text.replace(old.encode(), new.encode()))]

    def hex_changes(self, old, new):
        """A release whose firmware was changed, and which states the new file's digest only."""
        digests = self.digests(old, new)
        stated = json.loads((WORKED_RELEASE / "expected.json").read_text())["sha256"]
        return [("firmware/frost_node.hex", old, new), ("release.xml", *digests),
                ("release.xml", f'image-sha256="{stated}"', "")]


class Firmware(BadInput):
    BAD = (":100020000C9457000C9457000C9457000C946000EB",
           ":100020000C9457000C9457000C9457000C946000EC")
    CHECKSUM = ("record checksum does not match: found 0xEC, expected 0xEB (get the file again from "
                "whoever built it; do not correct the checksum by hand)")

    def test_checksum_error_in_a_release_names_the_line(self):
        self.assert_pack(self.hex_changes(*self.BAD), BAD_DATA,
                         f"firmware/frost_node.hex:3:42: {self.CHECKSUM}")

    def test_checksum_error_in_a_file_names_the_line(self):
        text = WORKED_HEX.read_text(encoding="ascii").replace(*self.BAD)
        self.world.path("bad.hex").write_text(text, encoding="ascii")
        self.before = self.tree()
        self.assert_said(self.world.run("image", "bad.hex", "-o", "out.hex"), BAD_DATA,
                         f"cardseal: bad.hex:3:42: {self.CHECKSUM}")

    def test_firmware_that_was_changed_after_approval_is_refused(self):
        change = (":00000001FF", ":00000001ff")
        good, bad = self.digests(*change)
        self.assert_pack(
            [("firmware/frost_node.hex", *change)], NO,
            refusal=("refuse firmware-digest-differs: firmware is not the file that was approved",
                     f"release.xml:6: frost_node.hex has SHA-256 {bad}, the release states {good} "
                     "(put the approved file in its place, or have this one approved and state "
                     "it)"))

    def test_firmware_outside_the_device_names_both_ranges(self):
        # :02 0000 04 0001: extended linear address 1, so 0x10000 (Intel HEX, revision A, 1988).
        end = ":00000001FF"
        self.assert_pack(
            self.hex_changes(end, ":020000040001F9\n:0100000000FF\n" + end), NO,
            refusal=("refuse firmware-outside-device: firmware lies outside the device's memory",
                     "firmware/frost_node.hex:54: firmware has 1 byte at 0x10000; atmega328p has "
                     "flash 0x0 to 0x7FFF, eeprom 0x810000 to 0x8103FF, fuses 0x820000 to 0x820002, "
                     "lock 0x830000 (link the firmware for this device, or correct its profile)"))


class Settings(BadInput):
    def assert_supply(self, millivolts, *refusal):
        self.assert_pack([("release.xml", SUPPLY, SUPPLY.replace("3300", str(millivolts)))], NO,
                         refusal=refusal)

    def test_supply_above_the_boards_limit(self):
        self.assert_supply(3900, "refuse supply-above-board: supply is above the board's limit",
                           "release.xml:17: program: supply of 3900 mV of row-six can be 3950 mV "
                           "at frost-node-board, above its 3600 mV (state a supply inside 3000 to "
                           "3600 mV, or correct the board's profile)",
                           "release.xml:17: program: supply of 3900 mV of bench-one can be 3975 mV "
                           "at frost-node-board, above its 3600 mV (state a supply inside 3000 to "
                           "3600 mV, or correct the board's profile)")

    def test_supply_off_the_stations_step(self):
        self.assert_supply(3350, "refuse supply-off-step: supply is between two steps of a station",
                           "release.xml:17: supply of 3350 mV is no step of row-six, which gives "
                           "1800 to 5400 mV by 100 mV (nearest are 3300 and 3400 mV)",
                           "release.xml:17: supply of 3350 mV is no step of bench-one, which gives "
                           "2400 to 4200 mV by 300 mV (nearest are 3300 and 3600 mV)")

    def test_both_supplies_on(self):
        self.assert_pack(
            [("profiles/frost-node-board.xml", 'own="none"', 'own="battery"')], NO,
            refusal=("refuse supplies-both-on: station and board would both supply",
                     "release.xml:17: the station would give 3300 mV while frost-node-board has a "
                     'battery supply of its own (state source="board", or program the board without '
                     "its own supply and say so in its profile)"))

    def test_slot_that_the_station_lacks(self):
        self.assert_pack(
            [("release.xml", 'permitted="1-6"', 'permitted="1-7"')], NO,
            refusal=("refuse slot-missing: a permitted slot is not there",
                     *(f"release.xml:16: slot 7 permitted, {station} has slots 1 to 6 (permit only "
                       "slots that every named station has)" for station in ("row-six", "bench-one"))))

    def test_empty_mask(self):
        self.assert_pack(
            [("release.xml", 'permitted="1-6"', 'permitted=""')], BAD_DATA,
            'release.xml:16: no slot is permitted: found "", expected slots 1 to 32 in rising order, '
            "such as 1-6 or 1-3,5 (name each slot once; leave out those that must stay empty)")


class Xml(BadInput):
    def assert_xml(self, old, new, message):
        self.assert_pack([("release.xml", old, new)], BAD_DATA, f"release.xml:{message}")

    def test_unknown_element(self):
        self.assert_xml("<slots ", "<colour/><slots ",
                        "16: <release> holds no such element: found <colour>, expected firmware, "
                        "version-text, own-sum, device, board, stations, slots, supply, job, "
                        "lot-estimate, serial, no-serial, changes, deviations, documents (correct its spelling, or delete it)")

    def test_unknown_attribute(self):
        self.assert_xml("<slots ", '<slots colour="red" ',
                        "16: <slots> has no such attribute: found colour, expected permitted "
                        "(correct its spelling, or delete it)")

    def test_second_root(self):
        self.assert_xml("</release>", "</release>\n<release/>",
                        "32:1: a second root element stands in the file: found <release>, expected "
                        "nothing after </release>, opened in line 3 (keep one root element a file)")

    def test_doctype(self):
        self.assert_xml("<!-- Tarn", "<!DOCTYPE release>\n<!-- Tarn",
                        "2:1: DOCTYPE and other declarations are not read: found "
                        "'<!DOCTYPE release>', expected the root element (delete the declaration; "
                        "entities are not needed)")

    def test_nul(self):
        self.assert_xml('stop-after="3"', 'stop-after="3\0"',
                        "18:81: a NUL byte stands in the file: found byte 0x00, expected text in "
                        "UTF-8 (save the file again as UTF-8 text)")

    def test_what_is_no_number(self):
        for text in ("12abc", "-1", "+1", "3300.0", "0x10", "", "03300", "3300 mV"):
            with self.subTest(text):
                self.assert_xml('"3300"', f'"{text}"',
                                f'17: millivolts of <supply> is not a number: found "{text}", '
                                "expected 1 to 60000 (write digits only: no sign, unit, point or "
                                "leading 0)")

    def test_number_past_what_32_or_64_bits_hold(self):
        # Cut to 32 or 64 bits each of these would read as 3300.
        for number in (2**32 + 3300, 2**64 + 3300):
            with self.subTest(number):
                self.assert_xml('"3300"', f'"{number}"',
                                f'17: millivolts of <supply> is out of range: found "{number}", '
                                "expected 1 to 60000 (choose a value within the range)")


class Keys(BadInput):
    @classmethod
    def prepare(cls):
        cls.world.pack("unsigned.crp")
        cls.world.path("empty.pass").write_text("\n")
        cls.world.path("wrong.pass").write_text("not the passphrase\n")

    def sign(self, *changes, role="release", package="unsigned.crp", typed=NAME, **choices):
        arguments = self.world.sign_arguments(package, role, **choices)
        for old, new in changes:
            arguments[arguments.index(old)] = new
        return self.world.run(*arguments, typed=typed + "\n" if typed else "")

    def test_empty_passphrase(self):
        message = ("cardseal: empty.pass: passphrase is empty (an empty passphrase protects nothing; "
                   "choose one)")
        self.assert_said(self.sign(("keys/ines.pass", "empty.pass")), NO_INPUT, message)
        self.assert_said(self.world.run("key", "new", "--key", "new.pem", "--passphrase-file",
                                        "empty.pass"), NO_INPUT, message)

    def test_wrong_passphrase(self):
        self.assert_said(self.sign(("keys/ines.pass", "wrong.pass")), NO_PERMISSION,
                         "cardseal: keys/ines.pem: passphrase does not open the private key (type "
                         "the passphrase of this key)")

    def test_unencrypted_private_key(self):
        # OpenSSL 3.0 makes the key.
        openssl = tool(self, "openssl", "openssl")
        bare = self.world.path("bare.pem")
        subprocess.run([openssl, "genpkey", "-algorithm", "ed25519", "-out", str(bare)], check=True,
                       timeout=60)
        bare.chmod(0o600)
        self.before = self.tree()
        self.assert_said(self.sign(("keys/ines.pem", "bare.pem")), BAD_DATA,
                         "cardseal: bare.pem: private key is not encrypted (treat it as exposed and "
                         "make a new one)")

    def test_key_of_another_role(self):
        self.assert_said(self.sign(person="omar"), CONFIG,
                         "cardseal: keys/omar.pem: this key may not sign in this role: found "
                         "quality, expected a key enrolled for role release (sign with the key that "
                         "was enrolled for the role)")

    def test_key_of_a_stranger(self):
        self.world.new_key("stranger")
        self.before = self.tree()
        self.assert_said(self.sign(person="stranger"), CONFIG,
                         "cardseal: keys/stranger.pem: this key is not on the trust list: expected "
                         "a key enrolled for role release (sign with the key that was enrolled for "
                         "the role)")

    def test_one_person_in_both_roles(self):
        self.world.new_key("ines-2")
        self.world.make_trust("both.trust", "--key", "ines:quality:keys/ines-2.pub")
        self.world.pack("both.crp")
        self.world.sign("both.crp", "release")
        self.before = self.tree()
        self.assert_said(
            self.sign(package="both.crp", role="quality", person="ines-2", trust="both.trust"), NO,
            "cardseal: both.crp: one person signed in two roles (reason 343): found ines in both "
            "roles, expected one person for release, another for quality (ask quality)")

    def test_one_key_twice(self):
        self.world.pack("twice.crp")
        self.world.sign("twice.crp", "release")
        self.before = self.tree()
        self.assert_said(self.sign(package="twice.crp"), NO,
                         "cardseal: twice.crp: this key has signed the package already: found a "
                         "sign-off by ines of 2026-03-02T10:00:00Z (nothing was signed; for other "
                         "limits or reasons pack the release again)")

    def test_quality_before_release(self):
        self.assert_said(self.sign(role="quality"), NO,
                         "cardseal: unsigned.crp: a sign-off in role release is missing (reason 341) "
                         "(ask the release engineer)")

    def test_wrong_name_typed(self):
        for typed in ("frost-node 2.4.2", "yes", "frost-node", " frost-node 2.4.1", NAME + " "):
            with self.subTest(typed):
                self.assert_said(self.sign(typed=typed), NO,
                                 "cardseal: the name typed is not the release's: found "
                                 f"{typed}, expected frost-node 2.4.1 (nothing was signed)", None)

    def test_nothing_typed(self):
        self.assert_said(self.sign(typed=""), NO_INPUT,
                         "cardseal: standard input: no answer (type an answer)", None)


def entries(package):
    """([[header, body with padding]], end) by POSIX.1-1988 ustar: name at 0, size at 124."""
    found, at = [], 0
    while package[at]:
        size = int(package[at + 124:at + 135], 8)
        after = at + 512 + (size + 511) // 512 * 512
        found.append([package[at:at + 512], package[at + 512:after]])
        at = after
    return found, package[at:]


def renamed(header, name):
    """Name at 0; checksum at 148, over the header with blanks in its place (POSIX ustar)."""
    header = name.encode().ljust(100, b"\0") + header[100:148] + b" " * 8 + header[156:]
    return header[:148] + b"%06o\0 " % sum(header) + header[156:]


class Package(BadInput):
    @classmethod
    def prepare(cls):
        cls.good = cls.world.bytes("frost-node.crp")
        cls.parts, cls.end = entries(cls.good)
        other = cls.world.copy_release("other-release",
                                       ("release.xml", 'version="2.4.1"', 'version="2.4.2"'),
                                       ("release.xml", 'sequence="7"', 'sequence="8"'))
        cls.world.pack("other.crp", other)
        for role in ("release", "quality"):
            cls.world.sign("other.crp", role, *(["--plain-file"] if role == "quality" else []),
                           typed="frost-node 2.4.2")
        cls.foreign, _ = entries(cls.world.bytes("other.crp"))

    def write(self, parts):
        self.world.path("bad.crp").write_bytes(
            b"".join(header + body for header, body in parts) + self.end)

    def flipped(self, name, offset):
        parts = [list(part) for part in self.parts]
        for part in parts:
            if part[0].startswith(name.encode() + b"\0"):
                part[1] = (part[1][:offset] + bytes([part[1][offset] ^ 1]) + part[1][offset + 1:])
        self.assertNotEqual(self.parts, parts)
        return parts

    def assert_refused(self, message, where="", form=None):
        """By `verify`, and by `card make`, which reads the form first and may say `form`."""
        self.before = self.tree()
        verified = self.world.run("verify", "bad.crp", "--root", "owner.root", "--trust",
                                  "owner.trust")
        self.assert_said(verified, NO, f"cardseal: bad.crp: {where}{message}")
        made = self.world.run(*self.world.card_arguments("bad.crp", "card.img", "--sheet", "s.txt"))
        code, said = (NO, f": {message}") if form is None else (BAD_DATA, form)
        self.assert_said(made, code, f"cardseal: bad.crp{said}")

    def signoff_parts(self, *numbered):
        """The package with these (text, signature) parts as sign-offs 01, 02, ..."""
        parts = [self.parts[0]]
        for number, (text, signature) in enumerate(numbered, 1):
            parts += [[renamed(text[0], f"signoff/{number:02}"), text[1]],
                      [renamed(signature[0], f"signoff/{number:02}.sig"), signature[1]]]
        return parts + self.parts[5:]

    def test_parts_put_together_unchanged_are_the_package(self):
        # Else what follows would be refused for how it was put together.
        self.write(self.signoff_parts(self.parts[1:3], self.parts[3:5]))
        self.assertEqual(self.good, self.world.bytes("bad.crp"))

    UNSIGNED = ("a signature does not verify under any active key on the trust list (reason 322) "
                "(ask the release engineer)")
    OTHER = "a sign-off was made for another package (reason 345) (ask the release engineer)"
    CHAIN = ("the quality sign-off does not follow the release sign-off in this package (reason 351) "
             "(ask quality)")

    def test_missing_sign_offs(self):
        self.write(self.signoff_parts(self.parts[1:3]))
        self.assert_refused("a sign-off in role quality is missing (reason 342) (ask quality)")
        self.write(self.signoff_parts())
        self.assert_refused(
            "a sign-off in role release is missing (reason 341) (ask the release engineer)")
        self.write(self.signoff_parts(self.parts[3:5]))
        self.assert_refused(self.CHAIN, "sign-off 01: ")

    def test_altered_sign_offs(self):
        # A decimal digit: with its lowest bit flipped it is one still, and the text has its form.
        digits = [next(at for at in range(300, len(text)) if 0x30 <= text[at] <= 0x39)
                  for text in (self.parts[1][1], self.parts[3][1])]
        for name, offset, number in (("signoff/01", digits[0], 1), ("signoff/02", digits[1], 2),
                                     ("signoff/01.sig", 0, 1), ("signoff/02.sig", 40, 2)):
            with self.subTest(name):
                self.write(self.flipped(name, offset))
                self.assert_refused(self.UNSIGNED, f"sign-off {number:02}: ")

    def test_swapped_sign_offs(self):
        self.write(self.signoff_parts(self.parts[3:5], self.parts[1:3]))
        self.assert_refused(self.CHAIN, "sign-off 01: ")

    def test_swapped_signatures(self):
        one, two = self.parts[1:3], self.parts[3:5]
        self.write(self.signoff_parts([one[0], two[1]], [two[0], one[1]]))
        self.assert_refused(self.UNSIGNED, "sign-off 01: ")

    def test_foreign_sign_offs(self):
        self.write(self.signoff_parts(self.foreign[1:3], self.foreign[3:5]))
        self.assert_refused(self.OTHER, "sign-off 01: ")
        self.write(self.signoff_parts(self.parts[1:3], self.foreign[3:5]))
        self.assert_refused(self.OTHER, "sign-off 02: ")

    def test_changed_byte_in_what_no_sign_off_covers_by_itself(self):
        content = f"an entry is not what the manifest says (reason 208) ({AGAIN})"
        block = f"a block of the image is not the approved one (reason 510) ({AGAIN})"
        for name, offset, message in (("chain", 3, content), ("image", 400, block),
                                      ("doc/release-notes.txt", 5, content)):
            with self.subTest(name):
                self.write(self.flipped(name, offset))
                self.assert_refused(message)

    def test_changed_byte_in_manifest_and_facts(self):
        self.write(self.flipped("manifest", 30))
        self.assert_refused(self.OTHER, form=":2: manifest: a field is not spelled in its one form "
                                             f"(reason 106) ({AGAIN})")
        self.write(self.flipped("facts", 100))
        self.assert_refused(f"an entry is not what the manifest says (reason 208) ({AGAIN})",
                            form=":3: facts: a key is unknown, missing or out of its order "
                                 f"(reason 104) ({AGAIN})")

    def test_changed_byte_between_entries(self):
        self.write(self.flipped("manifest", len(self.parts[0][1]) - 1))
        message = f"bytes between entries are not zero (reason 204) ({AGAIN})"
        self.assert_refused(message, form=f": offset 0: {message}")

    def test_bytes_added_after(self):
        message = f"the package does not end with exactly two zero blocks (reason 205) ({AGAIN})"
        for added in (b"\0", bytes(512), b"more"):
            with self.subTest(len(added)):
                self.world.path("bad.crp").write_bytes(self.good + added)
                self.assert_refused(message, form=f": offset {len(self.good) - 1024}: {message}")

    def test_bytes_added_before(self):
        for added, message in (
                (b"\0", f"an entry header differs from the one allowed form (reason 201) ({AGAIN})"),
                (bytes(512), f"an entry is unknown, missing or out of its order (reason 202) "
                             f"({AGAIN})")):
            with self.subTest(len(added)):
                self.world.path("bad.crp").write_bytes(added + self.good)
                self.before = self.tree()
                self.assert_said(
                    self.world.run("verify", "bad.crp", "--root", "owner.root", "--trust",
                                   "owner.trust"), BAD_DATA,
                    "cardseal: bad.crp: this is no kind of file that is read here: expected a "
                    "release package, a card image, a trust list, a withdrawal, a root, or a lot's first "
                    "article, concession or closure (for firmware use: cardseal image FILE)")
                self.assert_said(
                    self.world.run(*self.world.card_arguments("bad.crp", "card.img")), BAD_DATA,
                    f"cardseal: bad.crp: offset 0: {message}")

    def test_package_cut_short(self):
        for size in (len(self.good) - 1, len(self.good) - 512, 5000, 700):
            with self.subTest(size):
                self.world.path("bad.crp").write_bytes(self.good[:size])
                self.before = self.tree()
                for arguments, code in (
                        (["verify", "bad.crp", "--root", "owner.root", "--trust", "owner.trust"], NO),
                        (self.world.card_arguments("bad.crp", "card.img"), BAD_DATA)):
                    done = self.world.run(*arguments)
                    self.assert_said(done, code, done.stderr.rstrip("\n"))
                    self.assertRegex(done.stderr, r"^cardseal: bad\.crp: (offset \d+: )?the package "
                                                  rf"is cut short \(reason 206\) \({AGAIN}\)$")


class Cards(BadInput):
    @classmethod
    def prepare(cls):
        cls.world.make_card("frost-node.crp", "card.img")
        cls.world.enrol("station.state")
        cls.files = {e["path"]: e for e in json.loads(
            cls.world.must("card", "list", "card.img", "--json"))["files"]}

    UNSIGNED_TRUST = "a signature does not verify under any active key on the trust list (reason 322)"
    UNSIGNED_INDEX = "the card index is not signed by an active key of role allot (reason 311)"
    FORM = "a signature is not 64 bytes in its one form, or uses a forbidden point (reason 321)"
    CHANGED = "a file's bytes are not the ones that were signed (reason 507)"

    def expected(self, path, last):
        """(reason at the station, path that the desk names, its words)"""
        # The highest bit of the last byte makes S too large: refused for its form, RFC 8032 5.1.7.
        if last and path in ("CARDSEAL/TRUST.S01", "CARDSEAL/CARD.S01"):
            return 321, path[:-3] + "TXT", self.FORM
        if path.startswith("CARDSEAL/TRUST."):
            return 322, "CARDSEAL/TRUST.TXT", self.UNSIGNED_TRUST
        if path.startswith("CARDSEAL/CARD."):
            return 311, "CARDSEAL/CARD.TXT", self.UNSIGNED_INDEX
        return 507, path, self.CHANGED

    def judge(self):
        done = self.world.station_check("card.img", "--root", "owner.root", "--state",
                                        "station.state", "--json")
        verdict = json.loads(done.stdout)
        return done.returncode, verdict.get("reason", {}).get("number")

    def test_the_card_is_admitted_as_it_was_made(self):
        self.assertEqual((0, None), self.judge())
        done = self.world.run("card", "verify", "card.img", "--root", "owner.root")
        self.assert_said(done, 0, "", None)
        self.assertEqual("good       card.img", done.stdout.splitlines()[-1])

    def test_a_bit_flipped_in_every_signed_file(self):
        signed = [path for path in self.files if path != "CARDSEAL/LOG.CSV"]
        self.assertEqual(9, len(signed), signed)
        for path in signed:
            entry = self.files[path]
            for offset in (0, entry["size"] // 2, entry["size"] - 1):
                reason, named, words = self.expected(path, offset == entry["size"] - 1)
                with self.subTest(path, offset=offset):
                    at = entry["first_sector"] * 512 + offset
                    change_byte(self.world.path("card.img"), at, 1 << offset % 8)
                    try:
                        self.assertEqual((NO, reason), self.judge())
                        done = self.world.run("card", "verify", "card.img", "--root", "owner.root")
                    finally:
                        change_byte(self.world.path("card.img"), at, 1 << offset % 8)
                    self.assert_said(done, NO, "", None)
                    self.assertTrue(done.stdout.startswith(
                        f"content    card.img: {named}: {words}"), done.stdout)
                    self.assertEqual("not good   card.img: do not send it out; make the card again",
                                     done.stdout.splitlines()[-1])

    def test_a_run_log_that_was_written_to_is_not_sent_out(self):
        # The station writes this file, so no signature covers it.
        at = self.files["CARDSEAL/LOG.CSV"]["first_sector"] * 512 + 700
        change_byte(self.world.path("card.img"), at)
        try:
            self.assertEqual((0, None), self.judge())
            done = self.world.run("card", "verify", "card.img", "--root", "owner.root")
        finally:
            change_byte(self.world.path("card.img"), at)
        self.assertEqual(NO, done.returncode)
        self.assertIn("content    card.img: CARDSEAL/LOG.CSV: the run log is not in its initial "
                      "pattern (a card that was used is not sent out again; make a new one)\n",
                      done.stdout)

    def test_card_cut_short(self):
        whole = self.world.path("card.img").stat().st_size
        package = self.files["CARDSEAL/P01.CRP"]["first_sector"] * 512
        for size, reason in ((whole - 512, 502), (package + 512, 502), (4 << 20, 502), (512, 502),
                             (100, 501), (0, 501)):
            with self.subTest(size):
                copy_sparse(self.world.path("card.img"), self.world.path("short.img"), 0, size)
                self.before = self.tree()
                said = self.world.judge("short.img")
                self.assertEqual(NO, said.returncode)
                self.assertIn(f"\nreason       {reason}\n", said.stdout)
                done = self.world.run("card", "verify", "short.img", "--root", "owner.root")
                self.assert_said(done, NO, "", None)
                self.assertEqual("not good   short.img: do not send it out; make the card again",
                                 done.stdout.splitlines()[-1])

    def test_card_short_of_one_sector_is_told_with_both_numbers(self):
        whole = self.world.path("card.img").stat().st_size
        copy_sparse(self.world.path("card.img"), self.world.path("short.img"), 0, whole - 512)
        done = self.world.run("card", "verify", "short.img", "--root", "owner.root")
        sectors = whole // 512
        self.assertEqual(
            [f"structure  sector 0, offset 458: partition ends at sector {sectors}, the card has "
             f"{sectors - 1} [fat32-past-end]",
             f"structure  sector 8192, offset 32: volume has {sectors - 8192} sectors, its place has "
             f"{sectors - 8193} [fat32-past-end]"], done.stdout.splitlines()[:2])


class Output(BadInput):
    def writers(self, output):
        """Every command that writes a file, with `output` as that file."""
        yield ["pack", RELEASE, "--root", "owner.root", "-o", output]
        yield self.world.card_arguments("frost-node.crp", output)
        yield self.world.card_arguments("frost-node.crp", "card.img", "--sheet", output)
        yield ["image", WORKED_HEX, "-o", output]
        yield ["show", "frost-node.crp", "--signed-bytes", "1", "-o", output]
        yield ["trust", "new", "--root", "owner.root", "-o", output]
        yield ["trust", "root", "--person", "noor:Noor", "--root-key", "noor:keys/owner.pub",
               *self.world.key("owner"), "-o", output]
        yield ["key", "new", "--key", "new.pem", "--passphrase-file", "keys/owner.pass",
               "--public", output]

    def assert_not_written(self, output, code, message):
        for arguments in self.writers(output):
            with self.subTest(" ".join(map(str, arguments))):
                self.assert_said(self.world.run(*arguments), code, f"cardseal: {output}: {message}")

    def test_folder_is_missing(self):
        self.assert_not_written("none/out", NO_CREATE, "can't create: no such file or directory "
                                "(make the output's folder first)")

    def test_folder_is_a_file(self):
        self.assert_not_written("owner.root/out", NO_CREATE, "can't create: not a directory (make "
                                "the output's folder first)")

    def test_folder_is_read_only(self):
        folder = self.world.path("locked")
        folder.mkdir()
        folder.chmod(0o555)
        self.before = self.tree()
        if os.access(folder, os.W_OK):
            # Permission bits do not bind root; the kernel's own folder refuses root as well.
            self.assert_not_written("/sys/out", NO_PERMISSION, "can't create: permission denied "
                                    "(check who may write in its folder)")
        else:
            self.assert_not_written("locked/out", NO_PERMISSION, "can't create: permission denied "
                                    "(check who may write in its folder)")

    def test_output_exists(self):
        self.world.path("there").write_bytes(b"kept")
        self.before = self.tree()
        self.assert_not_written("there", NO_CREATE, "output exists (use another name or --force)")

    def test_half_of_a_key_pair_exists(self):
        for name in ("public.pub", "private.pem"):
            with self.subTest(name):
                self.world.path(name).write_bytes(b"kept")
                self.before = self.tree()
                done = self.world.run("key", "new", "--key", name[:-4] + ".pem",
                                      "--passphrase-file", "keys/owner.pass")
                self.assert_said(done, NO_CREATE, f"cardseal: {name}: output exists (use another "
                                                  "name or --force)")

    def test_output_is_a_folder(self):
        self.assert_not_written("keys", NO_CREATE, "can't create: is a directory (use another name)")

    def test_the_disk_is_full(self):
        # A file system of 64 KiB in a mount namespace of its own; needs the right to make one.
        script = ('mount -t tmpfs -o size=65536 none full && head -c 65536 /dev/zero >full/filler; '
                  'shift 0; "$@"; code=$?; ls full; exit $code')
        self.world.path("full").mkdir()
        probe = subprocess.run(["unshare", "-m", "mount", "-t", "tmpfs", "none",
                                str(self.world.path("full"))], capture_output=True, check=False)
        if probe.returncode != 0:
            print("skipped: a file system of its own cannot be mounted here")
            self.skipTest("no mount")
        self.before = self.tree()
        for arguments in ([*self.world.card_arguments("frost-node.crp", "full/card.img")],
                          ["pack", RELEASE, "--root", "owner.root", "-o", "full/out.crp"]):
            done = subprocess.run(["unshare", "-m", "sh", "-c", script, "sh", os.environ["CARDSEAL"],
                                   *map(str, arguments)], cwd=self.world.folder, text=True,
                                  capture_output=True, timeout=120, check=False)
            self.assertEqual((IO, "filler\n"), (done.returncode, done.stdout), done.stderr)
            self.assertIn("no space left on device (make room, then try again)", done.stderr)
            self.assertEqual(self.before, self.tree())

    def test_standard_output_is_full(self):
        # full(4): every write to /dev/full fails with ENOSPC.
        printing = "cardseal: writing to standard output failed\n"
        writing = ("cardseal: standard output: can't write: no space left on device (make room, "
                   "then try again)\n")
        unverified = "shown as it stands; nothing was verified (cardseal verify does)\n"
        for arguments, said in ((["show", "frost-node.crp"], unverified + printing),
                                (["show", "frost-node.crp", "--json"], printing),
                                (["show", "frost-node.crp", "--signed-bytes", "1"], writing),
                                (["check", RELEASE], printing), (["--help"], printing),
                                (["image", WORKED_HEX, "--to", "raw", "-o", "-"], writing)):
            with self.subTest(arguments[0]), open("/dev/full", "w", encoding="ascii") as full:
                done = self.world.run(*arguments, stdout=full)
                self.assertEqual((IO, said), (done.returncode, done.stderr))
        self.world.enrol("full.state")
        for more in ([], ["--json"]):
            with open("/dev/full", "w", encoding="ascii") as full:
                done = self.world.station_check("frost-node.crp", "--root", "owner.root", "--state",
                                                "full.state", *more, stdout=full)
                self.assertEqual((IO, "station-check: writing to standard output failed\n"),
                                 (done.returncode, done.stderr))


if __name__ == "__main__":
    main()
