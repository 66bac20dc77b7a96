"""An owner, a signed-off release, cards and an enrolled station, made by the programs as people use them.

Programs come from the environment: CARDSEAL, STATION_CHECK and SOURCE (the source folder).
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

CARDSEAL = os.environ.get("CARDSEAL", "cardseal")
STATION_CHECK = os.environ.get("STATION_CHECK", "station-check")
SOURCE = Path(os.environ.get("SOURCE", Path(__file__).resolve().parents[2]))
WORKED_RELEASE = SOURCE / "packages" / "01-frost-node"
WORKED_HEX = WORKED_RELEASE / "firmware" / "frost_node.hex"
NAME = "frost-node 2.4.1"  # of the worked release, as a signer types it

MADE = "2026-03-02T09:15:00Z"
SIGNED = {"release": "2026-03-02T10:00:00Z", "quality": "2026-03-03T16:30:00Z"}
REASON = {"release": "first series", "quality": "tests 41 to 58 passed"}
PERSON = {"release": "ines", "quality": "omar"}


def run(program, *arguments, cwd, typed="", environment=None, stdout=subprocess.PIPE):
    """Runs to the end; the result has returncode, stdout and stderr as text."""
    return subprocess.run([program, *map(str, arguments)], cwd=cwd, input=typed, stdout=stdout,
                          stderr=subprocess.PIPE, text=True, encoding="utf-8", timeout=120,
                          env={**os.environ, **(environment or {})}, check=False)


def tool(test, name, package):
    """The path of an outside judge. Without it the test is skipped, and fails under CI."""
    path = shutil.which(name, path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")
    if path is None:
        if os.environ.get("CI") == "true":
            test.fail(f"{name} is missing: install {package}")
        print(f"skipped: {name} is missing (Debian package {package})")
        test.skipTest(f"{name} is missing")
    return path


def data_ranges(file):
    """(start, end) of what is no hole."""
    end = os.fstat(file.fileno()).st_size
    at = 0
    while at < end:
        try:
            at = os.lseek(file.fileno(), at, os.SEEK_DATA)
        except OSError:  # ENXIO: nothing but a hole is left
            return
        stop = os.lseek(file.fileno(), at, os.SEEK_HOLE)
        yield at, stop
        at = stop


def written_blocks(path, block=4096):
    """{offset: bytes} of every block that is not all zero: equal for a sparse and a full copy."""
    blocks = {}
    with open(path, "rb") as file:
        for start, end in data_ranges(file):
            for at in range(start - start % block, end, block):
                data = os.pread(file.fileno(), block, at)
                if data.strip(b"\0"):
                    blocks[at] = data
    return blocks


def copy_sparse(source, target, start=0, length=None):
    """Copies `length` bytes from `start`, holes as holes."""
    with open(source, "rb") as file, open(target, "wb") as out:
        end = os.fstat(file.fileno()).st_size if length is None else start + length
        out.truncate(end - start)
        for low, high in data_ranges(file):
            low, high = max(low, start), min(high, end)
            while low < high:
                data = os.pread(file.fileno(), min(1 << 20, high - low), low)
                os.pwrite(out.fileno(), data, low - start)
                low += len(data)
    return target


def change_byte(path, offset, mask=1):
    with open(path, "r+b") as file:
        byte = os.pread(file.fileno(), 1, offset)[0]
        os.pwrite(file.fileno(), bytes([byte ^ mask]), offset)


class World:
    """Everything in one folder; relative paths, as in the commands that the manual shows."""

    def __init__(self, folder, keys_of=None, environment=None):
        self.folder = Path(folder)
        self.environment = environment
        (self.folder / "keys").mkdir(parents=True)
        if keys_of is not None:
            shutil.copytree(keys_of.folder / "keys", self.folder / "keys", dirs_exist_ok=True)
        else:
            for person in ("owner", "ines", "omar", "desk"):
                self.new_key(person)

    def path(self, name):
        return self.folder / name

    def bytes(self, name):
        return (self.folder / name).read_bytes()

    def run(self, *arguments, typed="", stdout=subprocess.PIPE):
        return run(CARDSEAL, *arguments, cwd=self.folder, typed=typed, stdout=stdout,
                   environment=self.environment)

    def station_check(self, *arguments, stdout=subprocess.PIPE):
        return run(STATION_CHECK, *arguments, cwd=self.folder, stdout=stdout,
                   environment=self.environment)

    def must(self, *arguments, typed=""):
        """Runs a command of the preparation, which has to succeed."""
        done = self.run(*arguments, typed=typed)
        if done.returncode != 0:
            raise RuntimeError(f"cardseal {' '.join(map(str, arguments))}: exit {done.returncode}\n"
                               f"{done.stdout}{done.stderr}")
        return done.stdout

    def new_key(self, person):
        self.path(f"keys/{person}.pass").write_text(f"passphrase of {person}\n")
        self.must("key", "new", *self.key(person))

    def key(self, person):
        return ["--key", f"keys/{person}.pem", "--passphrase-file", f"keys/{person}.pass"]

    def make_owner(self, *more):
        self.must("trust", "root", "--person", "noor:Noor Tarn", "--root-key",
                  "noor:keys/owner.pub", *self.key("owner"), "-o", "owner.root")
        self.make_trust("owner.trust", *more)
        return self

    def make_trust(self, name, *more):
        self.must("trust", "new", "--root", "owner.root", "--time", MADE, "-o", name)
        self.must("trust", "add", name, "--root", "owner.root", "--time", MADE,
                  "--person", "ines:Ines Alder", "--person", "omar:Omar Birk",
                  "--person", "desk:Shipping desk", "--key", "ines:release:keys/ines.pub",
                  "--key", "omar:quality:keys/omar.pub", "--key", "desk:allot:keys/desk.pub",
                  "--product", "frost-node:0:1", "--window", "keys/desk.pub:fn-serial:0:9999",
                  *more)
        self.sign_text(name)

    def confirm(self, name):
        """What `trust sign` wants to be told: the list's sequence or the root's version."""
        words = {"sequence": "trust list", "version": "root"}
        text = self.path(name).read_text(encoding="utf-8")
        found = re.search(r"^(sequence|version) (\d+)$", text, re.M)
        return ["--confirm", f"{words[found[1]]} {found[2]}" if found else "?"]

    def sign_text(self, name, *more, root="owner.root", person="owner"):
        """Signs a trust list or a root."""
        self.must("trust", "sign", name, "--root", root, *self.confirm(name), *self.key(person),
                  *more)

    def pack(self, output, release=WORKED_RELEASE / "release.xml"):
        self.must("pack", release, "--root", "owner.root", "-o", output)

    def pack_next(self, output):
        """The release after the worked one: version 2.4.2, sequence 8."""
        self.pack(output, self.copy_release(
            "next", ("release.xml", 'version="2.4.1"', 'version="2.4.2"'),
            ("release.xml", 'sequence="7"', 'sequence="8"')))

    def sign_arguments(self, package, role, *more, person=None, trust="owner.trust"):
        return ["sign", package, "--role", role, *self.key(person or PERSON[role]), "--root",
                "owner.root", "--trust", trust, "--reason", REASON[role], "--time", SIGNED[role],
                *more]

    def sign(self, package, role, *more, typed=NAME):
        self.must(*self.sign_arguments(package, role, *more), typed=typed + "\n")

    def make_package(self, output, release=WORKED_RELEASE / "release.xml"):
        self.pack(output, release)
        self.sign(output, "release")
        self.sign(output, "quality", "--plain-file", "--units-a-station", "500")
        return self

    def card_arguments(self, package, output, *more, model="row-six", station="orchard-1"):
        return ["card", "make", package, "--root", "owner.root", "--trust", "owner.trust",
                *self.key("desk"), "--card-id", "00000000000000a1", "--station", station,
                "--model", model, "--enrolment", "1", "--serial", "1", "--first", "0", "--units",
                "60", "--work-order", "WO-1001", "-o", output, *more]

    def make_card(self, package, output, *more):
        self.must(*self.card_arguments(package, output, *more))

    def make_plain_card(self, package, output, *more):
        self.must(*self.card_arguments(package, output, *more, model="bench-one",
                                       station="bench-1"))

    def enrol(self, state, *more, station="orchard-1", model="row-six", slots="6",
              supply="1800:5400:100"):
        done = self.station_check("--enrol", station, "--model", model, "--slots", slots,
                                  "--supply", supply, "--enrolment", "1", "--root",
                                  "owner.root", "--state", state, *more)
        if done.returncode != 0:
            raise RuntimeError(f"enrolment: exit {done.returncode}\n{done.stderr}")

    def judge(self, card, state="station.state"):
        return self.station_check(card, "--root", "owner.root", "--state", state)

    def copy_release(self, name, *changes):
        """A copy of the worked release; each change is (file in it, old text, new text)."""
        target = self.path(name)
        shutil.copytree(WORKED_RELEASE, target)
        for file, old, new in changes:
            text = (target / file).read_bytes()
            if text.count(old.encode()) != 1:
                raise RuntimeError(f"{file} holds {old!r} {text.count(old.encode())} times")
            (target / file).write_bytes(text.replace(old.encode(), new.encode()))
        return Path(name) / "release.xml"


class WorldCase(unittest.TestCase):
    """Tests that share one world, made once: a package signed off, and what `prepare` adds."""

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cardseal-e2e-")
        cls.addClassCleanup(folder.cleanup)
        cls.world = World(Path(folder.name) / "world").make_owner().make_package("frost-node.crp")
        cls.prepare()

    @classmethod
    def prepare(cls):
        pass


def main():
    for name in ("CARDSEAL", "STATION_CHECK", "SOURCE"):
        if name not in os.environ:
            sys.exit(f"set {name}: programs under test and source folder")
    unittest.main(module="__main__")
