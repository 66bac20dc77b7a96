"""One program by four compilers, each as every format it writes: one image a compiler.

The files in tests/firmware/built are judged always; where a compiler is installed it builds the
program once more (another version may give another image, but again one for all its formats).
"""

import hashlib
import json
import os
import struct
import sys
import tempfile
import unittest
from pathlib import Path

from world import SOURCE, main, run, tool

CARDSEAL = os.environ.get("CARDSEAL", "cardseal")
FOLDER = SOURCE / "tests" / "firmware"
BUILT = FOLDER / "built"
sys.path.insert(0, str(FOLDER))
import build  # noqa: E402  tests/firmware/build.py

# sdcc's ELF also holds a byte for each variable in RAM, which no memory keeps; its other formats
# don't. The part's code memory is what a release would be made of.
ONLY = {"sdcc": ["--crop", "0x8000-0xFFFF"]}
START = {"arm-none-eabi-gcc": True}  # has a start address in every format


def read(path, *options):
    done = run(CARDSEAL, "image", path, "--json", *options, cwd=path.parent)
    if done.returncode != 0:
        raise AssertionError(f"{path}: {done.stdout}{done.stderr}")
    return json.loads(done.stdout)


def image_of_records(text):
    """{address: byte} of an Intel HEX file with types 00, 01, 04 and 05 only; a reader of its own."""
    out, base = {}, 0
    for line in text.split():
        record = bytes.fromhex(line[1:])
        assert line[0] == ":" and sum(record) % 256 == 0 and len(record) == record[0] + 5, line
        address, kind = struct.unpack_from(">HB", record, 1)
        if kind == 4:
            base = struct.unpack_from(">H", record, 4)[0] << 16
        elif kind == 0:
            out.update({base + address + at: byte for at, byte in enumerate(record[4:-1])})
    return out


def digest(image):
    """SHA-256 over maximal segments in address order: address, length (8 bytes each), bytes."""
    running, addresses = hashlib.sha256(), sorted(image)
    at = 0
    while at < len(addresses):
        end = at
        while end < len(addresses) and addresses[end] == addresses[at] + end - at:
            end += 1
        running.update(struct.pack(">QQ", addresses[at], end - at))
        running.update(bytes(image[address] for address in addresses[at:end]))
        at = end
    return running.hexdigest()


class OneProgram(unittest.TestCase):
    def assert_one_image(self, compiler, folder):
        files = sorted(path for path in folder.iterdir() if path.suffix in build.FORMATS)
        self.assertGreaterEqual(len(files), 3, folder)
        results = {path.name: read(path, *ONLY.get(compiler, [])) for path in files}
        found = {name: result["sha256"] for name, result in results.items()}
        self.assertEqual(1, len(set(found.values())), found)
        self.assertEqual({"intel-hex", "s-record"} | ({"elf"} if compiler != "gpasm" else set()),
                         {result["format"] for result in results.values()})
        text = next(path for path in files if path.suffix in (".hex", ".ihx"))
        self.assertEqual(digest(image_of_records(text.read_text(encoding="ascii"))),
                         results[text.name]["sha256"])
        if START.get(compiler):
            self.assertEqual(1, len({result["start"]["value"] for result in results.values()}))
        return results

    def test_committed_files_of_a_compiler_give_one_image(self):
        for compiler in build.BUILDS:
            with self.subTest(compiler):
                self.assert_one_image(compiler, BUILT / compiler)

    def test_each_kind_of_memory_is_where_it_belongs(self):
        def segments(path, *options):
            return [(s["address"], s["length"]) for s in read(BUILT / path, *options)["segments"]]

        # avr-gcc keeps data memory at 0x810000 (GNU ld's avr scripts).
        self.assertEqual((0x810000, 2), segments("avr-gcc/frost.elf")[-1])
        # .data runs in RAM and is loaded behind the constants; .bss is nowhere.
        elf = read(BUILT / "arm-none-eabi-gcc/frost.elf")
        self.assertTrue(all(0x08000000 <= s["address"] < 0x08010000 for s in elf["segments"]))
        self.assertEqual(["segment-padding"], [note["id"] for note in elf["notes"]])
        # gputils' p16f877a.inc: words 0x2007 and 0x2100, at doubled byte addresses.
        self.assertEqual([(0x400E, 2), (0x4200, 4)], segments("gpasm/frost.hex")[-2:])

    def test_an_elf_file_in_words_equals_its_hex_file(self):
        # An invented part whose addresses count words of 16 bits: the ELF file made of half the
        # addresses, read with two bytes an address.
        hex_file = BUILT / "gpasm" / "frost.hex"
        image = image_of_records(hex_file.read_text(encoding="ascii"))
        starts = sorted(a for a in image if a - 1 not in image)
        runs = [(a, bytes(image[b] for b in range(a, next(b for b in range(a, 1 << 17)
                                                          if b not in image)))) for a in starts]
        offset = 52 + 32 * len(runs)
        table, body = b"", b""
        for address, data in runs:
            table += struct.pack("<8I", 1, offset + len(body), address // 2, address // 2,
                                 len(data), len(data), 5, 2)
            body += data
        head = b"\x7fELF\x01\x01\x01".ljust(16, b"\0") + struct.pack(
            "<2H5I6H", 2, 0, 1, 0, 52, 0, 0, 52, 32, len(runs), 40, 0, 0)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "words.elf"
            path.write_bytes(head + table + body)
            self.assertEqual(read(hex_file)["sha256"],
                             read(path, "--address-unit", 2)["sha256"])
            self.assertNotEqual(read(hex_file)["sha256"], read(path)["sha256"])

    def test_rebuilt_files_of_a_compiler_give_one_image(self):
        for compiler, (package, commands) in build.BUILDS.items():
            with self.subTest(compiler), tempfile.TemporaryDirectory() as folder:
                for command in commands:
                    tool(self, command.split()[0], package)
                out = Path(folder) / compiler
                build.build(compiler, out)
                rebuilt = self.assert_one_image(compiler, out)
                versions = (BUILT / "VERSIONS").read_text(encoding="utf-8").splitlines()
                if f"{compiler}: {build.version(compiler)}" in versions:
                    name = "frost.s19"
                    self.assertEqual(read(BUILT / compiler / name, *ONLY.get(compiler, []))["sha256"],
                                     rebuilt[name]["sha256"])


if __name__ == "__main__":
    main()
