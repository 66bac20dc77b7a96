#!/usr/bin/env python3
"""Shows that every numbered check is noticed: in the programs of target `switched`, the tests tagged
[check-N] pass, and at least one of them fails when check N, and only that, is switched off.

usage: run.py BUILD-FOLDER SOURCE-FOLDER
"""

import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

PROGRAMS = [f"test_{module}_switched" for module in ("format", "unit", "trust", "loader", "package")]

# Not checks but operations that have no result when they fail: there is nothing to switch off.
NO_SWITCH = {
    206: "bytes that are not there can't be read past",
}


def numbers(source):
    text = open(os.path.join(source, "lib/base/fault.h"), encoding="utf-8").read()
    return [int(n) for n in re.findall(r"^  \w+ = (\d+),", text, re.M) if int(n) > 0]


def passes(program, tag, off):
    env = dict(os.environ, CARDSEAL_SWITCH_OFF=str(off))
    done = subprocess.run([program, tag], env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          timeout=120, check=False)
    ran = b"No test cases matched" not in done.stdout and b"No tests ran" not in done.stdout
    return ran, done.returncode == 0


def judge(number, programs):
    """An empty string when check `number` is noticed, else what is wrong."""
    tag = f"[check-{number}]"
    tested = False
    noticed = False
    for program in programs:
        ran, good = passes(program, tag, 0)
        if not ran:
            continue
        tested = True
        if not good:
            return "its tests fail with the check on"
        noticed = noticed or not passes(program, tag, number)[1]
    if not tested:
        return "no test is tagged for it"
    return "" if noticed else "no test turns red without it"


def main():
    build, source = sys.argv[1:3]
    programs = [os.path.join(build, "tests", name) for name in PROGRAMS]
    programs = [program for program in programs if os.path.exists(program)]
    failed = 0
    shown = 0
    for number in NO_SWITCH:
        print(f"{number}: not switched: {NO_SWITCH[number]}")
    switched = [number for number in numbers(source) if number not in NO_SWITCH]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        verdicts = list(pool.map(lambda number: judge(number, programs), switched))
    for number, wrong in zip(switched, verdicts):
        if wrong:
            failed += 1
            print(f"{number}: {wrong}")
        else:
            shown += 1
    print(f"{shown} checks each turn a test red when switched off, {failed} do not")
    return 1 if failed or not shown else 0


if __name__ == "__main__":
    sys.exit(main())
