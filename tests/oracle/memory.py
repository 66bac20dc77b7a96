"""A station's memory, read and made by lib/format/SPEC-station.md alone: both slots as bytes."""

import hashlib
import struct
import zlib

import state_writer
from sealed import Refusal

SLOT, STRIDE, CRC_AT = 18436, state_writer.STRIDE, state_writer.CRC_AT
COMPLETE, OPEN, ERASED = state_writer.COMPLETE, 0x00, 0xFF
HEAD, ROOT_AT, TRUST_AT, TEXT = 256, 2048, 10240, 8192
STOPS_AT, MOST_STOPS, FREE_STOPS, MOST_MARKS = 1024, 32, 8, 8


def text_id(text):
    return bytes([len(text)]) + text.encode().ljust(16, b"\0")


def make(station, generation=1):
    """The store of a station as work would have left it, in slot 0."""
    low, high, step = station.supply_low, station.supply_high, station.supply_step
    root, trust = station.root.text, station.trust or b""
    place = station.trust_place() if station.trust else (0, 0)
    slot = bytearray(SLOT)
    slot[0:16] = bytes([COMPLETE]) + b"CSSTATE" + struct.pack(">HHI", 1, 0, generation)
    slot[16:50] = text_id(station.name) + text_id(station.model)
    slot[50] = station.own_supply_ok
    slot[51] = station.no_log
    slot[52:96] = struct.pack(">IIIIIHHIIBBB9x", station.slots, low, high, step, station.enrolment,
                              len(root), len(trust), *place, len(station.kept),
                              len(station.marks), len(station.stops))
    slot[96:192] = bytes.fromhex(station.root.owner[7:]) + hashlib.sha256(root).digest() + (
        hashlib.sha256(trust).digest() if trust else bytes(32))

    def put(at, content):
        slot[at:at + len(content)] = content
    for at, each in enumerate(station.kept):
        put(state_writer.KEPT_AT + 64 * at, state_writer.kept_bytes(*each))
    for at, (product, mark) in enumerate(station.marks.items()):
        put(state_writer.MARKS_AT + 64 * at, state_writer.mark_bytes(product, *mark))
    put(STOPS_AT, b"".join(station.stops))
    put(ROOT_AT, root)
    put(TRUST_AT, trust)
    put(CRC_AT, struct.pack(">I", zlib.crc32(bytes(slot[:CRC_AT]))))
    store = bytes(slot).ljust(STRIDE, b"\xff")
    return bytearray(store + b"\xff" * STRIDE)


def newest(store):
    """The slot that counts; 601 when none was ever completed, 602 when one of them is not whole."""
    slots = []
    for at in (0, STRIDE):
        slot = bytes(store[at:at + SLOT])
        if slot[0] in (OPEN, ERASED):
            continue
        if not whole(slot):
            raise Refusal(602)
        slots.append(slot)
    if not slots:
        raise Refusal(601)
    generations = [slot[12:16] for slot in slots]
    if len(set(generations)) < len(generations):
        raise Refusal(602)
    return max(slots, key=lambda slot: slot[12:16])


def whole(slot):
    return (slot[:10] == bytes([COMPLETE]) + b"CSSTATE\0\1" and
            struct.unpack_from(">I", slot, CRC_AT)[0] == zlib.crc32(slot[:CRC_AT]))


def learned(store):
    """What admission may change: text of the root, of the list, and the marks of the stops."""
    slot = newest(store)
    root_size, trust_size = struct.unpack_from(">HH", slot, 72)
    stops = [slot[STOPS_AT + 32 * at:STOPS_AT + 32 * at + 32] for at in range(slot[86])]
    return {"root": slot[ROOT_AT:ROOT_AT + root_size], "stops": stops,
            "trust": slot[TRUST_AT:TRUST_AT + trust_size] or None,
            "work": (slot[84:86], slot[state_writer.KEPT_AT:STOPS_AT])}
