#!/usr/bin/env python3
"""The archives of freestanding modules need nothing but each other and five functions that every
C compiler may call by itself (GCC manual, "Language Standards Supported by GCC", -ffreestanding).

usage: freestanding_symbols.py ARCHIVE...
       freestanding_symbols.py --self-test COMPILER
"""

import os
import subprocess
import sys
import tempfile

ALLOWED = {"memcpy", "memmove", "memset", "memcmp", "memchr"}


def symbols(archive, option):
    out = subprocess.run(["nm", option, "-P", archive], check=True, capture_output=True, text=True)
    return {line.split()[0] for line in out.stdout.splitlines() if len(line.split()) >= 2}


def left_over(archives):
    defined, needed = set(), {}
    for archive in archives:
        defined |= symbols(archive, "--defined-only")
        for symbol in symbols(archive, "--undefined-only"):
            needed.setdefault(symbol, archive)
    return {s: a for s, a in needed.items() if s not in defined and s not in ALLOWED}


def judge(archives):
    bad = left_over(archives)
    for symbol, archive in sorted(bad.items()):
        print(f"{archive}: needs {symbol}, which no station has")
    return 1 if bad else 0


def self_test(compiler):
    """An archive that allocates is found, one that only copies is not."""
    with tempfile.TemporaryDirectory() as folder:
        sources = {
            "bad": "int* make() { return new int(1); }",
            "good": "struct B { char b[999]; }; void put(B& a, const B& b) { a = b; }",
        }
        archives = {}
        for name, text in sources.items():
            source = os.path.join(folder, name + ".cpp")
            with open(source, "w", encoding="ascii") as file:
                file.write(text)
            subprocess.run([compiler, "-c", source, "-o", source + ".o"], check=True)
            archives[name] = os.path.join(folder, name + ".a")
            subprocess.run(["ar", "rc", archives[name], source + ".o"], check=True)
        found = set(left_over([archives["bad"]]))
        good = left_over([archives["good"]])
        if not any(symbol.startswith("_Zn") for symbol in found) or good:
            print(f"found {found} in the bad archive, {set(good)} in the good one")
            return 1
    return 0


if __name__ == "__main__":
    if sys.argv[1] == "--self-test":
        sys.exit(self_test(sys.argv[2]))
    sys.exit(judge(sys.argv[1:]))
