"""A recall by slot and session, against what the run logs say when they are read by themselves."""

import csv
import json
import os
import shutil

from world import SOURCE, WorldCase, main, run

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
SECTOR, USAGE = 512, 64


class Recall(WorldCase):
    """Two desks; orchard-1 worked in two sessions, orchard-2's card is not back yet."""

    @classmethod
    def prepare(cls):
        world = cls.world
        world.must("serial", "new", "desk.register", "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            world.must("serial", "enrol", "desk.register", "--station", station)
        for station in ("orchard-1", "orchard-2"):
            world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                       "owner.trust", *world.key("desk"), "--register", "desk.register",
                       "--station", station, "--model", "row-six", "--units", "30",
                       "--work-order", "WO-1001", "-o", f"{station}.img")
        world.enrol("station.state")
        for fixture, cycles in (("F-7", "2"), ("F-8", "2")):
            done = run(STATION_SIM, "orchard-1.img", "--state", "station.state", "--cycles", cycles,
                       "--fixture", fixture, cwd=world.folder)
            if done.returncode != 0:
                raise RuntimeError(done.stdout + done.stderr)
        listed = json.loads(world.must("card", "list", "orchard-1.img", "--json"))
        log = next(f for f in listed["files"] if f["path"].endswith("LOG.CSV"))
        with open(world.path("orchard-1.img"), "rb") as file:
            file.seek(log["first_sector"] * SECTOR)
            world.path("log.csv").write_bytes(file.read(log["size"]))
        world.must("card", "note", "orchard-1.img", "returned", "--register", "desk.register",
                   "--by", "Ines Alder", "--note", "with the boards")
        world.must("reconcile", "orchard-1.img", "--register", "desk.register")
        rows = list(csv.reader(world.path("log.csv").read_text(encoding="ascii").splitlines()))
        # Columns by lib/format/SPEC-station.md: station, enrolment, session, cycle, slot, ordinal.
        cls.records = [row for row in rows[1:] if row and row[0].strip() == "ORCHARD-1"]

    def side_card(self, name, work_order):
        """A card of another register, so that no test counts its units by mistake."""
        register = f"{name}.register"
        self.world.must("serial", "new", register, "--root", "owner.root")
        self.world.must("serial", "enrol", register, "--station", "orchard-1")
        self.world.must("card", "make", "frost-node.crp", "--root", "owner.root", "--trust",
                        "owner.trust", *self.world.key("desk"), "--register", register,
                        "--station", "orchard-1", "--model", "row-six", "--units", "6",
                        "--work-order", work_order, "-o", f"{name}.img")
        return register

    def recall(self, *where, logs=("orchard-1.img",), code=0, more=(), register="desk.register"):
        arguments = [part for one in where for part in ("--where", one)]
        done = self.world.run("recall", *logs, *arguments, "--register", register,
                              "--package", "frost-node.crp", *more)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def lists(self, *where, **kinds):
        told = json.loads(self.recall(*where, more=("--json",), **kinds).stdout)
        out = {"affected": set(), "possibly": set(), "cleared": set()}
        for span in told["spans"]:
            units = range(span["first_ordinal"], span["first_ordinal"] + span["count"])
            self.assertFalse(out[span["list"]] & set(units))
            out[span["list"]] |= set(units)
        self.assertEqual({name: len(units) for name, units in out.items()}, told["units"])
        return out

    def test_slot_and_session_give_the_units_that_the_log_names(self):
        sessions = sorted({row[2] for row in self.records})
        self.assertEqual(2, len(sessions), self.records[:3])
        wanted = {int(row[5]) for row in self.records if row[2] == sessions[1] and row[4] == "3"}
        self.assertTrue(wanted)
        lists = self.lists("slot=3", f"session={sessions[1]}")
        self.assertEqual(wanted, lists["affected"])
        self.assertEqual(set(range(30, 60)), lists["possibly"])  # orchard-2's card is not here
        self.assertEqual(set(range(30)) - wanted, lists["cleared"])

    def test_a_fixture_and_a_station_together(self):
        wanted = {int(row[5]) for row in self.records if "F-7" in row}
        self.assertEqual(12, len(wanted))
        self.assertEqual(wanted, self.lists("fixture=F-7", "station=orchard-1")["affected"])
        lists = self.lists("fixture=F-7", "station=orchard-2")
        self.assertEqual((set(), set(range(30))), (lists["affected"], lists["cleared"]))

    def test_a_missing_log_never_clears(self):
        lists = self.lists("slot=3", logs=())
        self.assertEqual((set(), set(range(60)), set()),
                         (lists["affected"], lists["possibly"], lists["cleared"]))

    def test_the_package_s_own_conditions(self):
        shown = json.loads(self.world.must("show", "frost-node.crp", "--json"))
        begun = {int(row[5]) for row in self.records}
        for where in (f"package={shown['package']}", "product=frost-node", "class=production",
                      "work-order=WO-1001"):
            with self.subTest(where=where):
                lists = self.lists(where)
                self.assertEqual(begun, lists["affected"])
                self.assertEqual(set(range(30)) - begun, lists["cleared"])
        self.assertEqual(set(range(60)), self.lists("firmware=" + "0" * 64)["cleared"])
        key = json.loads(self.world.must("key", "show", "keys/omar.pub", "--json"))["key"]
        self.assertEqual(begun, self.lists(f"signed-by={key}")["affected"])

    def test_a_package_that_is_not_whole_is_not_believed(self):
        text = self.world.bytes("frost-node.crp")
        at = text.index(b"\nfirmware ")
        digit = text.index(b"sha256:", at) + 9 if b"sha256:" in text[at:at + 200] else at + 12
        self.world.path("bent.crp").write_bytes(
            text[:digit] + bytes([text[digit] ^ 1]) + text[digit + 1:])
        for command in (["recall", "--where", "slot=3"], ["trace", "FN000001"]):
            done = self.world.run(*command, "--register", "desk.register", "--package", "bent.crp")
            self.assertNotEqual(0, done.returncode, done.stdout)
            self.assertIn("bent.crp", done.stderr)

    def test_a_log_that_its_card_may_have_outrun_clears_only_good_units(self):
        register = self.side_card("blank", "WO-1003")
        lists = self.lists("slot=3", logs=("blank.img",), register=register)
        self.assertEqual((0, 6), (len(lists["affected"]), len(lists["possibly"])))

    def test_what_can_only_be_a_slip_is_refused(self):
        shutil.copy(self.world.path("desk.register"), self.world.path("copy.register"))
        done = self.recall("slot=3", more=("--register", "copy.register"), code=USAGE)
        self.assertIn("two registers hold one card", done.stderr)
        for where in ("station=orchard-9", "work-order=wo-1001", "product=nothing"):
            done = self.recall(where, code=1)
            self.assertIn("no card in these registers has this value", done.stderr)
        self.assertIn("expected engineering, pilot", self.recall("class=x", code=USAGE).stderr)
        self.world.make_card("frost-node.crp", "stranger.img")
        done = self.recall("slot=3", logs=("stranger.img",), code=1)
        self.assertIn("of a card that no register given here made", done.stderr)

    def test_the_manual_s_order_of_words_works(self):
        done = self.world.run("recall", "--where", "slot=3", "--where", "session=1", "--register",
                              "desk.register", "--package", "frost-node.crp", "orchard-1.img")
        self.assertEqual(0, done.returncode, done.stderr)
        done = self.world.run("trace", "--register", "desk.register", "--package",
                              "frost-node.crp", "FN000001")
        self.assertEqual(0, done.returncode, done.stderr)

    def test_it_reads_as_people_ask_and_as_a_table(self):
        done = self.recall("slot=3", more=("--units", "units.csv"))
        lines = done.stdout.splitlines()
        self.assertEqual("where     slot=3", lines[0])
        self.assertRegex(lines[1], r"^from      register desk.register, \d+ entries, the last sha256:")
        self.assertIn("from      package frost-node.crp, sha256:", lines[2])
        self.assertRegex(lines[3], r"^from      log orchard-1.img, card [0-9a-f]{16}, \d+ records$")
        self.assertEqual("affected  4 units", lines[4])
        self.assertRegex(lines[5], r"^  FN00000\d  1 unit, card [0-9a-f]{16}, station orchard-1, "
                                   r"WO-1001: begun with slot 3$")
        self.assertIn("possibly  30 units", lines)
        self.assertIn("no log of its card was given", done.stdout)
        table = self.world.path("units.csv").read_text().splitlines()
        self.assertEqual('"where";"slot=3"', table[0])
        rows = list(csv.DictReader(table[4:], delimiter=";"))
        self.assertEqual(60, len({row["unit"] for row in rows}))
        self.assertEqual(4, sum(row["list"] == "affected" for row in rows))
        self.assertEqual(4, sum(line.startswith('"from"') or line.startswith('"where"')
                                for line in table))
        again = self.recall("slot=3", more=("--units", "units.csv"), code=73)
        self.assertEqual("", again.stdout)

    def test_no_cell_is_a_formula(self):
        register = self.side_card("formula", "=cmd|A;B")
        self.recall("slot=3", logs=(), more=("--units", "formula.csv"), register=register)
        table = self.world.path("formula.csv").read_text().splitlines()
        rows = list(csv.DictReader(table[3:], delimiter=";"))
        self.assertEqual({"'=cmd|A;B"}, {row["work order"] for row in rows})

    def test_bad_input_is_named(self):
        for where, said in (("slot", "found slot, expected KEY=VALUE"),
                            ("slot=40", "found slot=40, expected 1 to 32"),
                            ("colour=red", "expected KEY=VALUE, KEY one of package, ")):
            with self.subTest(where=where):
                self.assertIn(said, self.recall(where, code=USAGE).stderr)
        self.assertIn("none.img", self.recall("slot=3", logs=("none.img",), code=66).stderr)
        self.assertEqual(USAGE, self.world.run("recall", "--register", "desk.register").returncode)
        worked = SOURCE / "packages" / "01-frost-node" / "release.xml"
        done = self.world.run("recall", "--where", "slot=3", "--register", "desk.register",
                              "--package", worked)
        self.assertIn("release.xml", done.stderr)
        self.assertNotEqual(0, done.returncode)


if __name__ == "__main__":
    main()
