#!/usr/bin/python3
"""Makes a share of the conformance set and puts two stations behind it: station-check, and one in C
that knows cardseal_loader.h alone. Then three that answer wrongly, which has to be noticed.

Environment: CARDSEAL, STATION_CHECK, C_STATION: paths of the programs; SOURCE, the source folder.
"""

import os
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
RUN = os.path.join(HERE, "run")
# What a wrong station says and writes: for every card it is good, or refused for one reason; or it
# spoils its memory although its answers are right.
WRONG = {
    "admits all": "#!/bin/sh\necho admitted\n",
    "refuses all": "#!/bin/sh\necho refused 505\nexit 1\n",
    "loses its memory": '#!/bin/sh\n"$C_STATION" "$@"\ncode=$?\n'
                        'dd if=/dev/zero of="$2" bs=20480 count=2 2>/dev/null\nexit $code\n',
}


def put_behind(folder, *program):
    """The runner's exit code and what it printed."""
    done = subprocess.run([RUN, folder, *program], capture_output=True, check=False, text=True)
    return done.returncode, done.stdout.splitlines() or [done.stderr]


def main():
    faults = 0
    with tempfile.TemporaryDirectory() as scratch:
        folder = os.path.join(scratch, "set")
        made = subprocess.run([sys.executable, os.path.join(HERE, "make.py"), folder, "--share"],
                              capture_output=True, check=False, text=True)
        print(made.stdout + made.stderr, end="")
        if made.stdout.startswith("skipped"):
            return made.returncode
        if made.returncode:
            return 1
        for program in (os.path.join(HERE, "station_check"), os.environ["C_STATION"]):
            code, lines = put_behind(folder, program)
            print(f"{os.path.basename(program)}: {lines[-1]}")
            if code:
                faults += 1
                print("\n".join(lines[:20]))
        faults += wrong_ones(scratch, folder)
    return 1 if faults else 0


def few(folder, scratch):
    """A good case and a refused one of the set: enough to see a wrong station."""
    with open(os.path.join(folder, "cases.tsv"), encoding="utf-8") as table:
        lines = [line for line in table if not line.startswith("#")]
    chosen = [next(line for line in lines if f"\t{verdict}\t" in line)
              for verdict in ("admitted", "refused\t341")]
    for name in os.listdir(folder):
        if name != "cases.tsv":
            os.symlink(os.path.join(folder, name), os.path.join(scratch, name))
    with open(os.path.join(scratch, "cases.tsv"), "w", encoding="utf-8") as table:
        table.writelines(chosen)


def wrong_ones(scratch, folder):
    faults = 0
    small = os.path.join(scratch, "few")
    os.makedirs(small)
    few(folder, small)
    for name, script in WRONG.items():
        program = os.path.join(scratch, "wrong")
        with open(program, "w", encoding="ascii") as file:
            file.write(script)
        os.chmod(program, 0o755)
        code, lines = put_behind(small, program)
        noticed = code == 1 and lines[-1].startswith("2 cases, 2 ")
        faults += not noticed
        print(f"a station that {name}: {'noticed' if noticed else 'NOT noticed: ' + lines[-1]}")
    return faults


if __name__ == "__main__":
    sys.exit(main())
