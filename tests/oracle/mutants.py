#!/usr/bin/python3
"""Cards and packages that were bent by grammar and signed again, judged by the product's code and
by the oracle: the same reason and place, the same J where admitted (settings, units, image, the station's
memory afterwards).

Environment: CARDSEAL, JUDGE_MANY, SOURCE. ORACLE_MUTANTS: how many; from FULL on, every reason has
to be met HUNDRED times. ORACLE_SEED: another choice of them. JUDGE_MANY_SWITCHED, if it is there: the program in which a check can be
left out; then for each reason some of its mutants are judged without that check, and the
comparison has to notice.
"""

import collections
import os
import pickle
import random
import re
import sys
import tempfile
import time

import test_oracle  # first: says "skipped" where the cryptography is missing

import admission
import card_writer
import hostile_cards
import matrix
import memory
import oracle
import productions
import sealed
from many import Many, scratch

SEED = int(os.environ.get("ORACLE_SEED", "20260311"))
COUNT = int(os.environ.get("ORACLE_MUTANTS", "2000"))
FULL, HUNDRED, FEW = 10000, 100, 1
DESK = 0.25  # of the cards, whose package is judged at the desk as well
PLACED = range(101, 208)  # reasons whose place, a line or a byte, both have to name
NOT_MADE = (sealed.Refusal, ValueError, TypeError, KeyError, IndexError, OverflowError,
            StopIteration)
# Checks without which nothing changes, and why.
NOT_NOTICED = {
    206: "no check but an operation: bytes that are not there can't be read past",
}
TRIES = 20 if COUNT >= FULL else 5  # mutants of a reason that are judged without its check
ENOUGH = 5  # of them, so that one must have come out otherwise

# Reasons that no mutant can have, and why.
UNREACHED = {
    383: "a station takes the package that the allotment names, so 511 comes before it",
    611: "said while units are made, not at admission",
    612: "said while units are made, not at admission",
    613: "said while units are made, not at admission",
    614: "said while units are made, not at admission",
}


def reason_of(said):
    if "error" in said:
        number = re.fullmatch(r"reason-(\d+)", said["error"])
        return int(number[1]) if number else said["error"]
    if "verdict" in said:
        return 0 if said["verdict"] == "admitted" else said["reason"]["number"]
    return said["reason"]


UNITS = ("first_unit", "last_unit", "image_sha256")


def our_job(said):
    """One job of a card, as the product has it."""
    out = {"reason": reason_of(said)}
    if out["reason"] in PLACED:
        out["position"] = said["reason"]["position"]
    if out["reason"] == 0:
        out |= {key: said.get(key) for key in ("package", "settings", "allotment", "image_bytes",
                                               *UNITS)}
    return out


def their_job(j):
    out = {"reason": j["reason"]}
    if j["reason"] in PLACED:
        out["position"] = j["position"]
    if j["good"]:
        out |= test_oracle.expected_acts(j)
        out |= {key: j.get(key) for key in UNITS}
    return out


class Bench:
    """Files of one mutant, and the two who judge it."""

    def __init__(self, many, switched, folder):
        self.many, self.switched, self.folder = many, switched, folder
        self.card, self.state, self.after, self.package = (
            os.path.join(folder, name) for name in ("card", "state", "after", "package"))

    # Cards

    def put_card(self, mutant):
        """Writes card and memory; the station as the oracle knows it."""
        card = mutant.card
        station = hostile_cards.station_of(card.station)
        text, signatures, _, _ = card.world.owner_files()
        station.root = admission.Root(text, signatures)  # or no station is enrolled with it
        files = card.files()
        for met in card.met:
            self.meet(station, met)
        for past in mutant.past:
            past(station, files)
        store = memory.make(station)
        if mutant.bend_store:
            mutant.bend_store(store)
        with open(self.state, "wb") as file:
            file.write(store)
        card_writer.write(self.card, files, card.start)
        if mutant.bend_image:
            with open(self.card, "r+b") as file:
                mutant.bend_image(file, files, card.start)
        return station, store

    def meet(self, station, met):
        _, _, text, signatures = met.owner_files()
        files = {"CARDSEAL/TRUST.TXT": text, **met.withdrawal_files()}
        if met.next_roots:
            files[oracle.ROOTS] = oracle.container.write_roots(met.roots())
        for at, signature in enumerate(signatures, 1):
            files[f"CARDSEAL/TRUST.S0{at}"] = signature
        card_writer.write(self.card, files)
        with open(self.card, "rb") as file:
            oracle.judged_card(None, file, station)

    def our_card(self, many, mutant, off=0):
        none = "-"
        said = many.ask("card", self.card, self.state, self.after, off,
                        none if mutant.broken is None else mutant.broken,
                        none if mutant.write_fails is None else mutant.write_fails)
        if "error" in said:
            return {"reason": reason_of(said)}
        out = our_job(said["jobs"][0])
        out["more"] = [our_job(job) for job in said["jobs"][1:]]
        with open(self.after, "rb") as file:
            out["memory"] = learned(file.read())
        return out

    def their_card(self, mutant, station, store):
        station.writable = mutant.write_fails is None
        before = learned(store)
        with open(self.card, "rb") as file:
            try:
                oracle.Card(file, mutant.broken)  # the volume comes before the memory
                memory.newest(store)
                out = their_job(oracle.judged_card(None, file, station, mutant.broken))
            except sealed.Refusal as refusal:
                return {"reason": refusal.reason, "more": [], "memory": before}
            out["more"] = [their_job(oracle.judged_card(None, file, station, mutant.broken, choice))
                           for choice in range(1, station.jobs)]
        out["memory"] = {"root": station.root.text, "trust": station.trust, "stops": station.stops,
                         "work": before["work"]}
        return out

    # Packages at the desk

    def put_package(self, mutant):
        world = mutant.card.world
        with open(self.package, "wb") as file:
            file.write(world.bytes())
        return world.write_owner(self.folder)

    def our_package(self, many, owner, off=0):
        said = many.ask("package", self.package, *owner, off)
        out = {"reason": reason_of(said)}
        if out["reason"] == 0:
            out |= {key: said[key] for key in ("manifest", "engineering", "units_a_station",
                                               "numbers", "image_bytes")}
        return out

    def their_package(self, owner):
        try:
            root = admission.Root(*oracle.read_signed(owner[0]))
            trust = self.their_list(root, owner[1])
            judged = admission.judge_package_at_desk(root, trust, oracle.read_file(self.package))
        except sealed.Refusal as refusal:
            return {"reason": refusal.reason}
        numbers, verdict = judged.verdict.numbers(), judged.verdict
        return {"reason": 0, "manifest": judged.digest, "engineering": verdict.engineering,
                "units_a_station": verdict.units_a_station(),
                "numbers": list(numbers) if numbers else None, "image_bytes": len(judged.image())}

    def their_list(self, root, path):
        """The desk says of another owner's list that it is one, whatever else is wrong with it."""
        text, signatures = oracle.read_signed(path)
        try:
            return admission.judge_trust(root, text, signatures)
        except sealed.Refusal as refusal:
            try:
                if sealed.parse("trust", text)["owner"] != root.owner:
                    raise sealed.Refusal(304) from refusal
            except sealed.Refusal as named:
                if named.reason == 304:
                    raise
            raise

    def judge_package(self, owner):
        ours, theirs = self.our_package(self.many, owner), self.their_package(owner)
        # The desk reads no text or signature that has not its size, and says so without a number.
        if ours["reason"] in ("file-too-large", "signature-size") and theirs["reason"] and \
                self.has_wrong_size(owner):
            ours["reason"] = theirs["reason"]
        return ours, theirs

    def has_wrong_size(self, owner):
        def sizes(path):
            beside = [f"{path}.s{n:02}" for n in range(1, 18)]
            return os.path.getsize(path), [os.path.getsize(p) for p in beside if os.path.exists(p)]
        return any(text > 8192 or any(size != 64 for size in signatures)
                   for text, signatures in map(sizes, owner))


def learned(store):
    """What is in a memory; None when nothing in it counts."""
    try:
        return memory.learned(bytes(store))
    except sealed.Refusal:
        return {"work": None}


class Choice:
    """Which productions the next mutant is made of: those that gave the reason that is rarest."""

    def __init__(self, chance, wanted, goal):
        self.chance, self.wanted, self.goal = chance, wanted, goal
        self.steered = 1 if goal < HUNDRED else 0.7
        self.reasons = collections.Counter()
        self.given = collections.defaultdict(collections.Counter)  # production: reasons
        self.made = collections.Counter()
        self.aimed = collections.Counter()

    def rarest(self):
        """One that is still wanted; those that were tried in vain come later."""
        missing = [r for r in self.wanted if self.reasons[r] < self.goal]
        if not missing:
            return None
        reason = min(missing, key=lambda r: (self.reasons[r] + self.aimed[r] / 6, r))
        self.aimed[reason] += 1
        return reason

    def giver_of(self, reason):
        likely = [p for p, r in productions.KNOWN.items() if r == reason]
        likely += [productions.HINTS[reason]] if reason in productions.HINTS else []
        likely += [p for p in self.made if self.given[p][reason]]
        if not likely:
            return self.chance.choice(productions.GRAMMAR)
        return max(likely, key=lambda p: (self.given[p][reason] + 1) / (self.made[p] + 2) *
                   self.chance.random())

    def next(self):
        """Names of the productions; one card in six has further jobs, whatever else it has."""
        more = ["more work on the card"] if self.chance.random() < 1 / 6 else []
        return self.bent() + more

    def bent(self):
        names = [self.chance.choice(productions.BASES)]
        wanted = self.rarest()
        admitted = self.reasons[0] * 8 < sum(self.reasons.values())
        if admitted and self.chance.random() < 0.5:
            return names + ["a harmless value"]
        if wanted is not None and self.chance.random() < self.steered:
            names = names if self.chance.random() < 0.3 else ["card: a good card"]
            names += ["a harmless value", self.giver_of(wanted)]
        else:
            count = self.chance.choice([1, 1, 1, 1, 2, 2, 3])
            names += self.chance.choices(productions.GRAMMAR, k=count)
        return names

    def learn(self, names, reason):
        self.reasons[reason] += 1
        for name in set(names):
            self.made[name] += 1
            self.given[name][reason] += 1


class Run:
    def __init__(self, bench, world, count, wanted, goal):
        self.bench, self.count, self.wanted = bench, count, wanted
        self.world = pickle.dumps(world)  # quicker to read again than to copy
        self.chance = random.Random(SEED)
        self.choice = Choice(self.chance, wanted, goal)
        self.number = 0
        self.faults = []
        self.not_made = collections.Counter()  # why: how many
        self.why = ""
        self.judged = collections.Counter()
        self.jobs = collections.Counter()  # behind the first: whether they are good
        self.tried = collections.Counter()
        self.noticed = collections.Counter()

    def mutant(self, names):
        mutant = productions.Mutant(pickle.loads(self.world))
        for name in names:
            mutant.add(self.chance, name)
        return mutant

    def note(self, what, mutant, ours, theirs, without):
        """`without`: judges it once more, with a check left out."""
        reason = theirs["reason"]
        self.judged[what] += 1
        self.choice.learn(mutant.made_of, reason)
        self.jobs.update(job["reason"] == 0 for job in theirs.get("more", ()))
        if ours != theirs:
            self.fault(what, mutant, "; ".join(
                f"{k}: ours {ours.get(k)!r:.300}, the oracle's {theirs[k]!r:.300}"
                for k in theirs if ours.get(k) != theirs[k]))
        elif reason and self.bench.switched and self.tried[reason] < TRIES:
            self.tried[reason] += 1
            self.noticed[reason] += without(reason) != theirs
            if what == "card" and without(0) != theirs:
                self.fault(what, mutant, "the program with switches differs though none is off")

    def fault(self, what, mutant, text):
        self.faults.append(f"mutant {self.number}, {what} of {mutant.made_of}: {text}")

    def tried_to_make(self, make, *arguments):
        """What `make` gives; None when these changes can't come together."""
        try:
            return make(*arguments)
        except NOT_MADE as error:
            self.why = f"{type(error).__name__}: {error}"[:70]
            return None

    def one(self):
        names = self.choice.next()
        seed = self.chance.getrandbits(60)
        self.chance.seed(seed)
        mutant = self.tried_to_make(self.mutant, names)
        if not mutant or not self.judge(mutant):
            self.not_made[self.why] += 1
        self.chance.seed(seed + 1)

    def judge(self, mutant):
        """On a card, unless no station is enrolled with its root; at the desk; False for neither."""
        bench = self.bench
        made = self.tried_to_make(bench.put_card, mutant)
        if made:
            self.note("card", mutant, bench.our_card(bench.many, mutant),
                      bench.their_card(mutant, *made),
                      lambda reason: bench.our_card(bench.switched, mutant, reason))
        if made and self.chance.random() >= DESK:
            return True
        owner = self.tried_to_make(bench.put_package, mutant)
        if owner:
            self.note("package", mutant, *bench.judge_package(owner),
                      lambda reason: bench.our_package(bench.switched, owner, reason))
        return bool(made or owner)

    def all(self):
        for self.number in range(self.count):
            self.one()
            if self.number % FULL == FULL - 1:  # a long run that is stopped has told something
                print(f"{self.number + 1} of {self.count}, {len(self.faults)} faults so far",
                      flush=True)

    def print(self, goal):
        reasons = self.choice.reasons
        total = sum(reasons.values())
        for reason in sorted(reasons, key=str):
            switched = f"   without the check: {self.noticed[reason]} of {self.tried[reason]} noticed" \
                if self.tried[reason] else ""
            print(f"  {reason or 'good':>5}  {reasons[reason]:5}{switched}")
        for reason, why in UNREACHED.items():
            print(f"  {reason:>5}  not reached: {why}")
        for reason, why in NOT_NOTICED.items():
            print(f"  {reason:>5}  not noticed when left out: {why}")
        print(f"{total} judged, of these {self.judged['package']} packages at the desk; "
              f"{reasons[0]} admitted; {sum(self.not_made.values())} could not be made")
        print(f"{sum(self.jobs.values())} further jobs of cards, of these {self.jobs[True]} admitted")
        self.check(goal, total)
        for fault in self.faults[:60]:
            print("FAIL", fault)
        seeded = sum(1 for reason in self.tried if self.noticed[reason])
        if self.tried:
            print(f"{seeded} of {len(self.tried)} checks are missed when they are left out")
        print(f"{len(self.faults)} faults")

    def check(self, goal, total):
        reasons = self.choice.reasons
        for reason in sorted(set(self.wanted) | set(reasons) - {0}, key=str):
            if reason in UNREACHED and reasons[reason] or \
                    reason not in UNREACHED and reasons[reason] < goal:
                self.faults.append(f"reason {reason} was met {reasons[reason]} times")
        if sum(self.not_made.values()) * 20 > total:
            self.faults.append(f"too many could not be made: {self.not_made.most_common(5)}")
        if reasons[0] * 10 < total:
            self.faults.append(f"{reasons[0]} of {total} admitted: less than a tenth")
        if not (self.jobs[True] and self.jobs[False]):
            self.faults.append(f"further jobs were not both admitted and refused: {self.jobs}")
        for reason, tried in self.tried.items():
            if tried >= ENOUGH and (self.noticed[reason] == 0) != (reason in NOT_NOTICED):
                self.faults.append(f"without check {reason}: {self.noticed[reason]} of {tried} noticed")


def wanted_reasons(source):
    with open(os.path.join(source, test_oracle.REASONS), encoding="utf-8") as file:
        numbers = {int(n) for n in re.findall(r"^\| (\d{3}) \|", file.read(), re.M)}
    return sorted(numbers - set(UNREACHED))


def main():
    source, program = os.environ["SOURCE"], os.environ["CARDSEAL"]
    switched = os.environ.get("JUDGE_MANY_SWITCHED", "")
    many = Many(os.environ["JUDGE_MANY"])
    other = Many(switched) if os.path.exists(switched) else None
    goal = HUNDRED if COUNT >= FULL else FEW
    start = time.monotonic()
    with tempfile.TemporaryDirectory(dir=scratch()) as folder:
        world = matrix.packed_world(program, source, folder)
        world.manifest["sequence"] = 7
        run = Run(Bench(many, other, folder), world, COUNT, wanted_reasons(source), goal)
        run.all()
    many.close()
    if other:
        other.close()
    run.print(goal)
    print(f"{time.monotonic() - start:.0f} seconds")
    return 1 if run.faults else 0


if __name__ == "__main__":
    sys.exit(main())
