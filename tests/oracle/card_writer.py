"""Writes a small FAT32 card image for the tests: clusters of one sector, bare or in one partition.

Source: Microsoft FAT Specification (2005), as lib/format/SPEC-fat32.md cites it. Files lie one
after the other; only folders one level deep.
"""

import struct

from card import SECTOR

CLUSTERS = 65541
RESERVED = 32
FAT_SECTORS = (4 * (CLUSTERS + 2) + SECTOR - 1) // SECTOR
VOLUME = RESERVED + 2 * FAT_SECTORS + CLUSTERS
LAST = 0x0FFFFFFF


def entry(name, attribute, cluster, size):
    base, _, extension = name.partition(".")
    packed = b".".ljust(11) if name == "." else b"..".ljust(11) if name == ".." else \
        base.encode().ljust(8) + extension.encode().ljust(3)
    return packed + bytes([attribute]) + bytes(8) + struct.pack("<H", cluster >> 16) + \
        bytes(4) + struct.pack("<HI", cluster & 0xFFFF, size)


def boot_sector(start):
    boot = bytearray(SECTOR)
    boot[0:11] = b"\xeb\x58\x90ORACLE  "
    struct.pack_into("<HBHBHHBHHHII", boot, 11, SECTOR, 1, RESERVED, 2, 0, 0, 0xF8, 0, 63, 255,
                     start, VOLUME)
    struct.pack_into("<IHHIHH", boot, 36, FAT_SECTORS, 0, 0, 2, 1, 6)
    boot[64], boot[66] = 0x80, 0x29
    boot[71:90] = b"ORACLE     FAT32   "
    boot[510:] = b"\x55\xaa"
    return bytes(boot)


def partition_table(start):
    table = bytearray(SECTOR)
    struct.pack_into("<BBBBBBBBII", table, 446, 0, 0xFE, 0xFF, 0xFF, 0x0C, 0xFE, 0xFF, 0xFF,
                     start, VOLUME)
    table[510:] = b"\x55\xaa"
    return bytes(table)


class Placed:
    """Where everything lies once the files' sizes are known."""

    def __init__(self, start, sizes):
        self.start = start
        self.folders = sorted({path.split("/")[0] for path in sizes if "/" in path})
        self.chains = {}
        self.next = 2
        self.take("", self.folder_size(sizes, ""))
        for folder in self.folders:
            self.take(folder + "/", self.folder_size(sizes, folder))
        for path, size in sizes.items():
            self.take(path, size)

    def members(self, sizes, folder):
        if not folder:
            return self.folders + [p for p in sizes if "/" not in p]
        return [p for p in sizes if p.startswith(folder + "/")]

    def folder_size(self, sizes, folder):
        return 32 * (len(self.members(sizes, folder)) + 3)

    def take(self, path, size):
        count = (size + SECTOR - 1) // SECTOR
        self.chains[path] = range(self.next, self.next + count)
        self.next += count

    def lba(self, path):
        first = self.chains[path][0]
        return self.start + RESERVED + 2 * FAT_SECTORS + first - 2

    def first(self, path):
        chain = self.chains[path]
        return chain[0] if chain else 0


def folder_bytes(placed, files, folder):
    out = b""
    if folder:
        out += entry(".", 0x10, placed.first(folder + "/"), 0) + entry("..", 0x10, 0, 0)
    sizes = {path: len(content) for path, content in files.items()}
    for path in placed.members(sizes, folder):
        if path in placed.folders and not folder:
            out += entry(path, 0x10, placed.first(path + "/"), 0)
        else:
            out += entry(path.split("/")[-1], 0x20, placed.first(path), sizes[path])
    return out


def place(files, start=0):
    return Placed(start, {path: len(content) for path, content in files.items()})


def write(path, files, start=0):
    """`files`: short paths and contents; `start`: of the partition, 0: no partition table."""
    placed = place(files, start)
    fat = bytearray(4 * placed.next)
    struct.pack_into("<II", fat, 0, 0x0FFFFFF8, LAST)
    for chain in placed.chains.values():
        for cluster in chain:
            after = cluster + 1 if cluster + 1 in chain else LAST
            struct.pack_into("<I", fat, 4 * cluster, after)
    with open(path, "wb") as image:
        def put(lba, content):
            image.seek(lba * SECTOR)
            image.write(content)
        image.truncate((start + VOLUME) * SECTOR)
        if start:
            put(0, partition_table(start))
        info = b"RRaA" + bytes(480) + b"rrAa" + b"\xff" * 8 + bytes(14) + b"\x55\xaa"
        for copy in (0, 6):
            put(start + copy, boot_sector(start) + info + bytes(510) + b"\x55\xaa")
        for copy in (0, 1):
            put(start + RESERVED + copy * FAT_SECTORS, bytes(fat))
        put(placed.lba(""), folder_bytes(placed, files, ""))
        for folder in placed.folders:
            put(placed.lba(folder + "/"), folder_bytes(placed, files, folder))
        for name, content in files.items():
            if content:
                put(placed.lba(name), content)
