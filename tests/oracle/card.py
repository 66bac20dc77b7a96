"""Finds files on a card: a FAT32 volume, bare or in the one partition of a master boot record.
Only what is needed to read CARDSEAL/* and its neighbours; long names are passed over."""

import itertools
import struct

from sealed import Refusal

SECTOR = 512
END = 0x0FFFFFF8
MOST_ENTRIES = 65536  # of a folder, 2 MiB: lib/format/SPEC-fat32.md


def short_name(name):
    """As it stands in a folder's entry; 511 when it is no 8.3 name."""
    base, dot, extension = name.partition(".")
    if not 1 <= len(base) <= 8 or len(extension) > 3 or "." in extension or dot and not extension:
        raise Refusal(511)
    return base.encode().ljust(8) + extension.encode().ljust(3)


def is_volume(sector):
    """Microsoft FAT Specification (2005), 3.1: the jump, the type's name, the signature."""
    return (sector[510:] == b"\x55\xaa" and sector[82:90] == b"FAT32   " and
            (sector[0] == 0xE9 or sector[0] == 0xEB and sector[2] == 0x90))


def volume_form_ok(boot):
    """The fields of section 3.1 to 3.3 that have one value, or few, on a FAT32 volume."""
    size, per_cluster, reserved, fats, root_entries, total_16, media, fat_16 = \
        struct.unpack_from("<HBHBHHBH", boot, 11)
    flags, version = struct.unpack_from("<HH", boot, 40)
    return (is_volume(boot) and size == SECTOR and per_cluster in (1, 2, 4, 8, 16, 32, 64, 128) and
            reserved and fats in (1, 2) and (root_entries, total_16, fat_16, version) == (0,) * 4 and
            not flags & 0x80 and (media == 0xF0 or media >= 0xF8))


class Piecewise:
    """Bytes of a file on a card; only the sectors of a slice are read."""

    def __init__(self, card, clusters, size):
        self.card, self.clusters, self.size = card, clusters, size

    def __len__(self):
        return self.size

    def __getitem__(self, piece):
        first, last, _ = piece.indices(self.size)
        if first >= last:
            return b""
        per_cluster = self.card.per_cluster
        start = first // SECTOR
        sectors = range(start, (last - 1) // SECTOR + 1)
        data = b"".join(self.card.sector(self.card.lba_of(self.clusters[at // per_cluster])
                                         + at % per_cluster) for at in sectors)
        return data[first - start * SECTOR:last - start * SECTOR]


class Card:
    """`broken`: a sector that can't be read."""

    def __init__(self, file, broken=None):
        self.file = file
        self.broken = broken
        self.file.seek(0, 2)
        self.sectors = self.file.tell() // SECTOR
        self.start, room = self.find_volume()
        self.read_boot(self.sector(self.start), room)

    def sector(self, lba, count=1):
        if lba + count > self.sectors or self.broken is not None and \
                lba <= self.broken < lba + count:
            raise Refusal(501, lba)
        self.file.seek(lba * SECTOR)
        return self.file.read(count * SECTOR)

    def find_volume(self):
        """(first sector, sectors) of the volume: the whole card, or what its one partition has."""
        first = self.sector(0)
        if is_volume(first):
            return 0, self.sectors
        entries = [first[446 + 16 * i:462 + 16 * i] for i in range(4)]
        used = [e[4] != 0 for e in entries]
        start, count = struct.unpack_from("<II", entries[0], 8)
        if first[510:] != b"\x55\xaa" or used != [True, False, False, False] or \
                entries[0][4] not in (0x0B, 0x0C) or start == 0 or start + count > self.sectors or \
                start >= self.sectors:
            raise Refusal(502)
        return start, count

    def read_boot(self, boot, room):
        self.per_cluster, reserved, fats = struct.unpack_from("<BHB", boot, 13)
        total, fat_size = struct.unpack_from("<II", boot, 32)
        self.root = struct.unpack_from("<I", boot, 44)[0]
        before = reserved + fats * fat_size
        if not volume_form_ok(boot) or total > room or before >= total:
            raise Refusal(503, self.start)
        self.fat_lba = self.start + reserved
        self.data_lba = self.start + before
        self.clusters = (total - before) // self.per_cluster
        if self.clusters < 65525 or fat_size * SECTOR // 4 < self.clusters + 2 or \
                not self.is_cluster(self.root):
            raise Refusal(503, self.start)

    def is_cluster(self, number):
        return 2 <= number < self.clusters + 2

    def lba_of(self, cluster):
        return self.data_lba + (cluster - 2) * self.per_cluster

    def fat(self, cluster):
        table = self.sector(self.fat_lba + cluster * 4 // SECTOR)
        return struct.unpack_from("<I", table, cluster * 4 % SECTOR)[0] & 0x0FFFFFFF

    def chain(self, cluster):
        """One cluster after the other, as far as somebody asks."""
        while cluster < END:
            if not self.is_cluster(cluster):
                raise Refusal(504)
            yield cluster
            cluster = self.fat(cluster)

    def sectors_of(self, cluster):
        """Of a folder, up to as many as its most entries need."""
        if not self.is_cluster(cluster):
            raise Refusal(504)
        for at, each in enumerate(self.chain(cluster)):
            for inside in range(self.per_cluster):
                if at * self.per_cluster + inside == MOST_ENTRIES * 32 // SECTOR:
                    raise Refusal(504)
                yield self.lba_of(each) + inside

    def entries(self, cluster):
        """Of a folder: (name, is folder, first cluster, size, place of the entry in the image)."""
        for lba in self.sectors_of(cluster):
            data = self.sector(lba)
            for at in range(0, SECTOR, 32):
                entry = data[at:at + 32]
                if entry[0] == 0:
                    return
                if entry[11] & 0x08:
                    continue
                high, low = struct.unpack_from("<H", entry, 20)[0], \
                    struct.unpack_from("<HI", entry, 26)
                yield (entry[:11], bool(entry[11] & 0x10), (high << 16 | low[0]) & 0x0FFFFFFF, low[1],
                       lba * SECTOR + at)

    def find(self, path):
        """(clusters, size, place of the directory entry); 505 when it is not there."""
        cluster, size, place = self.root, 0, 0
        parts = path.split("/")
        for at, part in enumerate(parts):
            name, folder = short_name(part), at + 1 < len(parts)
            for entry in self.entries(cluster):
                if entry[:2] == (name, folder):
                    _, _, cluster, size, place = entry
                    break
            else:
                raise Refusal(505, 0, path)
        return self.clusters_of(cluster, size), size, place

    def clusters_of(self, cluster, size):
        """Exactly as many as the size needs; 504 otherwise."""
        count = -(-size // (self.per_cluster * SECTOR))
        if count == 0:
            if cluster:
                raise Refusal(504)
            return []
        if not self.is_cluster(cluster) or count > self.clusters:
            raise Refusal(504)
        clusters = list(itertools.islice(self.chain(cluster), count))
        if len(clusters) < count or self.fat(clusters[-1]) < END:
            raise Refusal(504)
        return clusters

    def read(self, path):
        clusters, size, _ = self.find(path)
        data = b"".join(self.sector(self.lba_of(c), self.per_cluster) for c in clusters)
        return data[:size]

    def piecewise(self, path):
        """The file as bytes that are read where somebody looks."""
        clusters, size, _ = self.find(path)
        return Piecewise(self, clusters, size)

    def has(self, path):
        try:
            self.find(path)
        except Refusal as refusal:
            if refusal.reason == 505:
                return False
            raise
        return True

    def extent(self, path):
        """(first sector, sectors); None when the clusters do not follow one another."""
        clusters, size, _ = self.find(path)
        if not clusters or size % SECTOR or \
                clusters != list(range(clusters[0], clusters[0] + len(clusters))):
            return None
        return self.lba_of(clusters[0]), size // SECTOR
