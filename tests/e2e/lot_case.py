"""A desk with its register and two stations, for tests of lots."""

import json
import os

from world import SIGNED, SOURCE, WorldCase, run

STATION_SIM = os.environ.get("STATION_SIM", "station-sim")
DEVICE = SOURCE / "packages" / "01-frost-node" / "profiles" / "atmega328p.xml"
REFUSED, CONFIG, BAD_DATA = 1, 78, 65

ORDER = """<?xml version="1.0" encoding="UTF-8"?>
<order schema="1" work-order="{work_order}" revision="{revision}" class="{work_class}">
  <release product="frost-node" version="{version}" board-revision="3"/>
  <boards quantity="{quantity}" spares="{spares}"/>
{terms}{cards}</order>
"""
FIRST = '  <first-article required="yes"/>\n'


def card(place, units, station="orchard-1", more=""):
    return (f'  <card place="{place}" station="{station}" model="row-six" units="{units}"{more}/>\n')


class LotCase(WorldCase):
    @classmethod
    def prepare(cls):
        cls.made = 0

    def setUp(self):
        """A register and stations of each test's own."""
        type(self).made += 1
        self.name = f"t{type(self).made}"
        self.register = f"{self.name}.register"
        self.world.must("serial", "new", self.register, "--root", "owner.root")
        for station in ("orchard-1", "orchard-2"):
            self.world.must("serial", "enrol", self.register, "--station", station)
            self.world.enrol(f"{self.name}-{station}.state", station=station)

    def order(self, *cards, work_order="WO-7", revision=1, work_class="production",
              version="2.4.1", quantity=24, spares=0, terms=""):
        file = f"{self.name}.xml"
        self.world.path(file).write_text(ORDER.format(
            work_order=work_order, revision=revision, work_class=work_class, version=version,
            quantity=quantity, spares=spares, terms=terms, cards="".join(cards)), encoding="utf-8")
        return file

    def run_lot(self, *arguments, code=0):
        done = self.world.run("lot", *arguments)
        self.assertEqual(code, done.returncode, done.stdout + done.stderr)
        return done

    def check(self, order, *more, code=0):
        return self.run_lot("check", order, "--package", "frost-node.crp", "--register",
                            self.register, *more, code=code)

    def cards(self, order, *more, image="", code=0):
        return self.run_lot("cards", order, "--package", "frost-node.crp", "--root", "owner.root",
                            "--trust", "owner.trust", *self.world.key("desk"), "--register",
                            self.register, "-o", image or f"{self.name}.img", *more, code=code)

    def work(self, image, station="orchard-1", scenario="", dump=(), cycles=()):
        self.world.path("day.txt").write_text(scenario, encoding="ascii")
        done = run(STATION_SIM, image, "--state", f"{self.name}-{station}.state", "--scenario",
                   "day.txt", *cycles, *dump, cwd=self.world.folder)
        self.assertEqual(0, done.returncode, done.stdout + done.stderr)

    def bring_back(self, image):
        self.world.must("card", "note", image, "returned", "--register", self.register, "--by",
                        "Floor", "--note", "with the boards")
        self.world.run("reconcile", image, "--register", self.register)

    def show(self, work_order="WO-7"):
        return json.loads(self.run_lot("show", work_order, "--register", self.register,
                                       "--json").stdout)

    def statement(self, output, person="omar"):
        return ["--register", self.register, "--root", "owner.root", "--trust", "owner.trust",
                *self.world.key(person), "--reason", "looked at", "--time", SIGNED["quality"],
                "-o", output]

    def first_article(self, read_back, output, *more, code=0, confirm="first article of WO-7"):
        return self.run_lot("first-article", "WO-7", "--package", "frost-node.crp", "--device",
                            DEVICE, "--readback", read_back, "--serial", "FN000001",
                            *self.statement(output), "--confirm", confirm, *more, code=code)

    def close(self, *more, output="WO-7.close", work_order="WO-7", code=0):
        return self.run_lot("close", work_order, "--package", "frost-node.crp",
                            *self.statement(f"{self.name}-{output}"), "--confirm",
                            f"close {work_order}", *more, code=code)

    def settle(self, *more, what="scrapped", work_order="WO-7", code=0):
        return self.run_lot("settle", work_order, "--register", self.register, "--as", what, "--by",
                            "Sanna Reed", "--note", "seen", *more, code=code)

    def codes(self, order, code=REFUSED):
        told = json.loads(self.check(order, "--json", code=code).stdout)
        return [error["code"] for error in told["errors"]]
