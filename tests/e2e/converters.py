"""Some 300 generated firmware files, read by objcopy, srec_cat, python-intelhex and Cardseal.

Where the others agree with each other, Cardseal gives the same image; the files on which they are
known to be wrong together, or to differ, have the verdict stated beside them. What each converter
read is compared as {address: byte}, by way of records that a reader of this file's own takes.
"""

import json
import os
import random
import shutil
import struct
import subprocess
import tempfile
import unittest
from pathlib import Path

from one_program import digest
from world import main, run, tool

CARDSEAL = os.environ.get("CARDSEAL", "cardseal")
SEED = 20260302
END = ":00000001FF"


def hex_record(offset, kind, data):
    body = bytes([len(data), offset >> 8 & 255, offset & 255, kind]) + bytes(data)
    return ":" + (body + bytes([-sum(body) & 255])).hex().upper()


def s_record(kind, address, data=b""):
    width = (2, 2, 3, 4, 2, 2, 3, 4, 3, 2)[kind]
    body = bytes([width + len(data) + 1]) + address.to_bytes(width, "big") + bytes(data)
    return f"S{kind}" + (body + bytes([~sum(body) & 255])).hex().upper()


def s_image(text):
    """{address: byte} of data records as the converters write them; later ones would win."""
    out = {}
    for line in text.split():
        record = bytes.fromhex(line[2:])
        assert line[0] == "S" and sum(record) % 256 == 255, line
        if line[1] in "123":
            width = int(line[1]) + 1
            address = int.from_bytes(record[1:1 + width], "big")
            out.update({address + at: byte for at, byte in enumerate(record[1 + width:-1])})
    return out


class File:
    """One generated file. `verdict` is Cardseal's where the others don't decide: an error code, or
    None for an image, which is then `image`."""

    def __init__(self, kind, suffix, content, verdict="others", image=None, options=()):
        self.kind, self.suffix, self.verdict, self.image = kind, suffix, verdict, image
        self.content = content.encode("latin-1") if isinstance(content, str) else content
        self.options = options


def runs(pick, top, count=None):
    """Some (address, bytes) that don't touch, in order, below `top`."""
    out, address = [], pick.randrange(0, min(top // 4, 0x3000))
    for _ in range(count or pick.randint(1, 5)):
        data = pick.randbytes(pick.randint(1, 90))
        if address + len(data) > top:
            break
        out.append((address, data))
        address += len(data) + pick.choice((1, 7, 300, top // 9))
    return out


def pieces(pick, parts, length=None, split_64k=True):
    """(address, bytes) of records that hold `parts`."""
    for address, data in parts:
        at = 0
        while at < len(data):
            size = length or pick.randint(1, 32)
            if split_64k:
                size = min(size, 0x10000 - (address + at) % 0x10000)
            yield address + at, data[at:at + size]
            at += size


def hex_lines(pick, parts, base, **how):
    """Data records with the base records that `base` ("linear", "segment" or "none") takes."""
    upper = 0
    for address, data in pieces(pick, parts, **how):
        if base != "none" and address >> 16 != upper:
            upper = address >> 16
            value = upper if base == "linear" else upper << 12
            yield hex_record(0, 4 if base == "linear" else 2, value.to_bytes(2, "big"))
        yield hex_record(address & 0xFFFF, 0, data)


def hex_files(pick):
    for index in range(60):
        base = ("linear", "segment", "none")[index % 3]
        top = {"linear": 1 << 32, "segment": 1 << 20, "none": 1 << 16}[base]
        lines = list(hex_lines(pick, runs(pick, top), base, length=pick.choice((None, 16, 32))))
        if index % 4 == 1:
            lines.append(hex_record(0, 5, pick.randbytes(4)))
        if index % 4 == 2:
            lines.append(hex_record(0, 3, pick.randbytes(4)))
        if base == "none" and index % 2:
            pick.shuffle(lines)
        end = ("\n", "\r\n")[index % 2]
        text = end.join(lines + [END]) + end
        yield File(f"plain, {base} base", "hex", text.lower() if index % 5 == 0 else text)
    for _ in range(10):
        parts = runs(pick, 1 << 16)
        lines = list(hex_lines(pick, parts, "none"))
        again = lines + [pick.choice(lines)]
        image = {a + at: byte for a, data in parts for at, byte in enumerate(data)}
        yield File("same bytes twice", "hex", "\n".join(again + [END]) + "\n", None, image)
        yield File("no end record", "hex", "\n".join(lines) + "\n", "hex-no-end")
        yield File("data after the end record", "hex",
                   "\n".join([lines[0], END] + lines + [END]) + "\n", "hex-after-end")
        spoilt = lines[0][:-1] + ("0" if lines[0][-1] != "0" else "1")
        yield File("wrong checksum", "hex", "\n".join([spoilt] + lines[1:] + [END]) + "\n",
                   "hex-checksum")
        data = pick.randbytes(8)
        address = pick.randrange(0x8000)
        other = bytes([data[3] ^ 0x55])
        yield File("two different bytes", "hex",
                   "\n".join([hex_record(address, 0, data), hex_record(address + 3, 0, other), END])
                   + "\n", "image-conflict")
        both = [hex_record(0, 2, b"\x10\x00"), hex_record(0, 4, b"\x00\x01"),
                hex_record(address, 0, data), END]
        yield File("both bases", "hex", "\n".join(both) + "\n", "hex-two-bases")
        wrap = [hex_record(0, 2, b"\x20\x00"), hex_record(0xFFFC, 0, data), END]
        wrapped = {0x2FFFC + at if at < 4 else 0x20000 + at - 4: byte
                   for at, byte in enumerate(data)}
        yield File("wraps in its segment", "hex", "\n".join(wrap) + "\n", None, wrapped)


def s_files(pick):
    for index in range(72):
        width = index % 4  # 1 to 3: of all records; 0: each the least that does
        top = {0: 1 << 32, 1: 1 << 16, 2: 1 << 24, 3: 1 << 32}[width]
        parts = runs(pick, top)
        least = [1 if a + len(d) <= 1 << 16 else 2 if a + len(d) <= 1 << 24 else 3
                 for a, d in parts]
        lines, widest = [], 1
        for (address, data), need in zip(parts, least):
            kind = width or need
            widest = max(widest, kind)
            lines += [s_record(kind, a, d)
                      for a, d in pieces(pick, [(address, data)], length=pick.choice((None, 16)))]
        if index % 3 == 1:
            pick.shuffle(lines)
        if index % 2:
            lines.append(s_record(5, len(lines)))
        start = pick.choice((0, pick.randrange(1 << 16)))
        lines = [s_record(0, 0, b"HDR")] + lines + [s_record(10 - widest, start)]
        end = ("\n", "\r\n")[index // 2 % 2]
        text = end.join(lines) + end
        if index % 5 == 0:
            text = text.lower().replace("s", "S")
        yield File(f"plain, S{width or '1 to S3'}", "s19", text)
    for _ in range(8):
        lines = [s_record(1, a, d) for a, d in pieces(pick, runs(pick, 1 << 16))]
        s9 = s_record(9, 0)
        yield File("same bytes twice", "s19", "\n".join(lines + [lines[0], s9]) + "\n")
        yield File("no end record", "s19", "\n".join(lines) + "\n", "srec-no-end")
        yield File("data after the end record", "s19",
                   "\n".join([lines[0], s9] + lines + [s9]) + "\n", "srec-after-end")
        yield File("wrong count", "s19", "\n".join(lines + [s_record(5, 0), s9]) + "\n",
                   "srec-count")
        yield File("past 16 bits", "s19",
                   "\n".join([s_record(1, 0xFFF8, pick.randbytes(16)), s9]) + "\n")


def elf_file(pick, wide, big, parts, gaps):
    """A program with a section and a load segment for each part; loaded where it does not run."""
    order = ">" if big else "<"
    head_size, segment_size = (64, 56) if wide else (52, 32)
    offset = head_size + segment_size * len(parts)
    names = b"\0.shstrtab\0.part\0.bss\0"
    segments, sections, body = b"", b"", b""

    def section(name, kind, flags, address, at, size):
        head = struct.pack(order + "2I", name, kind)
        return head + struct.pack(order + ("4Q2I2Q" if wide else "8I"), flags, address, at, size,
                                  0, 0, 1, 0)

    sections += section(0, 0, 0, 0, 0, 0)
    for address, data in parts:
        runs_at = address ^ 0x20000000
        at = offset + len(body)
        padding = pick.randint(1, 12) if gaps else 0
        size = len(data) + padding + (4 if gaps else 0)
        fields = [at, runs_at, address, size, size + 100]
        if wide:
            segments += struct.pack(order + "2I6Q", 1, 5, *fields, 1)
        else:
            segments += struct.pack(order + "8I", 1, *fields, 5, 1)
        sections += section(11, 1, 2, runs_at, at, len(data))
        body += data
        if gaps:  # zero bytes up to another section in the same segment
            sections += section(11, 1, 2, runs_at + len(data) + padding, at + len(data) + padding, 4)
            body += bytes(padding) + b"tail"
        sections += section(17, 8, 3, runs_at + size, at + size, 100)
    names_at = offset + len(body)
    count = 3 * len(parts) if gaps else 2 * len(parts)
    sections += section(1, 3, 0, 0, names_at, len(names))
    table = names_at + len(names)
    head = b"\x7fELF" + bytes([2 if wide else 1, 2 if big else 1, 1]) + bytes(9)
    head += struct.pack(order + ("2HI3QI6H" if wide else "2H5I6H"), 2, 0, 1, parts[0][0],
                        head_size, table, 0, head_size, segment_size, len(parts),
                        64 if wide else 40, count + 2, count + 1)
    return head + segments + body + names + sections


def elf_files(pick):
    for index in range(40):
        wide, big = bool(index & 1), bool(index & 2)
        parts = [(a & ~7, d) for a, d in runs(pick, 1 << 28)]
        while any(b[0] <= a[0] + len(a[1]) + 20 for a, b in zip(parts, parts[1:])):
            parts = [(a & ~7, d) for a, d in runs(pick, 1 << 28)]
        name = f"ELF{64 if wide else 32}, {'big' if big else 'little'}-endian"
        yield File(name, "elf", elf_file(pick, wide, big, parts, index % 3 == 0))


class Converters(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = Path(tempfile.mkdtemp())
        cls.addClassCleanup(shutil.rmtree, cls.folder)

    def by_objcopy(self, file, path):
        # GNU binutils 2.40. Its ELF targets of no processor take any machine.
        kind = {"hex": "ihex", "s19": "srec"}.get(file.suffix)
        if kind is None:
            kind = f"elf{file.content[4] * 32}-{'big' if file.content[5] == 2 else 'little'}"
        out = self.folder / "objcopy.s19"
        out.unlink(missing_ok=True)
        done = subprocess.run([self.objcopy, "-I", kind, "-O", "srec", "--srec-forceS3", path, out],
                              capture_output=True, timeout=60, check=False)
        if done.returncode != 0:
            return None
        return s_image(out.read_text(encoding="latin-1"))

    def by_srec_cat(self, file, path):
        # SRecord 1.64.
        if file.suffix == "elf":
            return NotImplemented
        kind = {"hex": "-intel", "s19": "-motorola"}[file.suffix]
        out = self.folder / "srec_cat.s19"
        out.unlink(missing_ok=True)
        done = subprocess.run([self.srec_cat, path, kind, "-o", out, "-motorola"],
                              capture_output=True, timeout=60, check=False)
        if done.returncode != 0:
            return None
        return s_image(out.read_text(encoding="latin-1"))

    def by_intelhex(self, file, path):
        # python-intelhex 2.3.0.
        if file.suffix != "hex":
            return NotImplemented
        try:
            read = self.intelhex.IntelHex(str(path)).todict()
        except self.intelhex.HexReaderError:
            return None
        read.pop("start_addr", None)
        return read

    def by_cardseal(self, file, path):
        done = run(CARDSEAL, "image", path, "--json", *file.options, cwd=self.folder)
        said = json.loads(done.stdout)
        return said["error"]["code"] if "error" in said else said["sha256"]

    def test_cardseal_agrees_with_the_others_wherever_they_agree(self):
        self.objcopy = tool(self, "objcopy", "binutils")
        self.srec_cat = tool(self, "srec_cat", "srecord")
        try:
            import intelhex
        except ImportError:
            if os.environ.get("CI") == "true":
                self.fail("python-intelhex is missing: install python3-intelhex")
            self.skipTest("python-intelhex is missing (Debian package python3-intelhex)")
        self.intelhex = intelhex
        pick = random.Random(SEED)
        files = [*hex_files(pick), *s_files(pick), *elf_files(pick)]
        agreed, alone, differed, wrong = 0, 0, {}, []
        for number, file in enumerate(files):
            path = self.folder / f"{number:03}.{file.suffix}"
            path.write_bytes(file.content)
            others = [by(file, path)
                      for by in (self.by_objcopy, self.by_srec_cat, self.by_intelhex)]
            others = [read for read in others if read is not NotImplemented]
            ours = self.by_cardseal(file, path)
            same = all(read is not None and read == others[0] for read in others)
            if file.verdict == "others":
                expected = digest(others[0]) if same else "what the others agree on"
                agreed += same and len(others) > 1
                alone += same and len(others) == 1
            else:
                expected = digest(file.image) if file.verdict is None else file.verdict
                differed.setdefault(file.kind, set()).add(same)
            if ours != expected:
                wrong.append(f"{path.name} ({file.kind}): {ours} instead of {expected}; others "
                             f"{[None if r is None else digest(r)[:8] for r in others]}")
        self.assertEqual([], wrong)
        self.assertGreaterEqual(agreed, 140)
        self.assertGreaterEqual(agreed + alone, 180)
        self.assertGreaterEqual(len(files), 200)
        # Nobody refuses what follows the end record, a missing end, or a wrong count in one tongue:
        # the table of verdicts is stricter there. In all else they must have differed, or refused.
        for kind, same in differed.items():
            if kind not in ("data after the end record", "no end record", "wrong count"):
                self.assertEqual({False}, same, kind)
        print(f"{len(files)} files, {agreed} on which at least two others agree, {alone} (ELF) with one")


if __name__ == "__main__":
    main()
