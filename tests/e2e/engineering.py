"""Engineering has a role, numbers and a title of its own, so that nobody shares quality's key."""

from world import WorldCase, main

TITLE = "NOT SHIP trial"
RELEASE = "frost-node 2.4.1"
WINDOW = "keys/desk.pub:fn-serial:90000:90099:engineering"


class Engineering(WorldCase):
    @classmethod
    def prepare(cls):
        cls.world.new_key("edda")
        cls.world.make_trust("eng.trust", "--person", "edda:Edda Alder", "--key",
                             "edda:engineering:keys/edda.pub", "--window", WINDOW)
        release = cls.world.copy_release("trial", ("release.xml", 'title="FROST NODE 2.4.1"',
                                                   f'title="{TITLE}"'))
        cls.world.pack("trial.crp", release)
        done = cls.world.run("sign", "trial.crp", "--role", "engineering", *cls.world.key("edda"),
                             "--root", "owner.root", "--trust", "eng.trust", "--reason",
                             "first bring-up", typed=RELEASE + "\n")
        if done.returncode != 0:
            raise RuntimeError(done.stderr)
        cls.world.must("serial", "new", "desk.register", "--root", "owner.root")
        cls.world.must("serial", "enrol", "desk.register", "--station", "orchard-1")
        cls.world.enrol("station.state")

    def card(self, package, output, work_class, units="5", trust="eng.trust", more=()):
        return self.world.run("card", "make", package, "--root", "owner.root", "--trust", trust,
                              *self.world.key("desk"), "--register", "desk.register", "--station",
                              "orchard-1", "--model", "row-six", "--units", units, "--class",
                              work_class, "--work-order", "WO-7", "-o", output, *more)

    def test_it_takes_numbers_of_its_own_window(self):
        done = self.card("trial.crp", "trial.img", "engineering")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertIn("90000", done.stdout)
        judged = self.world.judge("trial.img")
        self.assertEqual(0, judged.returncode, judged.stdout + judged.stderr)

    def test_a_shipment_takes_none_of_them(self):
        done = self.card("frost-node.crp", "ship.img", "production", units="60")
        self.assertEqual(0, done.returncode, done.stderr)
        self.assertNotIn("90000", done.stdout)

    def test_without_a_window_it_gets_no_card(self):
        self.world.make_trust("none.trust", "--person", "edda:Edda Alder", "--key",
                              "edda:engineering:keys/edda.pub")
        done = self.card("trial.crp", "none.img", "engineering", trust="none.trust")
        self.assertNotEqual(0, done.returncode)
        self.assertIn("window", done.stderr)
        self.assertFalse(self.world.path("none.img").exists())

    def test_its_package_is_never_a_shipment(self):
        for work_class in ("production", "pilot", "rework", "sample"):
            with self.subTest(work_class=work_class):
                done = self.card("trial.crp", "x.img", work_class)
                self.assertEqual(1, done.returncode, done.stderr)
                self.assertIn("the class of work does not fit the sign-offs", done.stderr)
                self.assertFalse(self.world.path("x.img").exists())
        done = self.card("frost-node.crp", "x.img", "engineering")
        self.assertIn("the class of work does not fit the sign-offs", done.stderr)
        done = self.card("trial.crp", "x.img", "engineering", units="21")
        self.assertIn("393", done.stderr + done.stdout)

    def test_its_key_signs_nothing_else(self):
        for role in ("release", "quality"):
            with self.subTest(role=role):
                done = self.world.run("sign", "trial.crp", "--role", role,
                                      *self.world.key("edda"), "--root", "owner.root", "--trust",
                                      "eng.trust", "--reason", "x", typed=RELEASE + "\n")
                self.assertEqual(78, done.returncode, done.stderr)


if __name__ == "__main__":
    main()
