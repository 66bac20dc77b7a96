#!/usr/bin/env python3
"""Each worked release gives the digests that stand beside it, its check finds nothing to refuse, and
its build script makes the committed files of its sources. The digest of the file is compared with
hashlib, that over addresses and bytes is computed here; the compiler is the judge of the files, and
binutils' objcopy of what was merged."""

import glob
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile

CARDSEAL = os.environ["CARDSEAL"]
SOURCE = os.environ["SOURCE"]


def run_json(*args):
    done = subprocess.run([CARDSEAL, *args, "--json"], stdout=subprocess.PIPE, check=False)
    return json.loads(done.stdout)


def memory_of(hex_text):
    """Our own plain reading of Intel HEX: data records (00) behind an upper address (04)."""
    memory = {}
    upper = 0
    for line in hex_text.split():
        record = bytes.fromhex(line[1:])
        if record[3] == 0:
            start = upper + (record[1] << 8 | record[2])
            memory.update({start + i: byte for i, byte in enumerate(record[4:-1])})
        elif record[3] == 4:
            upper = int.from_bytes(record[4:6], "big") << 16
        else:
            assert record[3] in (1, 5), line
    return memory


def read_text(path):
    with open(path, encoding="ascii") as file:
        return file.read()


def digest_of(memory):
    runs = []
    for address in sorted(memory):
        if not runs or runs[-1][0] + len(runs[-1][1]) != address:
            runs.append((address, bytearray()))
        runs[-1][1].append(memory[address])
    sha = hashlib.sha256()
    for address, data in runs:
        sha.update(address.to_bytes(8, "big") + len(data).to_bytes(8, "big") + bytes(data))
    return sha.hexdigest()


def skipped(why):
    print(f"skipped: {why}")
    assert os.environ.get("CI") != "true", why


def check_built(folder, built):
    """The build script in a folder of its own makes the committed files, byte for byte."""
    if shutil.which(built["compiler"]) is None:
        skipped(f"{built['compiler']} is missing (Debian package {built['package']})")
        return
    said = subprocess.run([built["compiler"], "--version"], capture_output=True, text=True, check=True)
    first = (said.stdout + said.stderr).splitlines()[0]
    if built["version"] not in first:  # others give other bytes
        skipped(f"{folder} was built by {built['version']}, this is {first}")
        return
    with tempfile.TemporaryDirectory(prefix="cardseal-build-") as out:
        subprocess.run(["sh", os.path.join(folder, "firmware", "build.sh"), out], check=True,
                       stdout=subprocess.DEVNULL, env={**os.environ, "CARDSEAL": CARDSEAL})
        made = sorted(os.listdir(out))
        assert made == sorted(built["files"]), (folder, made)
        for name in made:
            with open(os.path.join(out, name), "rb") as new, \
                    open(os.path.join(folder, "firmware", name), "rb") as committed:
                assert new.read() == committed.read(), (folder, name)


def check_merged(folder, firmware, parts):
    """The approved file holds what objcopy takes from each part, and nothing else."""
    if shutil.which("objcopy") is None:
        skipped("objcopy is missing (Debian package binutils)")
        return
    together = {}
    with tempfile.TemporaryDirectory(prefix="cardseal-parts-") as out:
        for part in parts:
            path = os.path.join(out, "part.hex")
            subprocess.run(["objcopy", "-I", "elf32-little", "-O", "ihex",
                            os.path.join(folder, part), path], check=True)
            memory = memory_of(read_text(path))
            assert memory and not memory.keys() & together.keys(), (folder, part)
            together.update(memory)
    assert together == memory_of(read_text(firmware)), folder


def main():
    found = 0
    for path in sorted(glob.glob(os.path.join(SOURCE, "packages/*/expected.json"))):
        folder = os.path.dirname(path)
        expected = json.loads(read_text(path))
        firmware = os.path.join(folder, expected["firmware"])
        image = run_json("image", firmware)
        for key in ("file_sha256", "sha256", "image_size"):
            assert image[key] == expected[key], (path, key, image[key], expected[key])
        with open(firmware, "rb") as file:
            assert hashlib.sha256(file.read()).hexdigest() == expected["file_sha256"], path
        assert digest_of(memory_of(read_text(firmware))) == expected["sha256"], path
        check = run_json("check", os.path.join(folder, "release.xml"))
        assert check["refusals"] == 0, (path, check)
        rules = sorted({finding["rule"] for finding in check["findings"]})
        assert rules == expected["findings"], (path, rules)
        check_built(folder, expected["built"])
        if "parts" in expected:
            check_merged(folder, firmware, expected["parts"])
        found += 1
    folders = glob.glob(os.path.join(SOURCE, "packages/*/release.xml"))
    assert found == len(folders) > 0, (found, folders)
    print(f"{found} worked release(s) as expected")
    return 0


if __name__ == "__main__":
    sys.exit(main())
