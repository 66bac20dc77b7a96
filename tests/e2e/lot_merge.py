"""Two work orders that become one lot: counted, closed, traced and recalled as one."""

import json

from lot_case import DEVICE, FIRST, REFUSED, LotCase, card
from world import main


class LotMerge(LotCase):
    def merge(self, *more, work_order="WO-6", whole="WO-7", code=0):
        return self.run_lot("merge", work_order, "--into", whole, "--register", self.register,
                            "--by", "Ida Holm", "--note", "one delivery", *more, code=code)

    def two_orders(self, **terms):
        """WO-6 with twelve boards and WO-7 with six, a card each, at two stations."""
        self.cards(self.order(card("1", 12), work_order="WO-6", quantity=14, **terms),
                   image=f"{self.name}-six.img")
        self.cards(self.order(card("1", 6, station="orchard-2"), quantity=6),
                   image=f"{self.name}-seven.img")

    def set_page(self):
        return self.world.must("review", self.register, "--work-order", "WO-7", "--package",
                               "frost-node.crp", "-o", "-")

    def ids(self, work_order):
        return [one["card"] for one in self.show(work_order)["cards"]]

    def test_both_are_counted_closed_and_traced_as_one(self):
        self.two_orders()
        own = self.ids("WO-6")
        lone = self.set_page()
        self.assertNotIn("made for", lone)
        before = self.world.bytes(self.register)
        self.assertIn("units on cards: 12, boards ordered: 14", self.merge("--dry-run").stdout)
        self.assertIsNone(self.show("WO-6")["merged"])
        self.assertEqual(len(before), len(self.world.bytes(self.register)))
        self.assertIn("no way back", self.merge().stderr)

        whole = self.show("WO-7")
        self.assertEqual((20, 18, 18), (whole["ordered"], whole["issued"],
                                        sum(whole["counts"].values()) + whole["open"]))
        self.assertEqual(["WO-6"], [part["work_order"] for part in whole["merged_here"]])
        self.assertIn("merged-here", [point["code"] for point in whole["points"]])
        part = self.show("WO-6")
        self.assertEqual(("WO-7", 12, False), (part["merged"]["into"], part["issued"],
                                               part["closable"]))
        page = self.set_page()
        self.assertIn('<strong id="units">18</strong>', page)
        self.assertEqual(1, page.count("made for"))
        listed = self.run_lot("list", "--register", self.register).stdout
        self.assertRegex(listed, r"WO-6 .*merged into WO-7\n")

        self.work(f"{self.name}-six.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.work(f"{self.name}-seven.img", station="orchard-2")
        self.bring_back(f"{self.name}-six.img")
        self.assertIn("where it is nobody noted", self.close(code=REFUSED).stderr)
        self.bring_back(f"{self.name}-seven.img")
        self.assertIn("failed or in doubt", self.close(code=REFUSED).stderr)
        self.settle("--card", own[0])  # by the order that counts it
        self.assertIn("(close WO-7)",
                      self.close(work_order="WO-6", output="six.close", code=REFUSED).stderr)
        self.close()
        text = self.world.bytes(f"{self.name}-WO-7.close").decode()
        self.assertIn("\nissued 18\ngood 17\n", text)
        self.assertIn("\ncards 2\n", text)
        self.assertIn('"merged into it: WO-6; 12 units of theirs"', text)
        for work_order in ("WO-6", "WO-7"):
            self.assertTrue(self.show(work_order)["closed"])
        self.assertEqual("", self.settle("--card", own[0], work_order="WO-6").stdout)

        told = self.world.must("trace", "FN000001", "--register", self.register, "--package",
                               "frost-node.crp")
        self.assertRegex(told, r"work order +WO-6, class production\n")
        self.assertRegex(told, r"merged into +WO-7\n")
        self.assertRegex(told, r"its lot +closed with 17 good")
        lists = {}
        for work_order in ("WO-6", "WO-7"):
            answer = json.loads(self.world.must(
                "recall", "--where", f"work-order={work_order}", "--register", self.register,
                "--package", "frost-node.crp", "--json"))
            lists[work_order] = {span["card"] for span in answer["spans"]
                                 if span["list"] == "affected"}
        self.assertEqual(set(own), lists["WO-6"])
        self.assertEqual(set(own) | set(self.ids("WO-7")), lists["WO-7"])
        self.world.must("serial", "check", self.register)

    def test_what_the_merged_order_left_the_other_one_makes(self):
        self.two_orders()
        self.merge()
        more = dict(quantity=6, revision=2)
        own = card("1", 6, station="orchard-2")
        self.assertIn("merged into another one", self.cards(
            self.order(card("1", 12), card("2", 2), work_order="WO-6", quantity=14, revision=2),
            image=f"{self.name}-no.img", code=REFUSED).stderr)
        # 14 were ordered there and 12 are on its card: two more, and not three.
        self.assertIn("order-boards", self.codes(self.order(own, card("2", 3), **more)))
        self.check(self.order(own, card("2", 2), **more))
        # Its card comes back with five boards unmade: those as well.
        self.work(f"{self.name}-six.img", scenario="cycle 2 slot 2 no-board\ncycle 2 slot 3 "
                  "no-board\ncycle 2 slot 4 no-board\ncycle 2 slot 5 no-board\ncycle 2 slot 6 "
                  "no-board\n", cycles=("--cycles", "2"))
        self.bring_back(f"{self.name}-six.img")
        good = self.show("WO-6")["counts"]["good"]
        self.assertEqual(7, good)
        self.assertIn("order-boards", self.codes(self.order(own, card("2", 8), **more)))
        self.cards(self.order(own, card("2", 7), **more), "--force")
        self.assertEqual(3, len(self.show()["cards"]))

    def test_an_order_with_a_first_article_to_come_is_not_merged(self):
        self.two_orders(terms=FIRST)
        done = self.merge(code=REFUSED)
        self.assertIn("asks for a first article", done.stderr)
        self.assertIn("cardseal lot first-article", done.stderr)

    def test_a_first_article_is_a_board_of_the_order_that_asks_for_it(self):
        self.cards(self.order(card("1", 6), work_order="WO-6", quantity=6),
                   image=f"{self.name}-six.img")
        self.cards(self.order(card("1", 6, station="orchard-2"), card("2", 6), quantity=12,
                              terms=FIRST))
        self.merge()
        self.work(f"{self.name}-six.img", dump=("--dump", "0:six.hex", "--device", DEVICE))
        self.work(f"{self.name}-01.img", station="orchard-2",
                  dump=("--dump", "6:seven.hex", "--device", DEVICE))
        done = self.first_article("six.hex", f"{self.name}.first", code=REFUSED)
        self.assertIn("a board of WO-6", done.stderr)
        self.assertFalse(self.world.path(f"{self.name}.first").exists())
        self.assertEqual([], self.show()["statements"])
        self.run_lot("first-article", "WO-7", "--package", "frost-node.crp", "--device", DEVICE,
                     "--readback", "seven.hex", "--serial", "FN000007",
                     *self.statement(f"{self.name}.first"), "--confirm", "first article of WO-7")
        self.assertEqual(["first-article"], [one["kind"] for one in self.show()["statements"]])

    def test_a_board_that_was_sent_to_rework_is_not_made_again(self):
        self.two_orders()
        self.work(f"{self.name}-six.img", scenario="tries 1\ncycle 1 slot 2 verify-error 0x0120\n")
        self.bring_back(f"{self.name}-six.img")
        one = self.ids("WO-6")[0]
        for unit, what in (("1", "reworked"), ("3", "scrapped")):
            self.settle("--card", one, "--units", unit, what=what, work_order="WO-6")
        self.merge()
        own = card("1", 6, station="orchard-2")
        more = dict(quantity=6, revision=2)  # 14 were ordered there, and 12 have boards
        self.assertIn("order-boards", self.codes(self.order(own, card("2", 3), **more)))
        self.check(self.order(own, card("2", 2), **more))
        alone = self.run_lot("check", self.order(own, card("2", 2), **more), "--package",
                             "frost-node.crp", code=REFUSED)
        self.assertIn("with --register merged orders count", alone.stderr)

    def test_what_it_refuses_says_what_to_do(self):
        self.two_orders()
        for names, words in ((("WO-6", "WO-6"), "not merged into itself"),
                             (("WO-6", "WO-1"), "no card and no order of that name")):
            done = self.world.run("lot", "merge", names[0], "--into", names[1], "--register",
                                  self.register, "--by", "Ida Holm", "--note", "why")
            self.assertNotEqual(0, done.returncode)
            self.assertIn(words, done.stderr)
        self.merge()
        self.assertIn("go on with WO-7", self.merge(code=REFUSED).stderr)
        self.assertIn("go on with WO-7",
                      self.merge(work_order="WO-7", whole="WO-6", code=REFUSED).stderr)


if __name__ == "__main__":
    main()
