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


def serials(scheme, part, placement, kept=()):
    return lambda w: w.manifest.update({
        "scheme": scheme, "part": list(part), "placement": list(placement),
        "kept-range": list(kept)})


S = ("fn-serial", 1, 1, 999999)
FN = (1, "literal", "FN", None, None)
SIX = (2, "number", None, 10, 6)

FREE = 0x7f00

each(111, {
    "a number twice": serials(S, [(1, "number", None, 10, 6), SIX], [
        ("flash", FREE, 12, "ascii", "erased")]),
    "a literal only": serials(S, [FN], [("flash", FREE, 4, "binary-be", "erased")]),
})
each(0, {
    "no serials": serials(None, [], []),
    "a scheme without placements": serials(S, [FN, SIX], []),
    "text and both binaries": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased"), ("flash", FREE + 8, 3, "binary-be", "erased"),
        ("flash", FREE + 11, 8, "binary-le", "erased")]),
    "the largest number in three bytes": serials(("s", 0, 1, 1 << 24), [
        (1, "number", None, 10, 8)], [("flash", FREE, 3, "binary-be", "erased")]),
    "in another region": serials(S, [FN, SIX], [("eeprom", 0, 8, "ascii", "erased")]),
    "placements side by side": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased"), ("flash", FREE + 8, 8, "ascii", "erased")]),
})
each(371, {
    "a text longer than its place": serials(S, [FN, SIX], [
        ("flash", FREE, 7, "ascii", "erased")]),
    "a text shorter than its place": serials(S, [FN, SIX], [
        ("flash", FREE, 9, "ascii", "erased")]),
    "a number of nine bytes": serials(S, [FN, SIX], [
        ("flash", FREE, 9, "binary-be", "erased")]),
})
each(None, {
    "the last number has too many bytes": serials(("s", 1, 1, 1 << 24), [
        (1, "number", None, 10, 8)], [("flash", FREE, 3, "binary-be", "erased")]),
    "the last number has too many digits": serials(("s", 1, 1, 1000000), [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased")]),
    "the last number has too many digits, not placed": serials(
        ("s", 1, 1, 1000000), [FN, SIX], []),
    "the last number past the largest": serials(
        ("s", 9999999999999999999, 1, 2), [(1, "number", None, 10, 19)], []),
    "a step past the largest": serials(
        ("s", 9999999999999999000, 999999, 1000000000000), [(1, "number", None, 10, 19)], []),
    "placements overlap": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased"), ("flash", FREE + 7, 8, "ascii", "erased")]),
    "placements overlap in two regions": serials(S, [FN, SIX], [
        ("eeprom", FREE, 8, "ascii", "erased"), ("flash", FREE + 7, 8, "ascii", "erased")]),
    "a placement in a kept range": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased")], [("flash", FREE, 1)]),
    "a placement in another region's kept range": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased")], [("eeprom", FREE, 1)]),
    "a placement past the last address": serials(S, [FN, SIX], [
        ("flash", (1 << 32) - 4, 8, "ascii", "erased")]),
    "a placement up to the last address": serials(S, [FN, SIX], [
        ("flash", (1 << 32) - 8, 8, "ascii", "erased")]),
    "an erased placement inside the image": serials(S, [FN, SIX], [
        ("flash", 0, 8, "ascii", "erased")]),
    "a placeholder outside the image": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "placeholder")]),
    "a placeholder inside the image": serials(S, [FN, SIX], [
        ("flash", 0, 8, "ascii", "placeholder")]),
    "a kept range past the last address": serials(S, [FN, SIX], [], [
        ("flash", (1 << 32) - 1, 2)]),
    "a kept range over the image": serials(S, [FN, SIX], [], [("flash", 0, 16)]),
    "a text of more than 64 characters": serials(
        S, [(i, "number", None, 10, 19) for i in range(1, 9)], []),
    "no slots permitted": before(slots="00000000"),
    "device id value outside its mask": before(device_id=(3, "ffffff", "000000")),
    "device id of eight bytes": before(device_id=(8, "00" * 8, "ff" * 8)),
})
