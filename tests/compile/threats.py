#!/usr/bin/env python3
"""Every test that lib/trust/THREATS.md names is there, and every threat and requirement has a row.
A test of tests/e2e is named as its function, with spaces.

usage: threats.py SOURCE-FOLDER
"""

import re
import sys
from pathlib import Path

# RFC 9124, sections 4.2 and 4.3: the names, counted in the published text.
THREATS = """IMG.EXPIRED IMG.EXPIRED.OFFLINE IMG.INCOMPATIBLE IMG.FORMAT IMG.LOCATION NET.REDIRECT NET.ONPATH
IMG.REPLACE IMG.NON_AUTH UPD.WRONG_PRECURSOR UPD.UNAPPROVED IMG.DISCLOSURE MFST.OVERRIDE MFST.EXPOSURE
IMG.EXTRA KEY.EXPOSURE MFST.MODIFICATION MFST.TOCTOU""".split()
REQUIREMENTS = """SEQUENCE COMPATIBLE EXP AUTHENTIC AUTH.IMG_TYPE AUTH.IMG_LOC AUTH.REMOTE_LOC AUTH.EXEC
AUTH.PRECURSOR AUTH.COMPATIBILITY RIGHTS IMG.CONFIDENTIALITY ACCESS_CONTROL MFST.CONFIDENTIALITY
IMG.COMPLETE_DIGEST REPORTING KEY.PROTECTION MFST.CHECK MFST.TRUSTED MFST.CONST""".split()
# The Update Framework specification 1.0.34, section 1.5.2.
ATTACKS = ["arbitrary software", "rollback", "fast-forward", "indefinite freeze", "endless data",
           "extraneous dependencies", "mix-and-match", "wrong software", "malicious mirrors",
           "key compromise"]


def test_names(source):
    names = set()
    for path in source.glob("tests/unit/**/*.cpp"):
        text = path.read_text(encoding="utf-8")
        for call in re.findall(r'TEST_CASE\(\s*((?:"(?:[^"\\]|\\.)*"\s*)+)', text):
            names.add("".join(re.findall(r'"((?:[^"\\]|\\.)*)"', call)))
    for path in source.glob("tests/e2e/*.py"):
        for name in re.findall(r"def test_(\w+)\(self", path.read_text(encoding="utf-8")):
            names.add(name.replace("_", " "))
    return names


def main():
    source = Path(sys.argv[1])
    page = (source / "lib" / "trust" / "THREATS.md").read_text(encoding="utf-8")
    rows = [[cell.strip() for cell in line.strip("|").split("|")]
            for line in page.splitlines() if line.startswith("| ") and not line.startswith("| ---")]
    firsts = [row[0] for row in rows]
    wrong = [f"no row, or more than one: {name}"
             for name in [f"THREAT.{name}" for name in THREATS] +
             [f"REQ.SEC.{name}" for name in REQUIREMENTS] + ATTACKS if firsts.count(name) != 1]
    known = test_names(source)
    named = 0
    for row in rows:
        tests = re.findall(r'"([^"]+)"', row[-1])
        named += len(tests)
        wrong += [f"{row[0]}: no such test: {test}" for test in tests if test not in known]
        if not tests and row[-1] not in ("none", "tests"):
            wrong.append(f"{row[0]}: names no test, and does not say none")
        if row[-1] == "none" and not re.search("not here|not answered|for the company", " ".join(row)):
            wrong.append(f"{row[0]}: has no test, and does not say why")
    print("\n".join(wrong) if wrong else f"{len(rows)} rows, {named} tests named")
    return 1 if wrong or named < 40 else 0


if __name__ == "__main__":
    sys.exit(main())
