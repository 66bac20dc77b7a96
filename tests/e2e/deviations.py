"""A finding that quality may waive, from refusal over a deviation to cards within its limits."""

import json

from world import NAME, WorldCase, main

NO, REFUSED, USAGE = 1, 1, 64
BOARD = "profiles/frost-node-board.xml"
# 330 uF take longer to fall to the voltage at which boards may be taken off than either station waits.
SLOW = (BOARD, 'capacitance-microfarads="22"', 'capacitance-microfarads="330"')


def deviation(rule="supply-discharge", boards=100, expires="2099-12-31"):
    return ("release.xml", "</serial>",
            f'</serial>\n  <deviations>\n    <deviation number="DEV-26-014" rule="{rule}" '
            f'boards="{boards}" expires="{expires}"\n'
            '               reason="boards stay in the jig for two seconds"/>\n  </deviations>')


class Deviations(WorldCase):
    @classmethod
    def prepare(cls):
        cls.release = cls.world.copy_release("waived", SLOW, deviation())
        cls.world.make_package("waived.crp", cls.release)
        cls.world.must("serial", "new", "desk.register", "--root", "owner.root")
        cls.world.must("serial", "enrol", "desk.register", "--station", "orchard-1")

    def make(self, output, *more):
        return self.world.run("card", "make", "waived.crp", "--root", "owner.root", "--trust",
                              "owner.trust", *self.world.key("desk"), "--register", "desk.register",
                              "--station", "orchard-1", "--model", "row-six", "--work-order",
                              "WO-1001", "-o", output, *more)

    def test_without_it_the_release_is_refused(self):
        release = self.world.copy_release("refused", SLOW)
        said = self.world.run("check", release)
        self.assertEqual(NO, said.returncode)
        self.assertIn("refuse supply-discharge:", said.stdout)
        self.assertIn("can't be packed: 2 refusals", said.stdout)

    def test_check_shows_what_is_set_aside_and_lets_it_be_packed(self):
        said = self.world.run("check", self.release)
        self.assertEqual(0, said.returncode, said.stdout)
        self.assertIn("waived supply-discharge: boards are taken off while they hold a voltage\n",
                      said.stdout)
        self.assertIn("376.045 ms to fall to 300 mV at row-six", said.stdout)
        self.assertEqual("this release can be packed: 0 refusals, 2 set aside by a deviation, "
                         "1 warning, 1 note", said.stdout.splitlines()[-1])

    def test_quality_sees_it_before_signing_and_the_package_keeps_it(self):
        self.world.pack("unsigned.crp", self.release)
        self.world.sign("unsigned.crp", "release")
        said = self.world.run(*self.world.sign_arguments("unsigned.crp", "quality"),
                              typed=NAME + "\n")
        self.assertEqual(0, said.returncode, said.stderr)
        self.assertIn("deviations: what would refuse, and is set aside", said.stdout)
        self.assertIn("DEV-26-014", said.stdout)
        facts = json.loads(self.world.must("show", "unsigned.crp", "--json"))["facts"]
        self.assertEqual([{"number": "DEV-26-014", "rule": "supply-discharge", "boards": 100,
                           "expires": "2099-12-31T23:59:59Z",
                           "reason": "boards stay in the jig for two seconds"}],
                         facts["deviations"])
        self.assertEqual(["waived", "waived", "warn", "note"],
                         [finding["level"] for finding in facts["findings"]])

    def test_the_review_has_it_before_the_findings_that_it_sets_aside(self):
        page = self.world.must("review", "waived.crp", "-o", "-")
        order = [page.index(mark) for mark in ("DEV-26-014", "! set aside by a deviation", "! warning", ">note<")]
        self.assertEqual(sorted(order), order)
        self.assertEqual(2, page.count("! set aside by a deviation"))
        self.assertIn('<span class="alarm">! </span>MISSES', page)

    def test_nothing_can_be_signed_after_its_end(self):
        self.world.pack("ended.crp", self.world.copy_release(
            "ended", SLOW, deviation(expires="2026-03-01")))
        said = self.world.run(*self.world.sign_arguments("ended.crp", "release"),
                              typed=NAME + "\n")
        self.assertEqual(REFUSED, said.returncode, said.stderr)
        self.assertRegex(said.stderr, "DEV-26-014: found 20[0-9-]+T[0-9:]+Z, expected at most "
                                      "2026-03-01T23:59:59Z")

    def test_cards_of_a_register_stay_within_its_boards_together(self):
        made = self.make("first.img", "--units", "60")
        self.assertEqual(0, made.returncode, made.stderr)
        before = self.world.must("serial", "list", "desk.register", "--json")
        said = self.make("second.img", "--units", "41")
        self.assertEqual(REFUSED, said.returncode, said.stderr)
        self.assertIn("found 60 on cards, 41 more, expected at most 100 on all cards", said.stderr)
        self.assertEqual(before, self.world.must("serial", "list", "desk.register", "--json"),
                         "a number was spent")
        spare = self.make("spare.img", "--units", "20", "--spares", "2")
        self.assertEqual(REFUSED, spare.returncode, "spare cards count too")
        made = self.make("third.img", "--units", "40", "--sheet", "third.txt")
        self.assertEqual(0, made.returncode, made.stderr)
        sheet = self.world.path("third.txt").read_text(encoding="ascii")
        self.assertIn("DEV-26-014: supply-discharge", sheet)
        self.assertIn("100 boards at most, not after 2099-12-31:\n      boards stay in the jig for two "
                      "seconds\n", sheet)
        page = self.world.must("review", "third.img", "--root", "owner.root", "-o", "-")
        self.assertIn("<strong>DEV-26-014</strong> (supply-discharge): at most 100 boards, not after 2099-12-31: "
                      "<bdi>boards stay in the jig for two seconds</bdi>", page)

    def test_without_a_register_nobody_counts_so_no_card_is_made(self):
        said = self.world.run(*self.world.card_arguments("waived.crp", "hand.img"))
        self.assertEqual(USAGE, said.returncode, said.stderr)
        self.assertIn("--register, which counts the boards on all its cards", said.stderr)
        self.assertFalse(self.world.path("hand.img").exists())

    def test_a_claimed_time_brings_no_deviation_back(self):
        self.world.pack("back.crp", self.world.copy_release(
            "back", SLOW, deviation(expires="2026-04-01")))
        said = self.world.run(*self.world.sign_arguments("back.crp", "release"), typed=NAME + "\n")
        self.assertEqual(REFUSED, said.returncode, "signed by a time before the end")

    def test_what_destroys_a_board_can_not_be_set_aside(self):
        release = self.world.copy_release(
            "harm", ("release.xml", 'millivolts="3300"', 'millivolts="3900"'),
            deviation(rule="supply-above-board"))
        said = self.world.run("check", release)
        self.assertEqual(NO, said.returncode)
        self.assertIn("names supply-above-board, which nobody may set aside", said.stdout)
        self.assertIn("refuse supply-above-board:", said.stdout)


if __name__ == "__main__":
    main()
