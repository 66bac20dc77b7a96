"""Productions that bend values on which the rest follows: release, list, signers, numbers."""

import grammar
import hostile
import hostile_cards
import hostile_manifest
import hostile_roots
from ed25519_form import L, P
from mutant import production
from world import PERSONS, SIGNERS


@production
def a_value_of_the_release(chance, mutant):
    w = mutant.card.world
    w.manifest = grammar.changed_values(chance, "manifest", w.manifest)


@production
def a_harmless_value(chance, mutant):
    """What is signed but decides nothing, taken to another value that is allowed."""
    w = mutant.card.world
    what = chance.randrange(5)
    number = chance.randrange(10**6)
    if what == 0:
        mutant.card.allot["work-order"] = f"WO-{number}"
    elif what == 1:
        w.plan = [(who, {**changes, "reason": f"batch {number}", "tool": f"tool {number}"})
                  for who, changes in w.plan]
    elif what == 2:
        w.documents.append((f"z{number}", b"document " * chance.randrange(1, 300)))
    elif what == 3:
        first = chance.randrange(0, 99000)
        mutant.card.allot.update({"first": first, "count": 60, "units": chance.randint(1, 60)})
    else:
        w.image = bytes(chance.randrange(256) for _ in range(16)) + w.image[16:]


@production
def a_value_of_the_trust_list(chance, mutant):
    w = mutant.card.world
    w.trust = grammar.changed_values(chance, "trust", w.trust)


@production
def a_value_of_a_sign_off(chance, mutant):
    w = mutant.card.world
    at = chance.randrange(len(w.plan)) if w.plan else 0
    if w.plan:
        signer, changes = w.plan[at]
        values = {"owner": w.owner(), "manifest": hostile.OTHER, "product": w.manifest["product"],
                  "epoch": 0, "sequence": 1, "role": "quality", "person": PERSONS.get(signer, "a"),
                  "key": SIGNERS[signer].key, "meaning": "m", "reason": "r", "previous": None,
                  "time": "2026-03-02T09:15:00Z", "trust-sequence": 3, "units-a-station": None,
                  "stations": None, "numbers": None, "plain-file": "yes", "tool": "t"}
        new = grammar.changed_values(chance, "signoff", values)
        w.plan = list(w.plan)
        w.plan[at] = (signer, {**changes, **{k: v for k, v in new.items() if v != values[k]}})


@production
def a_value_of_the_allotment(chance, mutant):
    w = mutant.card.world
    scheme = w.manifest["scheme"]
    values = {"owner": w.owner(), "manifest": hostile.OTHER, "product": w.manifest["product"],
              "scheme": scheme[0] if scheme else None, "card": hostile_cards.CARD_ID,
              "station": "orchard-1", "enrolment": 1, "serial": 1, "first": 0, "count": 60,
              "numbers": "new", "span": [], "units": 60,
              "class": "production", "work-order": "WO-1001",
              "enabled-slots": w.manifest["slots"], "date-code": None, "register-entry": None}
    new = grammar.changed_values(chance, "allotment", values)
    mutant.card.allot.update({k: v for k, v in new.items() if v != values[k]})


@production
def a_value_of_the_index(chance, mutant):
    values = {"owner": mutant.card.world.owner(), "root-version": 1, "trust-sequence": 3,
              "card-id": hostile_cards.CARD_ID, "log-extent": (9000, 8)}
    new = grammar.changed_values(chance, "card", values)
    mutant.card.index.update({k: v for k, v in new.items() if v != values[k]})


# Who signs

@production
def who_signs_off(chance, mutant):
    names = chance.choices(["release", "release-2", "quality", "quality-2", "quality-3", "allot",
                            "withdraw", "engineering", "engineering-2", "stranger"],
                           k=chance.choice([0, 1, 1, 2, 2, 3, 3, 4, 8, 9]))
    if chance.random() < 0.6:
        names.sort(key=lambda n: (not n.startswith("release"), n))
    mutant.card.world.plan = [(name, {}) for name in names]


@production
def who_signs_the_list(chance, mutant):
    mutant.card.world.trust_signers = chance.choices(
        ["root-a", "root-b", "root-c", "stranger"], k=chance.randrange(5))
    mutant.card.world.reverse_signatures = chance.random() < 0.3


@production
def who_signs_the_card(chance, mutant):
    mutant.card.index_signer = chance.choice(["allot", "allot", "allot-2", "quality", "stranger"])
    mutant.card.allot_signer = chance.choice(["allot-2", "quality", "stranger", "release"])


@production
def a_key_of_the_list(chance, mutant):
    signer = chance.choice(sorted(PERSONS))
    product = mutant.card.world.manifest["product"]
    changes = chance.choice([{"state": "revoked"}, {"product": "other"}, {"product": product},
                             {"role": chance.choice(["release", "quality", "allot", "withdraw",
                                                     "engineering"])},
                             {"person": chance.choice(sorted(PERSONS.values()))}])
    hostile.key_changed(mutant.card.world, signer, **changes)


@production
def thresholds(chance, mutant):
    roles = ["allot", "engineering", "quality", "release", "withdraw"]
    mutant.card.world.trust["threshold"] = [(role, chance.randint(1, 3)) for role in roles
                                            if chance.random() < 0.4]


def with_s(signature, s):
    return signature[:32] + s.to_bytes(32, "little")


def s_of(signature):
    return int.from_bytes(signature[32:], "little")


@production
def a_signature_s_bytes(chance, mutant):
    bit, times = chance.randrange(512), chance.randint(1, 14)
    change = chance.choice([
        lambda s: s[:bit // 8] + bytes([s[bit // 8] ^ 1 << bit % 8]) + s[bit // 8 + 1:],
        lambda s: with_s(s, s_of(s) + times * L), lambda s: with_s(s, 0),
        lambda s: (times % 2).to_bytes(32, "little") + s[32:],
        lambda s: (P + times).to_bytes(32, "little") + s[32:],
        lambda s: s[:bit % 64], lambda s: s + b"x" * times, lambda s: s[32:] + s[:32]])
    kind = chance.choice(["trust", "signoff", "signoff", "root"])
    mutant.card.world.bend_signature[kind] = change


@production
def engineering(chance, mutant):
    w = mutant.card.world
    w.manifest["title"] = chance.choice(["NOT SHIP node", "NOT SHIP", "NODE", "NOT SHI"])
    use = chance.choice(["engineering", "engineering", "shipment"])
    w.trust["window"] = [window[:4] + (use,) for window in w.trust["window"]]
    w.plan = chance.choice([[("engineering", {})], [("engineering", {}), ("engineering-2", {})],
                            [("release", {}), ("quality", {})]])
    mutant.card.allot.update({"class": chance.choice(["engineering", "engineering", "pilot"]),
                              "units": chance.choice([1, 19, 20, 20, 21, 60])})


@production
def quality_s_limits(chance, mutant):
    first = chance.randrange(0, 3)
    limits = {"units-a-station": chance.choice([None, 1, 59, 60, 61, 9999999]),
              "numbers": chance.choice([None, (first, 59), (first, 58 + first), (0, 10**12 - 1)])}
    signers = chance.choice([["release", "quality"], ["release", "quality", "quality-2"]])
    at = chance.randrange(len(signers))
    mutant.card.world.plan = [(s, limits if i == at else {}) for i, s in enumerate(signers)]


@production
def list_and_root_versions(chance, mutant):
    """Which list and root the sign-offs and the index were made under."""
    what, sequence = chance.randrange(6), chance.choice([1, 3, 4, 4, 999999999])
    if what == 0:
        mutant.card.index["root-version"] = chance.choice([1, 2, 999999])
    elif what == 1:
        mutant.card.index["trust-sequence"] = sequence
    elif what in (2, 3):
        mutant.card.world.plan = [("release", {}), ("quality", {"trust-sequence": sequence})]
    else:
        hostile_roots.steps((hostile_roots.THREE, hostile_roots.SAME))(mutant.card)
        mutant.card.index["root-version"] = chance.choice([1, 1, 2, 3])


# Product, numbers, memory of the device

@production
def the_place_of_the_release(chance, mutant):
    """Epoch and sequence against the list's product line."""
    w = mutant.card.world
    product, epoch, sequence = w.manifest["product"], w.manifest["epoch"], w.manifest["sequence"]
    w.trust["product"] = sorted(chance.choice([
        [], [("other", epoch, 1)], [(product, epoch + chance.choice([0, 1, 5]), 1)],
        [(product, epoch, sequence + chance.choice([-1, 0, 1, 1000]))],
        [(product, epoch, sequence), ("other", 0, 1)]]))


@production
def segments(chance, mutant):
    pieces, at = [], chance.choice([0, 256, (1 << 32) - 4096])
    for _ in range(chance.choice([1, 2, 3, 8])):
        size = chance.choice([1, 16, 256, 4096])
        pieces.append((max(0, at), size))
        at += size + chance.choice([-1, 0, 1, 1, 16])
    hostile_manifest.segments(*pieces)(mutant.card.world)
    more = chance.choice([0, 0, 0, 1])
    mutant.card.world.image += bytes(more)


@production
def a_scheme_of_serials(chance, mutant):
    hm = hostile_manifest
    kind = chance.choice(hm.KINDS)
    width = chance.randint(1, 8)
    parts = chance.choice([
        [hm.number(1, 10, width)], [hm.literal(1, "FN"), hm.number(2, 10, width)],
        [hm.literal(1, "FN"), hm.number(2, 16, width), hm.check(3, kind, 2)],
        [hm.number(1, 10, width), hm.check(2, kind, 1)],
        [hm.literal(1, "F" * chance.randint(1, 16)), hm.number(2, 36, width)],
        [(1, "date-code", None, None, 4, None), hm.number(2, 10, width)],
        [(1, "date-code", None, None, 4, None), hm.number(2, 10, width), hm.check(3, kind, 1)]])
    text = sum(sealed_length(p) for p in parts)
    encoding = chance.choice(["ascii", "ascii", "utf-16le", "binary-be", "binary-le", "packed-be"])
    size = chance.randint(1, 8) if encoding.startswith("binary") else \
        {"utf-16le": 2 * text, "packed-be": text // 2}.get(encoding, text)
    size = max(1, size + chance.choice([0, 0, 0, 0, 1, -1, 2]))
    at = [hm.place("flash", chance.choice([hm.FREE, hm.FREE, (1 << 32) - size, (1 << 32) - 1]), size,
                   encoding)]
    if chance.random() < 0.3:
        beside = hm.FREE + chance.choice([size - 1, size, size + 1])
        at.append(hm.place("flash", beside, size, encoding))
    first = chance.choice([0, 1, 10**width - 60, 10**width - 59, 10**width - 61, 197, 10**19 - 60])
    capacity = chance.choice([1, 59, 60, 61, 999999, 10**12])
    hm.serials(("fn-serial", max(0, first), chance.choice([1, 1, 7]), capacity), parts,
               sorted(at))(mutant.card.world)
    mutant.card.allot["date-code"] = chance.choice([None, "27W1", "2701", "2701", "270", "27W11"])


def sealed_length(part):
    return {"number": part[4], "date-code": part[4], "literal": len(part[2] or "")}.get(
        part[1], 2 if part[5] and part[5][0] == "mod-97-10" else 1)


@production
def windows_of_numbers(chance, mutant):
    w = mutant.card.world
    scheme = w.manifest["scheme"]
    name = scheme[0] if scheme else "fn-serial"
    lines = []
    for _ in range(chance.choice([0, 1, 1, 2, 3])):
        first = chance.choice([0, 0, 1, 30, 60, 59, 100])
        lines.append((SIGNERS[chance.choice(["allot", "allot", "allot-2"])].key,
                      chance.choice([name, name, name, "other"]), first,
                      first + chance.choice([0, 29, 58, 59, 60, 99999]),
                      chance.choice(["shipment"] * 4 + ["engineering"])))
    w.trust["window"] = sorted(set(lines))
    mutant.card.allot["first"] = chance.choice([0, 0, 1, 30, 40, 99941, 99999])


@production
def boards_that_have_numbers(chance, mutant):
    """Spans that fit, or nearly so."""
    spans, at = [], chance.choice([0, 0, 1, 30, 99990])
    for _ in range(chance.choice([0, 1, 2, 3, 16])):
        last = at + chance.choice([0, 0, 1, 19])
        spans.append((at, last))
        at = last + chance.choice([1, 2, 2, 3, 20])
    count = sum(last - first + 1 for first, last in spans)
    mutant.card.allot.update({
        "numbers": chance.choice(["kept", "kept", "stated", "new"]), "span": spans,
        "first": (spans[0][0] if spans else 0) + chance.choice([0] * 9 + [1]),
        "count": count + chance.choice([0] * 9 + [1]), "units": max(1, count),
        "class": chance.choice(["rework", "rework", "rework", "production"])})


@production
def numbers_and_units(chance, mutant):
    mutant.card.allot.update({"count": chance.choice([0, 1, 59, 60, 61, 100]),
                              "units": chance.choice([1, 59, 60, 61])})
