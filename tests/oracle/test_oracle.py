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

sys.dont_write_bytecode = True

try:
    import cryptography  # noqa: F401
except ImportError:
    print("skipped: python3-cryptography is not installed")
    sys.exit(1 if os.environ.get("CI") == "true" else 0)

import json

import card_writer
import container
import fuzz
import hostile
import hostile_cards
import hostile_container  # noqa: F401: adds to hostile.CASES
import hostile_manifest  # noqa: F401
import hostile_roots  # noqa: F401: adds to hostile_cards.CASES
import oracle
import sealed
from world import World

SEED = 20260302
MORE = int(os.environ.get("ORACLE_MORE", "1"))  # times as many random changes
FLIPS = 100 * MORE
TEXT_CHANGES = 20 * MORE  # of each kind of text

REASONS = "lib/trust/REASONS.md"


class Tally:
    def __init__(self):
        self.faults = []
        self.reasons = collections.Counter()

    def same(self, name, found, expected):
        if found != expected:
            self.faults.append(f"{name}: {found!r}, expected {expected!r}")

    def check(self, name, product, judge, expected=None, differ=None):
        self.reasons[judge] += 1
        if differ is not None:
            self.same(f"{name}, known to differ", (product, judge), differ)
            print(f"known to differ: {name}: the product says {product}, the oracle {judge}")
        elif product != judge:
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
        done = subprocess.run([self.path, "verify", file, *options, "--json"],
                              capture_output=True, check=False, close_fds=False)
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
                 *secret, "--confirm", "trust list 1")
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
    for name, (reason, _) in {**hostile.CASES, **hostile_cards.CASES}.items():
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


# Cards


class StationCheck:
    def __init__(self, path, folder):
        self.path, self.folder = path, folder
        self.state = os.path.join(folder, "station.state")
        self.card = os.path.join(folder, "judged.img")

    def enrol(self, root, s):
        if os.path.exists(self.state):
            os.remove(self.state)
        done = subprocess.run(
            [self.path, "--enrol", s["name"], "--model", s["model"], "--slots", str(s["slots"]),
             "--supply", ":".join(str(n) for n in s["supply"]), "--enrolment",
             str(s["enrolment"]), "--root", root, "--state", self.state] +
            (["--own-supply-ok"] if s["own_supply_ok"] else []) +
            (["--no-log"] if s["no_log"] else []), capture_output=True, check=False)
        if done.returncode:
            raise SystemExit(f"station-check --enrol: {done.stderr.decode()}")

    def judge(self, card, root):
        """(reason, what it said)"""
        done = subprocess.run([self.path, card, "--root", root, "--state", self.state, "--json"],
                              capture_output=True, check=False)
        if done.returncode not in (0, 1):
            return f"exit {done.returncode}: {done.stderr.decode()[:200]}", {}
        said = json.loads(done.stdout)
        reason = 0 if said["verdict"] == "admitted" else said["reason"]["number"]
        if (done.returncode == 0) != (reason == 0):
            return f"exit {done.returncode} with reason {reason}", said
        return reason, said


def slots_text(permitted, enabled):
    """Slot 1 leftmost."""
    return "".join("1" if enabled >> slot & 1 else "0" for slot in range(permitted.bit_length()))


def expected_acts(j):
    """What station-check prints of an admitted card, from the oracle's J."""
    s, a = j["settings"], j["allotment"]
    out = {"package": {k: j[k] for k in ("manifest", "title", "product", "release", "epoch",
                                         "sequence")},
           "settings": {"slots": slots_text(int(s["slots"], 16), int(a["enabled-slots"], 16)),
                        "supply_source": s["supply"][0], "supply_mv": s["supply"][1],
                        "erase": s["erase"], "verify": s["verify"][0],
                        "verify_limits_mv": list(s["verify"][1]) if s["verify"][1] else None,
                        "lock": s["lock"]},
           "allotment": {"card": a["card"], "serial": a["serial"], "work_order": a["work-order"],
                         "class": a["class"], "units": a["units"], "units_left": j["units_left"]},
           "image_bytes": j["image_bytes"]}
    return out


def check_acts(tally, name, said, j):
    for key, expected in expected_acts(j).items():
        tally.same(f"{name}: {key}", said.get(key), expected)
    for key in ("first_unit", "last_unit", "image_sha256"):
        tally.same(f"{name}: {key}", said.get(key), j.get(key))


def judge_card(tally, check, name, card, root, station, expected=None):
    reason, said = check.judge(card, root)
    with open(card, "rb") as file:
        j = oracle.judged_card(root, file, station)
    tally.check(f"card: {name}", reason, j["reason"], expected, hostile_cards.DIFFER.get(name))
    if reason == 0 and j["good"]:
        check_acts(tally, f"card: {name}", said, j)


def meet(check, station, world, root):
    """The station meets a list on a card that is good for nothing else."""
    _, _, text, signatures = world.owner_files()
    files = {"CARDSEAL/TRUST.TXT": text, **world.withdrawal_files()}
    if world.next_roots:
        files["CARDSEAL/ROOTS.TAR"] = container.write_roots(world.roots())
    for at, signature in enumerate(signatures, 1):
        files[f"CARDSEAL/TRUST.S0{at}"] = signature
    card_writer.write(check.card, files)
    check.judge(check.card, root)
    with open(check.card, "rb") as file:
        oracle.judged_card(root, file, station)


def check_cards(tally, check, world):
    for name, (expected, bend) in hostile_cards.CASES.items():
        card = hostile_cards.CardWorld(world.copy())
        bend(card)
        root, _ = card.world.write_owner(check.folder)
        check.enrol(root, card.station)
        station = hostile_cards.station_of(card.station)
        for met in card.met:
            meet(check, station, met, root)
        card_writer.write(check.card, card.files(), card.start)
        judge_card(tally, check, name, check.card, root, station, expected)


def check_card_texts(tally, check, world, chance):
    for kind in ("card", "allotment"):
        for n in range(TEXT_CHANGES):
            card = hostile_cards.CardWorld(world.copy())
            change = fuzz.change(chance)
            card.world.bend[kind] = change
            root, _ = card.world.write_owner(check.folder)
            check.enrol(root, card.station)
            card_writer.write(check.card, card.files())
            judge_card(tally, check, f"{kind} {n}: {change}", check.card, root,
                       hostile_cards.station_of(card.station))


def main():
    source, program = os.environ["SOURCE"], os.environ["CARDSEAL"]
    chance = random.Random(SEED)
    tally = Tally()
    check_pages(source, tally)
    with tempfile.TemporaryDirectory() as folder:
        cardseal = Cardseal(program, folder)
        worked_release(cardseal, source)
        with open(os.path.join(folder, "good.crp"), "rb") as file:
            good = file.read()
        world = World(container.read(good))
        root, trust = (os.path.join(folder, f) for f in ("owner.root", "owner.trust"))
        station_check = os.environ.get("STATION_CHECK", "")
        if os.path.exists(station_check):
            check = StationCheck(station_check, folder)
            check.enrol(root, hostile_cards.STATION)
            judge_card(tally, check, "the worked card", os.path.join(folder, "card.img"), root,
                       hostile_cards.station_of(hostile_cards.STATION), 0)
        judges = Judges(cardseal, tally)
        judges.package("the worked release", good, root, trust, 0)
        check_flips(judges, good, root, trust, chance)
        check_hostile(judges, world)
        check_texts(judges, world, chance)
        if os.path.exists(station_check):
            check_cards(tally, check, world)
            check_card_texts(tally, check, world, chance)
        else:
            print("skipped: no station-check")
    tally.print()
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main())
