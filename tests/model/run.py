"""Holds numbers.pml against Debian's spin: sound as it stands, broken with any one rule away.

    run.py          bounded: about 25 s of processor, 60 s at most for any one search
    run.py --full   more moves and both stations, some minutes

Each rule of the model names the code that keeps it and the test that holds the code; both are looked up.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
SOURCE = FOLDER.parents[1]
MODEL = FOLDER / "numbers.pml"
LIMIT_S = 60

# (what is searched, how): sound within these bounds.
SOUND = [("two stations, one move", ["-DMOVES=1"]),
         ("one station, two moves", ["-DMOVES=2", "-DONE_STATION"])]
SOUND_FULL = [("two stations, two moves", ["-DMOVES=2"]),
              ("one station, three moves", ["-DMOVES=3", "-DONE_STATION"])]

GIVE = "tests/unit/register/give_test.cpp"
MEMORY = "tests/unit/loader/memory_test.cpp"
REFUSE = "tests/unit/loader/refuse_test.cpp"
# What is taken away: (the rule, file and what is found in it, test file and name)
RULES = {
    "M_NOLOCK": ("numbers are read and taken under one lock",
                 "lib/register/sqlite.cpp", "BEGIN IMMEDIATE",
                 GIVE, "a register that another program holds is waited for and then named busy"),
    "M_WRITEFIRST": ("a card is written when its numbers are recorded, not before",
                     "lib/card/card_set.cpp", "reserve(numbers, in, registry::Register::Answer::give)",
                     "tests/kill/run.py", "was written and never sealed"),
    "M_VOID": ("a reservation that was never sealed is spent",
               "lib/register/schema.cpp", "a number does not come back",
               GIVE, "no SQL changes or removes what stands in a register"),
    "M_LOGRETURN": ("what a card's log leaves out is spent",
                    "lib/register/schema.cpp", "a range is not changed",
                    GIVE, "results are joined: a unit once begun or good stays so"),
    "M_NONEWEST": ("the newest sealed allotment is kept beside the register, and met",
                 "lib/card/card_set.cpp", "meet_newest",
                 "tests/e2e/register.py", "test_a_register_from_a_backup_gives_nothing_more"),
    "M_ANYNEWEST": ("the newest is the one reserved last, not the one sealed last",
                    "lib/register/steps.cpp", "is_newest",
                    GIVE, "steps of an allotment are taken once and in order"),
    "M_LATENEWEST": ("the newest is kept before its card is written",
                     "lib/register/steps.cpp", "REG_DO(keep(newest))",
                     "tests/kill/run.py", "the newest kept is older than what was sealed"),
    "M_SEALANY": ("what is sealed is the reservation that was made, by its entry",
                  "lib/register/steps.cpp", "has_reservation",
                  GIVE, "steps of an allotment are taken once and in order"),
    "M_SEALBLIND": ("nothing is sealed in a register that lacks the newest",
                    "lib/card/card_set.cpp", "check_newest",
                    "tests/unit/card/set_test.cpp",
                    "a register that was set back while a set was made seals nothing more"),
    "M_ONESLOT": ("a station's progress stands in both slots before a socket is energised",
                  "lib/loader/station_memory.cpp", "keep_progress",
                  MEMORY, "a damaged slot blocks although the other is whole: it may be the newer"),
    "M_LATEMARK": ("a number is marked used before it is burnt",
                   "lib/loader/run.cpp", "keep_progress",
                   MEMORY, "a cut at every write of a cycle leaves the old memory or the new, never a third"),
    "M_KEEP": ("a number whose programming began is spent, whatever came of it",
               "lib/loader/run.cpp", "used.ordinals_used += ordinals",
               MEMORY, "a cycle takes ordinals once, across restarts, to the last and no further"),
    "M_EVICT": ("an allotment that is kept no more does not come back",
                "lib/trust/job_rules.cpp", "allotment.serial > station.kept[0].serial",
                MEMORY, "an allotment's serial stands for one text, and old serials do not come back"),
    "M_ANYSTATION": ("an allotment is for one station",
                     "lib/trust/job_rules.cpp", "allotment_station",
                     REFUSE, "a card for another station is refused"),
    "M_REENROL": ("a station that lost its memory counts a new enrolment",
                  "lib/trust/job_rules.cpp", "out.enrolment == station.enrolment",
                  REFUSE, "a card for an earlier enrolment is refused"),
}


def search(folder, options, optimise):
    """True: no run breaks the assertion; False: one does. And how many states were seen."""
    folder.mkdir()
    made = subprocess.run(["spin", "-a", *options, MODEL], cwd=folder, capture_output=True,
                          text=True, check=False)
    if made.returncode != 0:
        raise SystemExit(f"spin: {made.stdout}{made.stderr}")
    subprocess.run(["gcc", optimise, "-w", "-DSAFETY", "-DCOLLAPSE", "-DMEMLIM=3000", "-o", "pan",
                    "pan.c"], cwd=folder, check=True)
    done = subprocess.run(["./pan", "-m100000", "-w20"], cwd=folder, capture_output=True, text=True,
                          timeout=LIMIT_S * (10 if "--full" in sys.argv else 1), check=False)
    if "max search depth too small" in done.stdout or "out of memory" in done.stdout:
        raise SystemExit(f"the search was not complete: {done.stdout}")
    states = next(line.split()[0] for line in done.stdout.splitlines() if "states, stored" in line)
    if "assertion violated" in done.stdout:
        return False, states
    if "errors: 0" not in done.stdout:
        raise SystemExit(done.stdout + done.stderr)
    return True, states


def lost_names():
    """Rules of the table that the model lacks, or whose code or test is not there."""
    model = MODEL.read_text()
    lost = [f"{name} is not in the table" for name in
            set(re.findall(r"\bM_[A-Z]+\b", model)) - set(RULES)]
    for name, (_, code, found, test, case) in RULES.items():
        if not re.search(rf"\b{name}\b", model):
            lost.append(f"{name} is not in the model")
        for file, text in ((code, found), (test, case)):
            path = SOURCE / file
            if not path.exists() or text not in " ".join(path.read_text().split()).replace('" "', ""):
                lost.append(f"{name}: {file} does not hold {text!r}")
    return lost


def main():
    wrong = lost_names()
    if shutil.which("spin") is None:
        print("skipped: spin is missing (Debian package spin)")
        sys.exit(1 if os.environ.get("CI") == "true" or wrong else 0)
    with tempfile.TemporaryDirectory(prefix="cardseal-model-") as name:
        folder = Path(name)
        for what, options in SOUND + (SOUND_FULL if "--full" in sys.argv else []):
            sound, states = search(folder / what.replace(" ", "-"), options, "-O2")
            print(f"{'sound' if sound else 'BROKEN'}: {what}, {states} states")
            if not sound:
                wrong.append(f"{what}: a number stands in two boards")
        for rule, (words, *_) in RULES.items():
            needs_two = rule == "M_ANYSTATION"
            options = ["-DMOVES=1"] if needs_two else ["-DMOVES=2", "-DONE_STATION"]
            sound, states = search(folder / rule, [*options, f"-D{rule}"], "-O0")
            print(f"{'NOT CAUGHT' if sound else 'caught'}: without '{words}' ({rule})")
            if sound:
                wrong.append(f"{rule} is not caught")
    for line in wrong:
        print("wrong:", line)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
