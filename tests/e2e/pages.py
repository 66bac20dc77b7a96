"""`cardseal review`: the pages that people read, sign and file, held against --json and outside readers."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

from page_rules import check_file, check_structure, leaves
from world import SOURCE, WorldCase, change_byte, copy_sparse, main, tool

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
from hard_release import FINDINGS, SEGMENTS, hard_release  # noqa: E402
from html_page import Page, codes_of, means, picture_of  # noqa: E402

DONE, NO, USAGE, BAD_DATA, NO_CREATE = 0, 1, 64, 65, 73
APPROVED = SOURCE / "tests" / "e2e" / "approved"
OWNER = ["--root", "owner.root", "--trust", "owner.trust"]
WORKED = {"frost-node.crp": "01-frost-node", "tank.crp": "02-tank-gauge", "gate.crp": "03-gate-remote"}
# Sealed words that a page says in other words; every change of one changes the page (tests/unit/page).
WORDS = {"role", "supply_source", "erase", "verify", "lock", "firmware_format", "configuration", "reads",
         "partition", "form", "line_end", "phase", "standing", "unit", "kind", "check", "encoding",
         "before", "order", "station", "over", "id"}


def masked(lines):
    """Without what other keys make other: digests, keys, their groups of four."""
    text = "\n".join(lines) + "\n"
    text = re.sub(r"([0-9a-f]{4} ){15}[0-9a-f]{4}", "GROUPS", text)
    return re.sub(r"[0-9a-f]{64}", "DIGEST", text)


class Pages(WorldCase):
    @classmethod
    def prepare(cls):
        world = cls.world
        for name, folder in list(WORKED.items())[1:]:
            world.pack(name, SOURCE / "packages" / folder / "release.xml")
        world.pack("unsigned.crp")
        world.make_card("frost-node.crp", "card.img")
        world.make_plain_card("frost-node.crp", "plain.img", "--sheet", "plain.txt")
        first = json.loads(world.must("show", "frost-node.crp", "--json"))["package"]
        world.pack("next.crp", world.copy_release(
            "next", ("release.xml", 'previous="-"', f'previous="{first}"'),
            ("release.xml", 'sequence="7"', 'sequence="8"'),
            ("release.xml", 'millivolts="3300"', 'millivolts="3000"'),
            ("profiles/frost-node-board.xml", 'min-millivolts="3000"', 'min-millivolts="2700"'),
            ("release-notes.txt", "2.4.1", "2.4.2")))

    def page(self, file, *more, code=DONE):
        done = self.world.run("review", file, *more, "-o", "-")
        self.assertEqual(code, done.returncode, done.stderr)
        return done.stdout

    def card_page(self, card, *more):
        return self.page(card, "--root", "owner.root", *more)

    def shown(self, file):
        return json.loads(self.world.must("show", file, "--json"))

    def all_pages(self):
        for name in [*WORKED, "next.crp"]:
            yield name, self.page(name)
        for name in ("card.img", "plain.img"):
            yield name, self.card_page(name)
            yield name + " label", self.card_page(name, "--label")
        yield "labels", self.card_page("card.img", "--labels", "38x21")

    # ---- form

    def test_pages_are_whole_and_need_nothing_from_outside(self):
        for name, html in self.all_pages():
            with self.subTest(name):
                check_file(self, html)
                self.assertEqual("en", Page(html).all("html")[0]["attributes"]["lang"])

    def test_pages_can_be_read_aloud(self):
        for name, html in self.all_pages():
            page = Page(html)
            with self.subTest(name):
                check_structure(self, html)
                for table in page.all("table"):
                    self.assertIn("aria-label", page.elements[page.elements.index(table) - 1]["attributes"])
                for head in page.all("th"):
                    self.assertIn(head["attributes"].get("scope"), ("col", "row"))
                for svg in page.all("svg"):
                    said = svg["attributes"].get("aria-hidden") == "true" or svg["attributes"].get("role") == "img"
                    self.assertTrue(said, svg)
                for each in page.elements:
                    for label in each["attributes"].get("aria-labelledby", "").split():
                        self.assertIn(label, page.ids)

    # ---- content

    def test_every_value_is_the_one_of_show(self):
        for name in [*WORKED, "next.crp"]:
            known = dict(leaves(self.shown(name)))
            page = Page(self.page(name))
            self.assertGreater(len(page.of), 150)
            for path, value, text in page.of:
                with self.subTest(f"{name} {path}"):
                    self.assertIn(path, known)
                    if value is None:
                        self.assertEqual(known[path], text)
                    else:
                        self.assertEqual(str(known[path]), value)
                        self.assertTrue(path == "manifest.stop_after" or means(text, known[path], path), text)

    def test_every_value_of_show_is_on_the_page(self):
        for name in [*WORKED, "next.crp"]:
            on_page = {path for path, _, _ in Page(self.page(name)).of}
            formulas = {}
            for path, value in leaves(self.shown(name)):
                key = path.rsplit(".", 1)[-1]
                if value is None or isinstance(value, bool) or key in WORDS or path == "schema":
                    continue
                if re.fullmatch(r"facts\.margins\.\d+\.formula", path):
                    formulas.setdefault(value, []).append(path)
                elif not re.fullmatch(r"manifest\.serial\.placements\.\d+\.(padding|second_byte)", path):
                    self.assertTrue(path in on_page, f"{name} {path}")
            for value, paths in formulas.items():  # one that several phases share stands once
                self.assertTrue(on_page.intersection(paths), value)

    def test_a_hard_release_shows_each_piece_and_each_finding(self):
        self.world.pack("hard.crp", hard_release(self.world.path("hard")))
        shown, html = self.shown("hard.crp"), self.page("hard.crp")
        self.assertEqual((SEGMENTS, FINDINGS), (len(shown["manifest"]["segments"]), len(shown["facts"]["findings"])))
        page = Page(html)
        known = dict(leaves(shown))
        for path, value, text in page.of:
            self.assertEqual(str(known[path]), text if value is None else value, path)
        there = {path for path, _, _ in page.of}
        for at in range(SEGMENTS):
            self.assertTrue({f"manifest.segments.{at}.address", f"manifest.segments.{at}.length"} <= there, at)
        for at in range(FINDINGS):
            self.assertTrue({f"facts.findings.{at}.rule", f"facts.findings.{at}.text"} <= there, at)
        self.assertIn("! Not signed off.", html)
        self.assertLess(len(html.encode()), 500 * 1024)

    def test_the_tightest_margin_stands_first(self):
        for name in WORKED:
            margins = self.shown(name)["facts"]["margins"]
            html = self.page(name)
            order = [int(at) for at in re.findall(r'data-of="facts\.margins\.(\d+)\.distance"', html)]
            shares = [margins[at]["distance"] / max(1, margins[at]["limit"]) for at in order]
            self.assertEqual(sorted(shares), shares)
            self.assertEqual(len([each for each in margins if each["value"] is not None]), len(order))

    def test_calculated_values_stand_with_words(self):
        for name in WORKED:
            ids = re.findall(r'<th scope="row">([^<]*) <span class="mono soft" data-of="[\w.]+\.id">([^<]+)<',
                             self.page(name))
            self.assertGreater(len(ids), 20)
            for words, value in ids:
                self.assertTrue(words and words != value, value)

    def test_a_narrow_screen_says_what_each_cell_is(self):
        compared = self.page("next.crp", "--previous", "frost-node.crp")
        for name, html in [*self.all_pages(), ("compared", compared)]:
            for table in re.findall(r'<table class="[a-z ]*stack">.*?</table>', html, re.S):
                heads = [re.sub("<[^>]+>", "", head) for head in re.findall(r'<th scope="col"[^>]*>(.*?)</th>', table)]
                for row in re.findall(r"<tr[^>]*>(.*?)</tr>", table.split("<tbody>")[1], re.S):
                    cells = re.findall(r'<(td data-th="([^"]*)"|th scope="row")', row)
                    self.assertEqual(heads, [said or heads[at] for at, (_, said) in enumerate(cells)], (name, row))

    def test_bands_are_drawn_to_scale(self):
        for name in WORKED:
            margins = [each for each in self.shown(name)["facts"]["margins"]
                       if each["unit"] == "uv" and each["value"] is not None]
            drawn = 0
            for svg in re.findall(r'<svg class="chart".*?</svg>', self.page(name), re.S):
                ticks = [(int(volt), int(x)) for x, volt in re.findall(r'<text x="(\d+)"[^>]*>(\d+) V</text>', svg)]
                (low, x_low), (high, x_high) = ticks[0], ticks[-1]
                scale = (x_high - x_low) / (high - low) / 1e6  # of a microvolt
                for row in re.findall(r"<g>(.*?)</g>", svg, re.S):
                    numbers = [int(x) for x in re.findall(r'<rect x="(\d+)"', row)]
                    worst = int(re.search(r"translate\((\d+) \d+\) translate\(0 19\)", row)[1])
                    out, limit = numbers[0], numbers[2]
                    said = re.search(r">(! )?([\d.]+) mV (left|past)<", row)
                    distance = round(float(said[2]) * 1000)
                    found = [each for each in margins if abs(each["distance"]) == distance and
                             abs(x_low + each["limit"] * scale - limit) <= 1.5 and
                             abs(x_low + each["value"] * scale - worst) <= 1.5]
                    self.assertTrue(found, (name, row))
                    above = found[0]["value"] <= found[0]["limit"]  # good below: forbidden is what lies above
                    self.assertEqual((limit if above else x_low, "left"), (out, said[3]))
                    drawn += 1
            self.assertEqual(len(margins), drawn)

    def test_memory_and_slots_are_drawn_as_they_are_sealed(self):
        for name in WORKED:
            manifest, html = self.shown(name)["manifest"], self.page(name)
            places = [*manifest["segments"], *manifest["serial"]["placements"], *manifest["kept"]]
            strips = re.findall(r"<title>Memory from (0x\w+) to (0x\w+)</title>(.*?)</svg>", html, re.S)
            drawn = 0
            for start, end, shapes in strips:
                start, end = int(start, 16), int(end, 16)
                inside = sorted((each["address"], each["length"]) for each in places if start <= each["address"] <= end)
                boxes = [(int(x), int(width)) for x, width in
                         re.findall(r'<rect x="(\d+)" y="1" width="(\d+)" height="30" fill="(?:#5c|url)', shapes)]
                for (address, length), (x, width) in zip(inside, sorted(boxes), strict=True):
                    true = (address - start) * 640 / (end + 1 - start), length * 640 / (end + 1 - start)
                    self.assertLessEqual(abs(x - true[0]), 3)  # what is too thin is drawn 3 wide
                    self.assertLessEqual(abs(width - max(3, true[1])), 1)
                    drawn += 1
            self.assertEqual(len(places), drawn)
            on = [int(slot) for slot in re.findall(r'style="fill:#fff">(\d+)</text>', html)]
            self.assertEqual([slot for slot in range(1, 33) if manifest["slots"] >> (slot - 1) & 1], on)

    def test_proof_rows_are_those_of_serial_proof(self):
        for name in ("frost-node.crp", "gate.crp"):
            proof = json.loads(self.world.must("serial", "proof", name, "--json"))
            rows = re.findall(r'<tr data-unit="(\d+)">(.*?)</tr>', self.page(name))
            self.assertEqual([str(unit["ordinal"]) for unit in proof["units"]], [at for at, _ in rows])
            for unit, (_, row) in zip(proof["units"], rows):
                cells = re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row)
                self.assertEqual([str(unit["ordinal"]), str(unit["number"]), unit["text"],
                                  *unit["bytes"], unit["why"]], cells)

    def test_what_changed_stands_first_and_what_can_damage_before_the_rest(self):
        html = self.page("next.crp", "--previous", "frost-node.crp")
        found = self.world.run("diff", "frost-node.crp", "next.crp", "--json")
        differences = [each for each in json.loads(found.stdout)["differences"] if each["area"] != "sign-offs"]
        damage = [each for each in differences if each["can_damage"]]
        other = [each for each in differences if not each["can_damage"]]
        other.sort(key=lambda each: each["area"] == "calculation")  # what only follows stands behind
        self.assertTrue(damage and other)
        section = html[html.index('id="h-changes"'):html.index('id="h-identity"')]
        rows = re.findall(r'<th scope="row">(.*?)(<br>.*?)?</th>', section)
        self.assertEqual(len(differences), len(rows))
        for each, (what, _) in zip(damage + other, rows):
            if each["area"] in ("calculation", "findings"):  # in words: no id but that of a rule
                self.assertRegex(what, r"^(margin|given value|formula|finding of rule): ")
                self.assertNotRegex(what, r"-(mv|uv|ua|us|ppm|max|min)\b")
            else:
                self.assertEqual(each["what"], what.replace("&#39;", "'"))
        self.assertEqual([True] * len(damage) + [False] * len(other), ["can damage" in mark for _, mark in rows])
        self.assertIn(f'<span id="differences">{len(differences)}</span>', section)
        self.assertIn("3.300 V", section)
        self.assertEqual("What changed since the last approved release", Page(html).heads[1][1])

    def test_without_the_package_before_that_is_said(self):
        self.assertIn("the package before it was not given", self.page("next.crp"))
        self.assertIn("names no package before it", self.page("frost-node.crp"))

    def test_another_package_than_the_one_before_is_refused(self):
        done = self.world.run("review", "next.crp", "--previous", "tank.crp", "-o", "no.html")
        self.assertEqual(BAD_DATA, done.returncode)
        self.assertIn("this is not the package that the release follows: found sha256:", done.stderr)
        done = self.world.run("review", "frost-node.crp", "--previous", "tank.crp", "-o", "no.html")
        self.assertEqual(BAD_DATA, done.returncode)
        self.assertIn("the release names none", done.stderr)
        self.assertFalse(self.world.path("no.html").exists())

    def test_whether_signatures_count_is_said_only_when_it_was_checked(self):
        self.assertIn("Signatures not checked.", self.page("frost-node.crp"))
        html = self.page("frost-node.crp", *OWNER)
        self.assertIn("Signatures were checked and count: trust list 1 under root version 1", html)
        for said in ("(<bdi>Ines Alder</bdi>) in role release", "(<bdi>Omar Birk</bdi>) in role quality"):
            self.assertIn(said, html)
        html = self.page("unsigned.crp", *OWNER, code=NO)
        self.assertIn("! Not signed off.", html)
        self.assertIn("Missing: <strong>release</strong>, <strong>quality</strong>", html)
        self.assertIn("(reason 341;", html)
        self.assertIn("Nobody has signed this package", html)
        html = self.page("next.crp", "--previous", "frost-node.crp", *OWNER, code=NO)
        self.assertIn("Its signatures count by the same trust list", html)

    def test_the_same_package_gives_the_same_bytes(self):
        first = self.page("frost-node.crp")
        self.world.path("other name.crp").write_bytes(self.world.bytes("frost-node.crp"))
        self.world.environment = {"TZ": "Pacific/Apia", "LC_ALL": "C", "LANG": "xx"}
        try:
            self.assertEqual(first, self.page("other name.crp"))
        finally:
            self.world.environment = None

    # ---- refusals

    def test_a_page_is_written_whole_or_not_at_all(self):
        self.world.must("review", "frost-node.crp", "-o", "there.html")
        before = self.world.bytes("there.html")
        done = self.world.run("review", "tank.crp", "-o", "there.html")
        self.assertEqual((NO_CREATE, before), (done.returncode, self.world.bytes("there.html")))
        self.world.must("review", "tank.crp", "-o", "there.html", "--force")
        self.assertNotEqual(before, self.world.bytes("there.html"))
        self.world.path("bad.crp").write_bytes(self.world.bytes("frost-node.crp"))
        change_byte(self.world.path("bad.crp"), self.world.path("bad.crp").stat().st_size - 3000)
        self.assertEqual(BAD_DATA, self.world.run("review", "bad.crp", "-o", "bad.html").returncode)
        self.assertFalse(self.world.path("bad.html").exists())

    def test_a_card_that_is_not_good_gets_no_sheet(self):
        copy_sparse(self.world.path("card.img"), self.world.path("bad.img"))
        listed = json.loads(self.world.must("card", "list", "card.img", "--json"))
        sector = next(each["first_sector"] for each in listed["files"] if each["path"].endswith("P01.CRP"))
        change_byte(self.world.path("bad.img"), sector * 512 + 9000)
        done = self.world.run("review", "bad.img", "--root", "owner.root", "-o", "bad.html")
        self.assertEqual(NO, done.returncode)
        self.assertIn("this card is not good, so it gets no page", done.stderr)
        self.assertFalse(self.world.path("bad.html").exists())

    def test_options_that_do_not_go_together_are_refused(self):
        for arguments in (["card.img"], ["frost-node.crp", "--root", "owner.root"], ["frost-node.crp", "--label"],
                          ["card.img", "--root", "owner.root", "--previous", "frost-node.crp"], ["owner.root"],
                          ["frost-node.crp", "--model", "bench-one"],
                          ["plain.img", "--root", "owner.root", "--model", "row-six"]):
            done = self.world.run("review", *arguments, "-o", "no.html")
            self.assertEqual((USAGE, ""), (done.returncode, done.stdout), arguments)
        self.assertFalse(self.world.path("no.html").exists())

    # ---- for the floor

    def test_sheets_speak_of_no_roots_and_sequences(self):
        for card in ("card.img", "plain.img"):
            self.assertNotRegex("\n".join(Page(self.card_page(card)).words()).lower(),
                                r"\b(roots?|sequences?|epochs?|trust lists?|manifest|ordinals?)\b")

    def test_the_sheet_of_a_plain_card_says_what_its_setup_text_says(self):
        text = self.world.path("plain.txt").read_text(encoding="ascii")
        page = "\n".join(Page(self.card_page("plain.img")).words())
        for name in ("file", "device ID to expect", "checksum shown", "first serial", "count up by", "slots on",
                     "supply voltage", "meter at empty slot"):
            value = re.search(rf"^  {name}  +(.*?)(?:: stop there)?(?:  +\[|$)", text, re.M)[1]
            self.assertIn(value.strip(), page, name)
        self.assertEqual(len(re.findall(r"\[  \] \[  \]", text)),
                         self.card_page("plain.img").count('<td><span class="box"></span></td><td><span class="box">'))

    def test_codes_are_read_back_by_outside_decoders(self):
        package = self.shown("frost-node.crp")["package"].split(":")[1]
        expected = f"CARD 00000000000000a1 PACKAGE {package}"
        for card in ("card.img", "plain.img"):
            self.assertEqual([expected], self.read_back(self.card_page(card), "qr"))
            self.assertEqual([expected], self.read_back(self.card_page(card, "--label", "--code", "qr"), "qr"))
            self.assertEqual([expected], self.read_back(self.card_page(card, "--label"), "data-matrix"))

    def test_number_labels_carry_every_serial_of_the_card(self):
        units = json.loads(self.world.must("serial", "units", "frost-node.crp", "0-59", "--json"))["units"]
        serials = [unit["text"] for unit in units]
        for code in ("data-matrix", "qr", "none"):
            html = self.card_page("card.img", "--labels", "38x21", "--code", code)
            self.assertEqual(serials, re.findall(r"<span>(\w+)</span></li>", html))
            self.assertEqual(0 if code == "none" else 60, len(codes_of(html)))
            self.assertIn("width: 38mm; height: 21mm", html)
        for code in ("data-matrix", "qr"):
            html = self.card_page("card.img", "--labels", "25x10", "--code", code, "--units", "59-60")
            self.assertEqual(serials[58:], self.read_back(html, code))
        sheets = self.card_page("card.img", "--labels", "38x21", "--stock", "4x6", "--pitch", "40.6x22",
                                "--corner", "9.5x12")
        self.assertEqual(serials, re.findall(r"<span>(\w+)</span></li>", sheets))
        self.assertEqual([f"Sheet {sheet} of 3" for sheet in (1, 2, 3)],
                         re.findall(r'aria-label="(Sheet \d of \d)"', sheets))
        places = re.findall(r'<li class="number" style="left: ([\d.]+)mm; top: ([\d.]+)mm"', sheets)
        expected = [(9.5 + 40.6 * (at % 24 % 4), 12 + 22 * (at % 24 // 4)) for at in range(60)]
        for (left, top), place in zip(places, expected, strict=True):
            self.assertAlmostEqual(float(left), place[0])
            self.assertAlmostEqual(float(top), place[1])
        self.assertEqual(3, sheets.count('class="head"'))
        self.assertIn('class="unseen">Card', self.card_page(
            "card.img", "--labels", "38x21", "--stock", "4x6", "--pitch", "40.6x22", "--corner", "9.5x5"))
        stock = ["38x21", "--stock", "4x6", "--pitch"]
        for wrong in ([*stock, "37x22", "--corner", "1x1"], [*stock, "40x22"], ["38x21", "--pitch", "40x22"],
                      [*stock, "40.66x22", "--corner", "1x1"],
                      ["38x21", "--stock", "0x6", "--pitch", "40x22", "--corner", "1x1"],
                      ["38"], ["5x5"], ["38x300"], ["38x21", "--units", "0-1"], ["38x21", "--units", "60-61"],
                      ["38x21", "--units", "2-1"], ["38x21", "--units", "7"], ["12x10"], ["38x21", "--label"]):
            done = self.world.run("review", "card.img", "--root", "owner.root", "-o", "no.html", "--labels", *wrong)
            self.assertEqual((USAGE, ""), (done.returncode, done.stdout), wrong)
        self.assertFalse(self.world.path("no.html").exists())

    def read_back(self, html, code):
        """What the outside decoder says of each code of a page."""
        reader, options = ((tool(self, "zbarimg", "zbar-tools"), ["--quiet", "--raw"]) if code == "qr" else
                           (tool(self, "dmtxread", "dmtx-utils"), ["-N1"]))
        said = []
        for rows in codes_of(html):
            picture = self.world.path("code.pgm")
            picture.write_bytes(picture_of(rows))
            done = subprocess.run([reader, *options, picture], capture_output=True, text=True, timeout=60,
                                  check=False)
            said.append(done.stdout.strip())
        return said

    # ---- approved texts

    def test_the_words_of_the_pages_are_the_approved_ones(self):
        pages = {"review-frost-node": self.page("frost-node.crp", *OWNER),
                 "sheet-signed": self.card_page("card.img"), "sheet-plain": self.card_page("plain.img"),
                 "label": self.card_page("plain.img", "--label")}
        for name, html in pages.items():
            found = masked(Page(html).words())
            approved = APPROVED / f"page-{name}.txt"
            received = self.world.path(f"page-{name}.txt")
            received.write_text(found, encoding="utf-8")
            if "PAGES_APPROVE" in os.environ:
                approved.parent.mkdir(exist_ok=True)
                approved.write_text(found, encoding="utf-8")
            with self.subTest(name):
                self.assertEqual(approved.read_text(encoding="utf-8"), found,
                                 "when this is right: PAGES_APPROVE=1 and this test once more")


if __name__ == "__main__":
    main()
