"""A recall by slot and session, against what the run logs say when they are read by themselves."""

import csv
import json
import os

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
        world.must("reconcile", "orchard-1.img", "--register", "desk.register")
        rows = list(csv.reader(world.path("log.csv").read_text(encoding="ascii").splitlines()))
        # Columns by lib/format/SPEC-station.md: station, enrolment, session, cycle, slot, ordinal.
        cls.records = [row for row in rows[1:] if row and row[0].strip() == "ORCHARD-1"]

    def recall(self, *where, logs=("orchard-1.img",), code=0, more=()):
        arguments = [part for one in where for part in ("--where", one)]
        done = self.world.run("recall", *logs, *arguments, "--register", "desk.register",
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

    def test_it_reads_as_people_ask_and_as_a_table(self):
        done = self.recall("slot=3", more=("--units", "units.csv"))
        lines = done.stdout.splitlines()
        self.assertEqual("where     slot=3", lines[0])
        self.assertEqual("affected  4 units", lines[1])
        self.assertRegex(lines[2], r"^  FN00000\d  1 unit, card [0-9a-f]{16}, station orchard-1, "
                                   r"WO-1001: begun with slot 3$")
        self.assertIn("possibly  30 units", lines)
        self.assertIn("no log of its card was given", done.stdout)
        rows = list(csv.DictReader(self.world.path("units.csv").read_text().splitlines(),
                                   delimiter=";"))
        self.assertEqual(60, len({row["unit"] for row in rows}))
        self.assertEqual(4, sum(row["list"] == "affected" for row in rows))
        again = self.recall("slot=3", more=("--units", "units.csv"), code=73)
        self.assertEqual("", again.stdout)

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
