"""Kills processes that make cards from one register, four at once, and looks at what is left.

    run.py KILL_DESK [KILLS]      KILLS: 1000 for the full run, by hand; a few under ctest

Each step (reserve, sign, seal, newest, card, written) is killed in turn at a random change of a file
in it: before the change, after it, or half way through a write. One in eight is killed from outside at
a random moment instead. Afterwards, read by Python's own SQLite and from the cards themselves:

- no number stands in two ranges or on two cards;
- every number that left belongs to exactly one record, and every card to its allotment;
- a card that exists was sealed in the register before; the newest sealed allotment is known;
- the register's own check finds nothing, and the next set is made.

Full run of 2026-11-25: 1002 kills, 125 or more in each step and 133 at any moment, nothing wrong.
"""

import os
import random
import re
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

STEPS = ("reserve", "sign", "seal", "newest", "card", "written")
AT_ONCE = 4
FIRST = 1000  # of the desk's window
UNITS = 7     # a card


def counts(program, folder):
    """Changes of files in each step of one undisturbed set."""
    done = subprocess.run([program, "count", folder, "whole"], capture_output=True, text=True,
                          check=True)
    return {line.split()[0]: int(line.split()[1]) for line in done.stdout.splitlines()}


class Killer:
    def __init__(self, program, folder, chance):
        self.program, self.folder, self.chance = program, folder, chance
        self.killed, self.made, self.failed, self.started = Counter(), 0, [], 0

    def start(self, changes):
        self.started += 1
        name = f"set{self.started}"
        step = STEPS[self.started % len(STEPS)]
        command = [self.program, "make", self.folder, name]
        delay = None
        if self.chance.random() < 0.125:
            delay = self.chance.uniform(0.01, 0.2)
        else:
            command += [step, str(self.chance.randrange(changes[step] or 1)),
                        self.chance.choice(("before", "after", "torn"))]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                                   text=True)
        return process, delay and time.monotonic() + delay

    def finish(self, process):
        words = process.stderr.read().split("\n")[0]
        if process.returncode == -signal.SIGKILL:
            self.killed[words.split()[1] if words.startswith("killed") else "any moment"] += 1
        elif process.returncode == 0:
            self.made += 1
        else:
            self.failed.append(f"exit {process.returncode}: {words}")

    def run(self, kills, changes, each=lambda: None):
        running, looked = [], 0
        while sum(self.killed.values()) < kills and not self.failed:
            while len(running) < AT_ONCE:
                running.append(self.start(changes))
            time.sleep(0.002)
            for entry in list(running):
                process, due = entry
                if due is not None and time.monotonic() > due:
                    process.kill()
                if process.poll() is not None:
                    running.remove(entry)
                    self.finish(process)
            if sum(self.killed.values()) >= looked + 100:
                looked += 100
                each()
        for process, _ in running:
            process.wait()
            self.finish(process)


def kept_newest(folder, database):
    """The allotment that the file beside the register holds; 0: none."""
    file = folder / "desk.register.newest"
    card = re.search(rb"^card ([0-9a-f]{16})$", file.read_bytes(), re.M) if file.exists() else None
    row = card and database.execute("SELECT id FROM allotment WHERE card = ?",
                                    [bytes.fromhex(card[1].decode())]).fetchone()
    return row[0] if row else 0


def faults(program, folder, open_end):
    """What is wrong, in words. `open_end`: other processes are still at work."""
    wrong = []
    done = subprocess.run([program, "audit", folder], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        return [f"audit: exit {done.returncode}: {done.stderr}"]
    lines = done.stdout.splitlines()
    wrong += [line for line in lines if line.startswith("problem")]
    wrong += [line for line in lines if line == "newest missing"]
    with sqlite3.connect(folder / "desk.register") as database:
        ranges = database.execute("SELECT first, past FROM range WHERE first IS NOT NULL "
                                  "ORDER BY first").fetchall()
        rows = {bytes(card).hex(): (first, past - first, sealed) for card, first, past, sealed in
                database.execute("SELECT a.card, r.first, r.past, s.text IS NOT NULL FROM allotment a "
                                 "JOIN range r ON r.id = a.range LEFT JOIN sealing s ON "
                                 "s.allotment = a.id")}
        newest = database.execute("SELECT coalesce(max(allotment), 0) FROM sealing").fetchone()[0]
        kept = kept_newest(folder, database)
    database.close()
    if kept < newest and not open_end:
        wrong.append(f"the newest kept is older than what was sealed: {kept}, {newest}")
    at = FIRST
    for first, past in ranges:
        if first != at:
            wrong.append(f"a range begins at {first}, the one before ended at {at}")
        at = past
    if len(rows) != len(ranges):
        wrong.append(f"{len(ranges)} ranges, {len(rows)} allotments")
    on_cards = Counter()
    for line in lines:
        if line.startswith("card "):
            _, name, first, count, card, standing = line.split()
            if standing != "known" or rows.get(card, ())[:2] != (int(first), int(count)):
                wrong.append(f"{name}: {standing}, {rows.get(card)}")
            elif not rows[card][2]:
                wrong.append(f"{name} was written and never sealed")
            on_cards.update(range(int(first), int(first) + int(count)))
    wrong += [f"number {n} is on {times} cards" for n, times in on_cards.items() if times > 1]
    if not open_end and not on_cards:
        wrong.append("no card was ever written")
    return wrong


def main():
    program = Path(sys.argv[1]).resolve()
    kills = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    seed = int(os.environ.get("SEED", random.randrange(1 << 32)))
    with tempfile.TemporaryDirectory(prefix="cardseal-kill-") as name:
        folder = Path(name)
        subprocess.run([program, "start", folder], check=True)
        changes = counts(program, folder)
        killer = Killer(program, folder, random.Random(seed))
        wrong = []
        killer.run(kills, changes, lambda: wrong.extend(faults(program, folder, True)))
        wrong += killer.failed + faults(program, folder, False)
        subprocess.run([program, "make", folder, "last"], check=True)
        print(f"seed {seed}; changes in a step: {changes}")
        print(f"killed {sum(killer.killed.values())}: {dict(killer.killed)}; whole: {killer.made}")
        missing = [step for step in STEPS if killer.killed[step] < kills // 20]
        wrong += [f"step {step} was killed {killer.killed[step]} times only" for step in missing]
        for line in wrong:
            print("wrong:", line)
        sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
