#!/usr/bin/python3
"""Makes the conformance set: cards, the memory of the station that meets each, and a table.

    make.py FOLDER            all cases
    make.py FOLDER --share    one case for each reason, and some that are admitted

Environment: CARDSEAL, path of the program; SOURCE, the source folder. The verdicts are those of
tests/oracle, which is written from the pages alone. The same source makes the same set, byte for
byte. README.md says what the columns are.
"""

import collections
import os
import random
import sys
import tempfile

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "oracle"))

import test_oracle  # noqa: F401: first, says "skipped" where the cryptography is missing

import acts
import matrix
import memory
import mutants
import oracle
import productions
import sealed

SEED = "conformance 1"
TRIES = 400  # seeds for a production that only may give a reason
EACH = 3     # cases of each reason that no known case gives
GOOD = ("card: a good card", "card: a good card in a partition", "card: no serials",
        "card: a date code", "card: a newer list met before", "card: engineering",
        "card: supply from the board", "card: verified at the lowest and the highest",
        "card: eight withdrawals", "card: an alphabet and a reflected CRC",
        "card: a station without a log")
# Reasons that a card and a memory in files can't show, and why.
NOT_SHOWN = {**mutants.UNREACHED, 603: "needs a memory that can't be written"}
HEAD = """\
# Conformance set. One case a line, fields separated by one tab: number, card, memory, root, station,
# admitted or refused, reason, digest of what is acted on, digest of the memory afterwards, what it is.
# README.md beside make.py has each column.
"""


class Maker(mutants.Bench):
    """Writes a mutant's card and memory where the set wants them, and asks the oracle."""

    def __init__(self, folder):
        super().__init__(None, None, folder)
        self.rows = []

    def root_of(self, world):
        """The owner's first root with its signatures; each stands in the set once."""
        text, signatures, _, _ = world.owner_files()
        name = "root-" + acts.digest_of((text + b"".join(signatures)).hex())[:12] + ".root"
        path = os.path.join(self.folder, name)
        for suffix, content in [("", text)] + [
                (f".s{at:02}", s) for at, s in enumerate(signatures, 1)]:
            with open(path + suffix, "wb") as file:
                file.write(content)
        return name

    def judged(self, station, store):
        """Reason, acts and memory by the oracle, with the volume and the memory before all else."""
        with open(self.card, "rb") as file:
            try:
                oracle.Card(file)
                memory.newest(store)
            except sealed.Refusal as refusal:
                return refusal.reason, "-", acts.digest_of_memory(mutants.learned(store))
            j = oracle.judged_card(None, file, station)
        held = {"root": station.root.text, "trust": station.trust, "stops": station.stops}
        acted_on = acts.digest_of(acts.of_oracle(j)) if j["good"] else "-"
        return j["reason"], acted_on, acts.digest_of_memory(held)

    def add(self, name, mutant, wanted=None):
        """The case's reason; None, and nothing left behind, when it can't be made, needs more than
        files, or has not the reason that is wanted."""
        if mutant.broken is not None or mutant.write_fails is not None:
            return None
        number = f"{len(self.rows) + 1:04}"
        self.card, self.state = (os.path.join(self.folder, number + e) for e in (".img", ".state"))
        try:
            station, store = self.put_card(mutant)
            reason, acted_on, held = self.judged(station, store)
            root = self.root_of(mutant.card.world)
        except mutants.NOT_MADE:
            reason = None
        if reason is None or wanted is not None and reason != wanted:
            for path in (self.card, self.state):
                if os.path.exists(path):
                    os.remove(path)
            return None
        s = mutant.card.station
        self.rows.append((number, number + ".img", number + ".state", root,
                          f"{s['name']} {s['model']} {s['enrolment']}",
                          "refused" if reason else "admitted", str(reason), acted_on, held, name))
        return reason

    def write_table(self):
        with open(os.path.join(self.folder, "cases.tsv"), "w", encoding="utf-8") as file:
            file.write(HEAD)
            for reason, why in sorted(NOT_SHOWN.items()):
                file.write(f"# {reason} has no case: {why}\n")
            for row in self.rows:
                file.write("\t".join(row) + "\n")


class Set:
    def __init__(self, maker, world, share):
        self.maker, self.world, self.share = maker, world, share
        self.reasons = collections.Counter()

    def mutant(self, *names, seed=0):
        mutant = productions.Mutant(self.world.copy())
        chance = random.Random(f"{SEED} {names} {seed}")
        for name in names:
            mutant.add(chance, name)
        return mutant

    def add(self, name, mutant, wanted=None):
        reason = self.maker.add(name, mutant, wanted)
        if reason is not None:
            self.reasons[reason] += 1
        return reason

    def known(self):
        """What is wrong in one thing; of a share, the first case of each reason."""
        for name, reason in productions.KNOWN.items():
            told = name in GOOD if reason in (0, None) else not self.reasons[reason]
            if told or not self.share:
                self.add(name, self.mutant(name), reason if self.share else None)

    def searched(self, wanted):
        """Reasons that a production gives only with some seeds."""
        for reason in wanted:
            goal = self.reasons[reason] + (1 if self.share else EACH)
            maker = productions.HINTS.get(reason)
            for seed in range(TRIES if maker and self.reasons[reason] == 0 else 0):
                if self.reasons[reason] < goal:
                    self.tried(f"{maker}, {seed}", reason, maker, seed)

    def tried(self, name, reason, maker, seed):
        try:
            mutant = self.mutant(maker, seed=seed)
        except mutants.NOT_MADE:
            return
        self.add(name, mutant, reason)

    def no_card(self):
        mutant = self.mutant("card: a good card")
        mutant.bend_image = lambda file, files, start: file.truncate(0)
        self.add("a card that can't be read", mutant, 501)

    def all(self):
        self.no_card()
        self.known()
        wanted = [r for r in mutants.wanted_reasons(os.environ["SOURCE"]) if r not in NOT_SHOWN]
        self.searched(wanted)
        self.maker.write_table()
        return [r for r in wanted if not self.reasons[r]]


def main():
    named = "CARDSEAL" in os.environ and "SOURCE" in os.environ
    if len(sys.argv) < 2 or sys.argv[2:] not in ([], ["--share"]) or not named:
        print(__doc__, file=sys.stderr)
        return 64
    folder = sys.argv[1]
    if os.path.exists(folder):
        print(f"{folder} is there already; a set is made as a whole, into a new folder",
              file=sys.stderr)
        return 73
    with tempfile.TemporaryDirectory() as scratch:
        world = matrix.packed_world(os.environ["CARDSEAL"], os.path.abspath(os.environ["SOURCE"]),
                                    scratch)
    world.manifest["sequence"] = 7  # what the cases of the oracle count on
    os.makedirs(folder)
    made = Set(Maker(folder), world, sys.argv[2:] == ["--share"])
    missing = made.all()
    print(f"{len(made.maker.rows)} cases, {made.reasons[0]} admitted, "
          f"{len(made.reasons) - 1} reasons")
    for reason in missing:
        print(f"no case for reason {reason}")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
