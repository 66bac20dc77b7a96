"""Finds files on a card: a FAT32 volume, bare or in the one partition of a master boot record.
Only what is needed to read CARDSEAL/* and its neighbours; long names are passed over."""

import struct

from sealed import Refusal

SECTOR = 512
END = 0x0FFFFFF8


class Card:
    def __init__(self, file):
        self.file = file
        self.file.seek(0, 2)
        self.sectors = self.file.tell() // SECTOR
        self.start = self.find_volume()
        self.read_boot(self.sector(self.start))

    def sector(self, lba, count=1):
        if lba + count > self.sectors:
            raise Refusal(504, lba)
        self.file.seek(lba * SECTOR)
        return self.file.read(count * SECTOR)

    def find_volume(self):
        first = self.sector(0)
        if first[510:] != b"\x55\xaa":
            raise Refusal(502)
        if first[82:90] == b"FAT32   " and first[0] in (0xEB, 0xE9):
            return 0
        entries = [first[446 + 16 * i:462 + 16 * i] for i in range(4)]
        used = [e for e in entries if e[4] != 0]
        if len(used) != 1 or used[0][4] not in (0x0B, 0x0C):
            raise Refusal(502)
        return struct.unpack_from("<I", used[0], 8)[0]

    def read_boot(self, boot):
        size, self.per_cluster, reserved, fats = struct.unpack_from("<HBHB", boot, 11)
        total, fat_size = struct.unpack_from("<II", boot, 32)
        self.root = struct.unpack_from("<I", boot, 44)[0]
        if boot[510:] != b"\x55\xaa" or size != SECTOR or not self.per_cluster or not fats:
            raise Refusal(503, self.start)
        self.fat_lba = self.start + reserved
        self.data_lba = self.fat_lba + fats * fat_size
        self.clusters = (self.start + total - self.data_lba) // self.per_cluster
        if self.clusters < 65525 or self.start + total > self.sectors:
            raise Refusal(503, self.start)

    def lba_of(self, cluster):
        return self.data_lba + (cluster - 2) * self.per_cluster

    def fat(self, cluster):
        table = self.sector(self.fat_lba + cluster * 4 // SECTOR)
        return struct.unpack_from("<I", table, cluster * 4 % SECTOR)[0] & 0x0FFFFFFF

    def chain(self, cluster):
        out = []
        while cluster < END:
            if not 2 <= cluster < self.clusters + 2 or len(out) > self.clusters:
                raise Refusal(504)
            out.append(cluster)
            cluster = self.fat(cluster)
        return out

    def entries(self, cluster):
        """Of a folder: (name, is folder, first cluster, size, place of the entry in the image)."""
        for each in self.chain(cluster):
            lba = self.lba_of(each)
            data = self.sector(lba, self.per_cluster)
            for at in range(0, len(data), 32):
                entry = data[at:at + 32]
                if entry[0] == 0:
                    return
                if entry[0] == 0xE5 or entry[11] & 0x08:
                    continue
                base, extension = entry[:8].rstrip(b" "), entry[8:11].rstrip(b" ")
                name = (base + (b"." + extension if extension else b"")).decode("latin-1")
                high, low = struct.unpack_from("<H", entry, 20)[0], \
                    struct.unpack_from("<HI", entry, 26)
                yield (name, bool(entry[11] & 0x10), high << 16 | low[0], low[1],
                       lba * SECTOR + at)

    def find(self, path):
        """(clusters, size, place of the directory entry); 505 when it is not there."""
        cluster, size, place, folder = self.root, 0, 0, True
        for part in path.split("/"):
            if not folder:
                raise Refusal(505)
            for entry in self.entries(cluster):
                if entry[0] == part:
                    _, folder, cluster, size, place = entry
                    break
            else:
                raise Refusal(505, 0, path)
        if folder:
            raise Refusal(505, 0, path)
        clusters = self.chain(cluster) if cluster else []
        each = self.per_cluster * SECTOR
        if len(clusters) != (size + each - 1) // each:
            raise Refusal(504, 0, path)
        return clusters, size, place

    def read(self, path):
        clusters, size, _ = self.find(path)
        data = b"".join(self.sector(self.lba_of(c), self.per_cluster) for c in clusters)
        return data[:size]

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
        following = clusters == list(range(clusters[0], clusters[0] + len(clusters)))
        if not following or size % SECTOR:
            return None
        return self.lba_of(clusters[0]), size // SECTOR
