"""A station's memory as bytes, by lib/format/SPEC-station.md alone: what a station that has worked
would hold, patched into the memory that enrolment made."""

import struct
import zlib

STRIDE = 20480
CRC_AT = 18432
COMPLETE = 0xA5
KEPT_COUNT, MARK_COUNT = 84, 85
KEPT_AT, MARKS_AT, EACH = 256, 512, 64


def raw(digest):
    return bytes.fromhex(digest[7:])


def kept_bytes(serial, ordinals, units, text):
    return struct.pack(">QQI", serial, ordinals, units) + bytes(12) + raw(text)


def mark_bytes(product, epoch, sequence, manifest):
    name = product.encode()
    return bytes([len(name)]) + name.ljust(16, b"\0") + bytes(3) + \
        struct.pack(">IQ", epoch, sequence) + raw(manifest)


def newest_slot(store):
    slots = [at for at in (0, STRIDE) if store[at] == COMPLETE]
    return max(slots, key=lambda at: struct.unpack_from(">I", store, at + 12)[0])


def patch(path, kept, marks):
    """`kept`: (serial, ordinals, units, text); `marks`: product to (epoch, sequence, manifest)."""
    with open(path, "rb") as file:
        store = bytearray(file.read())
    slot = newest_slot(store)
    store[slot + KEPT_COUNT], store[slot + MARK_COUNT] = len(kept), len(marks)
    for at, each in enumerate(kept):
        start = slot + KEPT_AT + at * EACH
        store[start:start + EACH] = kept_bytes(*each)
    for at, (product, mark) in enumerate(marks.items()):
        start = slot + MARKS_AT + at * EACH
        store[start:start + EACH] = mark_bytes(product, *mark)
    crc = zlib.crc32(bytes(store[slot:slot + CRC_AT]))
    store[slot + CRC_AT:slot + CRC_AT + 4] = struct.pack(">I", crc)
    with open(path, "wb") as file:
        file.write(store)
