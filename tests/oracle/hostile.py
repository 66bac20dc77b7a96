"""What a careful reader must refuse although every signature on it is good: one bend each, with the
reason that lib/trust/REASONS.md gives for it. 0: nothing is wrong."""

import container
import sealed
from admission import digest
from ed25519_form import L, P
from world import SIGNERS, key_line

OTHER = "sha256:" + "5a" * 32
CASES = {}


def case(reason, name=None):
    def keep(bend):
        CASES[name or bend.__name__] = (reason, bend)
        return bend
    return keep


def key_changed(w, signer, **changes):
    w.trust["key"] = sorted([k for k in w.trust["key"] if k[0] != SIGNERS[signer].key] +
                            [key_line(signer, **changes)])


def each(reason, bends):
    for name, bend in bends.items():
        CASES[name] = (reason, bend)


def late(**changes):
    def bend(w):
        w.late.update({k.replace("_", "-"): v for k, v in changes.items()})
    return bend


def before(**changes):
    def bend(w):
        w.manifest.update({k.replace("_", "-"): v for k, v in changes.items()})
    return bend


def plan(*signers):
    def bend(w):
        w.plan = [s if isinstance(s, tuple) else (s, {}) for s in signers]
    return bend


def trusts(**changes):
    def bend(w):
        w.trust.update({k.replace("_", "-"): v for k, v in changes.items()})
    return bend


def product_line(epoch, floor):
    def bend(w):
        w.trust["product"] = [(w.manifest["product"], epoch, floor)]
    return bend


def with_entries(change):
    """Bends the list of (name, content) before it is written."""
    def bend(w):
        def package_bytes(_):
            entries = w.package().entries()
            return container.write(change(entries) or entries)
        w.bend_bytes = package_bytes
    return bend


def dropped(name):
    return with_entries(lambda entries: [e for e in entries if e[0] != name])


def renamed(old, new):
    return with_entries(lambda entries: [(new if e[0] == old else e[0], e[1]) for e in entries])


def replaced(name, content):
    return with_entries(lambda entries: [(e[0], content if e[0] == name else e[1])
                                         for e in entries])


def swapped(first, second):
    def change(entries):
        out = list(entries)
        a = next(i for i, e in enumerate(out) if e[0] == first)
        b = next(i for i, e in enumerate(out) if e[0] == second)
        out[a], out[b] = out[b], out[a]
        return out
    return with_entries(change)


# Root and trust list

each(0, {
    "unchanged": lambda w: None,
    "a third root key, two sign": lambda w: w.root.update(
        key=sorted(w.root["key"] + [(SIGNERS["root-c"].key, "t-tarn")])),
})
each(303, {
    "one root signature of two": lambda w: setattr(w, "trust_signers", ["root-a"]),
    "no root signature": lambda w: setattr(w, "trust_signers", []),
    "two root keys of one person": lambda w: (
        w.root.update(key=sorted(w.root["key"] + [(SIGNERS["root-c"].key, "t-tarn")])),
        setattr(w, "trust_signers", ["root-b", "root-c"])),
})
each(322, {
    "a stranger signs the list": lambda w: setattr(w, "trust_signers",
                                                   ["root-a", "root-b", "stranger"]),
    "a list signed over another text": lambda w: w.bend_signature.update(
        trust=lambda s: s[:32] + ((int.from_bytes(s[32:], "little") ^ 1).to_bytes(32, "little"))),
})
each(321, {
    "a list signature with S + L": lambda w: w.bend_signature.update(
        trust=lambda s: s[:32] + (int.from_bytes(s[32:], "little") + L).to_bytes(32, "little")),
    "a list signature with small R": lambda w: w.bend_signature.update(
        trust=lambda s: (1).to_bytes(32, "little") + s[32:]),
})


@case(304)
def list_of_another_owner(w):
    w.trust["owner"] = OTHER


each(305, {"list under another root version": trusts(root_version=2)})


@case(323)
def list_signatures_in_the_wrong_order(w):
    w.reverse_signatures = True


@case(323)
def one_list_signature_twice(w):
    w.trust_signers = ["root-a", "root-a", "root-b"]


# Sign-offs

each(0, {
    "two quality sign-offs": plan("release", "quality", "quality-2"),
    "two release sign-offs": plan("release", "release-2", "quality"),
    "thresholds of two met": lambda w: (
        w.trust.update(threshold=[("quality", 2), ("release", 2)]),
        plan("release", "release-2", "quality", "quality-2")(w)),
    "a threshold of one": trusts(threshold=[("quality", 1)]),
    "a key scoped to the product": lambda w: key_changed(
        w, "quality", product=w.manifest["product"]),
    "engineering only": lambda w: (before(title="NOT SHIP node")(w), plan("engineering")(w)),
    "limits that mean nothing here": plan("release", ("quality", {
        "units-a-station": 1, "stations": 1, "numbers": (0, 0), "plain-file": "no"})),
    "a sign-off under an older list": plan("release", ("quality", {"trust-sequence": 1})),
    "an unused revoked key": lambda w: key_changed(w, "quality-2", state="revoked"),
})
each(341, {
    "no sign-off": plan(),
    "only quality": plan("quality"),
    "a release threshold of two": trusts(threshold=[("release", 2)]),
})
each(342, {
    "only release": plan("release"),
    "a quality threshold of two": trusts(threshold=[("quality", 2)]),
})
each(343, {
    "one person in both roles": plan("release", "quality-3"),
    "one person in both roles beside another": plan("release", "quality", "quality-3"),
})
each(344, {
    "release sign-off of another owner": plan(("release", {"owner": OTHER}), "quality"),
    "quality sign-off of another owner": plan("release", ("quality", {"owner": OTHER})),
})
each(345, {
    "release sign-off for another package": plan(("release", {"manifest": OTHER}), "quality"),
    "quality sign-off for another package": plan("release", ("quality", {"manifest": OTHER})),
})
each(346, {
    "release sign-off names another product": plan(("release", {"product": "other"}), "quality"),
    "quality sign-off names another product": plan("release", ("quality", {"product": "other"})),
})
each(347, {
    "release sign-off names another sequence": plan(("release", {"sequence": 8}), "quality"),
    "quality sign-off names another sequence": plan("release", ("quality", {"sequence": 8})),
    "quality sign-off names another epoch": plan("release", ("quality", {"epoch": 1})),
})
each(348, {
    "quality's key claims release": plan(("quality", {"role": "release"}), "quality-2"),
    "release's key claims quality": plan("release", ("release-2", {"role": "quality"})),
    "the desk's key claims quality": plan("release", ("allot", {"role": "quality"})),
    "engineering's key claims quality": plan("release", ("engineering", {"role": "quality"})),
})
each(349, {
    "another person's name": plan("release", ("quality", {"person": "r-dale"})),
    "nobody's name": plan("release", ("quality", {"person": "n-n"})),
})
each(350, {
    "another key is named": plan("release", ("quality", {"key": SIGNERS["quality-2"].key})),
    "a stranger's key is named": plan("release", ("quality", {"key": SIGNERS["stranger"].key})),
})
each(351, {
    "quality does not follow release": plan("release", ("quality", {"previous": None})),
    "quality follows another release": plan("release", ("quality", {"previous": OTHER})),
    "release follows something": plan(("release", {"previous": OTHER}), "quality"),
    "the second quality skips the first": lambda w: skip_one(w),
})
each(352, {
    "a key for another product": lambda w: key_changed(w, "quality", product="other"),
    "a release key for another product": lambda w: key_changed(w, "release", product="other"),
})
each(353, {
    "an engineering threshold of two": lambda w: (
        before(title="NOT SHIP node")(w), plan("engineering")(w),
        w.trust.update(threshold=[("engineering", 2)])),
})
each(354, {
    "quality before release": plan("quality", "release"),
    "release after quality": plan("release", "quality", "release-2"),
})
each(355, {
    "a revoked quality key": lambda w: key_changed(w, "quality", state="revoked"),
    "a revoked release key": lambda w: key_changed(w, "release", state="revoked"),
    "a third, revoked sign-off": lambda w: (
        key_changed(w, "quality-2", state="revoked"),
        plan("release", "quality", "quality-2")(w)),
})
each(322, {
    "a stranger signs for quality": plan("release", ("quality", {"signs": "stranger"})),
    "quality's key is not on the list": lambda w: w.trust.update(
        key=[k for k in w.trust["key"] if k[0] != SIGNERS["quality"].key]),
    "no key is on the list": trusts(key=[]),
})
each(349, {
    "quality-2 signs what quality wrote": plan("release", ("quality", {"signs": "quality-2"})),
})
each(None, {  # both sides must agree; the pages do not give the one reason
    "engineering beside the others": plan("release", "quality", "engineering"),
    "engineering before the others": plan("engineering", "release", "quality"),
    "engineering beside the others, NOT SHIP": lambda w: (
        before(title="NOT SHIP node")(w), plan("release", "quality", "engineering")(w)),
    "engineering beside release, NOT SHIP": lambda w: (
        before(title="NOT SHIP node")(w), plan("release", "engineering")(w)),
    "a sign-off in role allot": plan("release", "quality", "allot"),
    "a sign-off in role withdraw": plan("release", "quality", "withdraw"),
    "only a sign-off in role allot": plan("allot"),
    "one person, one role, two keys": lambda w: (
        w.trust.update(threshold=[("engineering", 2)]),
        key_changed(w, "engineering-2", person="e-lund"),
        before(title="NOT SHIP node")(w),
        plan("engineering", ("engineering-2", {"person": "e-lund"}))(w)),
    "one key signs twice": plan("release", "quality", "quality"),
    "one release key signs twice": plan("release", "release", "quality"),
    "a quality key of the releaser": plan("release", "quality-3", "quality-2"),
})


def skip_one(w):
    def change(package):
        text, _ = package.signoffs[2]
        values = sealed.parse("signoff", text)
        values["previous"] = digest(package.signoffs[0][0])
        text = sealed.spell("signoff", values)
        package.signoffs[2] = (text, SIGNERS["quality-2"].sign("signoff", text))
    plan("release", "quality", "quality-2")(w)
    w.bend_package = change


def signature_of(at, change):
    def bend(w):
        def bend_package(package):
            text, signature = package.signoffs[at]
            package.signoffs[at] = (text, change(signature))
        w.bend_package = bend_package
    return bend


def s_plus(multiple):
    return lambda s: s[:32] + (int.from_bytes(s[32:], "little") + multiple * L).to_bytes(
        32, "little")


each(321, {
    "S + L": signature_of(1, s_plus(1)),
    "S + 2L": signature_of(1, s_plus(2)),
    "S = L": signature_of(1, lambda s: s[:32] + L.to_bytes(32, "little")),
    "R is the identity": signature_of(1, lambda s: (1).to_bytes(32, "little") + s[32:]),
    "R is of order 2": signature_of(1, lambda s: (P - 1).to_bytes(32, "little") + s[32:]),
    "R is of order 4": signature_of(1, lambda s: bytes(32) + s[32:]),
    "R is of order 8": signature_of(1, lambda s: bytes.fromhex(
        "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05") + s[32:]),
    "R is spelled too long": signature_of(1, lambda s: (P + 3).to_bytes(32, "little") + s[32:]),
    "R is minus zero": signature_of(1, lambda s: (1 | 1 << 255).to_bytes(32, "little") + s[32:]),
    "a signature of 63 bytes": signature_of(1, lambda s: s[:63]),
    "a signature of 1 byte": signature_of(0, lambda s: s[:1]),
})
each(322, {
    "S = L - 1": signature_of(1, lambda s: s[:32] + (L - 1).to_bytes(32, "little")),
    "S = 0": signature_of(1, lambda s: s[:32] + bytes(32)),
    "R is no point": signature_of(1, lambda s: (2).to_bytes(32, "little") + s[32:]),
})


def small_order_key(signature):
    """The identity as a key: in a careless verifier R = S B is a signature of any text."""
    def bend(w):
        w.trust["key"] = sorted(w.trust["key"] + [
            ((1).to_bytes(32, "little").hex(), "r-dale", "quality", None, "active")])
        signature_of(1, lambda _: signature)(w)
    return bend


BASE_POINT = b"\x58" + b"\x66" * 31  # RFC 8032 section 5.1
each(322, {"a key of small order": small_order_key(BASE_POINT + (1).to_bytes(32, "little"))})
each(321, {"key and R of small order": small_order_key((1).to_bytes(32, "little") + bytes(32))})


@case(322)
def signed_without_the_encoding(w):
    def bend(package):
        text, _ = package.signoffs[1]
        package.signoffs[1] = (text, SIGNERS["quality"].private.sign(text))
    w.bend_package = bend


@case(322, "a sign-off signed as another kind")
def signed_as_another_kind(w):
    def bend(package):
        text, _ = package.signoffs[1]
        package.signoffs[1] = (text, SIGNERS["quality"].sign("allotment", text))
    w.bend_package = bend


@case(345)
def sign_offs_of_another_package(w):
    other = w.copy()
    other.manifest["sequence"] += 1
    foreign = other.package()
    w.bend_package = lambda package: setattr(package, "signoffs", foreign.signoffs)


@case(351)
def release_written_again(w):
    """Quality signed after another release sign-off than the one in the package."""
    other = w.copy()
    other.plan[0] = ("release", {"reason": "another text"})
    foreign = other.package()

    def bend(package):
        package.signoffs[0] = foreign.signoffs[0]
    w.bend_package = bend


@case(354, "sign-offs swapped")
def sign_offs_swapped(w):
    w.bend_package = lambda package: package.signoffs.reverse()


@case(322, "signatures swapped")
def signatures_swapped(w):
    def bend(package):
        (a, sa), (b, sb) = package.signoffs
        package.signoffs = [(a, sb), (b, sa)]
    w.bend_package = bend


# Manifest

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
each(0, {
    "no serials": serials(None, [], []),
    "a scheme without placements": serials(S, [FN, SIX], []),
    "text and both binaries": serials(S, [FN, SIX], [
        ("flash", FREE, 8, "ascii", "erased"), ("flash", FREE + 8, 3, "binary-be", "erased"),
        ("flash", FREE + 11, 8, "binary-le", "erased")]),
    "the largest number in three bytes": serials(("s", 0, 1, 1 << 24), [
        (1, "number", None, 10, 8)], [("flash", FREE, 3, "binary-be", "erased")]),
    "a number twice": serials(S, [(1, "number", None, 10, 6), SIX], [
        ("flash", FREE, 12, "ascii", "erased")]),
    "a literal only": serials(S, [FN], [("flash", FREE, 4, "binary-be", "erased")]),
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
    "facts of another product": lambda w: w.facts.update(product="other"),
    "facts of another release": lambda w: w.facts.update(release="0.0.0"),
    "facts of another owner": lambda w: w.bend.update(
        facts=lambda t: t.replace(w.owner().encode(), OTHER.encode())),
    "no slots permitted": before(slots="00000000"),
    "device id value outside its mask": before(device_id=(3, "ffffff", "000000")),
    "device id of eight bytes": before(device_id=(8, "00" * 8, "ff" * 8)),
})

# Container

each(202, {
    "no manifest": dropped(b"manifest"),
    "no chain": dropped(b"chain"),
    "no image": dropped(b"image"),
    "no facts": dropped(b"facts"),
    "a signature missing": dropped(b"signoff/02.sig"),
    "a sign-off missing its text": dropped(b"signoff/02"),
    "sign-offs numbered from 02": lambda w: with_entries(
        lambda entries: [(n.replace(b"02", b"03").replace(b"01", b"02"), c)
                         for n, c in entries])(w),
    "sign-offs exchanged by name": swapped(b"signoff/01", b"signoff/02"),
    "image before chain": swapped(b"chain", b"image"),
    "facts before image": swapped(b"facts", b"image"),
    "an unknown entry": with_entries(lambda e: e + [(b"note", b"x")]),
    "a document in a folder": with_entries(lambda e: e + [(b"doc/zz/a.txt", b"x")]),
    "a document with a leading dot": with_entries(lambda e: e + [(b"doc/.z", b"x")]),
    "a document without a name": with_entries(lambda e: e + [(b"doc/", b"x")]),
    "a document of 25 characters": with_entries(lambda e: e + [(b"doc/" + b"z" * 25, b"x")]),
    "a document with a space": with_entries(lambda e: e + [(b"doc/z z", b"x")]),
    "a document twice": with_entries(lambda e: e + [(b"doc/zz", b"x"), (b"doc/zz", b"x")]),
    "documents out of order": with_entries(lambda e: e + [(b"doc/zz", b"x"), (b"doc/zy", b"x")]),
    "nine documents": with_entries(lambda e: [x for x in e if not x[0].startswith(b"doc/")] + [
        (b"doc/z%d" % i, b"x") for i in range(9)]),
    "a second manifest": with_entries(lambda e: e[:1] + e),
    "a third sign-off named 04": with_entries(lambda e: e[:5] + [
        (b"signoff/04", b"x"), (b"signoff/04.sig", b"x" * 64)] + e[5:]),
})
each(203, {
    "an empty manifest": replaced(b"manifest", b""),
    "a manifest of 8193 bytes": replaced(b"manifest", b"x" * 8193),
    "an empty sign-off": replaced(b"signoff/01", b""),
    "a sign-off of 2049 bytes": replaced(b"signoff/01", b"x" * 2049),
    "an empty signature": replaced(b"signoff/01.sig", b""),
    "a signature of 65 bytes": replaced(b"signoff/01.sig", b"x" * 65),
    "an empty chain": replaced(b"chain", b""),
    "an empty image": replaced(b"image", b""),
    "empty facts": replaced(b"facts", b""),
    "facts of 65537 bytes": replaced(b"facts", b"x" * 65537),
    "an empty document": with_entries(lambda e: e + [(b"doc/zz", b"")]),
})
each(207, {"nine sign-offs": plan("release", "quality", *["quality-2"] * 7)})


def raw(change):
    return lambda w: setattr(w, "bend_bytes", change)


def cut(count):
    return raw(lambda data: data[:-count])


def end_block(first, offset):
    def change(data):
        at = len(data) - (1024 if first else 512) + offset
        return data[:at] + b"\1" + data[at + 1:]
    return raw(change)


each(205, {
    "a byte appended": raw(lambda data: data + b"\0"),
    "a block appended": raw(lambda data: data + bytes(512)),
    "text appended": raw(lambda data: data + b"appended"),
    "second end block not zero": end_block(False, 7),
    "last byte not zero": end_block(False, 511),
})
each(206, {
    "cut inside the image": raw(lambda data: data[:data.index(b"image\0") + 600]),
    "cut inside a header": raw(lambda data: data[:data.index(b"image\0") + 100]),
    "cut after a header": raw(lambda data: data[:data.index(b"image\0") + 512]),
    "only a manifest": raw(lambda data: data[:512 + 1024]),
})
each(None, {
    "one end block": cut(512),
    "no end block": cut(1024),
    "half an end block": cut(768),
    "a byte cut": cut(1),
    "a block and a byte cut": cut(513),
    "into the last padding": cut(1025),
    "first end block not zero": end_block(True, 0),
    "first end block not zero at its end": end_block(True, 511),
    "zero blocks after the manifest": with_entries(lambda e: e[:1]),
    "zero blocks after sign-offs": with_entries(lambda e: e[:5]),
    "the first 100 bytes": raw(lambda data: data[:100]),
    "a size of 2^31": raw(lambda data: data[:124] + b"20000000000 " + data[136:]),
})


def header_bytes(name, offset, content, fixed_sum=True):
    """Bends a header and, unless told otherwise, mends its checksum."""
    def change(data):
        at = data.index(name + b"\0")
        block = bytearray(data[at:at + 512])
        block[offset:offset + len(content)] = content
        if fixed_sum:
            block[148:156] = b" " * 8
            block[148:156] = b"%06o\0 " % sum(block)
        return data[:at] + bytes(block) + data[at + 512:]
    return raw(change)


each(201, {
    "mode 0755": header_bytes(b"chain", 100, b"000755 "),
    "an owner's number": header_bytes(b"chain", 108, b"000001 "),
    "an owner's name": header_bytes(b"chain", 265, b"root"),
    "a time": header_bytes(b"chain", 136, b"00000000001 "),
    "a directory": header_bytes(b"chain", 156, b"5"),
    "a link": header_bytes(b"chain", 156, b"1"),
    "an old file": header_bytes(b"chain", 156, b"\0"),
    "GNU magic": header_bytes(b"chain", 257, b"ustar  \0"),
    "a prefix": header_bytes(b"chain", 345, b"x"),
    "a size in base 256": header_bytes(b"chain", 124, b"\x80" + bytes(10) + b" "),
    "a size with a zero behind": header_bytes(b"chain", 135, b"\0"),
    "a size with spaces in front": header_bytes(b"chain", 124, b"   "),
    "something after the name": header_bytes(b"chain", 50, b"x"),
    "a checksum off by one": header_bytes(b"chain", 153, b"1", fixed_sum=False),
    "a checksum with a space first": header_bytes(b"chain", 154, b" \0", fixed_sum=False),
    "something at the end": header_bytes(b"chain", 511, b"x"),
})


@case(202, "a name of 99 bytes")
def name_of_99(w):
    with_entries(lambda e: e + [(b"doc/" + b"z" * 95, b"x")])(w)


@case(201, "a name of 100 bytes")
def name_of_100(w):
    with_entries(lambda e: e + [(b"doc/" + b"z" * 96, b"x")])(w)


@case(204, "padding after the image")
def padding(w):
    def change(data):
        package = container.read(data)
        at = data.index(b"facts\0" + bytes(20)) - 1
        if len(package.image) % 512 == 0:
            raise AssertionError("this image has no padding")
        return data[:at] + b"\1" + data[at + 1:]
    segments((0, 300))(w)
    w.bend_bytes = change
