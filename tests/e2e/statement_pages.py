"""Pages of what quality signed about a lot: first article, concession, closure. Every number is the one of --json."""

import hashlib
import json
import os
import re
import sys
from pathlib import Path

from lot_case import DEVICE, FIRST, ORDER, card
from page_rules import check_file, check_structure, leaves, masked_lot
from world import SIGNED, SOURCE, WorldCase, change_byte, main, run

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from html_page import Page  # noqa: E402

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
REFUSED, USAGE, BAD_DATA, NO_CREATE, CONFIG = 1, 64, 65, 73, 78
APPROVED = SOURCE / "tests" / "e2e" / "approved"
OWNER = ["--root", "owner.root", "--trust", "owner.trust"]
LOT = ["--register", "desk.register", "--package", "frost-node.crp"]
TEXTS = ("first-article", "concession", "closure")
WORDS = {"end", "class"}  # what a page says in other words; tests/unit/page changes each of them


def prepare_lot(world):
    """WO-7 on three cards, with a first article; a lost spare; a board conceded, one scrapped, one number spent."""
    world.must("serial", "new", "desk.register", "--root", "owner.root")
    for station in ("orchard-1", "orchard-2", "orchard-3"):
        world.must("serial", "enrol", "desk.register", "--station", station)
        world.enrol(f"{station}.state", station=station)
    cards = (card("1", 12) + card("2", 12, station="orchard-2") +
             card("3", 6, station="orchard-3", more=' spare="yes"'))
    world.path("order.xml").write_text(ORDER.format(
        work_order="WO-7", revision=1, work_class="production", version="2.4.1", quantity=24, spares=6,
        terms=FIRST, cards=cards), encoding="utf-8")
    make = ["lot", "cards", "order.xml", "--package", "frost-node.crp", *OWNER, *world.key("desk"),
            "--register", "desk.register", "-o", "lot.img"]
    world.must(*make)
    work(world, "lot-01.img", "orchard-1", "--cycles", "1", "--dump", "0:board.hex")
    signed = ["--register", "desk.register", *OWNER, *world.key("omar"), "--time", SIGNED["quality"]]
    world.must("lot", "first-article", "WO-7", "--package", "frost-node.crp", "--device", DEVICE, "--readback",
               "board.hex", "--serial", "FN000001", *signed, "--reason", "read back at bench 2", "-o",
               "first-article.text", "--confirm", "first article of WO-7")
    world.must(*make)
    work(world, "lot-01.img", "orchard-1", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
    work(world, "lot-02.img", "orchard-2", scenario="tries 1\ncycle 1 slot 1 verify-error 0x0120\n"
                                                    "cycle 2 slot 4 verify-error 0x0120\n")
    for image, by in (("lot-01.img", "Ines Alder"), ("lot-02.img", "Sanna Reed")):
        world.must("card", "note", image, "returned", "--register", "desk.register", "--by", by, "--note", "back")
        world.run("reconcile", image, "--register", "desk.register")
    world.must("card", "note", "lot-03.img", "lost", "--register", "desk.register", "--by", "Sanna Reed", "--note",
               "not in the cabinet")
    settle_open(world, signed)
    shown = json.loads(world.must("lot", "show", "WO-7", "--register", "desk.register", "--json"))
    ships = shown["shippable"]
    world.must("lot", "close", "WO-7", "--package", "frost-node.crp", *signed, "--reason", "counted with the floor",
               "--labels", f"{ships + 3}:{ships}:3", "-o", "closure.text", "--confirm", "close WO-7")


def settle_open(world, signed):
    shown = json.loads(world.must("lot", "show", "WO-7", "--register", "desk.register", "--json"))
    units = [(one["card"], unit) for one in shown["cards"] for span in one["open"]
             for unit in range(span["first"], span["last"] + 1)]
    first, *rest = units
    world.must("lot", "concede", "WO-7", "--number", "CN-19", "--units", f"{first[0]}:{first[1]}", *signed,
               "--reason", "verify was cut by a power failure; read back by hand", "-o", "concession.text",
               "--confirm", "concession CN-19")
    for at, (one, unit) in enumerate(rest):
        world.must("lot", "settle", "WO-7", "--register", "desk.register", "--as",
                   "scrapped" if at == 0 else "no-board", "--by", "Sanna Reed", "--note", "seen", "--card", one,
                   "--units", str(unit))


def work(world, image, station, *more, scenario=""):
    world.path("day.txt").write_text(scenario, encoding="ascii")
    done = run(STATION_SIM, image, "--state", f"{station}.state", "--scenario", "day.txt", *more, cwd=world.folder)
    if done.returncode != 0:
        raise RuntimeError(done.stdout + done.stderr)


class StatementPages(WorldCase):
    @classmethod
    def prepare(cls):
        prepare_lot(cls.world)
        cls.kept = {}

    def page(self, name, *more):
        key = (name, *more)
        if key not in self.kept:
            done = self.world.run("review", f"{name}.text", *more, "-o", "-")
            self.assertEqual(0, done.returncode, done.stdout + done.stderr)
            self.kept[key] = done.stdout
        return self.kept[key]

    def full(self, name):
        return self.page(name, *OWNER, *LOT)

    def shown(self, name):
        return json.loads(self.world.must("show", f"{name}.text", "--json"))

    # ---- form

    def test_pages_are_whole_and_need_nothing_from_outside(self):
        for name in TEXTS:
            for html in (self.full(name), self.page(name)):
                check_file(self, html)
                check_structure(self, html)

    def test_the_same_text_gives_the_same_bytes(self):
        for name in TEXTS:
            self.world.environment = {"TZ": "Pacific/Apia", "LC_ALL": "C", "LANG": "xx"}
            try:
                again = self.world.must("review", f"{name}.text", *OWNER, *LOT, "-o", "-")
            finally:
                self.world.environment = None
            self.assertEqual(self.full(name), again)

    # ---- numbers

    def test_every_value_is_the_one_of_show_and_every_one_of_show_is_there(self):
        for name in TEXTS:
            known = dict(leaves(self.shown(name)))
            page = Page(self.full(name))
            self.assertGreater(len(page.of), 5)
            for path, value, text in page.of:
                self.assertEqual(str(known[path]), text.strip() if value is None else value, (name, path))
                if value is not None and path.rsplit(".", 1)[-1] not in WORDS:
                    self.assertEqual(str(known[path]), text.strip(), (name, path))
            there = {path for path, _, _ in page.of}
            told = {path for path, value in known.items() if value is not None and path != "schema"}
            self.assertEqual(told, there, name)

    def test_sums_stand_there_and_are_those_of_the_rows(self):
        html, told = self.full("closure"), self.shown("closure")
        sums = {name: int(re.search(rf'id="{name}">(\d+)<', html)[1])
                for name in ("sum", "cards", "can-ship", "card-units", "card-good")}
        self.assertEqual({"sum": sum(told["counts"].values()), "cards": len(told["cards"]),
                          "can-ship": told["counts"]["good"] + told["counts"]["conceded"],
                          "card-units": sum(each["units"] for each in told["cards"]),
                          "card-good": sum(each["good"] for each in told["cards"])}, sums)
        self.assertEqual(told["issued"], sums["sum"])
        ends = [each["end"] for each in told["cards"]]
        self.assertEqual({end: ends.count(end) for end in set(ends)},
                         {end: int(count) for end, count in re.findall(r'data-end="([\w-]+)">(\d+)<', html)})
        shares = re.findall(r'data-of="counts\.(\w+)"[^>]*>\d+</data></td><td[^>]*>([\d.]+ %)<', html)
        self.assertEqual({key: f"{100 * units / told['issued']:.1f} %" for key, units in told["counts"].items()},
                         dict(shares))
        self.assertIn(f'{told["labels"]["printed"]} printed = ', "\n".join(Page(html).words()))
        html, told = self.full("first-article"), self.shown("first-article")
        counted = {key: told[key] for key in told if key.endswith("_bytes")}
        self.assertEqual(6, len(counted))
        self.assertEqual(sum(counted.values()), int(re.search(r'id="compared">(\d+)<', html)[1]))
        self.assertEqual(sum(counted.values()) - told["equal_bytes"] - told["erased_bytes"],
                         int(re.search(r'id="different">(\d+)<', html)[1]))
        html, told = self.full("concession"), self.shown("concession")
        self.assertEqual(sum(each["last"] - each["first"] + 1 for each in told["units"]),
                         int(re.search(r'id="units">(\d+)<', html)[1]))

    def test_a_package_tells_firmware_and_places(self):
        html = self.full("first-article")
        package = json.loads(self.world.must("show", "frost-node.crp", "--json"))
        found = re.findall(r'data-package="([\w.]+)"[^>]*>([^<]*)<', html)
        self.assertEqual(4, len(found))
        for path, text in found:
            part, key = path.split(".")
            self.assertEqual(str(package[part][key]), text)
        for each in package["manifest"]["serial"]["placements"]:
            self.assertIn(f'{each["region"]} <span class="mono">0x{each["address"]:08X} to '
                          f'0x{each["address"] + each["length"] - 1:08X}<', html)
        self.assertNotIn("data-package", self.page("first-article"))

    def test_a_register_tells_who_noted_a_card_and_what_a_label_reads(self):
        words = "\n".join(Page(self.full("closure")).words())
        self.assertRegex(words, r"lost \S+ \(claimed\), by Sanna Reed: not in the cabinet")
        self.assertRegex(words, r"came back \S+ \(claimed\), by Ines Alder: back")
        one = self.shown("concession")["units"][0]
        shown = json.loads(self.world.must("lot", "show", "WO-7", "--register", "desk.register", "--json"))
        first = next(each["first_ordinal"] for each in shown["cards"] if each["card"] == one["card"])
        units = json.loads(self.world.must("serial", "units", "frost-node.crp", "0-40", "--json"))["units"]
        self.assertIn(f'<bdi>{units[first + one["first"] - 1]["text"]}</bdi>', self.full("concession"))
        self.assertIn("the register tells", self.page("closure"))

    # ---- signature

    def test_who_signed_and_whether_it_counts_stands_on_each_page(self):
        key = json.loads(self.world.must("key", "show", "keys/omar.pub", "--json"))
        for name in TEXTS:
            told, digest = self.shown(name), self.digest(name)
            words = "\n".join(Page(self.full(name)).words())
            for said in ("Omar Birk", told["person"], "role quality", told["reason"], told["claimed_time"], digest,
                         key["key"].split(":")[-1], "meaning ", "trust list 1 under root version 1",
                         "The register that was given keeps this text."):
                self.assertIn(said, words, name)
            words = "\n".join(Page(self.page(name)).words())
            self.assertIn("! Signature not checked.", words)
            self.assertNotIn("it counts", words)
            self.world.path("alone.text").write_bytes(self.world.bytes(f"{name}.text"))
            alone = self.world.must("review", "alone.text", "-o", "-")
            self.assertIn("! Not signed.", alone)

    def digest(self, name):
        return hashlib.sha256(self.world.bytes(f"{name}.text")).hexdigest()

    def test_a_text_that_does_not_count_gets_no_page(self):
        for name in TEXTS:
            for suffix in ("", ".s01"):
                self.world.path(f"bad.text{suffix}").write_bytes(self.world.bytes(f"{name}.text{suffix}"))
            change_byte(self.world.path("bad.text"), self.world.bytes("bad.text").index(b"reason \"") + 9)
            done = self.world.run("review", "bad.text", *OWNER, "-o", "bad.html")
            self.assertEqual(REFUSED, done.returncode, done.stderr)
            self.assertIn("no key of the trust list signed this text", done.stderr)
            self.world.path("bad.text").write_bytes(self.world.bytes("bad.text") + b"more\n")
            self.assertEqual(BAD_DATA, self.world.run("review", "bad.text", "-o", "bad.html").returncode)
            self.assertFalse(self.world.path("bad.html").exists())

    def test_a_key_for_one_product_counts_only_where_the_product_is_known(self):
        world = self.world
        world.must("trust", "new", "--root", "owner.root", "--time", SIGNED["release"], "-o", "limited.trust")
        world.must("trust", "add", "limited.trust", "--root", "owner.root", "--time", SIGNED["release"], "--person",
                   "ines:Ines Alder", "--person", "omar:Omar Birk", "--key", "ines:release:keys/ines.pub", "--key",
                   "omar:quality:keys/omar.pub:frost-node", "--product", "frost-node:0:1")
        world.sign_text("limited.trust")
        limited = ["--root", "owner.root", "--trust", "limited.trust"]
        package, register = LOT[2:], LOT[:2]
        for name, more, code in (("first-article", [], 0), ("concession", [], CONFIG), ("concession", package, CONFIG),
                                 ("concession", register, 0), ("closure", [], CONFIG), ("closure", package, 0),
                                 ("closure", register, 0)):
            done = world.run("review", f"{name}.text", *limited, *more, "-o", "-")
            self.assertEqual(code, done.returncode, (name, more, done.stderr))
            self.assertEqual(code == 0, "checked, and it counts" in done.stdout)

    # ---- refusals

    def test_what_does_not_go_together_is_refused(self):
        world = self.world
        world.must("serial", "new", "other.register", "--root", "owner.root")
        world.pack("unsigned.crp", world.copy_release("other", ("release.xml", 'sequence="7"', 'sequence="9"')))
        for code, more in ((USAGE, ["--root", "owner.root"]), (USAGE, ["--label"]), (USAGE, ["--job", "1"]),
                           (USAGE, ["--image", "lot-01.img"]), (USAGE, ["--previous", "frost-node.crp"]),
                           (REFUSED, ["--register", "other.register"]), (CONFIG, ["--package", "unsigned.crp"])):
            done = world.run("review", "closure.text", *more, "-o", "no.html")
            self.assertEqual((code, ""), (done.returncode, done.stdout), (more, done.stderr))
        self.assertFalse(world.path("no.html").exists())
        world.must("review", "closure.text", "-o", "there.html")
        self.assertEqual(NO_CREATE, world.run("review", "closure.text", "-o", "there.html").returncode)

    # ---- approved texts

    def test_the_words_of_the_pages_are_the_approved_ones(self):
        for name in TEXTS:
            found = masked_lot(Page(self.full(name)).words())
            approved = APPROVED / f"page-{name}.txt"
            if "PAGES_APPROVE" in os.environ:
                approved.write_text(found, encoding="utf-8")
            with self.subTest(name):
                self.assertEqual(approved.read_text(encoding="utf-8"), found,
                                 "when this is right: PAGES_APPROVE=1 and this test once more")


if __name__ == "__main__":
    main()
