"""Cards with roots that follow one another, and with withdrawals: each validly signed and wrong in
one thing, with the reason that the pages give. Adds to hostile_cards.CASES."""

from admission import digest
from hostile import OTHER, key_changed
from hostile_cards import both, cases, files, late
from world import SIGNERS

ROOTS = "CARDSEAL/ROOTS.TAR"


def holders(threshold, **persons):
    """Changes of a root: who holds which keys; `c_reed="root-c"`, several keys with a space."""
    named = {person.replace("_", "-"): keys.split() for person, keys in persons.items()}
    return {"threshold": threshold,
            "person": sorted((person, "Root holder") for person in named),
            "key": sorted((SIGNERS[key].key, person) for person, keys in named.items()
                          for key in keys)}


THREE = holders(2, m_alder="root-a", t_tarn="root-b", c_reed="root-c")
OTHERS = holders(2, c_reed="root-c", d_lake="root-d")
ONE_PERSON = holders(2, m_alder="root-a root-c", t_tarn="root-b")
SAME = ["root-a", "root-b"]
ALL = ["root-a", "root-b", "root-c", "root-d"]


def steps(*steps, signs_list=None):
    """Each step: (changes of the root, who signs); the list and the index follow the last one."""
    def bend(c):
        c.world.next_roots = list(steps)
        c.world.trust["root-version"] = 1 + len(steps)
        c.world.trust_signers = signs_list or SAME
    return bend


def changed(**changes):
    """One step to THREE, with these values of the text changed."""
    return steps((dict(THREE, **{k.replace("_", "-"): v for k, v in changes.items()}), SAME))


def met_roots(*met_steps, card=None):
    """The station met these roots on another card."""
    def bend(c):
        met = c.world.copy()
        met.next_roots = list(met_steps)
        met.trust["root-version"] = 1 + len(met_steps)
        met.trust_signers = SAME
        c.met = [met]
        if card:
            card(c)
    return bend


def bend_roots(change):
    def bend(c):
        steps((THREE, SAME))(c)
        c.world.bend_roots = change
    return bend


def swap(roots):
    text, signatures = roots[1]
    roots[1] = (text, signatures[::-1])


def bend_file(change):
    return both(steps((THREE, SAME)), files(lambda f: f.update({ROOTS: change(f[ROOTS])})))


def flip(at):
    return lambda data: data[:at] + bytes([data[at] ^ 1]) + data[at + 1:]


cases(0, {
    "one root further": steps((THREE, SAME)),
    "two roots further, held by others": steps((THREE, SAME), (OTHERS, ALL),
                                               signs_list=["root-c", "root-d"]),
    "all root holders change at once": steps((OTHERS, ALL), signs_list=["root-c", "root-d"]),
    "a root signed by more than asked": steps((THREE, ["root-a", "root-b", "root-c"])),
    "the root that the station has met": met_roots((THREE, SAME), card=steps((THREE, SAME))),
    "the root after the one met": met_roots(
        (THREE, SAME), card=steps((THREE, SAME), (OTHERS, ALL), signs_list=["root-c", "root-d"])),
    "a root of one again": steps((holders(1, m_alder="root-a"), SAME), signs_list=["root-a"]),
})
cases(309, {
    "one signature of the old root's two": steps((OTHERS, ["root-a", "root-c", "root-d"]),
                                                 signs_list=["root-c", "root-d"]),
    "one signature of the new root's two": steps((OTHERS, ["root-a", "root-b", "root-c"]),
                                                 signs_list=["root-c", "root-d"]),
    "a next root without signatures": steps((THREE, [])),
    "a next root signed by the new alone": steps((OTHERS, ["root-c", "root-d"]),
                                                 signs_list=["root-c", "root-d"]),
    "one person's two keys at the second step": steps((ONE_PERSON, SAME),
                                                      (THREE, ["root-a", "root-c"])),
})
cases(310, {
    "a root that jumps": both(changed(version=3), lambda c: c.world.trust.update(
        {"root-version": 3})),
    "a root that names another before it": changed(previous=OTHER),
})
cases(301, {"a next root of another owner": changed(owner=OTHER)})
cases(322, {"a stranger signs the next root": steps((THREE, SAME + ["stranger"]))})
cases(323, {"root signatures in the wrong order": bend_roots(swap)})
cases(315, {
    "a card without roots, the station went on": met_roots((THREE, SAME)),
    "a card one root behind": met_roots((THREE, SAME), (THREE, SAME), card=steps((THREE, SAME))),
})
cases(316, {"another second root than the one met": met_roots(
    (THREE, SAME), card=steps((OTHERS, ALL), signs_list=["root-c", "root-d"]))})
cases(305, {"a list under the root before": both(
    steps((THREE, SAME)), lambda c: c.world.trust.update({"root-version": 1}))})
cases(307, {"a list met under the root before, none on the card": both(
    met_roots(card=steps((THREE, SAME))),
    files(lambda f: [f.pop(p) for p in list(f) if "TRUST" in p]))})
cases(303, {"a list signed by those who were replaced": steps(
    (holders(2, t_tarn="root-b", c_reed="root-c"), ["root-a", "root-b", "root-c"]),
    signs_list=["root-b"])})
cases(201, {"a root's header differs": bend_file(flip(100))})
cases(202, {"the second root alone": bend_file(
    lambda data: data[data.index(b"root/000002\0"):])})
cases(204, {"padding behind a root's signature": bend_file(
    lambda data: data[:-1025] + b"\x01" + data[-1024:])})
cases(205, {"bytes behind the roots": bend_file(lambda data: data + b"\x01" + bytes(511))})
cases(206, {"the roots cut short": bend_file(lambda data: data[:-512])})
cases(203, {"more roots than a station reads": bend_file(
    lambda data: data + bytes(1048577 - len(data)))})


# Withdrawals


def stops(*texts):
    """Each text: (its values, who signs)."""
    def bend(c):
        c.world.withdrawals = [
            (values(c) if callable(values) else values, signer) for values, signer in texts]
    return bend


def the_package(c):
    return {"manifest": digest(c.world.copy().package().manifest)}


def key_of(signer):
    return {"key": SIGNERS[signer].key}


def met_stops(*texts):
    """The station met these on a card that is good for nothing else."""
    def bend(c):
        met = c.world.copy()
        c.met = [met]
        met.withdrawals = [(values(c) if callable(values) else values, signer)
                           for values, signer in texts]
    return bend


def twice(*texts):
    """The station met this card's texts before."""
    return both(met_stops(*texts), stops(*texts))


def as_manifest(signer):
    return {"manifest": "sha256:" + SIGNERS[signer].key}


def as_allotment(c):
    return {"allotment": the_package(c)["manifest"]}


def stops_the_allotment(met):
    def bend(c):
        text = c.files()["CARDSEAL/A01.TXT"]
        target = c.world
        if met:
            target = c.world.copy()
            c.met = [target]
        target.withdrawals = [({"allotment": digest(text)}, "quality")]
    return bend


SOMETHING = {"manifest": OTHER}
cases(0, {
    "another package is withdrawn": stops((SOMETHING, "quality")),
    "by role withdraw": stops((SOMETHING, "withdraw")),
    "another key is withdrawn": stops((key_of("quality-2"), "quality")),
    "a manifest of a key's bytes is withdrawn": stops((as_manifest("release"), "quality")),
    "an allotment of the package's digest is withdrawn": stops((as_allotment, "quality")),
    "eight withdrawals": stops(*[({"manifest": "sha256:" + f"{n:064x}"}, "quality")
                                 for n in range(8)]),
})
cases(362, {
    "the package is withdrawn on the same card": stops((the_package, "quality")),
    "the package was withdrawn on a bad card": met_stops((the_package, "withdraw")),
    "the package is the eighth to be withdrawn": stops(
        *[({"manifest": "sha256:" + f"{n:064x}"}, "quality") for n in range(7)],
        (the_package, "quality")),
})
cases(355, {
    "quality's key is withdrawn": stops((key_of("quality"), "withdraw")),
    "release's key was withdrawn on a bad card": met_stops((key_of("release"), "quality")),
    "quality withdraws its own key": stops((key_of("quality"), "quality")),
    "quality withdraws its own key, and the station met it before": twice(
        (key_of("quality"), "quality")),
    "quality withdraws something, then its key, and the station met both before": twice(
        (SOMETHING, "quality"), (key_of("quality"), "withdraw")),
})
cases(311, {"the desk's key is withdrawn": stops((key_of("allot"), "quality"))})
cases(398, {
    "the allotment is withdrawn on the same card": stops_the_allotment(False),
    "the allotment was withdrawn on a bad card": stops_the_allotment(True),
})
cases(331, {
    "release withdraws": stops((SOMETHING, "release")),
    "the desk withdraws": stops((SOMETHING, "allot")),
    "a stranger withdraws": stops((SOMETHING, "stranger")),
    "a revoked key withdraws": both(
        lambda c: key_changed(c.world, "withdraw", state="revoked"),
        stops((SOMETHING, "withdraw"))),
    "a key withdraws after it was withdrawn": stops((key_of("withdraw"), "quality"),
                                                    (SOMETHING, "withdraw")),
})
cases(332, {"a withdrawal of another owner": stops(({**SOMETHING, "owner": OTHER}, "quality"))})
cases(333, {"a withdrawal in another's name": stops(({**SOMETHING, "person": "i-fell"},
                                                     "quality"))})
cases(321, {"a withdrawal's signature of 63 bytes": both(stops((SOMETHING, "quality")), late(
    lambda f: f.update({"CARDSEAL/W01.S01": f["CARDSEAL/W01.S01"][:63]})))})
cases(505, {"a withdrawal without its signature": both(stops((SOMETHING, "quality")), late(
    lambda f: f.pop("CARDSEAL/W01.S01")))})
