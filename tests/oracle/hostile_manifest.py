"""Manifests and contents that hostile.py's sign-offs cover, and that are wrong in one thing."""

import container
from admission import digest
from hostile import OTHER, before, case, each, late, plan, product_line, trusts


each(361, {"a manifest of another owner": late(owner=OTHER)})


@case(362)
def withdrawn(w):
    w.trust["manifest"] = [(digest(w.copy().package().manifest),)]


each(0, {
    "another was withdrawn": trusts(manifest=[(OTHER,)]),
    "at the floor": lambda w: product_line(w.manifest["epoch"], w.manifest["sequence"])(w),
    "a title with NOT SHIP inside": before(title="IS NOT SHIPPED"),
})
each(363, {
    "no product on the list": trusts(product=[]),
    "another product on the list": trusts(product=[("other", 0, 1)]),
})
each(364, {
    "a higher epoch is in force": lambda w: product_line(w.manifest["epoch"] + 1, 1)(w),
    "an epoch ahead of the list": lambda w: w.manifest.update(epoch=w.manifest["epoch"] + 1),
})
each(365, {"below the floor": lambda w: product_line(w.manifest["epoch"],
                                                     w.manifest["sequence"] + 1)(w)})
each(369, {
    "NOT SHIP signed off for production": before(title="NOT SHIP"),
    "NOT SHIPPED signed off for production": before(title="NOT SHIPPED"),
    "engineering without NOT SHIP": plan("engineering"),
    "engineering with not ship": lambda w: (before(title="not ship node")(w),
                                            plan("engineering")(w)),
    "engineering with NOT SHIP inside": lambda w: (before(title="X NOT SHIP")(w),
                                                   plan("engineering")(w)),
})


def segments(*pieces):
    def bend(w):
        w.late["segment"] = list(pieces)
        w.image = bytes(range(256)) * 64
        w.image = w.image[:sum(size for _, size in pieces)]
    return bend


each(0, {
    "two segments": segments((0, 256), (1024, 256)),
    "a segment up to the last address": segments((0, 16), ((1 << 32) - 16, 16)),
    "one byte": segments((0, 1)),
    "a block and a byte": segments((0, 4097)),
    "whole blocks": segments((0, 8192)),
    "segments a byte apart": segments((0, 256), (257, 256)),
})
each(370, {
    "segments overlap": segments((0, 256), (255, 256)),
    "segments at one address": segments((0, 255), (0, 256)),
    "segments touch": segments((0, 256), (256, 256)),
    "a segment past the last address": segments((0, 16), ((1 << 32) - 16, 17)),
    "segments fewer than the image": lambda w: (segments((0, 256))(w),
                                                setattr(w, "image", bytes(257))),
    "segments more than the image": lambda w: (segments((0, 256))(w),
                                               setattr(w, "image", bytes(255))),
})
each(208, {
    "image longer than stated": lambda w: (
        segments((0, 512))(w), w.late.update(image=(512, OTHER)),
        setattr(w, "image", bytes(511))),
    "another image digest": lambda w: w.late.update(image=(len(w.image), OTHER)),
    "another facts digest": lambda w: w.late.update(facts=(1, OTHER)),
    "facts a byte longer": lambda w: setattr(
        w, "bend_package", lambda p: setattr(p, "facts", p.facts + b"\n")),
    "other facts": lambda w: setattr(
        w, "bend_package", lambda p: setattr(p, "facts", p.facts[:-2] + b"x\n")),
    "facts of another product": lambda w: w.facts.update(product="other"),
    "facts of another release": lambda w: w.facts.update(release="0.0.0"),
    "facts of another owner": lambda w: w.bend.update(
        facts=lambda t: t.replace(w.owner().encode(), OTHER.encode())),
    "another chain head": late(chain_head=OTHER),
    "a chain one link short": lambda w: setattr(w, "links", container.chain(w.image)[:-32] or
                                                b"\0" * 32),
    "a chain one link long": lambda w: setattr(w, "links",
                                               container.chain(w.image) + bytes(32)),
    "a chain a byte short": lambda w: setattr(w, "links", container.chain(w.image)[:-1]),
    "an extra document": lambda w: setattr(
        w, "bend_package", lambda p: p.documents.append(("zz.txt", b"not sealed"))),
    "a document missing": lambda w: (
        w.documents.append(("zz.txt", b"sealed")),
        setattr(w, "bend_package", lambda p: p.documents.pop())),
    "a document renamed": lambda w: (
        w.documents.append(("zz.txt", b"sealed")),
        setattr(w, "bend_package",
                lambda p: p.documents.__setitem__(-1, ("zy.txt", b"sealed")))),
    "a document changed": lambda w: (
        w.documents.append(("zz.txt", b"sealed")),
        setattr(w, "bend_package",
                lambda p: p.documents.__setitem__(-1, ("zz.txt", b"seal-d")))),
    "a document cut": lambda w: (
        w.documents.append(("zz.txt", b"sealed")),
        setattr(w, "bend_package",
                lambda p: p.documents.__setitem__(-1, ("zz.txt", b"seal")))),
})


def three_blocks(entry, change):
    """An image of three different blocks, then the entry changed."""
    def bend(w):
        segments((0, 12288))(w)
        w.image = bytes(4096) + b"\1" * 4096 + b"\2" * 4096
        w.bend_package = lambda p: setattr(p, entry, change(getattr(p, entry)))
    return bend


each(510, {
    "another image": lambda w: setattr(
        w, "bend_package",
        lambda p: setattr(p, "image", p.image[:-1] + bytes([p.image[-1] ^ 1]))),
    "another first byte": lambda w: setattr(
        w, "bend_package", lambda p: setattr(p, "image", bytes([p.image[0] ^ 1]) + p.image[1:])),
    "blocks exchanged": three_blocks("image", lambda i: i[4096:8192] + i[:4096] + i[8192:]),
    "another second link": three_blocks("chain", lambda c: c[:32] + bytes(32) + c[64:]),
    "another last link": three_blocks("chain", lambda c: c[:-1] + bytes([c[-1] ^ 1])),
})

# Serials: FN and six digits, step 1, unless a case says otherwise


def serials(scheme, part, placement, kept=(), alphabet=None, crc=None, excluded=()):
    placement = [p if p[4] != "all" else (*p[:4], (1, len(part)), *p[5:]) for p in placement]
    return lambda w: w.manifest.update({
        "scheme": scheme, "alphabet": alphabet, "serial-crc": crc, "excluded-range": list(excluded),
        "part": list(part), "placement": placement, "kept-range": list(kept)})


def place(region, address, size, encoding, before="erased", parts="all", padding=None, second=None,
          crc="no"):
    parts = None if encoding.startswith("binary") else parts
    return region, address, size, encoding, parts, padding, second, crc, before


S = ("fn-serial", 1, 1, 999999)
FN = (1, "literal", "FN", None, None, None)
SIX = (2, "number", None, 10, 6, None)

FREE = 0x7f00

each(111, {
    "a number twice": serials(S, [(1, "number", None, 10, 6, None), SIX], [
        place("flash", FREE, 12, "ascii", "erased")]),
    "a literal only": serials(S, [FN], [place("flash", FREE, 4, "binary-be", "erased")]),
})
each(0, {
    "no serials": serials(None, [], []),
    "a scheme without placements": serials(S, [FN, SIX], []),
    "text and both binaries": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased"), place("flash", FREE + 8, 3, "binary-be", "erased"),
        place("flash", FREE + 11, 8, "binary-le", "erased")]),
    "the largest number in three bytes": serials(("s", 0, 1, 1 << 24), [
        (1, "number", None, 10, 8, None)], [place("flash", FREE, 3, "binary-be", "erased")]),
    "in another region": serials(S, [FN, SIX], [place("eeprom", 0, 8, "ascii", "erased")]),
    "placements side by side": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased"), place("flash", FREE + 8, 8, "ascii", "erased")]),
})
each(371, {
    "a text longer than its place": serials(S, [FN, SIX], [
        place("flash", FREE, 7, "ascii", "erased")]),
    "a text shorter than its place": serials(S, [FN, SIX], [
        place("flash", FREE, 9, "ascii", "erased")]),
    "a number of nine bytes": serials(S, [FN, SIX], [
        place("flash", FREE, 9, "binary-be", "erased")]),
})
each(None, {
    "the last number has too many bytes": serials(("s", 1, 1, 1 << 24), [
        (1, "number", None, 10, 8, None)], [place("flash", FREE, 3, "binary-be", "erased")]),
    "the last number has too many digits": serials(("s", 1, 1, 1000000), [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased")]),
    "the last number has too many digits, not placed": serials(
        ("s", 1, 1, 1000000), [FN, SIX], []),
    "the last number past the largest": serials(
        ("s", 9999999999999999999, 1, 2), [(1, "number", None, 10, 19, None)], []),
    "a step past the largest": serials(
        ("s", 9999999999999999000, 999999, 1000000000000), [(1, "number", None, 10, 19, None)], []),
    "placements overlap": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased"), place("flash", FREE + 7, 8, "ascii", "erased")]),
    "placements overlap in two regions": serials(S, [FN, SIX], [
        place("eeprom", FREE, 8, "ascii", "erased"), place("flash", FREE + 7, 8, "ascii", "erased")]),
    "a placement in a kept range": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased")], [("flash", FREE, 1)]),
    "a placement in another region's kept range": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "erased")], [("eeprom", FREE, 1)]),
    "a placement past the last address": serials(S, [FN, SIX], [
        place("flash", (1 << 32) - 4, 8, "ascii", "erased")]),
    "a placement up to the last address": serials(S, [FN, SIX], [
        place("flash", (1 << 32) - 8, 8, "ascii", "erased")]),
    "an erased placement inside the image": serials(S, [FN, SIX], [
        place("flash", 0, 8, "ascii", "erased")]),
    "a placeholder outside the image": serials(S, [FN, SIX], [
        place("flash", FREE, 8, "ascii", "placeholder")]),
    "a placeholder inside the image": serials(S, [FN, SIX], [
        place("flash", 0, 8, "ascii", "placeholder")]),
    "a kept range past the last address": serials(S, [FN, SIX], [], [
        ("flash", (1 << 32) - 1, 2)]),
    "a kept range over the image": serials(S, [FN, SIX], [], [("flash", 0, 16)]),
    "a text of more than 64 characters": serials(
        S, [(i, "number", None, 10, 19, None) for i in range(1, 9)], []),
    "the last number is behind the excluded ones and has too many digits": serials(
        ("s", 1, 1, 999999), [FN, SIX], [], excluded=[(5, 5)]),
    "no slots permitted": before(slots="00000000"),
    "device id value outside its mask": before(device_id=(3, "ffffff", "000000")),
    "device id of eight bytes": before(device_id=(8, "00" * 8, "ff" * 8)),
})

# Every kind of part, encoding and addition


def literal(index, text):
    return index, "literal", text, None, None, None


def number(index, base=10, width=6):
    return index, "number", None, base, width, None


def check(index, kind, first):
    return index, "check", None, None, None, (kind, first)


def made(*part, **more):
    """A scheme of these parts, with the places that `at` names."""
    at = more.pop("at", [place("flash", FREE, 8, "binary-le")])
    return serials(more.pop("scheme", S), part, at, **more)


KINDS = ("luhn", "mod-11-2", "mod-37-2", "mod-97-10", "mod-11-10", "mod-37-36", "gs1-mod-10", "damm",
         "verhoeff")
HEX_LOW = "0123456789abcdef"
CLASS = (2, "class", "EPNRS", None, None, None)
XMODEM = ("CRC-16/XMODEM", "be")

each(0, {f"a check by {kind}": made(
    literal(1, "N"), number(2), check(3, kind, 2),
    at=[place("flash", FREE, 9 if kind == "mod-97-10" else 8, "ascii")]) for kind in KINDS})
each(0, {
    "two checks": made(number(1), check(2, "luhn", 1), literal(3, "7"), check(4, "damm", 3)),
    "letters under a check that knows them": made(literal(1, "AZ"), number(2, 36), check(
        3, "mod-37-36", 1), at=[place("flash", FREE, 9, "ascii")]),
    "an alphabet": made(number(1, 16), alphabet=HEX_LOW, at=[place("flash", FREE, 6, "ascii")]),
    "an alphabet without what confuses": made(
        number(1, 31, 5), alphabet="23456789ABCDEFGHJKLMNPQRSTUVWXZ",
        at=[place("flash", FREE, 5, "ascii")]),
    "a class": made(literal(1, "FN"), CLASS, number(3), at=[place("flash", FREE, 9, "ascii")]),
    "numbers left out": made(literal(1, "FN"), number(2, 10, 7), excluded=[
        (0, 0), (2, 5), (13, 13), (666, 666), (1000, 99999), (9999999, 9999999999999999999)],
        scheme=("s", 1, 3, 300000)),
    "every number at first left out": made(number(1, 10, 7), excluded=[(0, 1500)],
                                           scheme=("s", 1, 7, 999)),
    "digits packed": made(literal(1, "FN"), number(2), at=[
        place("flash", FREE, 3, "packed-be", parts=(2, 2)),
        place("flash", FREE + 3, 3, "packed-le", parts=(2, 2))]),
    "a block of 28 bits, packed": made(literal(1, "70B3D5A"), number(2, 16, 5), at=[
        place("eeprom", 0, 6, "packed-be"), place("eeprom", 8, 6, "packed-le")]),
    "wide characters": made(literal(1, "FN"), number(2), at=[place("flash", FREE, 16, "utf-16le")]),
    "the longest place": made(literal(1, "F" * 16), literal(2, "G" * 16), literal(3, "H" * 16),
                              number(4, 10, 16), at=[place("flash", FREE, 128, "utf-16le")]),
    "padding and CRC": made(literal(1, "FN"), number(2), crc=XMODEM, at=[
        place("flash", FREE, 16, "ascii", padding="ff", crc="yes"),
        place("flash", FREE + 16, 6, "binary-be", crc="yes")]),
    "a CRC by parameters": made(number(1), crc=("8/07/00/n/00", "le"), at=[
        place("flash", FREE, 7, "ascii", crc="yes")]),
    "a reflected CRC of 24 bits": made(number(1), crc=("24/864cfb/b704ce/r/000001", "le"), at=[
        place("flash", FREE, 9, "ascii", crc="yes")]),
    "one byte a word": made(number(1), crc=XMODEM, at=[
        place("flash", FREE, 16, "ascii", second="34", crc="yes"),
        place("flash", FREE + 16, 8, "binary-be", second="34")]),
})
each(111, {
    "an alphabet with a character twice": made(number(1, 3), alphabet="010"),
    "an alphabet of one": made(number(1, 2), alphabet="0"),
    "the standard digits as alphabet": made(number(1, 10), alphabet="0123456789"),
    "an alphabet of another length than the base": made(number(1, 10), alphabet=HEX_LOW),
    "a CRC nobody knows": made(number(1), crc=("CRC-16/NONE", "be")),
    "a CRC by parameters that the catalogue names": made(number(1), crc=("16/1021/0000/n/0000",
                                                                         "be")),
    "ranges that touch": made(number(1), excluded=[(5, 6), (7, 8)]),
    "ranges that overlap": made(number(1), excluded=[(5, 9), (7, 8)]),
    "a check without parts before it": made(check(1, "luhn", 1), number(2)),
    "a check over itself": made(number(1), check(2, "luhn", 2)),
    "a check over a check": made(number(1), check(2, "luhn", 1), check(3, "damm", 1)),
    "a letter under luhn": made(literal(1, "F"), number(2), check(3, "luhn", 1)),
    "hex digits under luhn": made(number(1, 16), check(2, "luhn", 1)),
    "small letters under mod-37-36": made(literal(1, "f"), number(2), check(3, "mod-37-36", 1)),
    "a hyphen under mod-37-2": made(literal(1, "-"), number(2), check(3, "mod-37-2", 1)),
    "letters of a class under damm": made(number(1), CLASS, check(3, "damm", 1)),
    "a class of four": made(number(1), (2, "class", "EPNR", None, None, None)),
    "a class with a character twice": made(number(1), (2, "class", "EPNRR", None, None, None)),
    "a date code of 17 characters": made(number(1), (2, "date-code", None, None, 17, None)),
    "a date code with a base": made(number(1), (2, "date-code", None, 10, 4, None)),
    "a literal with digits": made(number(1), (2, "literal", "FN", None, 2, None)),
    "a check with a literal": made(number(1), (2, "check", "F", None, None, ("luhn", 1))),
    "a number without a base": made((1, "number", None, None, 6, None)),
    "a binary place with parts": made(number(1), at=[
        ("flash", FREE, 4, "binary-be", (1, 1), None, None, "no", "erased")]),
    "a text place without": made(number(1), at=[
        ("flash", FREE, 6, "ascii", None, None, None, "no", "erased")]),
    "an alphabet without a scheme": serials(None, [], [], alphabet=HEX_LOW),
    "a CRC without a scheme": serials(None, [], [], crc=XMODEM),
    "excluded numbers without a scheme": serials(None, [], [], excluded=[(1, 1)]),
})
each(371, {
    "parts that are not there": made(number(1), at=[place("flash", FREE, 6, "ascii",
                                                          parts=(1, 2))]),
    "an odd count packed": made(number(1, 10, 7), at=[place("flash", FREE, 4, "packed-be")]),
    "a letter above F packed": made(literal(1, "FN"), number(2), at=[
        place("flash", FREE, 4, "packed-be")]),
    "small hex packed": made(number(1, 16), alphabet=HEX_LOW, at=[
        place("flash", FREE, 3, "packed-be")]),
    "base 36 packed": made(number(1, 36), at=[place("flash", FREE, 3, "packed-be")]),
    "a check that can be X packed": made(number(1, 10, 5), check(2, "mod-11-2", 1), at=[
        place("flash", FREE, 3, "packed-be")]),
    "wide characters in half the room": made(number(1), at=[place("flash", FREE, 6, "utf-16le")]),
    "padding without room": made(number(1), at=[place("flash", FREE, 6, "ascii", padding="20")]),
    "padding behind a number": made(number(1), at=[place("flash", FREE, 6, "binary-be",
                                                         padding="20")]),
    "a CRC that the scheme lacks": made(number(1), at=[place("flash", FREE, 8, "ascii",
                                                             crc="yes")]),
    "nothing but the CRC": made(number(1), crc=XMODEM, at=[place("flash", FREE, 2, "binary-be",
                                                                 crc="yes")]),
    "words of two in an odd length": made(number(1), at=[place("flash", FREE, 13, "ascii",
                                                               second="34")]),
    "words of two in half the room": made(number(1), at=[place("flash", FREE, 6, "ascii",
                                                               second="34")]),
})
