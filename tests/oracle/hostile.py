"""What a careful reader must refuse although every signature on it is good: one bend each, with the
reason that lib/trust/REASONS.md gives for it. 0: nothing is wrong."""

import sealed
from admission import digest
from ed25519_form import L, P
from world import SIGNERS, key_line

OTHER = "sha256:" + "5a" * 32
CASES = {}


def add(name, reason, bend):
    if name in CASES:
        raise AssertionError(f"two cases are called {name}")
    CASES[name] = (reason, bend)


def case(reason, name=None):
    def keep(bend):
        add(name or bend.__name__.replace("_", " "), reason, bend)
        return bend
    return keep


def key_changed(w, signer, **changes):
    w.trust["key"] = sorted([k for k in w.trust["key"] if k[0] != SIGNERS[signer].key] +
                            [key_line(signer, **changes)])


def each(reason, bends):
    for name, bend in bends.items():
        add(name, reason, bend)


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


def windows(*ranges):
    """Windows as (signer, scheme, first, last)."""
    return trusts(window=sorted((SIGNERS[who].key, scheme, a, b, "shipment") for who, scheme, a, b in ranges))


each(308, {
    "two desks share one number": windows(("allot", "fn-serial", 0, 99999),
                                          ("allot-2", "fn-serial", 99999, 199999)),
    "a window inside another": windows(("allot", "fn-serial", 0, 99999),
                                       ("allot-2", "fn-serial", 5, 5)),
    "one desk, two windows that overlap": windows(("allot", "fn-serial", 0, 99999),
                                                  ("allot", "fn-serial", 50000, 199999)),
})
each(0, {
    "windows that only touch": windows(("allot", "fn-serial", 0, 99999),
                                       ("allot-2", "fn-serial", 100000, 199999)),
    "the same numbers in two schemes": windows(("allot", "fn-serial", 0, 99999),
                                               ("allot-2", "other", 0, 99999)),
})


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


@case(351, "sign-offs swapped")  # the first one follows something
def sign_offs_swapped(w):
    w.bend_package = lambda package: package.signoffs.reverse()


@case(322, "signatures swapped")
def signatures_swapped(w):
    def bend(package):
        (a, sa), (b, sb) = package.signoffs
        package.signoffs = [(a, sb), (b, sa)]
    w.bend_package = bend
