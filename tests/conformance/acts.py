"""What a station acts on, as lines of text (README.md has their form): from the oracle's verdict, and
from what station-check prints."""

import hashlib


def digest_of(text):
    return hashlib.sha256(text.encode()).hexdigest()


def digest_of_memory(held):
    """Of what admission may change in a station's memory: root, trust list, marks of the stops."""
    if "root" not in held:
        return "-"  # nothing in this memory counts
    parts = [held["root"], held["trust"] or b""] + list(held["stops"])
    return hashlib.sha256(b"".join(len(p).to_bytes(4, "big") + p for p in parts)).hexdigest()


def row(permitted, enabled):
    """Slot 1 leftmost."""
    return "".join("1" if enabled >> slot & 1 else "0" for slot in range(permitted.bit_length()))


def unit_lines(word, unit):
    if unit is None:
        return []
    return [f"{word} {unit['ordinal']} {unit['text']}"] + [f"{word}-bytes {b}" for b in unit["bytes"]]


def lines(package, card, settings, work, units, image, first, last):
    out = ["manifest " + package["manifest"][7:], "title " + package["title"],
           "product " + package["product"], "release " + package["release"], "card " + card["card"],
           "work-order " + card["work_order"], "class " + card["class"],
           "slots " + settings["slots"],
           f"supply {settings['supply_source']} {settings['supply_mv']}",
           "erase " + settings["erase"], "blank " + ("yes" if work["blank_check"] else "no"),
           " ".join(["verify", settings["verify"]] +
                    [str(mv) for mv in settings["verify_limits_mv"] or ()]),
           "lock " + settings["lock"], f"stop-after {work['stop_after']}",
           "device-id " + " ".join(work["device_id"] or ["-"])]
    out += ["kept %s %d %d" % tuple(each) for each in work["kept"]]
    out += ["segment %d %d" % tuple(each) for each in work["segments"]]
    out += ["placement %s %d %d" % tuple(each) for each in work["placements"]]
    out += ["units %d %d" % units, "image %d %s" % image]
    return "\n".join(out + unit_lines("first", first) + unit_lines("last", last)) + "\n"


def of_oracle(j):
    s, a = j["settings"], j["allotment"]
    settings = {"slots": row(int(s["slots"], 16), int(a["enabled-slots"], 16)),
                "supply_source": s["supply"][0], "supply_mv": s["supply"][1], "erase": s["erase"],
                "verify": s["verify"][0], "verify_limits_mv": s["verify"][1], "lock": s["lock"]}
    work = {"blank_check": s["blank"] == "yes", "stop_after": s["stop-after"],
            "device_id": s["device-id"] and s["device-id"][1:], "kept": s["kept-range"],
            "segments": s["segment"], "placements": [p[:3] for p in s["placement"]]}
    card = {"card": a["card"], "work_order": a["work-order"], "class": a["class"]}
    return lines(j, card, settings, work, (a["units"], j["units_left"]),
                 (j["image_bytes"], j["image_sha256"]), j.get("first_unit"), j.get("last_unit"))


def of_station_check(said):
    a = said["allotment"]
    return lines(said["package"], a, said["settings"], said["work"], (a["units"], a["units_left"]),
                 (said["image_bytes"], said["image_sha256"]), said.get("first_unit"),
                 said.get("last_unit"))
