"""Productions that bend the station and its past: work, stops, lists and roots it has met."""

import grammar
import hostile
import hostile_cards
import hostile_roots
import sealed
from admission import digest, mark_of
from mutant import production, seeded
from world import PERSONS, SIGNERS


@production
def another_station(chance, mutant):
    station = mutant.card.station
    what = chance.choice(["name", "model", "enrolment", "slots", "supply", "supply", "verify", "own",
                          "log"])
    low = chance.choice([1799, 1800, 3299, 3300, 3301, 0])
    if what == "verify":
        high = chance.choice([3300, 3400, 3650, 5400, 5401, 60000])
        mutant.card.world.manifest["verify"] = ("low-high", (chance.choice([1799, 1800, 2950, 3000,
                                                                           3300]), high))
    elif what == "own":
        mutant.card.world.manifest["supply"] = ("board", 3300)
        station["own_supply_ok"] = chance.random() < 0.5
    elif what == "log":
        station["no_log"] = chance.random() < 0.8
        mutant.card.no_log = chance.random() < 0.8
        mutant.card.log = chance.random() < 0.2
    else:
        station[what] = {"name": chance.choice(["orchard-2", "a", "x" * 16]),
                         "model": chance.choice(["row-two", "row-six", "row-sixx"]),
                         "enrolment": chance.choice([1, 2, 999999]), "slots": chance.choice(
                             [1, 3, 5, 6, 7, 32]),
                         "supply": (low, chance.choice([3299, 3300, 3301, 5400, 60000]),
                                    chance.choice([1, 7, 100, 400, 3300]))}[what]


def station_marks(chance, station, mutant):
    final = mutant.card.world.final
    product, epoch, sequence = final["product"], final["epoch"], final["sequence"]
    own = digest(mutant.card.package.manifest)
    marks = {}
    if chance.random() < 0.75:
        marks[product] = (max(0, epoch + chance.choice([0, 0, 0, 0, -1, 1])), max(
            1, sequence + chance.choice([-1, 0, 0, 1, 2, 1000, -999, -1000, -1001, -1001, -1500])),
            chance.choice([own, hostile.OTHER]))
    for n in range(chance.choice([0, 1, 7, 8, 8, 8])):
        if len(marks) < 8:
            marks[f"product-{n}"] = (n, 1 + n, hostile.OTHER)
    station.marks = marks


@production
def work_with_other_releases(chance, mutant):
    w = mutant.card.world
    sequence = chance.choice([w.manifest["sequence"], 2000, 2000, 2000, 10**9 - 1])
    w.manifest["sequence"] = sequence
    start = seeded(chance)
    mutant.past.append(lambda station, files: station_marks(start(), station, mutant))


@production
def work_with_other_cards(chance, mutant):
    serial = chance.choice([1, 2, 5, 999999999])
    mutant.card.allot["serial"] = serial
    units = chance.choice([1, 30, 59, 60, 60, 61])
    own, other = chance.choice([True, True, False]), chance.random() < 0.4
    others = sorted(chance.sample([s for s in (1, 2, 3, 4, 5, 6, 7, 8, 10**9) if s != serial],
                                  chance.choice([0, 2, 3, 4])))

    def past(station, files):
        kept = [(s, s, 1, hostile.OTHER) for s in others]
        if own:
            known = hostile.OTHER if other else digest(files["CARDSEAL/A01.TXT"])
            kept.append((serial, min(units, 59), units, known))
        station.kept = sorted(kept)[-4:]
    mutant.past.append(past)


@production
def stops_met_before(chance, mutant):
    start = seeded(chance)

    def past(station, files):
        now = start()
        own = ("manifest", digest(mutant.card.package.manifest))
        stops = now.choice([[own], [("allotment", digest(files["CARDSEAL/A01.TXT"]))], [],
                            [("key", SIGNERS[now.choice(sorted(PERSONS))].key)]])
        stops += [("manifest", "sha256:" + grammar.hex_of(now, 64))
                  for _ in range(now.choice([0, 1, 23, 29, 30, 31, 32, 32]))]
        now.shuffle(stops)
        station.stops = [mark_of(stop) for stop in stops[:32]]
    mutant.past.append(past)


@production
def a_list_met_before(chance, mutant):
    sequence = chance.choice([2, 3, 3, 4, 4])
    revoked = chance.choice(sorted(PERSONS)) if chance.random() < 0.3 else None
    stops = [] if chance.random() < 0.5 else [(hostile.OTHER,)]
    time = chance.choice(["2026-03-02T09:15:00Z", "2026-03-02T09:15:01Z"])
    gone = chance.random() < 0.3

    def past(station, files):
        met = mutant.card.world.copy()
        met.trust.update({"sequence": sequence, "time": time})
        if stops:
            met.trust["manifest"] = stops
        if revoked:
            hostile.key_changed(met, revoked, state="revoked")
        text = met.owner_files()[2]
        station.keep_trust(sealed.parse("trust", text), text)
    mutant.past.append(past)
    if gone:
        hostile_cards.files(lambda f: [f.pop(p) for p in list(f) if "TRUST" in p])(mutant.card)


@production
def what_withdrawals_say(chance, mutant):
    """Texts on the card: who signs them, what they stop."""
    w = mutant.card.world
    texts = []
    for _ in range(chance.choice([1, 1, 1, 2, 3, 8])):
        what = chance.choice([
            {"manifest": "sha256:" + grammar.hex_of(chance, 64)}, {"key": grammar.hex_of(chance, 64)},
            {"allotment": hostile.OTHER}, {"key": SIGNERS[chance.choice(sorted(PERSONS))].key},
            {"manifest": hostile.OTHER, "person": chance.choice(sorted(PERSONS.values()))},
            {"manifest": hostile.OTHER, "owner": hostile.OTHER}])
        texts.append((what, chance.choice(["quality", "withdraw", "withdraw", "quality-2",
                                           chance.choice(sorted(SIGNERS))])))
    w.withdrawals = texts


@production
def roots_that_follow(chance, mutant):
    hr = hostile_roots
    steps = []
    for _ in range(chance.choice([1, 1, 2, 3])):
        holders = chance.choice([hr.THREE, hr.OTHERS, hr.ONE_PERSON])
        changes = dict(holders, **chance.choice([{}, {}, {}, {"version": chance.choice([1, 3, 4])},
                                                 {"owner": hostile.OTHER},
                                                 {"previous": hostile.OTHER}]))
        steps.append((changes, chance.choice([hr.SAME, hr.ALL, hr.SAME + ["root-c"], ["root-a"], [],
                                              hr.SAME + ["stranger"]])))
    hr.steps(*steps, signs_list=chance.choice([hr.SAME, ["root-c", "root-d"], ["root-b"]]))(
        mutant.card)
    mutant.card.world.trust["root-version"] = chance.choice([1, 1 + len(steps), 1 + len(steps)])
    if chance.random() < 0.2:
        mutant.card.world.bend_roots = hr.swap


@production
def roots_met_before(chance, mutant):
    """The station went on by one root; the card may be behind, ahead, or tell another story."""
    hr = hostile_roots
    met = chance.choice([(hr.THREE, hr.SAME), (hr.OTHERS, hr.ALL)])
    steps = chance.choice([[], [], [(hr.THREE, hr.SAME)], [(hr.THREE, hr.SAME), (hr.OTHERS, hr.ALL)]])
    if steps:
        hr.steps(*steps)(mutant.card)

    def past(station, files):
        world = mutant.card.world.copy()
        world.next_roots, world.bend_roots = [met], None
        values = world.roots()[1][0]
        station.root.text, station.root.values = values, sealed.parse("root", values)
    mutant.past.append(past)
