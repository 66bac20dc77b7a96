#!/usr/bin/python3
"""Judges a release package or a card from the written rules alone, apart from the product's code.

    oracle.py package P.crp --root owner.root --trust owner.trust [--ordinals FIRST-LAST] --json
    oracle.py card CARD --root owner.root --station NAME --model MODEL --slots N
              --supply LOW:HIGH:STEP --enrolment N [--own-supply-ok] [--no-log] [--state-json FILE] --json

Exit: 0 good, 1 refused. `--state-json`: what the station has met before, see Station in README.md.
"""

import argparse
import hashlib
import json
import os
import sys

import admission
import container
import units
from admission import need
from card import Card
from sealed import Refusal, parse

SETTINGS = ("device", "device-id", "board", "slots", "supply", "erase", "blank", "verify", "lock",
            "kept-range", "stop-after", "scheme", "alphabet", "serial-crc", "excluded-range", "part", "placement", "segment")


def read_file(path):
    with open(path, "rb") as file:
        return file.read()


def read_signed(path):
    """A text and the signature files beside it."""
    signatures = []
    while os.path.exists(f"{path}.s{len(signatures) + 1:02}"):
        signatures.append(read_file(f"{path}.s{len(signatures) + 1:02}"))
    return read_file(path), signatures


def unit(manifest, ordinal, allotment):
    return {"ordinal": ordinal, "text": units.text_of(manifest, ordinal, allotment),
            "bytes": [units.bytes_of(manifest, p, ordinal, allotment).hex()
                           for p in manifest["placement"]]}


def acted_on(judged, first=None, last=None, allotment=None):
    """J: everything that a station would act on."""
    image = judged.image()
    manifest = judged.manifest
    out = {"manifest": judged.digest, "title": manifest["title"],
           "product": manifest["product"], "release": manifest["release"],
           "epoch": manifest["epoch"], "sequence": manifest["sequence"],
           "settings": {key: manifest[key] for key in SETTINGS},
           "image_bytes": len(image), "image_sha256": hashlib.sha256(image).hexdigest()}
    if manifest["scheme"] is not None and first is not None:
        out["first_unit"] = unit(manifest, first, allotment)
        out["last_unit"] = unit(manifest, last, allotment)
    return out


def judged_package(root_path, trust_path, data, ordinals=None):
    try:
        root = admission.Root(*read_signed(root_path))
        trust = admission.judge_trust(root, *read_signed(trust_path))
        judged = admission.judge_package_at_desk(root, trust, data)
        return {"good": True, "reason": 0, **acted_on(judged, *(ordinals or ()))}
    except Refusal as refusal:
        return {"good": False, "reason": refusal.reason, "position": refusal.position,
                "note": refusal.note}


# Cards

INDEX, INDEX_SIGNATURE = "CARDSEAL/CARD.TXT", "CARDSEAL/CARD.S01"
ROOTS = "CARDSEAL/ROOTS.TAR"
TRUST, LOG = "CARDSEAL/TRUST.TXT", "CARDSEAL/LOG.CSV"
NO_LOG = "CARDSEAL/NOLOG.TXT"


def list_on_card(card):
    text = card.read(TRUST)
    need(len(text) <= 8192, 101)
    signatures = []
    while len(signatures) < 8 and card.has(f"CARDSEAL/TRUST.S0{len(signatures) + 1}"):
        signatures.append(card.read(f"CARDSEAL/TRUST.S0{len(signatures) + 1}"))
        need(len(signatures[-1]) == 64, 321)
    return text, signatures


def is_newer(root, values):
    return values["root-version"] > root.values["version"]


def root_in_force(card, station):
    """From the root that the station holds to the newest that the card leads to, each step kept."""
    if not card.has(ROOTS):
        need(station.root.values["version"] == 1, 315)
        return
    newest = 0
    for text, signatures, fault in container.read_roots(card.piecewise(ROOTS)):
        if fault is not None:
            raise fault
        newest += 1
        held = station.root.values["version"]
        if newest == held:
            need(text() == station.root.text, 316)
        elif newest > held:
            next_root = admission.next_root(station.root, text(), [read() for read in signatures])
            station.keep_root(next_root)
    need(newest >= station.root.values["version"], 315)


def stopped(card, trust, station):
    """Takes what the card withdraws, one text after the other, each judged by the list alone; one
    that is met again is passed over, a new one needs a signer that was not stopped before."""
    for at in range(1, 9):
        path = f"CARDSEAL/W{at:02}.TXT"
        if not card.has(path):
            break
        text = card.read(path)
        need(len(text) <= 2048, 101)
        signature = card.read(f"CARDSEAL/W{at:02}.S01")
        need(len(signature) == 64, 321)
        stop, signer = admission.judge_withdrawal(station.root, trust, text, signature)
        if not station.is_stopped(stop) and not admission.holds_stop(trust, stop):
            need(not station.is_stopped(("key", signer)), 331)
            station.keep_stop(stop)
    need(len(station.stops) < admission.MOST_STOPS, 604)
    admission.stop_keys(trust, station)


def trust_in_force(card, station):
    """The newest list met, by root version, then sequence."""
    root = station.root
    kept = parse("trust", station.trust) if station.trust else None
    if not card.has(TRUST):
        need(kept is not None and kept["root-version"] == root.values["version"], 307)
        return kept
    text, signatures = list_on_card(card)
    try:
        met = admission.judge_trust(root, text, signatures)
    except Refusal as refusal:
        newer = refusal.reason == 305 and is_newer(root, parse("trust", text))
        if newer:
            raise Refusal(302) from None
        raise
    if kept is None:
        station.keep_trust(met, text)
        return met

    def place(trust):
        return trust["root-version"], trust["sequence"]
    need(place(met) != place(kept) or text == station.trust, 306)
    if place(met) > place(kept):
        station.keep_trust(met, text)
    if place(met) >= place(kept):
        return met
    need(kept["root-version"] == root.values["version"], 307)
    return kept


def card_index(card, root, trust):
    text = card.read(INDEX)
    need(len(text) <= 8192, 101)
    admission.find_allot_signer(trust, "card", text, card.read(INDEX_SIGNATURE), 311)
    index = parse("card", text)
    need(index["owner"] == root.owner, 312)
    need(not is_newer(root, index), 302)
    need(index["root-version"] == root.values["version"], 314)
    need(index["trust-sequence"] <= trust["sequence"], 313)
    return index


def check_log(card, index, station):
    """A station logs its work: there is no work without a log, unless station and card agree on it."""
    if index["log-extent"] is None or station.no_log:
        agreed = index["log-extent"] is None and any(each[0] == NO_LOG for each in index["file"])
        need(not index["allotment"] or (agreed and station.no_log), 508)
        return
    try:
        found = card.extent(LOG)
    except Refusal as refusal:
        need(refusal.reason != 501, 501)
        found = None
    need(found == index["log-extent"], 508)


def check_files(card, index):
    """Every file that the index names, in its order."""
    for path, size, file_digest, *_ in index["package"] + index["allotment"] + index["file"]:
        content = card.read(path)
        need(len(content) == size, 506, 0, path)
        need(admission.digest(content) == file_digest, 507, 0, path)


def choose(card, index, station, choice):
    """The allotments made for this station in the index's order, of these the one chosen, and its
    package. A text behind the chosen one that can't be read is no reason against it."""
    need(index["allotment"], 509)
    named = False
    station.jobs = 0
    chosen = None
    for path, _, _ in index["allotment"]:
        try:
            text = card.read(path)
            allotment = parse("allotment", text)
        except Refusal:
            if chosen:
                return chosen
            raise
        if allotment["station"] != station.name:
            continue
        named = True
        package = next((p for p in index["package"] if p[3] == allotment["manifest"]), None)
        if package:
            chosen = (path, text, package) if station.jobs == choice else chosen
            station.jobs += 1
    need(chosen or not station.jobs, 509)
    need(named, 387)
    need(chosen, 511)
    return chosen


def judged_card(root_path, file, station, broken=None, choice=0):
    """`station.jobs`: how many the card has for it, as far as they were counted."""
    station.jobs = 0
    try:
        card = Card(file, broken)
        station.root = station.root or admission.Root(*read_signed(root_path))
        root_in_force(card, station)
        root = station.root
        trust = trust_in_force(card, station)
        stopped(card, trust, station)
        index = card_index(card, root, trust)
        check_log(card, index, station)
        check_files(card, index)
        path, text, on_card = choose(card, index, station, choice)
        judged = admission.judge_package(root, trust, card.read(on_card[0]))
        need(judged.digest == on_card[3], 511)
        admission.judge_mark(station, judged)
        signature = card.read(path[:-4] + ".S01")
        need(len(signature) == 64, 321)
        need(not station.is_stopped(("allotment", admission.digest(text))), 398)
        allotment, used = admission.judge_allotment(root, trust, station, judged,
                                                    index["card-id"], text, signature)
        admission.judge_settings(station, judged.manifest)
        admission.judge_units(judged.manifest, allotment)
        first, last = admission.numbers_of(allotment)
        first = first + used[0] if allotment["numbers"] == "new" else None
        out = acted_on(judged, first, last, allotment)
        out["allotment"] = allotment
        out["units_left"] = allotment["units"] - used[1]
        return {"good": True, "reason": 0, **out}
    except Refusal as refusal:
        return {"good": False, "reason": refusal.reason, "position": refusal.position,
                "note": refusal.note}


def station_from(options):
    supply = tuple(int(n) for n in options.supply.split(":"))
    station = admission.Station(options.station, options.model, options.enrolment,
                                (1 << options.slots) - 1, supply, options.own_supply_ok,
                                options.no_log)
    if options.state_json:
        state = json.loads(read_file(options.state_json))
        station.kept = [tuple(k) for k in state.get("kept", [])]
        station.marks = {p: tuple(m) for p, m in state.get("marks", {}).items()}
        station.stops = [admission.mark_of(("manifest", w)) for w in state.get("withdrawn", [])]
        station.trust = state["trust"].encode() if "trust" in state else None
    return station


def main():
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    package = commands.add_parser("package")
    package.add_argument("file")
    package.add_argument("--trust", required=True)
    package.add_argument("--ordinals")
    card = commands.add_parser("card")
    card.add_argument("file")
    card.add_argument("--station", required=True)
    card.add_argument("--model", required=True)
    card.add_argument("--slots", type=int, required=True)
    card.add_argument("--supply", required=True)
    card.add_argument("--enrolment", type=int, required=True)
    card.add_argument("--own-supply-ok", action="store_true")
    card.add_argument("--no-log", action="store_true")
    card.add_argument("--state-json")
    for each in (package, card):
        each.add_argument("--root", required=True)
        each.add_argument("--json", action="store_true")
    options = parser.parse_args()
    if options.command == "package":
        ordinals = [int(n) for n in options.ordinals.split("-")] if options.ordinals else None
        verdict = judged_package(options.root, options.trust, read_file(options.file), ordinals)
    else:
        with open(options.file, "rb") as file:
            verdict = judged_card(options.root, file, station_from(options))
    if options.json:
        print(json.dumps(verdict, indent=2))
    else:
        print("good" if verdict["good"] else f"refused {verdict['reason']} {verdict['note']}")
    return 0 if verdict["good"] else 1


if __name__ == "__main__":
    sys.exit(main())
