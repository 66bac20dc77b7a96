#!/usr/bin/python3
"""Each fault that a card may have, alone and with each other one: the verdict and reason that the
pages give, by the station's code and by the oracle.

    matrix.py [--full]

Without --full every fault alone and a fixed share of the pairs. Environment as test_oracle.py.
"""

import itertools
import os
import sys
import tempfile

import test_oracle  # first: says "skipped" where the cryptography is missing

import card_writer
import container
import hostile_cards
import state_writer
from hostile import OTHER, key_changed
from world import World

SHARE = 4  # of the pairs, one in so many without --full
SEQUENCE = 2000

# The reasons in the order in which a station looks for them: lib/trust/REASONS.md, "Order".
ORDER = [387, 322, 344, 345, 355, 348, 351, 341, 342, 343, 362, 366, 367, 368, 390, 388, 389]


class Case:
    """What several faults make of one card."""

    def __init__(self, world):
        self.card = hostile_cards.CardWorld(world.copy())
        self.signers = None   # None: release and quality
        self.last = {}        # changes of the last sign-off
        self.revoked = False  # the key of the last sign-off
        self.withdrawn = False
        self.marks = {}
        self.kept = []
        self.met_newer = False


def signs(*signers):
    def bend(case):
        case.signers = (case.signers or set()) | set(signers)
    return bend


def last(**changes):
    def bend(case):
        case.last.update({k.replace("_", "-"): v for k, v in changes.items()})
    return bend


def other_role(case):
    only_release = case.signers == {"release"}
    case.last["role"] = "quality" if only_release else "release"


def mark(sequence):
    def bend(case):
        case.marks = {case.card.world.manifest["product"]: (
            case.card.world.manifest["epoch"], sequence, OTHER)}
    return bend


def sets(name, value):
    return lambda case: setattr(case, name, value)


def allots(**changes):
    return lambda case: case.card.allot.update({k.replace("_", "-"): v for k, v in changes.items()})


KEPT = [(serial, 1, 1, OTHER) for serial in (5, 6, 7, 8)]

# name: (reason, 0 for admitted; bend). Who signed is a choice, the rest are faults.
FAULTS = {
    "nobody signed": (341, signs()),
    "release signed": (342, signs("release")),
    "quality signed": (341, signs("quality")),
    "both signed": (0, signs("release", "quality")),
    "both by one person": (343, signs("release", "quality-3")),
    "foreign": (322, last(signs="stranger")),
    "revoked": (355, sets("revoked", True)),
    "wrong role": (348, other_role),
    "wrong package": (345, last(manifest=OTHER)),
    "wrong preceding digest": (351, last(previous=OTHER)),
    "other owner": (344, last(owner=OTHER)),
    "withdrawn": (362, sets("withdrawn", True)),
    "sequence lower": (366, mark(SEQUENCE + 1)),
    "equal with other digest": (367, mark(SEQUENCE)),
    "jump": (368, mark(SEQUENCE - 1001)),
    "older list": (0, sets("met_newer", True)),
    "allotment for another station": (387, allots(station="orchard-2")),
    "other enrolment": (388, allots(enrolment=2)),
    "dropped serial": (389, sets("kept", KEPT)),
    "outside window": (390, allots(first=99941)),
}
WHO = ("nobody signed", "release signed", "quality signed", "both signed", "both by one person")
OF_ONE = ("foreign", "revoked", "wrong role", "wrong package", "wrong preceding digest",
          "other owner")
# A station holds one mark of a product, so these can't come together.
MARKS = ("sequence lower", "equal with other digest", "jump")

# Who signed, by two choices together: all that either names.
TOGETHER = {
    frozenset(("release signed", "quality signed")): 0,
    frozenset(("nobody signed", "release signed")): 342,
    frozenset(("nobody signed", "quality signed")): 341,
    frozenset(("nobody signed", "both signed")): 0,
    frozenset(("release signed", "both signed")): 0,
    frozenset(("quality signed", "both signed")): 0,
}


def possible(names):
    return sum(name in MARKS for name in names) < 2


def expected(names):
    who = [name for name in names if name in WHO]
    if len(who) == 2:
        return TOGETHER.get(frozenset(who), 343)  # one person in both roles, beside others or not
    found = {FAULTS[name][0] for name in names}
    if "nobody signed" in names:  # there is no sign-off to be wrong
        found -= {FAULTS[name][0] for name in names if name in OF_ONE}
    return next((reason for reason in ORDER if reason in found), 0)


def plan_of(case):
    signers = {"release", "quality"} if case.signers is None else case.signers
    return sorted(signers, key=lambda s: (not s.startswith("release"), s))


def finish(case):
    """The sign-offs as they were chosen, then what follows from the finished package."""
    world = case.card.world
    plan = plan_of(case)
    world.plan = [(signer, dict(case.last) if signer == plan[-1] else {}) for signer in plan]
    if case.revoked and plan:
        key_changed(world, plan[-1], state="revoked")
    if case.withdrawn:
        world.trust["manifest"] = [(test_oracle.oracle.admission.digest(
            world.copy().package().manifest),)]
    if case.met_newer:
        newer = world.copy()
        newer.trust["sequence"] += 1
        case.card.met = [newer]


def judge(tally, check, world, names):
    case = Case(world)
    for name in names:
        FAULTS[name][1](case)
    finish(case)
    root, _ = case.card.world.write_owner(check.folder)
    check.enrol(root, case.card.station)
    station = hostile_cards.station_of(case.card.station)
    for met in case.card.met:
        test_oracle.meet(check, station, met, root)
    if case.kept or case.marks:
        state_writer.patch(check.state, case.kept, case.marks)
        station.kept, station.marks = case.kept, case.marks
    card_writer.write(check.card, case.card.files())
    test_oracle.judge_card(tally, check, " and ".join(names), check.card, root, station,
                           expected(names))


def cases(full):
    alone = [(name,) for name in FAULTS]
    pairs = [pair for pair in itertools.combinations(FAULTS, 2) if possible(pair)]
    return alone + (pairs if full else pairs[::SHARE])


def packed_world(program, source, folder):
    """The worked release, unsigned: its contents are what the cards hold."""
    cardseal = test_oracle.Cardseal(program, folder)
    with open(os.path.join(folder, "pass"), "w", encoding="ascii") as file:
        file.write("apple blossom frost\n")
    test_oracle.key_new(cardseal, "owner")
    cardseal.run("trust", "root", "--person", "ida:Ida Tarn", "--root-key", "ida:owner.pub",
                 "--key", "owner.pem", "--passphrase-file", "pass", "-o", "packed.root")
    cardseal.run("pack", os.path.join(source, "packages/01-frost-node/release.xml"), "--root",
                 "packed.root", "-o", "packed.crp")
    with open(os.path.join(folder, "packed.crp"), "rb") as file:
        world = World(container.read(file.read()))
    world.manifest["sequence"] = SEQUENCE
    return world


def main():
    full = sys.argv[1:] == ["--full"]
    tally = test_oracle.Tally()
    with tempfile.TemporaryDirectory() as folder:
        world = packed_world(os.environ["CARDSEAL"], os.environ["SOURCE"], folder)
        check = test_oracle.StationCheck(os.environ["STATION_CHECK"], folder)
        chosen = cases(full)
        for names in chosen:
            judge(tally, check, world, names)
    tally.print()
    judged = sum(tally.reasons.values())
    if judged != len(chosen) or len(tally.reasons) < len(set(ORDER)):
        tally.faults.append(f"{judged} judged, {len(tally.reasons)} reasons met")
        print("FAIL", tally.faults[-1])
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main())
