"""A lot from its order to its closure: first article, cards of places, what is open, what is signed."""

import contextlib
import json
import sqlite3
import subprocess

from lot_case import BAD_DATA, CONFIG, DEVICE, FIRST, REFUSED, STATION_SIM, LotCase, card
from world import SIGNED, SOURCE, change_byte, main, run, tool


class Lots(LotCase):
    def test_the_template_is_of_its_schema_and_is_what_the_command_writes(self):
        schema = SOURCE / "templates" / "author" / "order.xsd"
        template = SOURCE / "templates" / "author" / "order.xml"
        self.run_lot("new", f"{self.name}-new.xml")
        self.assertEqual(template.read_bytes(), self.world.bytes(f"{self.name}-new.xml"))
        again = self.run_lot("new", f"{self.name}-new.xml", code=73)
        self.assertIn("output exists", again.stderr)
        xmllint = tool(self, "xmllint", "libxml2-utils")
        own = self.world.path(self.order(
            card("1", 24, more=' slots="1-3" spare="no" line="L-2"'),
            card("2", 4, more=' continues="1"'), work_class="rework",
            terms='  <date-code text="2641"/>\n  <reel lot="R-1" part="U1"/>\n'
                  '  <silicon revision="B 2"/>\n'
                  + FIRST + '  <parent work-order="WO-1"/>\n  <data-memory may-be-lost="yes"/>\n'))
        for file in (template, own):
            done = subprocess.run([xmllint, "--noout", "--schema", schema, file],
                                  capture_output=True, text=True, check=False)
            self.assertEqual(0, done.returncode, done.stderr)

    def test_an_order_that_does_not_fit_its_package(self):
        changes = {
            "order-release": dict(version="2.4.0"),
            "order-engineering": dict(work_class="engineering"),
            "order-rework": dict(work_class="rework"),
            "order-date-code": dict(terms='  <date-code text="2641"/>\n'),
        }
        for wanted, change in changes.items():
            with self.subTest(wanted=wanted):
                self.assertEqual([wanted], self.codes(self.order(card("1", 24), **change)))
        for wanted, one in (("order-boards", card("1", 25)),
                            ("order-model", card("1", 24).replace("row-six", "row-two")),
                            ("order-slots", card("1", 24, more=' slots="1-9"'))):
            with self.subTest(wanted=wanted):
                self.assertEqual([wanted], self.codes(self.order(one)))
        board = self.world.path(self.order(card("1", 24)))
        board.write_text(board.read_text(encoding="utf-8").replace('board-revision="3"',
                                                                   'board-revision="2"'))
        self.assertEqual(["order-board"], self.codes(board.name))

    def test_an_order_that_is_wrong_by_itself(self):
        done = self.check(self.order(card("1", 12), card("1", 12)), code=BAD_DATA)
        self.assertIn(f"{self.name}.xml:6", done.stderr)
        self.assertIn("two cards have one place", done.stderr)
        done = self.check(self.order(card("1", 24, more=' continues="0"')), code=BAD_DATA)
        self.assertIn("no card before this one has that place", done.stderr)

    def test_where_the_first_card_is_lost_one_other_is_made_for_the_first_article(self):
        order = self.order(*(card(str(place), 8) for place in range(1, 4)), terms=FIRST)
        self.cards(order)
        self.world.must("card", "note", f"{self.name}-01.img", "on-card", "--register",
                        self.register, "--by", "Desk", "--note", "by hand")
        self.assertIn("no first article of this lot is signed", self.cards(order, code=REFUSED).stderr)
        self.world.must("card", "note", f"{self.name}-01.img", "lost", "--register", self.register,
                        "--by", "Floor", "--note", "not in the parcel")
        made = self.cards(order).stdout
        self.assertIn(f"{self.name}-02.img", made)
        self.assertNotIn(f"{self.name}-03.img", made)
        self.assertIn("no first article of this lot is signed", self.cards(order, code=REFUSED).stderr)
        # Nor can a card without a good board give one.
        every = "".join(f"cycle {cycle} slot {slot} verify-error 0x0120\n"
                        for cycle in range(1, 9) for slot in range(1, 7))
        self.work(f"{self.name}-02.img", scenario="tries 1\n" + every)
        self.bring_back(f"{self.name}-02.img")
        self.assertIn(f"{self.name}-03.img", self.cards(order).stdout)

    def test_the_first_article_comes_before_further_cards(self):
        order = self.order(card("1", 12), card("2", 12, station="orchard-2"), terms=FIRST)
        made = self.cards(order)
        self.assertIn(f"{self.name}-01.img", made.stdout)
        self.assertNotIn(f"{self.name}-02.img", made.stdout)
        self.assertIn("no first article of this lot is signed", self.cards(order, code=REFUSED).stderr)
        self.work(f"{self.name}-01.img", dump=("--dump", "0:board.hex", "--dump", "1:other.hex"),
                  cycles=("--cycles", "1"))
        done = self.first_article("other.hex", f"{self.name}-no.first", code=1)
        self.assertIn("unexplained", done.stdout)
        self.assertFalse(self.world.path(f"{self.name}-no.first").exists())
        self.assertIn("no first article of this lot is signed", self.cards(order, code=REFUSED).stderr)
        done = self.first_article("board.hex", f"{self.name}.first")
        self.assertIn("bytes serial", done.stdout)
        made = self.cards(order)
        self.assertIn(f"{self.name}-02.img", made.stdout)
        self.assertNotIn(f"{self.name}-01.img", made.stdout)
        self.assertIn("nothing was made", self.cards(order).stderr)

    def test_a_statement_is_quality_s_and_any_tool_can_check_it(self):
        openssl = tool(self, "openssl", "openssl")
        order = self.order(card("1", 24), terms=FIRST)
        self.cards(order)
        self.work(f"{self.name}.img", dump=("--dump", "0:one.hex"), cycles=("--cycles", "1"))
        done = self.run_lot("first-article", "WO-7", "--package", "frost-node.crp", "--device",
                            DEVICE, "--readback", "one.hex", "--serial", "FN000001",
                            *self.statement(f"{self.name}.first", person="ines"), "--confirm",
                            "first article of WO-7", code=CONFIG)
        self.assertIn("have quality sign it", done.stderr)
        self.first_article("one.hex", f"{self.name}.first", code=REFUSED, confirm="yes")
        self.first_article("one.hex", f"{self.name}.first")
        text = self.world.bytes(f"{self.name}.first")
        self.assertIn(b'\nserial "FN000001"\n', text)
        kind = b"application/vnd.cardseal.first-article.v1"  # lib/format/SPEC.md
        # The pre-authentication encoding of DSSE (github.com/secure-systems-lab/dsse, protocol.md).
        message = b"DSSEv1 %d %s %d %s" % (len(kind), kind, len(text), text)
        self.world.path("message").write_bytes(message)
        done = subprocess.run([openssl, "pkeyutl", "-verify", "-pubin", "-inkey", "keys/omar.pub",
                               "-rawin", "-in", "message", "-sigfile", f"{self.name}.first.s01"],
                              cwd=self.world.folder, capture_output=True, text=True, check=False)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        verified = self.world.run("verify", f"{self.name}.first", "--root", "owner.root", "--trust",
                                  "owner.trust")
        self.assertEqual(0, verified.returncode, verified.stdout + verified.stderr)
        change_byte(self.world.path(f"{self.name}.first"), text.index(b"looked at"))
        verified = self.world.run("verify", f"{self.name}.first", "--root", "owner.root", "--trust",
                                  "owner.trust")
        self.assertEqual(1, verified.returncode, verified.stdout + verified.stderr)
        self.assertIn("no key of the trust list signed this text", verified.stderr)

    def test_every_unit_is_accounted_for_before_a_lot_is_closed(self):
        self.cards(self.order(card("1", 12), card("2", 12, station="orchard-2")))
        self.assertIn("where it is nobody noted", self.close(code=REFUSED).stderr)
        self.work(f"{self.name}-01.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n"
                                                  "cycle 2 slot 4 verify-error 0x0120\n")
        self.work(f"{self.name}-02.img", station="orchard-2")
        self.world.must("card", "note", f"{self.name}-01.img", "on-card", "--register",
                        self.register, "--by", "Desk", "--note", "by hand")
        self.assertIn("is not back", self.close(code=REFUSED).stderr)
        self.world.must("card", "note", f"{self.name}-01.img", "returned", "--register",
                        self.register, "--by", "Floor", "--note", "back")
        self.assertIn("not counted", self.close(code=REFUSED).stderr)
        self.world.run("reconcile", f"{self.name}-01.img", "--register", self.register)
        self.bring_back(f"{self.name}-02.img")
        shown = self.show()
        self.assertFalse(shown["closable"])
        self.assertGreater(shown["open"], 1)
        self.assertEqual(24, shown["issued"])
        self.assertEqual(24, sum(shown["counts"].values()) + shown["open"])
        done = self.close(code=REFUSED)
        self.assertIn("failed or in doubt", done.stderr)
        one = next(c for c in shown["cards"] if c["open"])
        first = one["open"][0]["first"]
        self.settle("--card", one["card"], "--units", f"{first}")
        self.assertIn("is said already",
                      self.settle("--card", one["card"], "--units", f"{first}", code=REFUSED).stderr)
        good = next(n for n in range(1, 13) if not any(
            span["first"] <= n <= span["last"] for span in one["open"]) and n != first)
        self.assertIn("good by its log", self.settle("--card", one["card"], "--units", f"{good}",
                                                     what="no-board", code=REFUSED).stderr)
        self.settle("--card", one["card"], what="no-board")
        self.assertIn("is open; nothing", self.settle("--card", one["card"]).stderr)
        shown = self.show()
        self.assertTrue(shown["closable"], shown["points"])
        self.assertEqual(24, sum(shown["counts"].values()))
        ships = shown["shippable"]
        self.assertIn("the labels don't add up",
                      self.close("--labels", f"{ships + 2}:{ships}:1", code=REFUSED).stderr)
        self.assertIn("not the boards that can ship",
                      self.close("--labels", f"{ships + 2}:{ships + 1}:1", code=REFUSED).stderr)
        self.assertIn("can be closed", self.close("--labels", f"{ships + 2}:{ships}:2",
                                                  "--dry-run").stderr)
        self.close("--labels", f"{ships + 2}:{ships}:2")
        text = self.world.bytes(f"{self.name}-WO-7.close").decode()
        self.assertIn(f"\nissued 24\ngood {ships}\n", text)
        self.assertIn(f"\nlabels {ships + 2} {ships} 2\n", text)
        self.assertIn(f'"{ships} of 24 boards ordered can ship"', text)
        self.assertTrue(self.show()["closed"])
        # Nothing follows a closure.
        self.assertIn("this lot is closed", self.close(output="twice", code=REFUSED).stderr)
        self.assertIn("this lot is closed", self.cards(
            self.order(card("1", 12), card("2", 12), card("3", 1), revision=2, spares=1),
            code=REFUSED).stderr)
        done = self.world.run("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                              "owner.trust", *self.world.key("desk"), "--register", self.register,
                              "--station", "orchard-1", "--model", "row-six", "--units", "2",
                              "--work-order", "WO-7", "-o", f"{self.name}-more.img")
        self.assertEqual(REFUSED, done.returncode)
        self.assertIn("this lot is closed", done.stderr)
        self.world.must("serial", "check", self.register)

    def test_a_concession_lets_a_unit_ship(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.bring_back(f"{self.name}.img")
        shown = self.show()
        self.assertEqual((5, 1), (shown["counts"]["good"], shown["open"]))
        one = shown["cards"][0]
        place = one["open"][0]["first"]
        concede = ["concede", "WO-7", "--number", "CN-1", "--units"]
        self.assertIn("good by its log", self.run_lot(
            *concede, f"{one['card']}:{place - 1}", *self.statement(f"{self.name}.no"), "--confirm",
            "concession CN-1", code=REFUSED).stderr)
        self.run_lot(*concede, f"{one['card']}:{place}", *self.statement(f"{self.name}.concession"),
                     "--confirm", "concession CN-1")
        self.assertEqual(6, self.show()["shippable"])
        self.assertIn("conceded", self.run_lot("show", "WO-7", "--register", self.register).stdout)
        traced = self.world.must("trace", f"FN{place:06}", "--register", self.register, "--package",
                                 "frost-node.crp")
        self.assertIn("conceded", traced)
        self.assertIn("CN-1", traced)
        self.close()
        traced = self.world.must("trace", f"FN{place:06}", "--register", self.register, "--package",
                                 "frost-node.crp")
        self.assertIn("closed", traced)

    def test_a_card_takes_over_from_one_that_is_accounted_for(self):
        self.cards(self.order(card("1", 12), quantity=12, spares=6))
        more = dict(quantity=12, spares=6, revision=2)
        takes_over = card("2", 9, station="orchard-2", more=' continues="1"')
        self.assertEqual(["order-continues"],
                         self.codes(self.order(card("1", 12), takes_over, **more)))
        self.work(f"{self.name}.img", cycles=("--cycles", "1"))
        self.bring_back(f"{self.name}.img")
        self.assertEqual(["order-continues"],
                         self.codes(self.order(card("1", 12), takes_over, **more)))
        order = self.order(card("1", 12), takes_over.replace('"9"', '"6"'), **more)
        self.check(order)
        self.cards(order)
        self.assertEqual(18, self.show()["issued"])
        # The same revision with other words is no revision.
        self.assertIn("order-revision", self.codes(self.order(
            card("1", 12), takes_over.replace('"9"', '"5"'), **more)))
        self.assertEqual(["order-other"], self.codes(self.order(
            card("1", 12), takes_over.replace('"9"', '"6"'), terms='  <parent work-order="A"/>\n',
            **{**more, "revision": 3})))

    def test_a_lost_card_is_unknown_and_stays_so(self):
        self.cards(self.order(card("1", 12), card("2", 12, station="orchard-2", more=' spare="yes"')))
        self.work(f"{self.name}-01.img")
        self.bring_back(f"{self.name}-01.img")
        self.world.must("card", "note", f"{self.name}-02.img", "lost", "--register", self.register,
                        "--by", "Floor", "--note", "not on the bench, not in the bin")
        shown = self.show()
        self.assertEqual((12, 12), (shown["counts"]["good"], shown["counts"]["unknown"]))
        self.assertTrue(shown["closable"])
        self.close()
        self.assertIn("cards lost or destroyed before they were counted: 1; 12 units of theirs unknown",
                      self.world.bytes(f"{self.name}-WO-7.close").decode())

    def test_an_unused_spare_comes_back_and_is_counted(self):
        self.cards(self.order(card("1", 6), card("2", 6, station="orchard-2", more=' spare="yes"'),
                              quantity=6, spares=6))
        self.work(f"{self.name}-01.img")
        for image in ("01", "02"):
            self.bring_back(f"{self.name}-{image}.img")
        shown = self.show()
        self.assertEqual((6, 6), (shown["counts"]["good"], shown["counts"]["unused"]))
        self.close()

    def test_no_card_goes_round_its_order(self):
        self.cards(self.order(card("1", 6), card("2", 6), quantity=12, terms=FIRST))
        done = self.world.run("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                              "owner.trust", *self.world.key("desk"), "--register", self.register,
                              "--station", "orchard-1", "--model", "row-six", "--units", "2",
                              "--work-order", "WO-7", "-o", f"{self.name}-more.img")
        self.assertEqual(REFUSED, done.returncode)
        self.assertIn("made from its order", done.stderr)
        self.assertFalse(self.world.path(f"{self.name}-more.img").exists())
        # Nor is a card that was made taken out of its order, nor given more than is ordered.
        for cards in ([card("2", 6)], [card("1", 7)]):
            self.assertEqual("order-place", self.codes(self.order(
                *cards, quantity=12, revision=2, terms=FIRST))[0])

    def test_no_more_is_issued_than_is_ordered(self):
        self.cards(self.order(card("1", 12), quantity=12))
        more = dict(quantity=12, revision=2)
        self.assertIn("order-boards", self.codes(self.order(card("1", 12), card("2", 1), **more)))
        self.work(f"{self.name}.img", cycles=("--cycles", "1"))
        self.bring_back(f"{self.name}.img")
        taken = card("2", 4, more=' continues="1"'), card("3", 4, more=' continues="1"')
        self.assertIn("order-continues", self.codes(self.order(card("1", 12), *taken, **more)))

    def test_a_reworked_board_is_found_under_both_numbers(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n"
                                               "cycle 1 slot 5 verify-error 0x0120\n")
        self.bring_back(f"{self.name}.img")
        rework = self.order(card("1", 4), quantity=4, work_order="WO-8", work_class="rework",
                            terms='  <parent work-order="WO-7"/>\n'
                                  '  <data-memory may-be-lost="yes"/>\n')
        self.cards(rework, "--force")
        self.work(f"{self.name}.img", scenario="tries 1\ncycle 1 slot 4 verify-error 0x0120\n")
        self.bring_back(f"{self.name}.img")
        package = ("--package", "frost-node.crp")

        def reworked(*more, code=0):
            return self.settle(*more, *package, what="reworked", code=code)

        labels = ("FN000002", "FN000005")
        one = self.show()["cards"][0]
        self.assertEqual([(2, 2), (5, 5)], [(span["first"], span["last"]) for span in one["open"]])
        said = reworked("--serial", labels[0], "--now", "FN000003", code=REFUSED)
        self.assertIn("not of a rework lot that comes from this one", said.stderr)
        said = reworked("--serial", labels[0], "--now", "FN000010", code=REFUSED)
        self.assertIn("no log says that it is good", said.stderr)
        said = reworked("--serial", labels[0], "--serial", labels[1], "--now", "FN000007", "--now",
                        "FN000007", code=REFUSED)
        self.assertIn("another board has that new number", said.stderr)
        self.assertIn("one new number", reworked("--serial", labels[0], "--serial", labels[1],
                                                 "--now", "FN000007", code=64).stderr)
        self.assertEqual([], self.show()["cards"][0]["settled"])  # all or none
        reworked("--card", one["card"], "--now", "FN000007", "--now", "FN000009")
        told = json.loads(self.world.must("trace", labels[1], "--register", self.register, *package,
                                          "--json"))["found"][0]
        self.assertEqual(["FN000009"], [number["label"] for number in told["after"]])
        told = self.world.must("trace", "FN000009", "--register", self.register, *package)
        self.assertRegex(told, rf"was before +{labels[1]} \(card {one['card']}, place 5, work order "
                               r"WO-7\)")
        lists = json.loads(self.world.must(
            "recall", "--where", f"card={one['card']}", "--register", self.register, *package,
            "--json"))
        affected = {(span["first_ordinal"], span["count"]) for span in lists["spans"]
                    if span["list"] == "affected"}
        self.assertEqual({(0, 6), (6, 1), (8, 1)}, affected)
        self.world.must("serial", "check", self.register)

    def test_an_order_s_reels_and_line_lead_back_from_a_unit(self):
        reels = '  <reel lot="R-20931" part="U1"/>\n  <reel lot="R-7" part="C4"/>\n'
        order = self.order(card("1", 6, more=' line="L-2"'), quantity=6, terms=reels)
        self.cards(order)
        told = self.world.must("trace", "FN000003", "--register", self.register, "--package",
                               "frost-node.crp")
        self.assertRegex(told, r"ordered as +place 1, line L-2\n")
        self.assertRegex(told, r"reel of its order +R-20931 of U1\n +reel of its order +R-7 of C4\n")
        # A later revision is what counts; the file goes into an archive as it is.
        order = self.order(card("1", 6, more=' line="L-2"'), card("2", 2, more=' line="L-3"'),
                           quantity=8, revision=2, terms=reels.replace("R-7", "R-8"))
        self.cards(order)
        told = json.loads(self.world.must("trace", "FN000007", "--register", self.register,
                                          "--package", "frost-node.crp", "--json"))
        self.assertEqual({"place": "2", "line": "L-3", "silicon": [],
                          "reels": [{"lot": "R-20931", "part": "U1"}, {"lot": "R-8", "part": "C4"}]},
                         told["found"][0]["ordered"])
        self.world.must("serial", "check", self.register)
        self.world.must("archive", "new", f"{self.name}-kept")
        added = self.world.must("archive", "add", order, "--archive", f"{self.name}-kept", "--root",
                                "owner.root", "--trust", "owner.trust")
        self.assertIn("order  order WO-7, revision 2", added)
        item = json.loads(self.world.must("archive", "list", "--archive", f"{self.name}-kept",
                                          "--json"))["items"][0]
        self.world.must("archive", "get", item["id"], "--archive", f"{self.name}-kept", "-o",
                        f"{self.name}-taken")
        self.assertEqual(self.world.bytes(order), self.world.bytes(f"{self.name}-taken/{order}"))

    def test_silicon_revisions_are_held_against_the_device_s_profile(self):
        order = self.order(card("1", 24), terms='  <silicon revision="B"/>\n')
        self.assertIn("no profile", self.check(order, code=REFUSED).stderr)
        said = self.check(order, "--device", DEVICE, code=REFUSED).stderr
        self.assertIn(f"{order}:5", said)
        self.assertIn("does not allow this revision: found B", said)
        self.assertIn("no profile", self.cards(order, code=REFUSED).stderr)

    def test_a_unit_that_was_never_begun_is_no_first_article(self):
        self.cards(self.order(card("1", 12), terms=FIRST))
        self.work(f"{self.name}.img", dump=("--dump", "0:unit.hex"), cycles=("--cycles", "1"))
        self.bring_back(f"{self.name}.img")
        done = self.run_lot("first-article", "WO-7", "--package", "frost-node.crp", "--device",
                            DEVICE, "--readback", "unit.hex", "--serial", "FN000012",
                            *self.statement(f"{self.name}.no"), "--confirm",
                            "first article of WO-7", code=REFUSED)
        self.assertIn("never begun", done.stderr)
        self.first_article("unit.hex", f"{self.name}.first")

    def test_a_statement_is_signed_elsewhere_in_two_steps(self):
        openssl = tool(self, "openssl", "openssl")
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img")
        self.bring_back(f"{self.name}.img")
        text = ["close", "WO-7", "--package", "frost-node.crp", "--register", self.register, "--root",
                "owner.root", "--trust", "owner.trust", "--public-key", "keys/omar.pub", "--reason",
                "counted", "--time", SIGNED["quality"], "-o", f"{self.name}.close"]
        self.run_lot(*text, "--signed-bytes", f"{self.name}.bytes", "--confirm", "close WO-7")
        self.assertFalse(self.show()["closed"])
        self.world.path("wrong").write_bytes(bytes(64))
        self.run_lot(*text, "--attach", "wrong", code=REFUSED)
        self.assertFalse(self.show()["closed"])
        subprocess.run([openssl, "pkeyutl", "-sign", "-rawin", "-inkey", "keys/omar.pem", "-passin",
                        "file:keys/omar.pass", "-in", f"{self.name}.bytes", "-out",
                        f"{self.name}.sig"], cwd=self.world.folder, check=True)
        self.run_lot(*text, "--attach", f"{self.name}.sig")
        self.assertTrue(self.show()["closed"])
        verified = self.world.run("verify", f"{self.name}.close", "--root", "owner.root", "--trust",
                                  "owner.trust")
        self.assertEqual(0, verified.returncode, verified.stdout + verified.stderr)

    def test_what_another_owner_s_quality_signs_counts_for_nothing(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.bring_back(f"{self.name}.img")
        one = self.show()["cards"][0]
        place = one["open"][0]["first"]
        other = f"{self.name}-other"
        self.world.must("trust", "root", "--person", "eve:Eve", "--root-key", "eve:keys/omar.pub",
                        *self.world.key("omar"), "-o", f"{other}.root")
        self.world.must("trust", "new", "--root", f"{other}.root", "-o", f"{other}.trust")
        self.world.must("trust", "add", f"{other}.trust", "--root", f"{other}.root", "--person",
                        "omar:Omar", "--key", "omar:quality:keys/ines.pub")
        self.world.sign_text(f"{other}.trust", root=f"{other}.root", person="omar")
        signs = ["--register", self.register, "--root", f"{other}.root", "--trust",
                 f"{other}.trust", *self.world.key("ines"), "--reason", "why not", "-o"]
        done = self.run_lot("concede", "WO-7", "--number", "CN-9", "--units",
                            f"{one['card']}:{place}", *signs, f"{self.name}.no", "--confirm",
                            "concession CN-9", code=CONFIG)
        self.assertIn("owner", done.stderr)
        self.settle("--card", one["card"])
        self.run_lot("close", "WO-7", "--package", "frost-node.crp", *signs, f"{self.name}.nn",
                     "--confirm", "close WO-7", code=CONFIG)
        self.assertFalse(self.show()["closed"])

    def test_what_the_register_refuses_is_not_signed(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img")
        self.bring_back(f"{self.name}.img")
        self.run_lot("concede", "WO-7", "--number", "CN-2", "--units",
                     f"{self.show()['cards'][0]['card']}:1", *self.statement(f"{self.name}.good"),
                     "--confirm", "concession CN-2", code=REFUSED)
        self.assertFalse(self.world.path(f"{self.name}.good").exists())

    # Boards that come back with the number they have

    def boards_again(self, numbers, serials):
        """WO-7 makes six boards; an order of class rework names some of them."""
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img")
        self.bring_back(f"{self.name}.img")
        boards = "".join(f'<board serial="{serial}"/>' for serial in serials)
        again = (f'  <card place="1" station="orchard-1" model="row-six" units="{len(serials)}" '
                 f'numbers="{numbers}">{boards}</card>\n')
        return self.order(again, work_order="WO-8", work_class="rework", quantity=len(serials),
                          terms='  <parent work-order="WO-7"/>\n'
                                '  <data-memory may-be-lost="yes"/>\n')

    def cards_again(self, order, *more, code=0):
        return self.run_lot("cards", order, "--package", "frost-node.crp", "--root", "owner.root",
                            "--trust", "owner.trust", *self.world.key("desk"), "--register",
                            self.register, "-o", f"{self.name}-again.img", *more, code=code)

    def test_boards_keep_their_numbers_and_no_other_board_is_worked_on(self):
        order = self.boards_again("kept", ["FN000002", "FN000005", "FN000003"])
        sheet = f"{self.name}.txt"
        self.cards_again(order, "--sheet", sheet)
        text = self.world.path(sheet).read_text(encoding="ascii")
        self.assertIn("each board keeps its own", text)
        self.assertIn("FN000002 to FN000003", text)
        self.assertIn("FN000005", text)
        image = f"{self.name}-again.img"
        self.world.path("day.txt").write_text("cycle 1 slot 2 other-number\n", encoding="ascii")
        dumped = f"{self.name}-5.hex"
        done = run(STATION_SIM, image, "--state", f"{self.name}-orchard-1.state", "--scenario",
                   "day.txt", "--device", DEVICE, "--dump", f"4:{dumped}", cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        self.assertIn("turned away    1 boards", done.stdout)
        self.assertIn("0 units left", done.stdout)
        # The board has the bytes of its own number: FN000005 is ordinal 4.
        self.assertIn(b"FN000005".hex().upper().encode(), self.world.bytes(dumped))
        self.bring_back(image)
        account = self.show("WO-8")
        self.assertEqual(3, account["counts"]["good"], account)
        page = self.world.must("review", self.register, "--work-order", "WO-8", "--package",
                               "frost-node.crp", "-o", "-")
        self.assertIn("FN000002 to FN000003, FN000005<", page)
        done = self.world.run("label", "export", "WO-8", "--register", self.register, "--package",
                              "frost-node.crp", "--by", "Print room", "-o", f"{self.name}.csv")
        self.assertEqual(REFUSED, done.returncode)
        self.assertIn("the boards of this card have their labels", done.stderr)
        # Both runs are the unit's history, and its number is one.
        told = json.loads(self.world.must(
            "trace", "FN000005", "--register", self.register, "--package", "frost-node.crp",
            "--json"))
        self.assertEqual(["WO-7", "WO-8"], [each["work_order"] for each in told["found"]])
        self.assertEqual(["good", "good"], [each["result"] for each in told["found"]])
        # A recall tells each of the three boards under both runs, and says so.
        asked = ("recall", "--where", f"card={account['cards'][0]['card']}", "--register",
                 self.register, "--package", "frost-node.crp")
        said = self.world.must(*asked)
        self.assertRegex(said, r"\naffected +6 units, 3 of boards that are told already\n")
        self.assertIn("also unit", said)
        page = self.world.must(*asked, "-o", "-")
        self.assertIn('value="3">3</data> other numbers or runs of boards', page)
        told = json.loads(self.world.must(*asked, "--json"))["told_twice"]
        self.assertEqual({"affected": 3, "possibly": 0, "cleared": 0}, told)
        other = json.loads(self.world.must(
            "trace", "FN000004", "--register", self.register, "--package", "frost-node.crp",
            "--json"))
        self.assertEqual(["WO-7"], [each["work_order"] for each in other["found"]])
        sound = self.world.must("serial", "check", self.register)
        self.assertTrue(sound.startswith("good"), sound)
        # The next number is the one after the six.
        self.cards(self.order(card("1", 1), work_order="WO-9", quantity=1), "--force")
        listed = json.loads(self.world.must("serial", "list", self.register, "--json"))
        self.assertEqual([[0, 6], [1, 3], [6, 1]],
                         [[a["first"], a["count"]] for a in listed["allotments"]])
        self.assertEqual([[1, 2], [4, 4]], listed["allotments"][1]["spans"])

    def named(self, serials, work_order="WO-8", parent="WO-7", numbers="kept"):
        cards = "".join(
            f'  <card place="{at}" station="orchard-1" model="row-six" units="1" '
            f'numbers="{numbers}"><board serial="{serial}"/></card>\n'
            for at, serial in enumerate(serials, 1))
        return self.order(cards, work_order=work_order, work_class="rework",
                          quantity=len(serials),
                          terms=f'  <parent work-order="{parent}"/>\n'
                                '  <data-memory may-be-lost="yes"/>\n')

    def test_a_board_is_counted_where_it_was_worked_on_last_and_stands_on_one_card_at_a_time(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img")
        self.bring_back(f"{self.name}.img")
        self.assertIn("order-board-serial", self.codes(self.named(["FN000002", "FN000002"])))
        refused = self.cards_again(self.named(["FN000002"], parent="WO-6"), code=REFUSED)
        self.assertIn("order's parent", refused.stderr)
        self.cards_again(self.named(["FN000002"]))
        # The card is out: the board is on no other, and what becomes of it is said of this one.
        refused = self.cards_again(self.named(["FN000002"], work_order="WO-9"), "--force",
                                   code=REFUSED)
        self.assertIn("not accounted for", refused.stderr)
        refused = self.settle("--serial", "FN000002", "--package", "frost-node.crp", code=REFUSED)
        self.assertIn("on a later card", refused.stderr)
        before = self.show()["counts"]
        self.assertEqual((5, 1), (before["good"], before["reworked"]))
        self.work(f"{self.name}-again.img", scenario="cycle 1 slot 1 verify-error 0x0120\n")
        self.bring_back(f"{self.name}-again.img")
        self.assertEqual(0, self.show("WO-8")["counts"]["good"])
        self.assertEqual(5, self.show()["counts"]["good"])
        self.run_lot("settle", "WO-8", "--register", self.register, "--as", "scrapped", "--by",
                     "Sanna Reed", "--note", "seen", "--serial", "FN000002", "--package",
                     "frost-node.crp")
        refused = self.cards_again(self.named(["FN000002"], work_order="WO-9", parent="WO-8"),
                                   "--force", code=REFUSED)
        self.assertIn("scrapped in WO-8", refused.stderr)

    def test_boards_that_failed_again_go_on_other_cards_of_their_order(self):
        self.cards(self.order(card("1", 6), quantity=6))
        self.work(f"{self.name}.img")
        self.bring_back(f"{self.name}.img")
        terms = dict(work_order="WO-8", work_class="rework", quantity=2,
                     terms='  <parent work-order="WO-7"/>\n  <data-memory may-be-lost="yes"/>\n')

        def place(name, *boards, more=""):
            named = "".join(f'<board serial="{board}"/>' for board in boards)
            return (f'  <card place="{name}" station="orchard-1" model="row-six" '
                    f'units="{len(boards)}" numbers="kept"{more}>{named}</card>\n')

        def made(image, order, scenario=""):
            self.cards(order, image=f"{self.name}-again.img")
            self.work(image, scenario=scenario)
            self.bring_back(image)

        places = [place("1", "FN000002", "FN000003")]
        made(f"{self.name}-again.img", self.order(*places, **terms),
             scenario="tries 1\ncycle 1 slot 1 verify-error 0x0120\n"
                      "cycle 1 slot 2 verify-error 0x0120\n")
        for number, board in ((2, "FN000002"), (3, "FN000003")):
            places.append(place(str(number), board, more=' continues="1"'))
            order = self.order(*places, revision=number, **terms)
            made(f"{self.name}-again-{number:02}.img", order)
            self.check(order)  # each board counts once
        twice = self.order(*places, place("4", "FN000003", more=' continues="1"'), revision=4, **terms)
        self.assertIn("order-board-serial", self.codes(twice))
        shown = self.show("WO-8")
        self.assertEqual([(0, 2), (1, 0), (1, 0)],
                         [(one["counts"]["good"], one["counts"]["reworked"])
                          for one in shown["cards"]])
        self.assertTrue(shown["closable"], shown["points"])
        # A label names the unit of the card that had its board last.
        self.settle("--serial", "FN000002", "--package", "frost-node.crp", work_order="WO-8")
        self.assertEqual(["2"], [one["place"] for one in self.show("WO-8")["cards"]
                                 if one["settled"]])

    def test_no_sql_changes_the_boards_that_a_card_names(self):
        order = self.boards_again("kept", ["FN000002"])
        self.cards_again(order)
        with contextlib.closing(sqlite3.connect(self.world.path(self.register))) as register:
            for sql, said in (
                    ("UPDATE again SET first = 3, past = 4", "not changed"),
                    ("DELETE FROM again", "not removed"),
                    ("INSERT INTO again VALUES(2, 'kept', 'fn-serial', 4, 5)", "before it is sealed"),
                    ("INSERT INTO again VALUES(1, 'kept', 'fn-serial', 4, 5)", "named once"),
                    ("INSERT INTO again VALUES(9, 'kept', 'fn-serial', 777777, 777778)",
                     "given to no card")):
                with self.assertRaisesRegex(sqlite3.Error, said, msg=sql):
                    register.execute(sql)

    def test_a_cut_loses_no_board_that_has_a_number(self):
        order = self.boards_again("kept", ["FN000001", "FN000006"])
        self.cards_again(order)
        image = f"{self.name}-again.img"
        self.world.path("day.txt").write_text("cycle 1 power-cut 1\n", encoding="ascii")
        done = run(STATION_SIM, image, "--state", f"{self.name}-orchard-1.state", "--scenario",
                   "day.txt", cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)
        self.assertNotIn("turned away", done.stdout)
        self.assertIn("GOOD           2 tries", done.stdout)

    def test_a_stated_number_is_the_one_on_the_label(self):
        order = self.boards_again("stated", ["FN000006"])
        self.cards_again(order)
        self.work(f"{self.name}-again.img")
        self.bring_back(f"{self.name}-again.img")
        self.assertEqual(1, self.show("WO-8")["counts"]["good"])

    def test_an_order_of_boards_that_come_back_names_boards_that_are_there(self):
        order = self.boards_again("kept", ["FN000001", "FN000001"])
        self.assertEqual(["order-board-serial"], self.codes(order))
        for serials, numbers, code in ((["XX000001"], "kept", "order-board-serial"),
                                       (["FN000001"], "new", "order-numbers")):
            boards = "".join(f'<board serial="{serial}"/>' for serial in serials)
            wrong = (f'  <card place="1" station="orchard-1" model="row-six" units="1" '
                     f'numbers="{numbers}">{boards}</card>\n')
            order = self.order(wrong, work_order="WO-8", work_class="rework", quantity=1,
                               terms='  <parent work-order="WO-7"/>\n'
                                     '  <data-memory may-be-lost="yes"/>\n')
            self.assertEqual([code], self.codes(order))
        scrap = "FN000002"
        self.settle("--serial", scrap, "--package", "frost-node.crp")
        for serial, code, found in ((scrap, "again-gone", "scrapped"),
                                    ("FN000099", "again-unknown", "given to no card")):
            gone = (f'  <card place="1" station="orchard-1" model="row-six" units="1" '
                    f'numbers="kept"><board serial="{serial}"/></card>\n')
            order = self.order(gone, work_order="WO-8", work_class="rework", quantity=1,
                               terms='  <parent work-order="WO-7"/>\n'
                                     '  <data-memory may-be-lost="yes"/>\n')
            refused = self.cards_again(order, code=REFUSED)
            self.assertIn(found, refused.stderr)


if __name__ == "__main__":
    main()
