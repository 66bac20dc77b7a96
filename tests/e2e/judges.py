"""What the programs write, read by tools that know nothing of them."""

import json
import os
import re
import struct
import subprocess
import tarfile

from world import WORKED_HEX, WORKED_RELEASE, WorldCase, change_byte, copy_sparse, main, tool

SECTOR = 512
MOST_SECTORS = 3_842_048  # the smallest "2 GB" card found in public logs of card sizes
FEWEST_CLUSTERS = 65_525 + 16  # Microsoft FAT specification (2005), 3.5: FAT32, and 16 clear of it

CARDS = {"signed.img": True, "plain.img": True, "signed-bare.img": False, "plain-bare.img": False}


def partition(path):
    """(first sector, sectors) of the volume, by the partition table or, without one, the whole."""
    with open(path, "rb") as file:
        first = file.read(SECTOR)
    # UEFI Specification 2.10, 5.2.1: four records of 16 bytes at 446, type at 4, start at 8.
    if first[82:90] == b"FAT32   ":
        return 0, os.path.getsize(path) // SECTOR
    records = [first[446 + 16 * at:462 + 16 * at] for at in range(4)]
    used = [r for r in records if r[4] != 0]
    assert len(used) == 1 and used[0][4] in (0x0B, 0x0C), used
    return struct.unpack_from("<II", used[0], 8)


class Cards(WorldCase):
    @classmethod
    def prepare(cls):
        world = cls.world
        bare = world.copy_release("bare-release",
                                  ("profiles/row-six.xml", 'mbr="yes"', 'mbr="no"'),
                                  ("profiles/bench-one.xml", 'mbr="yes"', 'mbr="no"'))
        world.make_package("bare.crp", bare)
        world.make_card("frost-node.crp", "signed.img")
        world.make_plain_card("frost-node.crp", "plain.img")
        world.make_card("bare.crp", "signed-bare.img")
        world.make_plain_card("bare.crp", "plain-bare.img")
        world.enrol("station.state")
        cls.listed = {card: json.loads(world.must("card", "list", card, "--json"))["files"]
                      for card in CARDS}

    def known_content(self, card):
        """{path: bytes} for the files whose content is known without looking at the card."""
        world = self.world
        package = "bare.crp" if "bare" in card else "frost-node.crp"
        known = {"CARDSEAL/P01.CRP": world.bytes(package),
                 "CARDSEAL/TRUST.TXT": world.bytes("owner.trust"),
                 "CARDSEAL/TRUST.S01": world.bytes("owner.trust.s01")}
        if "plain" in card:
            # The worked HEX is in bytes what the bench station asks for, but for its line ends.
            known["BENCH/FIRMWARE.HEX"] = WORKED_HEX.read_bytes()
        return known

    def by_sectors(self, card):
        """{path: bytes} by the first sectors that the list states."""
        files = {}
        with open(self.world.path(card), "rb") as file:
            for entry in self.listed[card]:
                file.seek(entry["first_sector"] * SECTOR)
                files[entry["path"]] = file.read(entry["size"])
        return files

    def assert_tree(self, folder, card):
        found = {str(path.relative_to(folder)): path.read_bytes()
                 for path in folder.rglob("*") if path.is_file()}
        listed = self.by_sectors(card)
        self.assertEqual(sorted(listed), sorted(found))
        for path, data in listed.items():
            self.assertEqual(data, found[path], path)
        for path, data in self.known_content(card).items():
            self.assertEqual(data.replace(b"\r\n", b"\n"), found[path].replace(b"\r\n", b"\n"), path)

    def test_cards_have_a_partition_table_only_where_the_station_asks_for_one(self):
        for card, partitioned in CARDS.items():
            with self.subTest(card):
                start, _ = partition(self.world.path(card))
                self.assertEqual(partitioned, start != 0)

    def test_boot_sector_states_fat32_within_the_card(self):
        # Microsoft FAT specification (2005), 3.1, 3.3 and 3.5: fields and count of clusters.
        for card in CARDS:
            with self.subTest(card):
                path = self.world.path(card)
                start, sectors = partition(path)
                with open(path, "rb") as file:
                    file.seek(start * SECTOR)
                    boot = file.read(SECTOR)
                each, cluster, reserved, fats, roots, small = struct.unpack_from("<HBHBHH", boot, 11)
                hidden, total, fat_sectors = struct.unpack_from("<III", boot, 28)
                self.assertEqual((SECTOR, 2, 0, 0), (each, fats, roots, small))
                self.assertEqual((start, sectors), (hidden, total))
                clusters = (total - reserved - fats * fat_sectors) // cluster
                self.assertGreaterEqual(clusters, FEWEST_CLUSTERS)
                self.assertGreaterEqual(fat_sectors * 128, clusters + 2)
                image_bytes = os.path.getsize(path)
                self.assertEqual(0, image_bytes % SECTOR)
                self.assertLessEqual(image_bytes // SECTOR, MOST_SECTORS)
                self.assertLessEqual(start + total, image_bytes // SECTOR)

    def test_fsck_fat_says_nothing_but_its_summary(self):
        # dosfstools 4.2. Its exit code is 0 for several faults, so its lines are judged.
        fsck = tool(self, "fsck.fat", "dosfstools")
        summary = [
            r"fsck\.fat \d\S* \(\d{4}-\d\d-\d\d\)", r"Checking we can access the last sector of the filesystem",
            r"Boot sector contents:", r"System ID \".{8}\"", r"Media byte 0xf[08] \(.*\)",
            r" +\d+ bytes per logical sector", r" +\d+ bytes per cluster",
            r" +\d+ reserved sectors?", r"First FAT starts at byte \d+ \(sector \d+\)",
            r" +2 FATs, 32 bit entries", r" +\d+ bytes per FAT \(= \d+ sectors\)",
            r"Root directory start at cluster \d+ \(arbitrary size\)",
            r"Data area starts at byte \d+ \(sector \d+\)",
            r" +\d+ data clusters \(\d+ bytes\)", r"\d+ sectors/track, \d+ heads",
            r" +\d+ hidden sectors", r" +\d+ sectors total",
            r"Checking for unused clusters\.", r"Checking free cluster summary\.",
            r"\S+: \d+ files, \d+/\d+ clusters"]
        one_of = re.compile("|".join(f"(?:{line})" for line in summary))
        for card in CARDS:
            with self.subTest(card):
                path = self.world.path(card)
                start, sectors = partition(path)
                volume = copy_sparse(path, self.world.path("volume"), start * SECTOR,
                                     sectors * SECTOR)
                said = subprocess.run([fsck, "-n", "-v", str(volume)], capture_output=True,
                                      text=True, timeout=120, check=False)
                lines = [line.rstrip() for line in (said.stdout + said.stderr).splitlines()]
                unexpected = [line for line in lines if line and not one_of.fullmatch(line)]
                self.assertEqual([], unexpected)
                # It counts folders and the label as files too (measured with 4.2).
                paths = [entry["path"] for entry in self.listed[card]]
                folders = {path.rpartition("/")[0] for path in paths} - {""}
                self.assertIn(f": {len(paths) + len(folders) + 1} files, ", lines[-1])

    def test_fsck_fat_lines_can_tell_a_fault(self):
        # The judgement above can fail: a second FAT that differs adds lines.
        fsck = tool(self, "fsck.fat", "dosfstools")
        volume = copy_sparse(self.world.path("signed-bare.img"), self.world.path("bad-volume"))
        with open(volume, "rb") as file:
            boot = file.read(SECTOR)
        reserved = struct.unpack_from("<H", boot, 14)[0]
        fat_sectors = struct.unpack_from("<I", boot, 36)[0]
        change_byte(volume, (reserved + fat_sectors) * SECTOR + 40)
        said = subprocess.run([fsck, "-n", "-v", str(volume)], capture_output=True, text=True,
                              timeout=120, check=False)
        self.assertIn("FATs differ", said.stdout)

    def test_mtools_reads_every_file(self):
        # GNU mtools 4.0: image@@offset names a volume inside an image.
        mcopy = tool(self, "mcopy", "mtools")
        for card in CARDS:
            with self.subTest(card):
                path = self.world.path(card)
                out = self.world.path(f"{card}.mtools")
                out.mkdir()
                start, _ = partition(path)
                image = f"{path}@@{start * SECTOR}"
                said = subprocess.run([mcopy, "-s", "-n", "-i", image, "::*", str(out)],
                                      capture_output=True, text=True, timeout=120, check=False)
                self.assertEqual((0, "", ""), (said.returncode, said.stdout, said.stderr))
                self.assert_tree(out, card)

    def test_7_zip_reads_every_file(self):
        # 7-Zip 22: the partition table states the volume, and the volume gives the files.
        seven = tool(self, "7zz", "7zip")
        for card in CARDS:
            with self.subTest(card):
                path = self.world.path(card)
                out = self.world.path(f"{card}.7z")
                start, sectors = partition(path)
                volume = path
                if start != 0:
                    listed = subprocess.run([seven, "l", "-tmbr", "-slt", str(path)],
                                            capture_output=True, text=True, timeout=120, check=False)
                    self.assertIn(f"Size = {sectors * SECTOR}", listed.stdout)
                    volume = copy_sparse(path, self.world.path("volume-7z"), start * SECTOR,
                                         sectors * SECTOR)
                said = subprocess.run([seven, "x", "-tfat", f"-o{out}", str(volume)],
                                      capture_output=True, text=True, timeout=120, check=False)
                self.assertEqual(0, said.returncode, said.stdout + said.stderr)
                self.assertNotRegex(said.stdout + said.stderr, "(?i)warning|error")
                self.assert_tree(out, card)

    def test_station_admits_the_signed_cards(self):
        for card in ("signed.img", "signed-bare.img"):
            with self.subTest(card):
                # Each from a fresh memory: the two releases carry one number.
                self.world.enrol(f"{card}.state")
                said = self.world.judge(card, f"{card}.state")
                self.assertEqual(0, said.returncode, said.stdout + said.stderr)
                self.assertIn("first unit   FN000001 (ordinal 0)\n", said.stdout)
                self.assertIn("last unit    FN000060 (ordinal 59)\n", said.stdout)


class Firmware(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.make_plain_card("frost-node.crp", "plain.img")
        listed = json.loads(cls.world.must("card", "list", "plain.img", "--json"))["files"]
        entry = next(e for e in listed if e["path"] == "BENCH/FIRMWARE.HEX")
        with open(cls.world.path("plain.img"), "rb") as card:
            card.seek(entry["first_sector"] * SECTOR)
            cls.world.path("exported.hex").write_bytes(card.read(entry["size"]))
        cls.world.must("image", WORKED_HEX, "--to", "raw", "-o", "worked.bin")
        cls.worked = cls.world.bytes("worked.bin")

    def assert_converts(self, command, hex_file):
        out = self.world.path("converted.bin")
        out.unlink(missing_ok=True)
        said = subprocess.run([*command(str(hex_file), str(out))], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual((0, ""), (said.returncode, said.stderr))
        self.assertEqual(self.worked, out.read_bytes())

    def test_objcopy_reads_the_same_bytes(self):
        # GNU binutils 2.40.
        objcopy = tool(self, "objcopy", "binutils")
        for file in (WORKED_HEX, self.world.path("exported.hex")):
            with self.subTest(file.name):
                self.assert_converts(
                    lambda source, out: [objcopy, "-I", "ihex", "-O", "binary", source, out], file)

    def test_srec_cat_reads_the_same_bytes(self):
        # SRecord 1.64.
        srec_cat = tool(self, "srec_cat", "srecord")
        for file in (WORKED_HEX, self.world.path("exported.hex")):
            with self.subTest(file.name):
                self.assert_converts(
                    lambda source, out: [srec_cat, source, "-Intel", "-o", out, "-Binary"], file)

    def test_hex_written_from_raw_is_read_back_by_srec_cat(self):
        srec_cat = tool(self, "srec_cat", "srecord")
        self.world.must("image", "worked.bin", "--format", "raw", "--address", "0", "--crlf",
                        "--record-length", "32", "-o", "again.hex")
        self.assert_converts(
            lambda source, out: [srec_cat, source, "-Intel", "-o", out, "-Binary"],
            self.world.path("again.hex"))


class Package(WorldCase):
    @classmethod
    def prepare(cls):
        cls.shown = json.loads(cls.world.must("show", "frost-node.crp", "--json"))

    def extract(self):
        tar = tool(self, "tar", "tar")
        out = self.world.path("extracted")
        if not out.exists():
            out.mkdir()
            subprocess.run([tar, "xf", str(self.world.path("frost-node.crp")), "-C", str(out)],
                           check=True, timeout=60)
        return out

    def test_gnu_tar_lists_the_package(self):
        # GNU tar 1.34.
        tar = tool(self, "tar", "tar")
        listed = subprocess.run([tar, "tvf", str(self.world.path("frost-node.crp"))],
                                capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((0, ""), (listed.returncode, listed.stderr))
        names = [line.split()[-1] for line in listed.stdout.splitlines()]
        self.assertEqual(["manifest", "signoff/01", "signoff/01.sig", "signoff/02",
                          "signoff/02.sig", "chain", "image", "facts", "doc/release-notes.txt"],
                         names)

    def test_gnu_tar_and_python_take_out_the_same_entries(self):
        # Python's tarfile is a second reader, independent of GNU tar.
        out = self.extract()
        with tarfile.open(self.world.path("frost-node.crp")) as archive:
            for member in archive:
                self.assertEqual(archive.extractfile(member).read(),
                                 (out / member.name).read_bytes(), member.name)
        self.assertEqual((WORKED_RELEASE / "release-notes.txt").read_bytes(),
                         (out / "doc" / "release-notes.txt").read_bytes())
        self.world.must("image", WORKED_HEX, "--to", "raw", "-o", "image.bin")
        self.assertEqual(self.world.bytes("image.bin"), (out / "image").read_bytes())

    def test_sha256sum_gives_the_identities_that_show_prints(self):
        # GNU coreutils 9.1.
        sha256sum = tool(self, "sha256sum", "coreutils")
        out = self.extract()

        def digest(path):
            return subprocess.run([sha256sum, str(path)], capture_output=True, text=True,
                                  check=True, timeout=60).stdout.split()[0]

        self.assertEqual(self.shown["package"], "sha256:" + digest(out / "manifest"))
        self.assertIn(f"package sha256:{digest(out / 'manifest')} owner",
                      " ".join(self.world.must("show", "frost-node.crp").split()))  # as wide as the terminal
        self.assertEqual(self.shown["manifest"]["image_sha256"], digest(out / "image"))
        self.assertEqual(self.shown["facts"]["firmware_sha256"], digest(WORKED_HEX))
        self.assertEqual([s["digest"] for s in self.shown["signoffs"]],
                         ["sha256:" + digest(out / "signoff" / n) for n in ("01", "02")])

    def test_openssl_accepts_each_sign_off_and_refuses_one_changed_byte(self):
        # OpenSSL 3.0.
        openssl = tool(self, "openssl", "openssl")
        out = self.extract()
        for number, person in ((1, "ines"), (2, "omar")):
            with self.subTest(person):
                signed = self.world.path(f"signed-{number}")
                self.world.must("show", "frost-node.crp", "--signed-bytes", number, "-o",
                                signed.name)

                def verifies(name, number=number, person=person):
                    said = subprocess.run(
                        [openssl, "pkeyutl", "-verify", "-rawin", "-pubin", "-inkey",
                         str(self.world.path(f"keys/{person}.pub")), "-sigfile",
                         str(out / "signoff" / f"{number:02}.sig"), "-in", str(name)],
                        capture_output=True, text=True, timeout=60, check=False)
                    return said.returncode, said.stdout.strip()

                self.assertEqual((0, "Signature Verified Successfully"), verifies(signed))
                # The sign-off's own text is in what was signed, whole.
                self.assertTrue(signed.read_bytes().endswith(
                    (out / "signoff" / f"{number:02}").read_bytes()))
                change_byte(signed, 200)
                self.assertEqual((1, "Signature Verification Failure"), verifies(signed))

    def test_openssl_opens_the_private_key(self):
        openssl = tool(self, "openssl", "openssl")
        for person in ("owner", "ines", "omar", "desk"):
            with self.subTest(person):
                keys = self.world.path("keys")
                said = subprocess.run(
                    [openssl, "pkey", "-in", str(keys / f"{person}.pem"), "-passin",
                     f"file:{keys / person}.pass", "-pubout"],
                    capture_output=True, text=True, timeout=60, check=False)
                self.assertEqual(0, said.returncode, said.stderr)
                self.assertEqual((keys / f"{person}.pub").read_text(), said.stdout)
                wrong = subprocess.run(
                    [openssl, "pkey", "-in", str(keys / f"{person}.pem"), "-passin",
                     "pass:not it", "-noout"], capture_output=True, timeout=60, check=False)
                self.assertNotEqual(0, wrong.returncode)


if __name__ == "__main__":
    main()
