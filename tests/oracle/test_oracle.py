#!/usr/bin/python3
"""Two programs that share no line judge the same packages and cards: the product's and the oracle.

Environment: CARDSEAL and STATION_CHECK, paths of the programs; SOURCE, the source folder. Each
package or card here is judged by both, and where the pages give one reason, by that as well.
"""

import collections
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

try:
    import cryptography  # noqa: F401
except ImportError:
    print("skipped: python3-cryptography is not installed")
    sys.exit(1 if os.environ.get("CI") == "true" else 0)

import json

import admission
import container
import fuzz
import hostile
import oracle
import sealed
from world import World

SEED = 20260302
FLIPS = 600
TEXT_CHANGES = 150  # of each kind of text

REASONS = "lib/trust/REASONS.md"


class Tally:
    def __init__(self):
        self.faults = []
        self.reasons = collections.Counter()

    def same(self, name, found, expected):
        if found != expected:
            self.faults.append(f"{name}: {found!r}, expected {expected!r}")

    def check(self, name, product, judge, expected=None):
        self.reasons[judge] += 1
        if product != judge:
            self.faults.append(f"{name}: the product says {product}, the oracle {judge}")
        elif expected is not None and judge != expected:
            self.faults.append(f"{name}: both say {judge}, the pages {expected}")

    def print(self):
        for reason, count in sorted(self.reasons.items(), key=lambda r: str(r[0])):
            print(f"  {reason or 'good':>5}  {count}")
        for fault in self.faults[:100]:
            print("FAIL", fault)
        print(f"{sum(self.reasons.values())} judged, {len(self.faults)} disagreements")


class Cardseal:
    """The program under test."""

    def __init__(self, path, folder):
        self.path, self.folder = path, folder

    def run(self, *arguments, typed=""):
        done = subprocess.run([self.path, *arguments], cwd=self.folder, input=typed.encode(),
                              capture_output=True, check=False)
        if done.returncode:
            raise SystemExit(f"cardseal {' '.join(arguments)}: exit {done.returncode}\n"
                             f"{done.stdout.decode()}{done.stderr.decode()}")
        return done.stdout.decode()

    def judge(self, file, *options):
        """The reason as a number, 0 for good; the error's code when it has no number."""
        done = subprocess.run([self.path, "verify", file, *options, "--json"], cwd=self.folder,
                              capture_output=True, check=False)
        if done.returncode not in (0, 1, 65):
            return f"exit {done.returncode}: {done.stderr.decode()[:200]}"
        said = json.loads(done.stdout)
        if "error" in said:
            code = said["error"]["code"]
            number = re.fullmatch(r"reason-(\d+)", code)
            return int(number[1]) if number else code
        reason = said["verdict"]["reason"] if "verdict" in said else 0
        if (done.returncode == 0) != (reason == 0):
            return f"exit {done.returncode} with reason {reason}"
        return reason


# A worked release, by the commands


def key_new(cardseal, name):
    cardseal.run("key", "new", "--key", f"{name}.pem", "--passphrase-file", "pass")


def worked_release(cardseal, source):
    """owner.root, owner.trust, good.crp and card.img in the folder."""
    folder = cardseal.folder
    shutil.copytree(os.path.join(source, "packages/01-frost-node"), os.path.join(folder, "job"))
    with open(os.path.join(folder, "pass"), "w", encoding="ascii") as file:
        file.write("apple blossom frost\n")
    for name in ("owner", "ada", "bo", "desk"):
        key_new(cardseal, name)
    secret = ("--passphrase-file", "pass")
    owner = ("--root", "owner.root", "--trust", "owner.trust")
    cardseal.run("trust", "root", "--person", "ida:Ida Tarn", "--root-key", "ida:owner.pub",
                 "--key", "owner.pem", *secret, "-o", "owner.root")
    cardseal.run("trust", "new", "--root", "owner.root", "-o", "owner.trust")
    cardseal.run("trust", "add", "owner.trust", "--root", "owner.root", "--person", "ada:Ada Berg",
                 "--person", "bo:Bo Alder", "--key", "ada:release:ada.pub",
                 "--key", "bo:quality:bo.pub", "--key", "ida:allot:desk.pub",
                 "--product", "frost-node:0:1", "--window", "desk.pub:fn-serial:0:99999")
    cardseal.run("trust", "sign", "owner.trust", "--root", "owner.root", "--key", "owner.pem",
                 *secret)
    cardseal.run("pack", "job/release.xml", "--root", "owner.root", "-o", "good.crp")
    for role, name in (("release", "ada"), ("quality", "bo")):
        cardseal.run("sign", "good.crp", "--role", role, "--key", f"{name}.pem", *secret, *owner,
                     "--reason", "tested", *(["--plain-file"] if role == "quality" else []),
                     typed="frost-node 2.4.1\n")
    cardseal.run("card", "make", "good.crp", *owner, "--key", "desk.pem", *secret,
                 "--card-id", "00000000000000a1", "--station", "orchard-1", "--model", "row-six",
                 "--enrolment", "1", "--serial", "1", "--first", "0", "--units", "60",
                 "--work-order", "WO-1001", "-o", "card.img")


# The pages


def check_pages(source, tally):
    """The oracle's tables are the pages', and it reads and spells their examples."""
    with open(os.path.join(source, "lib/format/SPEC.md"), encoding="utf-8") as file:
        page = file.read()
    with open(os.path.join(source, REASONS), encoding="utf-8") as file:
        numbers = {int(n) for n in re.findall(r"^\| (\d{3}) \|", file.read(), re.M)}
    for kind, (limit, rows) in sealed.KINDS.items():
        section = re.search(rf"^## Kind `{kind}`\n(.*?)(?=^## )", page, re.M | re.S)[1]
        stated = re.findall(r"^\| `([a-z-]+)` \| `([^`]+)` \| ([^|]+?) \|", section, re.M)
        tally.same(f"table of {kind}", stated, [tuple(row) for row in rows])
        tally.same(f"limit of {kind}", f"| `{kind}` | {limit} |" in page, True)
        example = re.search(rf"```text example-{kind}\n(.*?)```", page, re.S)[1].encode()
        tally.same(f"example of {kind}", sealed.spell(kind, sealed.parse(kind, example)), example)
    harmful = [(int(a, 16), int(b, 16))
               for a, b in re.findall(r"^\| U\+(\w+) \| U\+(\w+) \|", page, re.M)]
    tally.same("harmful characters", harmful, sealed.HARMFUL)
    for name, (reason, _) in hostile.CASES.items():
        tally.same(f"reason of {name}", reason in numbers | {0, None}, True)


# Packages


class Judges:
    def __init__(self, cardseal, tally):
        self.cardseal, self.tally = cardseal, tally
        self.file = os.path.join(cardseal.folder, "judged.crp")

    def package(self, name, data, root, trust, expected=None):
        with open(self.file, "wb") as file:
            file.write(data)
        judge = oracle.judged_package(root, trust, data)["reason"]
        product = self.cardseal.judge(self.file, "--root", root, "--trust", trust)
        # The command tells what it is given by the first nine bytes, and judges nothing else.
        if product == "file-kind" and data[:9] != b"manifest\0":
            product = judge if 201 <= judge <= 206 else product
        self.tally.check(name, product, judge, expected)
        return judge


def flips(data, count, chance):
    """Places of single bits: some in every entry's header, content and padding, and at the end."""
    regions = []
    at = 0
    package = container.read(data)
    for _, content in package.entries():
        regions += [(at, at + 157), (at + 157, at + 512), (at + 512, at + 512 + len(content))]
        at += 512 + len(content)
        padded = at + (-at % 512)
        regions.append((at, padded))
        at = padded
    regions.append((at, len(data)))
    regions = [r for r in regions if r[0] < r[1]]
    for n in range(count):
        first, end = regions[n % len(regions)]
        yield chance.randrange(first, end), chance.randrange(8)


def check_flips(judges, data, root, trust, chance):
    for at, bit in flips(data, FLIPS, chance):
        changed = bytearray(data)
        changed[at] ^= 1 << bit
        reason = judges.package(f"bit {bit} of byte {at}", bytes(changed), root, trust)
        judges.tally.same(f"bit {bit} of byte {at} is noticed", reason != 0, True)
    for length in [0, 1, 511, 512, 513] + [chance.randrange(len(data)) for _ in range(40)]:
        judges.package(f"cut to {length}", data[:length], root, trust)


def check_hostile(judges, world):
    for name, (expected, bend) in hostile.CASES.items():
        bent = world.copy()
        bend(bent)
        root, trust = bent.write_owner(judges.cardseal.folder)
        judges.package(name, bent.bytes(), root, trust, expected)


def check_texts(judges, world, chance):
    """Texts with a fault in their form, validly signed."""
    for kind in ("manifest", "signoff", "facts", "trust", "root"):
        for n in range(TEXT_CHANGES):
            change = fuzz.change(chance)
            bent = world.copy()
            bent.bend[kind] = change
            root, trust = bent.write_owner(judges.cardseal.folder)
            try:
                data = bent.bytes()
            except (sealed.Refusal, UnicodeError):
                continue
            judges.package(f"{kind} {n}: {change}", data, root, trust)


def main():
    source, program = os.environ["SOURCE"], os.environ["CARDSEAL"]
    chance = random.Random(SEED)
    tally = Tally()
    check_pages(source, tally)
    with tempfile.TemporaryDirectory() as folder:
        cardseal = Cardseal(program, folder)
        worked_release(cardseal, source)
        judges = Judges(cardseal, tally)
        root, trust = (os.path.join(folder, f) for f in ("owner.root", "owner.trust"))
        with open(os.path.join(folder, "good.crp"), "rb") as file:
            good = file.read()
        judges.package("the worked release", good, root, trust, 0)
        check_flips(judges, good, root, trust, chance)
        world = World(container.read(good))
        check_hostile(judges, world)
        check_texts(judges, world, chance)
    tally.print()
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main())
