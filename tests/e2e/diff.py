"""`cardseal diff`: the worked release with one change each, sealed and authored; every difference is named."""

import hashlib
import json
import unittest

from world import WORKED_HEX, WORKED_RELEASE, WorldCase, change_byte, main

SAME, DIFFERS, USAGE, BAD_DATA, NO_INPUT = 0, 1, 64, 65, 66
RELEASE = "release.xml"
DEVICE = "profiles/atmega328p.xml"
BOARD = "profiles/frost-node-board.xml"
BENCH = "profiles/bench-one.xml"
NOTES = "release-notes.txt"
# Whatever follows from these changes: times of a cycle, margins, findings of the desk.
FOLLOWS = ("calculation", "findings")


def digest(data):
    return "sha256:" + hashlib.sha256(data).hexdigest()


def hex_bytes():
    """{address: byte} of the worked firmware, whose records are of type 0 below 64 KiB."""
    found = {}
    for line in WORKED_HEX.read_text(encoding="ascii").split():
        record = bytes.fromhex(line[1:])
        if record[3] == 0:
            at = record[1] << 8 | record[2]
            found.update({at + i: byte for i, byte in enumerate(record[4:-1])})
    return found


def sparse_digest(image):
    """Over address and length (8 bytes each, high byte first) and bytes of each run, like `cardseal image`."""
    out, run = hashlib.sha256(), []
    for at in sorted(image) + [None]:
        if run and at != run[-1] + 1:
            out.update(run[0].to_bytes(8, "big") + len(run).to_bytes(8, "big"))
            out.update(bytes(image[each] for each in run))
            run = []
        run.append(at)
    return "sha256:" + out.hexdigest()


class Diff(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.pack("base.crp")

    def ask(self, *arguments, code):
        done = self.world.run("diff", *arguments, "--json")
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return json.loads(done.stdout)

    def changed(self, *changes):
        """The name of a changed release, which stands beside its files."""
        name = self.id().rsplit(".", 1)[-1]
        while self.world.path(name).exists():
            name += "x"
        return self.world.copy_release(name, *changes)

    @staticmethod
    def said(found, areas=FOLLOWS):
        """What is reported outside of `areas`, as lines."""
        return [f"{'! ' if each['can_damage'] else ''}{each['what']}: {each['first'] or 'not there'} -> "
                f"{each['second'] or 'not there'}"
                for each in found["differences"] if each["area"] not in areas]

    def assert_change(self, changes, expected):
        found = self.ask("base.crp", self.changed(*changes), code=DIFFERS)
        self.assertEqual(expected, self.said(found))
        return found

    # ---- one change each

    def test_settings(self):
        job = ('<job erase="chip" blank-check="yes" verify="nominal" lock="none" stop-after="3" '
               'plain-file="yes"/>')
        for old, new, expected in (
                ('slots permitted="1-6"', 'slots permitted="1-4,6"',
                 "slots permitted: 1, 2, 3, 4, 5, 6 -> 1, 2, 3, 4, 6"),
                ('millivolts="3300"', 'millivolts="3400"', "! supply voltage: 3.300 V -> 3.400 V"),
                ('supply source="station"', 'supply source="board"',
                 "! supply source: station -> board"),
                (job, job.replace('"chip"', '"none"'), "erase: chip -> none"),
                (job, job.replace('check="yes"', 'check="no"'), "blank check: yes -> no"),
                (job, job.replace("nominal", "none"), "! verify: nominal -> none"),
                (job, job.replace('lock="none"', 'lock="reversible"'),
                 "! lock: none -> reversible"),
                (job, job.replace('after="3"', 'after="0"'),
                 "stop a slot: after 3 failures in a row -> never"),
                (job, job.replace('file="yes"', 'file="no"'), "plain file: yes -> no"),
                ('title="FROST NODE 2.4.1"', 'title="FROST 2.4.1"',
                 "title on display: FROST NODE 2.4.1 -> FROST 2.4.1"),
                ('epoch="0"', 'epoch="1"', "epoch: 0 -> 1"),
                ('sequence="7"', 'sequence="8"', "sequence: 7 -> 8"),
                ('version="2.4.1"', 'version="2.4.2"', "version: 2.4.1 -> 2.4.2"),
                ('product="frost-node"', 'product="frost-gate"', "product: frost-node -> frost-gate")):
            with self.subTest(new):
                self.assert_change([(RELEASE, old, new)], [expected])

    def test_device_and_board(self):
        for file, old, new, expected in (
                (BOARD, 'revision="3" product', 'revision="4" product', ["board revision: 3 -> 4"]),
                (BOARD, 'max-millivolts="3600"', 'max-millivolts="3500"',
                 ["! board takes at most: 3.600 V -> 3.500 V"]),
                (DEVICE, 'absolute-max-millivolts="6000"', 'absolute-max-millivolts="6500"',
                 ["! device takes absolute maximum: 6.000 V -> 6.500 V"]),
                (DEVICE, 'value="1e950f" mask="ffffff"', 'value="1e9500" mask="ffff00"',
                 ["device ID value: 1e950f -> 1e9500", "device ID mask: ffffff -> ffff00"])):
            with self.subTest(new):
                self.assert_change([(file, old, new)], expected)

    def test_stations(self):
        image = hex_bytes()
        byte_sum = (sum(image.values()) + 0xFF * (0x8000 - len(image))) % 0x10000  # of 32 KiB of flash
        self.assert_change(
            [(RELEASE, '<station profile="profiles/bench-one.xml"/>', "")],
            ["station model bench-one: there -> not there",
             "station model bench-one: reads plain-file, slots 1, 2, 3, 4, 5, 6, supply from 2.400 V, "
             "supply to 4.200 V, supply step 0.300 V, partition type-0c, sectors of a cluster 8, "
             "sectors at most 3842048, volume label FROSTNODE -> not there",
             "plain file of bench-one: path BENCH/FIRMWARE.HEX, format intel-hex, bytes in a record "
             f"16, line ends crlf, checksum shown byte-sum-16, value shown {byte_sum:04X} -> not there"])

    def test_configuration_fields_are_told_by_name_with_their_meaning(self):
        found = self.assert_change(
            [(DEVICE, 'delivered="0x62"', 'delivered="0xe2"')],
            ["! field ckdiv8: bits 0x00, meaning divided; the program may set it anew -> bits 0x80, "
             "meaning not divided"])
        field = found["differences"][0]
        self.assertEqual(("configuration", "facts.config-field"), (field["area"], field["key"]))
        self.assertEqual([{"name": "bits", "first": 0, "second": 0x80},
                          {"name": "meaning", "first": "divided; the program may set it anew",
                           "second": "not divided"}], field["fields"])

    def test_serial_numbers(self):
        place = '<place region="flash" address="0x7ff8" encoding="binary-le" length="4" before="erased"/>'
        for old, new, expected in (
                ('first="1" step="1" capacity="999999"', 'first="5" step="2" capacity="99999"',
                 ["scheme first number: 1 -> 5", "scheme step: 1 -> 2",
                  "scheme capacity: 999999 -> 99999"]),
                ('scheme="fn-serial"', 'scheme="fm-serial"', ["scheme name: fn-serial -> fm-serial"]),
                ('<literal text="FN"/>', '<literal text="FM"/>', ["part 1: text FN -> text FM"]),
                (place, place.replace("7ff8", "7ffc").replace("binary-le", "binary-be"),
                 ["placed in flash: at 0x00007FF8, encoding binary-le -> at 0x00007FFC, encoding "
                  "binary-be"]),
                (place, "", ["placed in flash: at 0x00007FF8, length 4 bytes, encoding binary-le, "
                             "with CRC no, before it erased -> not there"])):
            with self.subTest(new):
                self.assert_change([(RELEASE, old, new)], expected)

    def test_documents(self):
        old = (WORKED_RELEASE / NOTES).read_bytes()
        start = old.decode().split("\n", 1)[0]
        new = old.replace(start.encode(), b"Changed")
        self.assert_change(
            [(NOTES, start, "Changed")],
            [f"document {NOTES}: size {len(old)} bytes, digest {digest(old)} -> size {len(new)} "
             f"bytes, digest {digest(new)}"])
        line = f'<document file="{NOTES}" name="{NOTES}"/>'
        self.assert_change(
            [(RELEASE, line, line.replace(f'name="{NOTES}"', 'name="NOTES"'))],
            [f"document {NOTES}: size {len(old)} bytes, digest {digest(old)} -> not there",
             f"document NOTES: not there -> size {len(old)} bytes, digest {digest(old)}"])

    # ---- firmware

    OLD, NEW = (":100020000C9457000C9457000C9457000C946000EB",
                ":100020000C9457000D9457000C9457000C946000EA")  # 0x24: 0C becomes 0D
    MORE = (":00000001FF", ":02100000A55A EF\n:00000001FF".replace(" ", ""))  # two bytes at 0x1000

    def firmware(self, *pairs):
        """Changes of a release whose firmware file has these lines replaced."""
        text = WORKED_HEX.read_bytes()
        new = text
        for old_line, new_line in pairs:
            new = new.replace(old_line.encode(), new_line.encode())
        stated = json.loads((WORKED_RELEASE / "expected.json").read_text())["sha256"]
        return [("firmware/frost_node.hex", *pair) for pair in pairs] + [
            (RELEASE, digest(text)[7:], digest(new)[7:]), (RELEASE, f'image-sha256="{stated}"', "")], new

    def assert_firmware(self, found, key, what, first, second):
        one = found["differences"][0]
        self.assertEqual(("firmware", key, what), (one["area"], one["key"], one["what"]))
        for image, said in ((first, one["first"]), (second, one["second"])):
            self.assertEqual(f"{len(image)} bytes, {sparse_digest(image)}", said)
        self.assertEqual(
            {"changed": 1, "removed": 0, "added": 2, "equal": len(first) - 1, "range_count": 2,
             "ranges": [{"what": "changed", "address": 0x24, "length": 1, "first": "0c", "second": "0d"},
                        {"what": "added", "address": 0x1000, "length": 2, "first": "",
                         "second": "a55a"}]}, one["bytes"])

    def test_firmware_region_by_region(self):
        first = hex_bytes()
        second = {**first, 0x24: 0x0D, 0x1000: 0xA5, 0x1001: 0x5A}
        changes, text = self.firmware((self.OLD, self.NEW), self.MORE)
        release = self.changed(*changes)
        found = self.ask("base.crp", release, code=DIFFERS)
        self.assert_firmware(found, "firmware.flash", "flash", first, second)
        others = [each["what"] for each in found["differences"][1:]
                  if each["area"] == "firmware" and each["key"] != "facts.checksum"]
        self.assertEqual(["image size", "image digest (of the bytes alone)", "firmware file size",
                          "firmware file digest"], others)
        by_what = {each["what"]: each["second"] for each in found["differences"]}
        self.assertEqual(digest(text), by_what["firmware file digest"])
        self.assertEqual(digest(bytes(second[at] for at in sorted(second))),
                         by_what["image digest (of the bytes alone)"])
        # Packages seal no map of regions: they are compared as a whole, or as asked for.
        self.world.pack("firmware.crp", release)
        whole = self.ask("base.crp", "firmware.crp", code=DIFFERS)
        self.assert_firmware(whole, "firmware.all", "all bytes", first, second)
        asked = self.ask("base.crp", "firmware.crp", "--region", "boot:0-0xFFF", "--region",
                         "app:0x1000-0x1000", code=DIFFERS)
        self.assertEqual([("boot", 1, 0), ("app", 0, 1), ("in no region", 0, 1)],
                         [(each["what"], each["bytes"]["changed"], each["bytes"]["added"])
                          for each in asked["differences"][:3]])

    def test_firmware_in_text(self):
        changes, _ = self.firmware((self.OLD, self.NEW), self.MORE)
        done = self.world.run("diff", "base.crp", self.changed(*changes))
        self.assertEqual(DIFFERS, done.returncode, done.stderr)
        self.assertIn("\n      1 byte changed, 0 removed, 2 added, in 2 ranges\n"
                      "      changed 0x00000024 to 0x00000024, 1 byte: 0c -> 0d\n"
                      "      added 0x00001000 to 0x00001001, 2 bytes: not there -> a55a\n", done.stdout)

    # ---- the whole

    def test_a_package_has_no_difference_from_itself_nor_from_what_it_was_packed_from(self):
        for first, second in (("frost-node.crp", "frost-node.crp"),
                              ("frost-node.crp", WORKED_RELEASE / RELEASE),
                              (WORKED_RELEASE / RELEASE, "frost-node.crp"),
                              (WORKED_RELEASE / RELEASE, WORKED_RELEASE / RELEASE)):
            with self.subTest((first, second)):
                found = self.ask(first, second, code=SAME)
                self.assertEqual((True, 0, 0, []), (found["same"], found["differences_counted"],
                                                    found["can_damage"], found["differences"]))
        done = self.world.run("diff", "frost-node.crp", "frost-node.crp")
        self.assertEqual(SAME, done.returncode)
        self.assertEqual("no difference", done.stdout.splitlines()[-1])

    def test_who_signed_which(self):
        found = self.ask("base.crp", "frost-node.crp", code=DIFFERS)
        self.assertEqual([[], [{"role": "release", "person": "ines", "time": "2026-03-02T10:00:00Z"},
                               {"role": "quality", "person": "omar", "time": "2026-03-03T16:30:00Z"}]],
                         [found["first"]["signoffs"], found["second"]["signoffs"]])
        self.assertEqual(["signed as release", "signed as quality"],
                         [each["what"] for each in found["differences"]])
        self.assertTrue(found["differences"][1]["second"].startswith("by omar, "))
        self.assertIn(", units a station 500, plain file yes, ", found["differences"][1]["second"])
        self.assertEqual((True, None), (found["signoffs_compared"], found["differences"][0]["first"]))
        self.assertFalse(self.ask("frost-node.crp", WORKED_RELEASE / RELEASE, code=SAME)
                         ["signoffs_compared"])

    def test_text_names_both_and_ends_with_a_plain_sentence(self):
        release = self.changed((BOARD, 'max-millivolts="3600"', 'max-millivolts="3700"'),
                               (RELEASE, 'millivolts="3300"', 'millivolts="3600"'),
                               (RELEASE, 'slots permitted="1-6"', 'slots permitted="1-4"'),
                               (RELEASE, 'title="FROST NODE 2.4.1"', 'title="FROST NEW"'))
        self.world.pack("bold.crp", release)
        done = self.world.run("diff", "frost-node.crp", "bold.crp")
        lines = done.stdout.splitlines()
        self.assertEqual(DIFFERS, done.returncode)
        self.assertEqual("first   frost-node 2.4.1: release package frost-node.crp", lines[0])
        self.assertEqual("        signed by ines (release), omar (quality)", lines[2])
        self.assertEqual("second  frost-node 2.4.1: release package bold.crp", lines[3])
        self.assertEqual("        signed by nobody", lines[5])
        self.assertEqual(["supply",
                          "  ! supply voltage: 3.300 V -> 3.600 V",
                          "  ! board takes at most: 3.600 V -> 3.700 V",
                          "settings",
                          "    slots permitted: 1, 2, 3, 4, 5, 6 -> 1, 2, 3, 4",
                          "identity",
                          "    title on display: FROST NODE 2.4.1 -> FROST NEW",
                          "sign-offs"], lines[6:14])
        told = sum(" -> " in line for line in lines)
        self.assertEqual(f"{told} differences, 2 of them can damage boards (marked !)", lines[-1])
        self.assertEqual("who may sign was not looked at (cardseal verify does)\n", done.stderr)
        self.assertEqual(told, self.ask("frost-node.crp", "bold.crp", code=DIFFERS)
                         ["differences_counted"])

    def test_text_from_outside_can_not_steer_a_terminal(self):
        # What could is refused in sealed texts; names of files and regions come from elsewhere.
        name, region = "e\x1b[2Jvil.crp", "r\u202eom:0-0x7FFF"
        changes, _ = self.firmware((self.OLD, self.NEW))
        self.world.pack(name, self.changed(*changes))
        done = self.world.run("diff", "base.crp", name, "--region", region)
        self.assertEqual(DIFFERS, done.returncode)
        self.assertIn("release package e\\u{1b}[2Jvil.crp\n", done.stdout)
        self.assertIn("    r\\u{202e}om: ", done.stdout)
        self.assertNotRegex(done.stdout + done.stderr, "[\x1b\u202e]")

    def test_a_release_that_can_not_be_packed_is_compared_all_the_same(self):
        done = self.world.run("diff", "base.crp",
                              self.changed((RELEASE, 'millivolts="3300"', 'millivolts="3400"')))
        self.assertEqual(DIFFERS, done.returncode)
        self.assertIn("    finding supply-off-step: not there -> level refuse, text supply of 3400 mV is "
                      "no step of bench-one, which gives 2400 to 4200 mV by 300 mV\n", done.stdout)
        self.assertIn("release.xml can't be packed as it stands (cardseal check says why)\n",
                      done.stderr)

    # ---- one release against the package that it follows

    def follower(self, previous, since="../frost-node.crp"):
        changes = f'<changes since="{since}" order="CO-12"/>'
        return self.changed((RELEASE, 'previous="-"', f'previous="{previous}"'),
                            (RELEASE, 'sequence="7"', 'sequence="8"'),
                            (RELEASE, "<documents>", changes + "\n  <documents>"))

    def test_a_release_is_compared_with_the_package_that_it_follows(self):
        package = json.loads(self.world.must("show", "frost-node.crp", "--json"))["package"]
        found = self.ask(self.follower(package), code=DIFFERS)
        self.assertTrue(found["first"]["sealed"])
        self.assertEqual(package, found["first"]["package"])
        self.assertEqual((False, None), (found["second"]["sealed"], found["second"]["package"]))
        self.assertEqual(["sequence: 7 -> 8", f"previous package: none -> {package}"],
                         self.said(found))

    def assert_error(self, arguments, code, message):
        done = self.world.run("diff", *arguments)
        self.assertEqual((code, "", f"cardseal: {message}\n"),
                         (done.returncode, done.stdout, done.stderr))
        self.assertIn("error", self.ask(*arguments, code=code))

    def test_another_package_than_the_one_that_it_follows_is_refused(self):
        package = json.loads(self.world.must("show", "frost-node.crp", "--json"))["package"]
        other = "sha256:" + "0" * 64
        release = self.follower(other)
        self.assert_error([release], BAD_DATA,
                          f"{release.parent}/../frost-node.crp: this is not the package that the "
                          f"release follows: found {package}, expected {other} (name both files to "
                          "compare them all the same)")

    def test_a_release_that_follows_none_is_refused(self):
        release = self.changed()
        self.assert_error([release], BAD_DATA,
                          f"{release}: this release names no package that it follows: found no "
                          "<changes>, expected <changes since=\"FILE\" ...> (name the release to "
                          "compare it with as second)")
        self.assert_error(["base.crp"], USAGE,
                          "a package does not say where the one before it is: found base.crp, expected "
                          "two releases, or one release.xml")

    # ---- bad input

    def test_damaged_packages_are_refused(self):
        good = self.world.bytes("frost-node.crp")
        image = good.index(bytes.fromhex("0c9445000c945700"))
        self.world.path("bad.crp").write_bytes(good)
        change_byte(self.world.path("bad.crp"), image)
        bytes_of = hex_bytes()
        whole = bytearray(bytes_of[at] for at in sorted(bytes_of))
        expected = digest(bytes(whole))
        whole[0] ^= 1
        again = "get the file again from the person who sent it"
        self.assert_error(["base.crp", "bad.crp"], BAD_DATA,
                          "bad.crp: image: an entry is not what the manifest says (reason 208): found "
                          f"{digest(bytes(whole))}, expected {expected} ({again})")
        self.world.path("bad.crp").write_bytes(good[:-512])
        self.assert_error(["bad.crp", "base.crp"], BAD_DATA,
                          f"bad.crp: offset {len(good) - 512}: the package is cut short (reason 206) "
                          f"({again})")

    def test_missing_files_and_bad_words_are_told(self):
        self.assert_error(["base.crp", "gone.crp"], NO_INPUT,
                          "gone.crp: can't read: no such file or directory (check the name)")
        self.assert_error(["gone.xml", "base.crp"], NO_INPUT,
                          "gone.xml: can't read: no such file or directory (check the name)")
        for region in ("flash", "a:5-1"):
            done = self.world.run("diff", "base.crp", "base.crp", "--region", region)
            self.assertEqual((USAGE, ""), (done.returncode, done.stdout), region)
        done = self.world.run("diff", "base.crp", "base.crp", "--region", "a:0-5", "--region", "b:5-9")
        self.assertEqual((USAGE, ""), (done.returncode, done.stdout))


if __name__ == "__main__":
    main()
