#!/usr/bin/python3
"""`serial units` and `serial proof` as people use them: every check character by Debian's
python3-stdnum, bytes and collisions by plain arithmetic here."""

import binascii
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

CARDSEAL = os.environ["CARDSEAL"]
SOURCE = Path(os.environ["SOURCE"])
WORKED = SOURCE / "packages" / "01-frost-node"


def release(folder, serial):
    """The worked release with another <serial>, beside links to its files."""
    text = (WORKED / "release.xml").read_text(encoding="utf-8")
    start, end = text.index("<serial "), text.index("</serial>") + len("</serial>")
    folder.mkdir()
    for name in ("firmware", "profiles", "release-notes.txt"):
        (folder / name).symlink_to(WORKED / name)
    path = folder / "release.xml"
    path.write_text(text[:start] + serial + text[end:], encoding="utf-8")
    return path


def ask(*arguments, code=0):
    done = subprocess.run([CARDSEAL, "serial", *map(str, arguments), "--json"],
                          stdout=subprocess.PIPE, check=False)
    assert done.returncode == code, (arguments, done.returncode)
    return json.loads(done.stdout)


def units(*arguments):
    return ask("units", *arguments)["units"]


def checked(kind, base=10):
    return (f'<serial scheme="s" first="1" step="7919" capacity="100"><number base="{base}" width="6"/>'
            f'<check kind="{kind}" from="1"/><place region="flash" address="0x7f00" encoding="ascii" '
            f'length="16" padding="0xff" before="erased"/></serial>')


def check_characters(folder):
    try:
        from stdnum import damm, ean, luhn, verhoeff
        from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10
    except ImportError:
        assert os.environ.get("CI") != "true", "stdnum is missing: install python3-stdnum"
        print("skipped: no judge of check characters (Debian package python3-stdnum)")
        return
    judges = {"luhn": luhn.calc_check_digit, "gs1-mod-10": ean.calc_check_digit,
              "damm": damm.calc_check_digit, "verhoeff": verhoeff.calc_check_digit,
              "mod-11-2": mod_11_2.calc_check_digit, "mod-11-10": mod_11_10.calc_check_digit,
              "mod-97-10": mod_97_10.calc_check_digits, "mod-37-2": mod_37_2.calc_check_digit,
              "mod-37-36": mod_37_36.calc_check_digit}
    seen = 0
    for kind, judge in judges.items():
        base = 36 if kind.startswith("mod-37") else 10
        for unit in units(release(folder / kind, checked(kind, base)), "0-99"):
            number, check = unit["text"][:6], unit["text"][6:]
            assert check == judge(number), (kind, unit["text"], judge(number))
            assert bytes.fromhex(unit["bytes"][0]) == unit["text"].encode().ljust(16, b"\xff"), unit
            seen += 1
    assert seen == 900
    print(f"{seen} check characters are those of stdnum")


def additions(folder):
    """CRC-16/XMODEM is binascii's crc_hqx."""
    path = release(folder / "rich", """<serial scheme="s" first="1" step="1" capacity="99000">
<exclude first="13" last="13"/><exclude first="100" last="199"/>
<literal text="FN"/><date-code width="4"/><class engineering="E" pilot="P" production="N" rework="R"
sample="S"/><number base="10" width="5"/><crc model="CRC-16/XMODEM" order="be"/>
<place region="flash" address="0x7f00" encoding="ascii" length="14" crc="yes" before="erased"/>
<place region="flash" address="0x7f40" encoding="utf-16le" length="40" first-part="2" last-part="4"
second-byte="0x34" before="erased"/></serial>""")
    plain = [n for n in range(1, 300) if n != 13 and not 100 <= n <= 199]
    for unit in units(path, "--date-code", "27W1", "--class", "pilot", "0-190"):
        number = plain[unit["ordinal"]]
        text = f"FN27W1P{number:05}"
        assert (unit["number"], unit["text"]) == (number, text), unit
        crc = binascii.crc_hqx(text.encode(), 0).to_bytes(2, "big")
        assert unit["bytes"][0] == (text.encode() + crc).hex(), unit
        wide = text[2:].encode("utf-16-le")
        assert unit["bytes"][1] == b"".join(bytes((b, 0x34)) for b in wide).hex(), unit
    refused = subprocess.run([CARDSEAL, "serial", "units", path, "0"], stderr=subprocess.PIPE,
                             check=False)
    assert refused.returncode == 1 and b"--date-code" in refused.stderr, refused


def proofs():
    path = WORKED / "release.xml"
    proof = ask("proof", path)
    texts = {unit["text"] for unit in proof["units"]}
    for number in (1, 9, 10, 99, 100, 255, 256, 65535, 65536, 99999, 100000, 999999):
        assert f"FN{number:06}" in texts, number
    assert proof["left"] == 0
    apart = ask("proof", path, "--range", "0-99", "--against", path, "--against-range", "100-199")
    assert apart["collision"]["texts"] == "never" and apart["left"] == 999999 - 100
    met = ask("proof", path, "--range", "0-99", "--against", path, "--against-range", "99-199",
              code=1)
    assert met["collision"]["texts"] == "can" and met["collision"]["number"] == 100


def weeks():
    """`date` of coreutils gives year and week of ISO 8601 as %g and %V."""
    for day in ("2026-12-31", "2027-01-01", "2027-01-04", "2024-12-30"):
        theirs = subprocess.run(["date", "-d", day, "+%g%V"], stdout=subprocess.PIPE, check=True)
        ours = subprocess.run([CARDSEAL, "serial", "week", day], stdout=subprocess.PIPE, check=True)
        assert ours.stdout == theirs.stdout, (day, ours.stdout, theirs.stdout)


def main():
    with tempfile.TemporaryDirectory(prefix="cardseal-serials-") as name:
        check_characters(Path(name))
        additions(Path(name))
    proofs()
    weeks()


if __name__ == "__main__":
    sys.exit(main())
