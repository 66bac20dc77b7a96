"""The pages about a lot: recall, lot report, hand tally, card set. Every number is the one of --json; words are
approved."""

import json
import os
import re
import sys
from pathlib import Path
from statistics import NormalDist

from page_rules import check_file, check_structure, masked_lot
from world import SOURCE, WorldCase, main, run

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from html_page import Page  # noqa: E402

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
NO, USAGE, NO_CREATE = 1, 64, 73
APPROVED = SOURCE / "tests" / "e2e" / "approved"
RECALL = ["orchard-1.img", "--where", "slot=3", "--register", "desk.register", "--package", "frost-node.crp"]
LOT = ["orchard-1.img", "orchard-3.img", "--register", "desk.register", "--package", "frost-node.crp"]
TALLY = ["--tally", "00000000000000b7", "--issued", "20", "--good", "17", "--scrap", "2", "--counter", "400:419",
         "--initials", "AB:CD", "--register", "hand.register", "--package", "frost-node.crp", "--dry-run"]
SCRAPPED = ["--scrapped", "FN000004,FN000012"]
SET = ["desk.register", "--work-order", "WO-1001", "--package", "frost-node.crp", "--image", "orchard-1.img"]


def value_at(told, path):
    for key in path.split("."):
        told = told[int(key)] if isinstance(told, list) else told[key]
    return told


def percent(part):
    return f"{100 * part:.1f} %"


class LotPages(WorldCase):
    """Two lots: WO-1001 on two cards and a spare one, of which one is back; WO-1002 with a loose contact."""

    kept = {}

    @classmethod
    def prepare(cls):
        world = cls.world
        world.must("serial", "new", "desk.register", "--root", "owner.root")
        for station in ("orchard-1", "orchard-2", "orchard-3"):
            world.must("serial", "enrol", "desk.register", "--station", station)
        for station, order, units in (("orchard-1", "WO-1001", 30), ("orchard-2", "WO-1001", 24),
                                      ("orchard-3", "WO-1002", 60)):
            world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust", "owner.trust",
                       *world.key("desk"), "--register", "desk.register", "--station", station, "--model",
                       "row-six", "--units", units, "--work-order", order, "-o", f"{station}.img")
        day = {"orchard-1": "cycle 2 power-cut 60\n", "orchard-3": "seed 3\nslot 4 loose-contact 60\n"}
        for station, scenario in day.items():
            world.enrol(f"{station}.state", station=station)
            world.path("day.txt").write_text(scenario, encoding="ascii")
            done = run(STATION_SIM, f"{station}.img", "--state", f"{station}.state", "--scenario", "day.txt",
                       cwd=world.folder)
            if done.returncode != 0:
                raise RuntimeError(done.stdout + done.stderr)
        world.must("serial", "new", "hand.register", "--root", "owner.root")
        world.must("serial", "enrol", "hand.register", "--station", "bench-1")
        world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust", "owner.trust",
                   *world.key("desk"), "--register", "hand.register", "--station", "bench-1", "--model", "bench-one",
                   "--units", "20", "--work-order", "WO-1003", "--card-id", "00000000000000b7", "-o", "bench-1.img")
        world.must("card", "note", "orchard-1.img", "returned", "--register", "desk.register", "--by", "Ines Alder",
                   "--note", "with the boards")

    def made(self, *arguments):
        """The page; made once for all tests, since a card image takes a second to read."""
        if arguments not in self.kept:
            done = self.world.run(*arguments, "-o", "-")
            self.assertEqual(0, done.returncode, done.stdout + done.stderr)
            self.kept[arguments] = done.stdout
        return self.kept[arguments]

    def pages(self):
        return {"recall": self.made("recall", *RECALL), "lot": self.made("reconcile", *LOT, "--dry-run"),
                "card-set": self.made("review", *SET), "tally": self.made("reconcile", *TALLY, *SCRAPPED)}

    def told(self, *arguments):
        return json.loads(self.world.run(*arguments, "--json").stdout)

    # ---- form

    def test_pages_are_whole_and_need_nothing_from_outside(self):
        for name, html in self.pages().items():
            with self.subTest(name):
                check_file(self, html)
                check_structure(self, html)

    # ---- numbers

    def check_values(self, html, told, at_least):
        page = Page(html)
        self.assertGreater(len(page.of), at_least)
        for path, value, text in page.of:
            found = value_at(told, path)
            self.assertEqual(str(found), (text if value is None else value).strip(), path)
            if value is not None:
                self.assertEqual(str(found), text.strip(), path)
        ranges = re.findall(r'data-range="([\w.]+)">([^<]*)<', html)
        for path, text in ranges:
            low, high = value_at(told, path)
            self.assertEqual(f"{percent(low)} to {percent(high)}", text, path)
        for path, text in re.findall(r'data-part="([\w.]+)">([^<]*)<', html):
            self.assertEqual(percent(value_at(told, path)), text)
        return page, ranges

    def test_a_recall_s_numbers_are_those_of_json_and_each_unit_stands_once(self):
        html, told = self.made("recall", *RECALL), self.told("recall", *RECALL)
        page, _ = self.check_values(html, told, 4 * len(told["spans"]))
        counts = {path: int(value) for path, value, _ in page.of if path.endswith(".count")}
        self.assertEqual({f"spans.{at}.count" for at in range(len(told["spans"]))}, set(counts))
        order = [list_ for list_ in ("affected", "possibly", "cleared")]
        self.assertEqual(order, re.findall(r'<h2 id="h-(affected|possibly|cleared)"', html))
        for name in order:
            section = html[html.index(f'id="h-{name}"'):]
            section = section[:section.index("</section>")]
            self.assertEqual([at for at, span in enumerate(told["spans"]) if span["list"] == name],
                             [int(at) for at in re.findall(r'data-of="spans\.(\d+)\.count"', section)])
        missing = re.findall(r'data-units-of="(\w+)">(\d+)<', html)
        by_card = {}
        for span in told["spans"]:
            by_card[span["card"]] = by_card.get(span["card"], 0) + span["count"]
        back = {span["card"] for span in told["spans"] if span["station"] == "orchard-1"}
        self.assertEqual({(card, str(units)) for card, units in by_card.items() if card not in back}, set(missing))

    def test_a_lot_report_s_numbers_are_those_of_json(self):
        html, told = self.made("reconcile", *LOT, "--dry-run"), self.told("reconcile", *LOT, "--dry-run")
        page, ranges = self.check_values(html, told, 60)
        on_page = {path for path, _, _ in page.of} | {path for path, _ in ranges}
        for kind in ("work_orders", "stations", "slots", "sessions"):
            for at in range(len(told["yields"][kind])):
                for key in ("units", "first_pass", "first_pass_95", "good", "good_95"):
                    self.assertIn(f"yields.{kind}.{at}.{key}", on_page)
        for at, one in enumerate(told["allotments"]):
            for key in ("card", "station", "work_order", "units", "good", "failed", "in_doubt", "unused"):
                self.assertIn(f"allotments.{at}.{key}", on_page)
            for unit in range(len(one["not_good"])):
                self.assertIn(f"allotments.{at}.not_good.{unit}.session", on_page)
        for key in ("units", "good", "failed", "in_doubt", "unused"):
            text = re.search(rf'id="{key.replace("_", "-")}">(\d+)<', html)[1]
            self.assertEqual(sum(one[key] for one in told["allotments"]), int(text))
        self.assertEqual(["orchard-2"], [one["station"] for one in told["untold"]])
        self.assertEqual(24, told["untold"][0]["units"])
        for at, failure in enumerate(told["failures"]):
            self.assertIn(f"failures.{at}.tries", on_page)
            so_far = sum(each["tries"] for each in told["failures"][:at + 1])
            tries = sum(each["tries"] for each in told["failures"])
            self.assertIn(f'{failure["tries"]} tries, {percent(failure["tries"] / tries)}; with those above '
                          f'{percent(so_far / tries)}', html)

    def test_a_hand_tally_s_numbers_are_those_of_json_and_called_claims(self):
        html, told = self.made("reconcile", *TALLY, *SCRAPPED), self.told("reconcile", *TALLY, *SCRAPPED)
        page, _ = self.check_values(html, told, 15)
        shown = {path for path, _, _ in page.of}
        for key in ("issued", "good", "scrap", "counter_before", "counter_after", "initials.0", "initials.1",
                    "scrapped.0", "scrapped.1"):
            self.assertIn(f"tally.{key}", shown)
        self.assertTrue({"card", "station", "work_order", "units", "used", "begun", "returned"} <= shown)
        self.assertIn(f'id="not-begun">{told["units"] - told["begun"]}<', html)
        good, worked = told["tally"]["good"], told["tally"]["good"] + told["tally"]["scrap"]
        self.assertIn(f'id="yield">{percent(good / worked)}<', html)
        z = NormalDist().inv_cdf(0.975)  # the interval of E. B. Wilson, 1927
        middle = (good + z * z / 2) / (worked + z * z)
        half = z / (worked + z * z) * (good * (worked - good) / worked + z * z / 4) ** 0.5
        self.assertIn(f'id="yield-range">{percent(middle - half)} to {percent(middle + half)}<', html)
        words = "\n".join(page.words())
        for said in ("Claimed by two people, read from no log.", "FN000004", "FN000012",
                     "every scrapped board is named"):
            self.assertIn(said, words)
        words = "\n".join(Page(self.made("reconcile", *TALLY)).words())
        self.assertIn("! Which units are good is not known", words)
        self.assertIn("! Scrapped, and not named: 2.", words)
        short = [part.replace("400:419", "400:418") for part in TALLY]
        done = self.world.run("reconcile", *short, "-o", "short.html")
        self.assertEqual(NO, done.returncode, done.stderr)
        self.assertIn('data-of="problems.0.what"', self.world.path("short.html").read_text(encoding="utf-8"))

    def test_exceptions_stand_before_yields_and_name_boards_by_their_labels(self):
        html, told = self.made("reconcile", *LOT, "--dry-run"), self.told("reconcile", *LOT, "--dry-run")
        self.assertEqual([4], [finding["slot"] for finding in told["slots_that_differ"]])
        exceptions = html[html.index('id="h-exceptions"'):html.index('id="h-accounted"')]
        for part in ("orchard-3, slot 4: ", "Given out, and no record here is about them", "Units to look for"):
            self.assertIn(part, exceptions)
        open_units = [unit["ordinal"] for one in told["allotments"] for unit in one["not_good"]]
        units = json.loads(self.world.must("serial", "units", "frost-node.crp", "0-200", "--json"))["units"]
        labels = re.findall(r'<tr><th scope="row"><bdi>(\w+)</bdi></th><td data-th="state"', exceptions)
        self.assertEqual([units[ordinal]["text"] for ordinal in open_units], labels)
        self.assertTrue(labels)

    def test_charts_are_drawn_to_scale(self):
        html, told = self.made("reconcile", *LOT, "--dry-run"), self.told("reconcile", *LOT, "--dry-run")
        drawn = 0
        for station, svg in re.findall(r"First-pass yield by slot of station ([\w-]+)</title>(.*?)</svg>", html, re.S):
            zero, whole = (int(re.search(rf'<text x="(\d+)"[^>]*>{part} %<', svg)[1]) for part in (0, 100))
            for row in re.findall(r"<g>(.*?)</g>", svg, re.S):
                slot = int(re.search(r"slot (\d+)<", row)[1])
                said = next(one for one in told["yields"]["slots"] if (one["station"], one["slot"]) == (station, slot))
                start, length = map(int, re.search(r'<rect x="(\d+)" y="\d+" width="(\d+)"', row).groups())
                middle = int(re.search(r"translate\((\d+) \d+\) translate\(0 19\)", row)[1])
                parts = [*said["first_pass_95"], said["first_pass"] / said["units"]]
                for part, x in zip(parts, (start, start + length, middle)):
                    self.assertLessEqual(abs(zero + part * (whole - zero) - x), 1)
                self.assertEqual((station, slot) == ("orchard-3", 4), "! slot" in row)
                drawn += 1
        self.assertEqual(len(told["yields"]["slots"]), drawn)
        chart = html[html.index("Control chart of the lots</title>"):]
        chart = chart[:chart.index("</svg>")]
        lines = {int(said): int(y) for y, said in re.findall(r'<text x="36" y="(\d+)"[^>]*>(\d+) %<', chart)}
        top = max(lines)
        lots = re.findall(r'translate\((\d+) (\d+)\)" fill', chart)
        self.assertEqual(len(told["yields"]["work_orders"]), len(lots))
        for (_, y), lot in zip(lots, told["yields"]["work_orders"]):
            part = 1 - lot["first_pass"] / lot["units"]
            self.assertLessEqual(abs(lines[0] + (lines[top] - lines[0]) * part / (top / 100) - int(y)), 1)

    def test_a_card_set_says_what_the_register_says(self):
        html, told = self.made("review", *SET), self.told("serial", "list", "desk.register")
        self.check_values(html, told, 5)
        rows = [row for row in told["allotments"] if row["work_order"] == "WO-1001"]
        page = "\n".join(Page(html).words())
        for row in rows:
            for value in (row["card"], row["station"], row["manifest"], row["sealed_text"], row["time"]):
                self.assertIn(value, page)
        self.assertIn(f'<strong id="cards">{len(rows)}</strong>', html)
        self.assertIn("came back", page)
        self.assertIn("Ines Alder", page)
        self.assertIn("On no memory card by this register: 1.", page)

    def test_who_signed_stands_on_every_page(self):
        package = self.told("show", "frost-node.crp")
        for name, html in self.pages().items():
            page = "\n".join(Page(html).words())
            for signoff in package["signoffs"]:
                for key in ("person", "role", "meaning", "reason", "time", "key", "digest"):
                    self.assertIn(signoff[key], page, (name, key))

    # ---- refusals

    def test_a_page_is_written_whole_or_not_at_all(self):
        for arguments in (["recall", *RECALL], ["reconcile", *LOT], ["review", *SET[:5]]):
            self.world.path("there.html").write_text("mine", encoding="ascii")
            before = self.told("serial", "list", "desk.register")["head"]
            done = self.world.run(*arguments, "-o", "there.html")
            self.assertEqual(NO_CREATE, done.returncode, done.stderr)
            self.assertEqual("mine", self.world.path("there.html").read_text(encoding="ascii"))
            self.assertEqual(before, self.told("serial", "list", "desk.register")["head"])  # nothing was kept
        self.world.must("recall", *RECALL, "-o", "there.html", "--force")
        self.assertIn("Recall", self.world.path("there.html").read_text(encoding="utf-8"))

    def test_what_does_not_go_together_is_refused(self):
        for code, arguments in ((USAGE, ["recall", *RECALL, "--json", "-o", "-"]),
                                (USAGE, ["reconcile", *LOT, "--dry-run", "--json", "-o", "-"]),
                                (USAGE, ["review", *SET[:5], "--label", "-o", "-"]),
                                (USAGE, ["review", "frost-node.crp", "--package", "frost-node.crp", "-o", "-"]),
                                (NO, ["review", "desk.register", "--work-order", "WO-9", "-o", "-"])):
            done = self.world.run(*arguments)
            self.assertEqual(code, done.returncode, arguments)
            self.assertNotIn("<html", done.stdout)

    # ---- approved texts

    def test_the_words_of_the_pages_are_the_approved_ones(self):
        for name, html in self.pages().items():
            found = masked_lot(Page(html).words())
            approved = APPROVED / f"page-{name}.txt"
            if "PAGES_APPROVE" in os.environ:
                approved.write_text(found, encoding="utf-8")
            with self.subTest(name):
                self.assertEqual(approved.read_text(encoding="utf-8"), found,
                                 "when this is right: PAGES_APPROVE=1 and this test once more")


if __name__ == "__main__":
    main()
