"""Cards on which every signature is good and one thing is not, with the reason for it."""

import card_writer
import container
import sealed
from admission import Station, digest
from hostile import OTHER, before, key_changed, plan, product_line, trusts
from hostile_manifest import CLASS, KINDS, XMODEM, check, literal, made, number, place, serials
from world import SIGNERS

CARD_ID = "00000000000000a1"
STATION = {"name": "orchard-1", "model": "row-six", "enrolment": 1, "slots": 6,
           "supply": (1800, 5400, 100), "own_supply_ok": False, "no_log": False}
LOG = "CARDSEAL/LOG.CSV"
NO_LOG = "CARDSEAL/NOLOG.TXT"


def station_of(options):
    return Station(options["name"], options["model"], options["enrolment"],
                   (1 << options["slots"]) - 1, options["supply"], options["own_supply_ok"],
                   options["no_log"])


class CardWorld:
    """A World's package on a card; bent like a World, at every stage."""

    def __init__(self, world):
        self.world = world
        self.station = dict(STATION)
        self.allot = {}            # of the allotment
        self.allot_signer = "allot"
        self.index = {}            # of the index, after it was filled in
        self.index_signer = "allot"
        self.bend_files = None     # files -> None, before the index is made
        self.bend_late = None      # files -> None, after it was made
        self.log = True
        self.no_log = False        # the file that says so
        self.start = 0
        self.met = []              # worlds whose lists the station met before

    def listed(self, files):
        def line(path):
            return path, len(files[path]), digest(files[path])
        packages = [line(p) + (digest(self.package.manifest),) for p in sorted(files)
                    if p.endswith(".CRP")]
        allotments = [line(p) for p in sorted(files)
                      if p.endswith(".TXT") and p.split("/")[-1][0] == "A"]
        known = {p[0] for p in packages + allotments} | {LOG}
        return packages, allotments, [line(p) for p in sorted(files) if p not in known]

    def files(self):
        w = self.world
        self.package = w.package()
        _, _, trust, signatures = w.owner_files()
        allotment = w.allotment(self.package, CARD_ID, "orchard-1", self.allot)
        files = {LOG: b" " * 512 * 8} if self.log else {}  # first, so that it stays in its place
        data = self.package.bytes()
        files |= {"CARDSEAL/P01.CRP": w.bend_bytes(data) if w.bend_bytes else data,
                 "CARDSEAL/A01.TXT": allotment,
                 "CARDSEAL/A01.S01": SIGNERS[self.allot_signer].sign("allotment", allotment),
                 "CARDSEAL/TRUST.TXT": trust, "README.TXT": b"for people\n"}
        if self.no_log:
            files[NO_LOG] = b"no log\n"
        for at, signature in enumerate(signatures, 1):
            files[f"CARDSEAL/TRUST.S0{at}"] = signature
        if w.next_roots:
            files["CARDSEAL/ROOTS.TAR"] = container.write_roots(w.roots())
        files |= w.withdrawal_files()
        if self.bend_files:
            self.bend_files(files)
        self.add_index(files)
        if self.bend_late:
            self.bend_late(files)
        return files

    def add_index(self, files):
        packages, allotments, others = self.listed(files)
        extent = None
        if self.log:  # where the log lies does not depend on what the index says
            blank = {**files, "CARDSEAL/CARD.S01": bytes(64), "CARDSEAL/CARD.TXT": b" "}
            extent = card_writer.place(blank, self.start).lba(LOG), 8
        index = {"owner": self.world.owner(), "card-id": CARD_ID,
                 "root-version": 1 + len(self.world.next_roots),
                 "trust-sequence": self.world.trust["sequence"], "log-extent": extent,
                 "package": packages, "allotment": allotments, "file": others, **self.index}
        text = self.world.bent("card", sealed.spell("card", index))
        files["CARDSEAL/CARD.S01"] = SIGNERS[self.index_signer].sign("card", text)
        files["CARDSEAL/CARD.TXT"] = text


CASES = {}

# Where the product is known to answer otherwise: (product, oracle). Each is printed, and one that is
# no longer true is a failure.
DIFFER = {}


def on_world(bend):
    return lambda c: bend(c.world)


def allots(**changes):
    return lambda c: c.allot.update({k.replace("_", "-"): v for k, v in changes.items()})


def indexes(**changes):
    return lambda c: c.index.update({k.replace("_", "-"): v for k, v in changes.items()})


def stands(**changes):
    return lambda c: c.station.update(changes)


def sets(**changes):
    def bend(c):
        for name, value in changes.items():
            setattr(c, name, value)
    return bend


def both(*bends):
    def bend(c):
        for each in bends:
            each(c)
    return bend


def files(change):
    return sets(bend_files=change)


def late(change):
    return sets(bend_late=change)


def withdraws(c):
    met = c.world.copy()
    met.trust["manifest"] = [(digest(c.world.copy().package().manifest),)]
    met.trust["sequence"] = c.world.trust["sequence"] - 1
    c.met = [met]


def met_list(**changes):
    def bend(c):
        met = c.world.copy()
        met.trust.update({k.replace("_", "-"): v for k, v in changes.items()})
        c.met = [met]
    return bend


def cases(reason, bends):
    for name, bend in bends.items():
        CASES[name] = (reason, bend)


def change_byte(path):
    return late(lambda f: f.update({path: f[path][:-2] + bytes([f[path][-2] ^ 1]) + f[path][-1:]}))


limited = plan("release", ("quality", {"units-a-station": 59}))
range_59 = plan("release", ("quality", {"numbers": (0, 58)}))


def numbers_for(use):
    def change(w):
        w.trust["window"] = [(SIGNERS["allot"].key, w.manifest["scheme"][0], 0, 99999, use)]
    return change


engineering = both(on_world(before(title="NOT SHIP node")), on_world(plan("engineering")),
                   on_world(numbers_for("engineering")),
                   allots(**{"class": "engineering"}, units=20))



def verified(low, high):
    return on_world(before(verify=("low-high", (low, high))))


cases(0, {
    "a good card": lambda c: None,
    "a good card in a partition": sets(start=8192),
    "an unused desk's key for another product": on_world(
        lambda w: key_changed(w, "allot-2", product="other")),
    "class pilot": allots(**{"class": "pilot"}),
    "fewer slots": allots(enabled_slots="00000001"),
    "fewer units than numbers": allots(units=59),
    "boards that keep their numbers": allots(numbers="kept", span=[(0, 9), (11, 60)],
                                             **{"class": "rework"}),
    "boards whose numbers are stated": allots(numbers="stated", span=[(7, 7)], first=7, count=1,
                                              units=1, **{"class": "rework"}),
    "quality's limit met": on_world(plan("release", ("quality", {"units-a-station": 60}))),
    "quality's numbers met": on_world(plan("release", ("quality", {"numbers": (0, 59)}))),
    "release's limits do not count": on_world(plan(("release", {
        "units-a-station": 1, "numbers": (0, 0)}), "quality")),
    "the last numbers of the window": allots(first=99940),
    "engineering": engineering,
    "no serials": both(on_world(serials(None, [], [])), allots(count=0)),
    "a newer list met before": met_list(sequence=4),
    "the same list met before": met_list(),
    "an older list met before": met_list(sequence=2),
    "no list on the card, one met before": both(
        met_list(), files(lambda f: [f.pop(p) for p in list(f) if "TRUST" in p])),
    "supply from the board": both(on_world(before(supply=("board", 3300))),
                                  stands(own_supply_ok=True)),
    "a station without a log": both(sets(log=False, no_log=True), stands(no_log=True)),
    "a log, and a file that says there is none": sets(no_log=True),
    "supply at the lowest": on_world(before(supply=("station", 1800))),
    "verified at the lowest and the highest": verified(1800, 5400),
    "verified at the supply and above": verified(3300, 3400),
    "an index under an older list": indexes(trust_sequence=1),
})
cases(302, {
    "a list under a newer root": on_world(trusts(root_version=2)),
    "an index under a newer root": indexes(root_version=2),
})
cases(303, {"a list with one signature": late(lambda f: f.pop("CARDSEAL/TRUST.S02"))})
cases(304, {"a list of another owner": on_world(trusts(owner=OTHER))})
cases(306, {"two lists of one sequence": met_list(time="2026-03-02T09:15:01Z")})
cases(307, {"no list at all": files(lambda f: [f.pop(p) for p in list(f) if "TRUST" in p])})
cases(311, {
    "an index signed by quality": sets(index_signer="quality"),
    "an index signed by a stranger": sets(index_signer="stranger"),
    "an index signed by a revoked key": both(
        on_world(lambda w: key_changed(w, "allot-2", state="revoked")),
        sets(index_signer="allot-2")),
})
cases(312, {"an index of another owner": indexes(owner=OTHER)})
cases(313, {"an index under a newer list": indexes(trust_sequence=4)})
cases(355, {"a key revoked by a list met before": lambda c: (
    met_list(sequence=4)(c), key_changed(c.met[0], "quality", state="revoked"))})
cases(362, {
    "withdrawn by the list on the card": on_world(lambda w: w.trust.update(
        manifest=[(digest(w.copy().package().manifest),)])),
    "withdrawn by an older list met before": withdraws,
})
cases(365, {"below the floor": on_world(lambda w: product_line(0, 8)(w))})
cases(381, {
    "an allotment signed by quality": sets(allot_signer="quality"),
    "an allotment signed by a stranger": sets(allot_signer="stranger"),
    "an allotment signed by a revoked key": both(
        on_world(lambda w: key_changed(w, "allot-2", state="revoked")),
        sets(allot_signer="allot-2")),
})
cases(382, {"an allotment of another owner": allots(owner=OTHER)})
cases(384, {"an allotment for another product": allots(product="other")})
cases(385, {
    "an allotment for another scheme": allots(scheme="other"),
    "an allotment without a scheme": allots(scheme=None, count=0),
})
cases(386, {"an allotment for another card": allots(card="00000000000000a2")})
cases(387, {
    "another station": stands(name="orchard-2"),
    "an allotment for another station": allots(station="orchard-2"),
})
cases(388, {
    "an earlier enrolment": stands(enrolment=2),
    "a later enrolment": allots(enrolment=2),
})
cases(390, {
    "numbers past the window": allots(first=99941),
    "a window of another scheme": on_world(lambda w: w.trust.update(
        window=[(SIGNERS["allot"].key, "other", 0, 99999, "shipment")])),
    "another desk's window": on_world(lambda w: w.trust.update(
        window=[(SIGNERS["allot-2"].key, w.manifest["scheme"][0], 0, 99999, "shipment")])),
    "no window": on_world(trusts(window=[])),
    "numbers over two windows": on_world(lambda w: w.trust.update(
        window=sorted((SIGNERS["allot"].key, w.manifest["scheme"][0], a, b, "shipment")
                      for a, b in ((0, 29), (30, 99))))),
    "engineering in a window of shipment": both(engineering, on_world(numbers_for("shipment"))),
    "production in a window of engineering": on_world(numbers_for("engineering")),
})
SCHEME_59 = serials(("fn-serial", 1, 1, 59), [(1, "number", None, 10, 6, None)], [])
cases(391, {
    "numbers past the scheme": on_world(SCHEME_59),
    "the last number has too many digits": on_world(serials(
        ("fn-serial", 999941, 1, 999999), [(1, "number", None, 10, 6, None)], [])),
    "the last number has too many bytes": on_world(serials(
        ("fn-serial", 197, 1, 999999), [(1, "number", None, 10, 6, None)],
        [place("flash", 0x7f00, 1, "binary-be", "erased")])),
    "the last number past the largest": on_world(serials(
        ("fn-serial", 9999999999999999999 - 58, 1, 60), [(1, "number", None, 10, 19, None)], [])),
})
cases(392, {
    "more units than quality allows": on_world(limited),
    "numbers past quality's": on_world(range_59),
    "numbers before quality's": on_world(plan("release", ("quality", {"numbers": (1, 999)}))),
    "numbers past the second quality's": on_world(plan(
        "release", "quality", ("quality-2", {"numbers": (0, 58)}))),
})
cases(393, {
    "engineering with production's sign-offs": allots(**{"class": "engineering"}, units=20),
    "production with engineering's sign-off": both(engineering, allots(**{"class": "production"})),
    "21 units for engineering": both(engineering, allots(units=21)),
    "production of boards that have numbers": allots(numbers="kept", span=[(0, 59)]),
})
cases(394, {
    "a slot that the release lacks": allots(enabled_slots="00000040"),
    "slots beside the release's": allots(enabled_slots="ffffffff"),
})
cases(396, {"more units than numbers": allots(count=59)})
cases(401, {"another model": stands(model="row-two")})
cases(402, {"a station of five slots": stands(slots=5)})
cases(403, {
    "supply above the station's": stands(supply=(1800, 3200, 100)),
    "supply below the station's": stands(supply=(3400, 5400, 100)),
    "low verify supply below the station's": verified(1799, 3600),
    "high verify supply above the station's": verified(3000, 5401),
})
cases(404, {
    "supply off the station's step": stands(supply=(1800, 5400, 400)),
    "low verify supply off the station's step": verified(2950, 3600),
    "high verify supply off the station's step": verified(3000, 3650),
})
cases(405, {"a board with its own supply": on_world(before(supply=("board", 3300)))})
cases(111, {
    "verified at two supplies, the board's own": on_world(before(
        supply=("board", 3300), verify=("low-high", (3000, 3600)))),
    "verified at two supplies above the job's": verified(3400, 3600),
    "verified at two supplies below the job's": verified(3000, 3200),
    "verified at one supply twice": verified(3300, 3300),
    "two supplies, verified at one": on_world(before(verify=("nominal", (3000, 3600)))),
    "verified at two supplies, none stated": on_world(before(verify=("low-high", None))),
})
cases(505, {
    "no index": late(lambda f: f.pop("CARDSEAL/CARD.TXT")),
    "no index signature": late(lambda f: f.pop("CARDSEAL/CARD.S01")),
    "no package": late(lambda f: f.pop("CARDSEAL/P01.CRP")),
    "no file for people": late(lambda f: f.pop("README.TXT")),
    "no allotment signature": late(lambda f: f.pop("CARDSEAL/A01.S01")),
})
cases(506, {
    "a package a block longer": late(lambda f: f.update(
        {"CARDSEAL/P01.CRP": f["CARDSEAL/P01.CRP"] + bytes(512)})),
    "a file for people longer": late(lambda f: f.update(
        {"README.TXT": f["README.TXT"] + b"x"})),
})
cases(507, {
    "a package changed": change_byte("CARDSEAL/P01.CRP"),
    "an allotment changed": change_byte("CARDSEAL/A01.TXT"),
    "an allotment signature changed": change_byte("CARDSEAL/A01.S01"),
    "a file for people changed": change_byte("README.TXT"),
})
cases(508, {
    "no log": sets(log=False),
    "a card without a log for a station that writes one": sets(log=False, no_log=True),
    "no log and no word of it for a station that writes none": both(sets(log=False),
                                                                   stands(no_log=True)),
    "a log for a station that writes none": stands(no_log=True),
    "both for a station that writes none": both(sets(no_log=True), stands(no_log=True)),
    "a log in the index only": both(sets(log=False), indexes(log_extent=(9000, 8))),
    "the log elsewhere": indexes(log_extent=(9000, 8)),
    "the log shorter": lambda c: late(lambda f: f.update({LOG: f[LOG][:512]}))(c),
})
cases(509, {"no allotment": files(lambda f: [f.pop("CARDSEAL/A01.TXT"),
                                             f.pop("CARDSEAL/A01.S01")])})
cases(511, {"an allotment for a package that is not there": allots(manifest=OTHER)})
cases(352, {
    "an allotment key for another product": on_world(
        lambda w: key_changed(w, "allot", product="other")),
})
cases(0, {"an allotment key for the product": on_world(
    lambda w: key_changed(w, "allot", product=w.manifest["product"]))})
cases(None, {
    "an allotment signature with small R": files(lambda f: f.update(
        {"CARDSEAL/A01.S01": (1).to_bytes(32, "little") + f["CARDSEAL/A01.S01"][32:]})),
    "no slot enabled": allots(enabled_slots="00000000"),
    "an index under an older root": indexes(root_version=1),
    "a wrong manifest digest in the index": lambda c: index_names_other(c),
    "an allotment signature of 63 bytes": files(lambda f: f.update(
        {"CARDSEAL/A01.S01": f["CARDSEAL/A01.S01"][:63]})),
    "an index signature of 63 bytes": late(lambda f: f.update(
        {"CARDSEAL/CARD.S01": f["CARDSEAL/CARD.S01"][:63]})),
    "an index signature with small R": late(lambda f: f.update(
        {"CARDSEAL/CARD.S01": (1).to_bytes(32, "little") + f["CARDSEAL/CARD.S01"][32:]})),
    "a list signature of 63 bytes": late(lambda f: f.update(
        {"CARDSEAL/TRUST.S01": f["CARDSEAL/TRUST.S01"][:63]})),
    "slots the station lacks, not enabled": both(stands(slots=5),
                                                 allots(enabled_slots="00000001")),
    "a block changed and listed so": files(lambda f: change_image(f)),
    "more numbers than units asked for": allots(count=100),
    "quality's key for another product": on_world(
        lambda w: key_changed(w, "quality", product="other")),
})


def index_names_other(c):
    c.allot["manifest"] = OTHER

    def bend(text):
        values = sealed.parse("card", text)
        values["package"] = [p[:3] + (OTHER,) for p in values["package"]]
        return sealed.spell("card", values)
    c.world.bend["card"] = bend


def change_image(f):
    data = bytearray(f["CARDSEAL/P01.CRP"])
    data[data.index(b"image\0") + 512] ^= 1
    f["CARDSEAL/P01.CRP"] = bytes(data)

# What the allotment puts into a unit's text, and every unit's bytes on an admitted card

DATE = (1, "date-code", None, None, 4, None)
DATED = on_world(made(DATE, CLASS, number(3), check(4, "mod-97-10", 3), crc=XMODEM, at=[
    place("eeprom", 0, 20, "ascii", padding="20", crc="yes"),
    place("eeprom", 32, 4, "packed-le", parts=(3, 4))]))
CHECKED_DATE = on_world(made(DATE, number(2), check(3, "verhoeff", 1)))

cases(0, {
    "a date code": both(DATED, allots(date_code="27W1")),
    "a checked date code": both(CHECKED_DATE, allots(date_code="2701")),
    "a date code that no part asks for": allots(date_code="2701"),
    "numbers on both sides of what is left out": on_world(made(
        literal(1, "FN"), number(2), excluded=[(3, 3), (40, 49), (61, 70)],
        at=[place("flash", 0x7f00, 4, "binary-le"), place("flash", 0x7f10, 8, "ascii")])),
    "a block of 36 bits in words of two": on_world(made(
        literal(1, "70B3D5ABC"), number(2, 16, 7),
        at=[place("flash", 0x7f00, 16, "packed-be", second="34"),
            place("flash", 0x7f10, 64, "utf-16le", second="00")])),
    "an alphabet and a reflected CRC": on_world(made(
        number(1, 31, 5), check(2, "mod-37-36", 1), alphabet="23456789ABCDEFGHJKLMNPQRSTUVWXZ",
        crc=("CRC-32/ISO-HDLC", "le"), at=[place("flash", 0x7f00, 10, "ascii", crc="yes")])),
    **{f"units with {kind}": on_world(made(
        number(1), check(2, kind, 1),
        at=[place("flash", 0x7f00, 8 if kind == "mod-97-10" else 7, "ascii")])) for kind in KINDS},
})
cases(391, {"every number is left out": on_world(made(
    number(1, 10, 19), excluded=[(0, 9999999999999999999)],
    at=[place("flash", 0x7f00, 8, "binary-le")]))})
cases(397, {
    "no date code": DATED,
    "a date code that is too long": both(DATED, allots(date_code="27W11")),
    "a date code that is too short": both(DATED, allots(date_code="27W")),
    "a date code with a letter under verhoeff": both(CHECKED_DATE, allots(date_code="27W1")),
})
