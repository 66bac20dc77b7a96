"""Labels with numbers: exported for printing, scanned on the boards, and each accounted for at closure."""

import csv
import io
import json
import os

from world import SIGNED, WorldCase, main, run

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
REFUSED, BAD_DATA, CONFIG = 1, 65, 78
HEAD = "cycle,slot,label\r\n"


class Labels(WorldCase):
    @classmethod
    def prepare(cls):
        cls.made = 0

    def setUp(self):
        """A lot of two cards of twelve boards, at a station of six slots."""
        Labels.made += 1
        self.name = f"t{Labels.made}"
        self.register = f"{self.name}.register"
        self.world.must("serial", "new", self.register, "--root", "owner.root")
        self.world.must("serial", "enrol", self.register, "--station", "orchard-1")
        self.world.enrol(f"{self.name}.state", station="orchard-1")
        self.world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                        "owner.trust", *self.world.key("desk"), "--register", self.register,
                        "--station", "orchard-1", "--model", "row-six", "--units", "12", "--cards",
                        "2", "--work-order", "WO-7", "-o", f"{self.name}.img")
        self.ids = [card["card"] for card in self.show()["cards"]]

    def show(self):
        return json.loads(self.world.must("lot", "show", "WO-7", "--register", self.register,
                                          "--json"))

    def counts(self):
        return [card["labels"] and list(card["labels"].values()) for card in self.show()["cards"]]

    def label(self, command, *more, code=0):
        done = self.world.run("label", command, "WO-7", *more, "--register", self.register,
                              "--package", "frost-node.crp")
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def export(self, *more, code=0, output="labels.csv"):
        done = self.label("export", "--by", "Print room", "-o", output, "--force", *more, code=code)
        if code == 0:
            text = self.world.bytes(output).decode("ascii")
            self.assertEqual(text.count("\n"), text.count("\r\n"))  # RFC 4180, section 2
            return list(csv.DictReader(io.StringIO(text, newline="")))
        return done

    def scan(self, rows, *more, card=0, code=0):
        text = HEAD + "".join(f"{cycle},{slot},{label}\r\n" for cycle, slot, label in rows)
        self.world.path("scan.csv").write_bytes(text.encode())
        return self.label("scan", "scan.csv", "--card", self.ids[card], "--by", "Floor two", *more,
                          code=code)

    def refused(self, rows, *parts, card=0, more=()):
        done = self.scan(rows, *more, card=card, code=REFUSED)
        for part in ("scan.csv", *parts):
            self.assertIn(part, done.stderr)
        self.assertEqual(done.stderr.count("scan.csv:"), done.stderr.count("expected"))

    def work(self, scenario="", *more, image="01"):
        self.world.path("day.txt").write_text(scenario, encoding="ascii")
        done = run(STATION_SIM, f"{self.name}-{image}.img", "--state", f"{self.name}.state",
                   "--scenario", "day.txt", *more, cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

    def bring_back(self, image):
        self.world.must("card", "note", f"{self.name}-{image}.img", "returned", "--register",
                        self.register, "--by", "Floor", "--note", "with the boards")
        self.world.run("reconcile", f"{self.name}-{image}.img", "--register", self.register)

    @staticmethod
    def planned(card=0, units=range(12)):
        """In each cycle a number to every slot, the lowest first (lib/loader/cardseal_loader.h)."""
        return [(unit // 6 + 1, unit % 6 + 1, f"FN{12 * card + unit + 1:06}") for unit in units]

    def close(self, *more, code=0):
        done = self.world.run("lot", "close", "WO-7", "--package", "frost-node.crp", "--register",
                              self.register, "--root", "owner.root", "--trust", "owner.trust",
                              *self.world.key("omar"), "--reason", "counted", "--time",
                              SIGNED["quality"], "-o", f"{self.name}.close", "--confirm",
                              "close WO-7", *more)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def test_what_is_exported_is_what_the_station_gives(self):
        rows = self.export()
        self.assertEqual([(str(c), str(s), label, self.ids[card], "WO-7") for card in (0, 1)
                          for c, s, label in self.planned(card)],
                         [tuple(row.values()) for row in rows])
        self.assertEqual([[12, 0, 0, 12]] * 2, self.counts())
        # The station's own log says the same of every number.
        self.work()
        listed = json.loads(self.world.must("card", "list", f"{self.name}-01.img", "--json"))
        log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
        with open(self.world.path(f"{self.name}-01.img"), "rb") as file:
            file.seek(log["first_sector"] * 512)
            text = file.read(log["size"]).decode("ascii")
        given = {(int(row[3]), int(row[4]), f"FN{int(row[5]) + 1:06}")
                 for row in csv.reader(text.splitlines()) if row[0].startswith("ORCHARD")}
        self.assertEqual(set(self.planned()), given)
        # Exported again they are the same labels, and count once.
        self.assertEqual(rows, self.export())
        self.assertEqual([[12, 0, 0, 12]] * 2, self.counts())

    def test_a_scan_in_any_order_is_kept_and_the_same_one_changes_nothing(self):
        self.export("--card", self.ids[0])
        self.assertEqual([[12, 0, 0, 12], None], self.counts())
        rows = self.planned()[::-1]
        self.scan(rows, "--dry-run")
        self.assertEqual([12, 0, 0, 12], self.counts()[0])
        self.scan(rows[6:])
        self.assertEqual([12, 6, 0, 6], self.counts()[0])
        self.assertIn("0 for the first time", self.scan(rows[6:]).stdout)
        self.assertIn("6 for the first time", self.scan(rows).stdout)
        self.assertEqual([12, 12, 0, 0], self.counts()[0])
        self.world.must("serial", "check", self.register)

    def test_every_fault_of_a_scan_is_told_with_its_line_and_nothing_is_kept(self):
        self.export("--card", self.ids[0])
        rows = self.planned(units=range(6))

        def changed(at, label=None, cycle=None, slot=None):
            out = list(rows)
            out[at] = (cycle or out[at][0], slot or out[at][1], label or out[at][2])
            return out

        self.refused(changed(2, label="FN000015"), "scan.csv:4", "another card",
                     f"FN000015, of card {self.ids[1]}", "FN000003 for cycle 1, slot 3")
        self.refused(changed(2, label="FN009000"), "scan.csv:4", "of no card of this register")
        self.refused(changed(3, label="FN000002"), "scan.csv:5", "scanned twice",
                     "FN000002, as in line 3")
        self.refused(changed(1, label="#?"), "scan.csv:3", "could not be read", "found #?",
                     "FN000002 for cycle 1, slot 2", "cardseal label scrap")
        swapped = changed(0, label="FN000002")
        swapped[1] = (1, 2, "FN000001")
        self.refused(swapped, "scan.csv:2", "scan.csv:3", "belongs elsewhere",
                     "FN000001 at cycle 1, slot 2", "FN000001 at cycle 1, slot 1")
        self.refused(changed(5, slot=5), "scan.csv:7", "two labels were scanned for one slot")
        self.refused(changed(5, slot=7), "scan.csv:7", "not enabled")
        self.refused(changed(5, cycle="one"), "scan.csv:7", "no cycle and slot")
        self.refused(rows[:5], "label of a scanned cycle is missing", "FN000006 for cycle 1, slot 6")
        self.refused([(1, 1, "FN000013")], "never exported", card=1)
        self.assertEqual([[12, 0, 0, 12], None], self.counts())

    def test_a_file_that_is_no_scan(self):
        self.export()
        for text, line, words in ((HEAD + "1,1\r\n", 2, "2 fields"), ("a,b,c\n1,1,x\n", 1, "a,b,c"),
                                  (HEAD + '1,1,"FN\n', 2, "quote"), (HEAD, 2, "no label"),
                                  (HEAD + '1,1,F"N"\n', 2, "quote")):
            with self.subTest(text=text):
                self.world.path("scan.csv").write_text(text, encoding="ascii", newline="")
                done = self.label("scan", "scan.csv", "--card", self.ids[0], "--by", "F",
                                  code=BAD_DATA)
                self.assertIn(f"scan.csv:{line}: ", done.stderr)
                self.assertIn(words, done.stderr)
        # What a spreadsheet makes of it: a mark before it, quotes, line ends of its own.
        text = '\ufeffcycle,slot,label\n' + "".join(
            f'{c},"{s}","{label}"\n' for c, s, label in self.planned())
        self.world.path("scan.csv").write_bytes(text.encode())
        self.label("scan", "scan.csv", "--card", self.ids[0], "--by", "F")
        self.label("scan", "scan.csv", "--by", "F", code=64)  # of two cards, which

    def test_an_empty_slot_moves_the_numbers_and_the_log_knows(self):
        self.export("--card", self.ids[0])
        self.work("slot 3 off\n", "--cycles", "1")  # slots 1, 2, 4, 5, 6 get the first five numbers
        self.work("", "--cycles", "1")
        real = [(1, slot, f"FN{i + 1:06}") for i, slot in enumerate((1, 2, 4, 5, 6))]
        real += [(2, slot, f"FN{5 + slot:06}") for slot in range(1, 7)]
        self.refused(real, "belongs elsewhere", "FN000003 at cycle 1, slot 4", "--log")
        log = ("--log", f"{self.name}-01.img")
        swapped = list(real)
        swapped[2], swapped[3] = (1, 4, "FN000004"), (1, 5, "FN000003")
        self.refused(swapped, "scan.csv:4", "FN000004 at cycle 1, slot 4",
                     "FN000004 at cycle 1, slot 5", more=log)
        self.refused(real[:4], "missing", "FN000005 for cycle 1, slot 6", more=log)
        self.refused([*real, (3, 1, "FN000012")], "the log has no board of this label", more=log)
        done = self.scan(real, "--log", f"{self.name}-02.img", code=REFUSED)
        self.assertIn("another card", done.stderr)
        self.scan(real, *log)
        self.assertEqual([12, 11, 0, 1], self.counts()[0])

    def test_a_failed_board_moves_nothing(self):
        self.export("--card", self.ids[0])
        self.work("tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.scan(self.planned())
        self.scan(self.planned(), "--log", f"{self.name}-01.img")
        self.assertEqual([12, 12, 0, 0], self.counts()[0])

    def test_labels_are_counted_by_the_register_where_they_were_scanned(self):
        self.export("--card", self.ids[0])
        self.work("tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.work(image="02")
        for image in ("01", "02"):
            self.bring_back(image)
        settle = ("lot", "settle", "WO-7", "--serial", "FN000002", "--package", "frost-node.crp",
                  "--register", self.register, "--as", "scrapped", "--by", "R", "--note", "cut up")
        self.world.must(*settle)
        self.assertIn("labels printed, and neither", self.close(code=REFUSED).stderr)
        self.scan(self.planned())
        self.assertIn("1 labels on boards that will not ship", self.close(code=REFUSED).stderr)
        scrap = ("--by", "R", "--note", "with the board", "--serial")
        self.label("scrap", *scrap, "FN000002")
        self.assertIn("printed, then applied or scrapped",
                      self.label("scrap", *scrap, "FN000002", code=REFUSED).stderr)
        # One that was torn afterwards is printed anew: two printed, one scrapped, one applied.
        self.label("scrap", *scrap, "FN000009")
        self.assertIn("scanned with no label", self.close(code=REFUSED).stderr)
        self.assertIn("was scrapped", self.scan(self.planned(units=range(6, 12)),
                                                code=REFUSED).stderr)
        self.assertIn("only a label that was scrapped",
                      self.export("--serial", "FN000008", code=REFUSED).stderr)
        self.assertEqual(["FN000009"], [row["label"] for row in self.export("--serial",
                                                                            "FN000009")])
        self.scan(self.planned(units=range(6, 12)))
        self.assertEqual([13, 11, 2, 0], self.counts()[0])
        # The other card's were counted by hand: 12 boards, 2 labels torn.
        self.assertIn("12 boards of cards whose labels were not scanned",
                      self.close("--labels", "25:23:2", code=REFUSED).stderr)
        self.close("--labels", "14:12:2")
        self.assertIn("\nlabels 27 23 4\n", self.world.bytes(f"{self.name}.close").decode())
        self.assertIn("this lot is closed", self.label("scrap", *scrap, "FN000001",
                                                       code=REFUSED).stderr)
        self.world.must("serial", "check", self.register)

    def test_a_count_by_hand_has_no_place_where_all_was_scanned(self):
        self.export()
        for card, image in ((0, "01"), (1, "02")):
            self.work(image=image)
            self.bring_back(image)
            self.scan(self.planned(card), card=card)
        self.assertIn("has each label", self.close("--labels", "24:24:0", code=REFUSED).stderr)
        self.assertIn("no label of these cards is to be printed",
                      self.export(code=REFUSED).stderr)
        self.close()
        self.assertIn("\nlabels 24 24 0\n", self.world.bytes(f"{self.name}.close").decode())


if __name__ == "__main__":
    main()
