#!/usr/bin/env python3
"""Each worked release gives the digests that stand beside it, and its check finds nothing to refuse.
The digest of the file is compared with hashlib, that over addresses and bytes is computed here."""

import glob
import hashlib
import json
import os
import subprocess
import sys

CARDSEAL = os.environ["CARDSEAL"]
SOURCE = os.environ["SOURCE"]


def run_json(*args):
    done = subprocess.run([CARDSEAL, *args, "--json"], stdout=subprocess.PIPE, check=False)
    return json.loads(done.stdout)


def segments_of(hex_file):
    """Our own plain reading of Intel HEX data records below 64 KiB (types 00 and 01 only)."""
    memory = {}
    for line in open(hex_file, encoding="ascii"):
        record = bytes.fromhex(line.strip()[1:])
        if record[3] == 0:
            start = record[1] << 8 | record[2]
            memory.update({start + i: byte for i, byte in enumerate(record[4:-1])})
    runs = []
    for address in sorted(memory):
        if not runs or runs[-1][0] + len(runs[-1][1]) != address:
            runs.append((address, bytearray()))
        runs[-1][1].append(memory[address])
    return runs


def digest_of(runs):
    sha = hashlib.sha256()
    for address, data in runs:
        sha.update(address.to_bytes(8, "big") + len(data).to_bytes(8, "big") + bytes(data))
    return sha.hexdigest()


def main():
    found = 0
    for path in sorted(glob.glob(os.path.join(SOURCE, "packages/*/expected.json"))):
        folder = os.path.dirname(path)
        expected = json.load(open(path, encoding="utf-8"))
        firmware = os.path.join(folder, expected["firmware"])
        image = run_json("image", firmware)
        for key in ("file_sha256", "sha256", "image_size"):
            assert image[key] == expected[key], (path, key, image[key], expected[key])
        content = open(firmware, "rb").read()
        assert hashlib.sha256(content).hexdigest() == expected["file_sha256"], path
        assert digest_of(segments_of(firmware)) == expected["sha256"], path
        check = run_json("check", os.path.join(folder, "release.xml"))
        assert check["refusals"] == expected["refusals"], (path, check)
        found += 1
    assert found > 0, "no worked release found"
    print(f"{found} worked release(s) as expected")
    return 0


if __name__ == "__main__":
    sys.exit(main())
