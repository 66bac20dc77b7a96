"""What a unit carries: its number, its text, and a placement's bytes (SPEC.md, kind `manifest`)."""

import checks
from sealed import Refusal

MAX_NUMBER = 9999999999999999999
STANDARD = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CLASSES = ("engineering", "pilot", "production", "rework", "sample")


def on_grid(first, step, low, high):
    """How many of first, first + step, ... lie from low to high."""
    return max(0, (high - first) // step - max(-1, (low - 1 - first) // step)) if high >= first else 0


def number_of(manifest, ordinal):
    _, first, step, capacity = manifest["scheme"]
    number = first + step * ordinal
    while True:  # every excluded number up to here moves it on, past more of them perhaps
        passed = sum(on_grid(first, step, a, b) for a, b in manifest["excluded-range"] if a <= number)
        moved = first + step * (ordinal + passed)
        if moved == number:
            break
        number = moved
    if ordinal >= capacity or number > MAX_NUMBER:
        raise Refusal(391)
    return number


def digits_of(manifest):
    return manifest["alphabet"] or STANDARD


def spell(number, digits, base, width):
    out = ""
    while number:
        number, digit = divmod(number, base)
        out = digits[digit] + out
    if len(out) > width:
        raise Refusal(391)
    return out.rjust(width, digits[0])


def pieces_of(manifest, ordinal, allotment):
    number = number_of(manifest, ordinal)
    out = []
    for _, what, literal, base, width, check in manifest["part"]:
        if what == "literal":
            out.append(literal)
        elif what == "number":
            out.append(spell(number, digits_of(manifest), base, width))
        elif what == "date-code":
            if len(allotment["date-code"] or "") != width:
                raise Refusal(397)
            out.append(allotment["date-code"])
        elif what == "class":
            out.append(literal[CLASSES.index(allotment["class"])])
        else:
            kind, first = check
            covered = "".join(out[first - 1:])
            if not all(checks.covers(kind, c) for c in covered):
                raise Refusal(397)
            out.append(checks.KINDS[kind](covered))
    if len("".join(out)) > 128:
        raise Refusal(371)
    return out


def text_of(manifest, ordinal, allotment):
    return "".join(pieces_of(manifest, ordinal, allotment))


def length_of(part):
    _, what, literal, _, width, check = part
    if what in ("number", "date-code"):
        return width
    return {"literal": len(literal or ""), "class": 1}.get(
        what, 2 if check and check[0] == "mod-97-10" else 1)


def characters_of(manifest, part):
    """Every character that the part can give; None when that is open."""
    _, what, literal, base, _, check = part
    if what in ("literal", "class"):
        return literal
    if what == "number":
        return digits_of(manifest)[:base]
    if what == "date-code":
        return None
    return {"mod-11-2": "0123456789X", "mod-37-2": checks.ALNUM,
            "mod-37-36": checks.ALNUM[:36]}.get(check[0], "0123456789")


def date_code_fits(manifest, date_code):
    for at, part in enumerate(manifest["part"]):
        if part[1] == "date-code" and len(date_code or "") != part[4]:
            return False
        if part[1] == "check":
            kind, first = part[5]
            if any(p[1] == "date-code" for p in manifest["part"][first - 1:at]) and not all(
                    checks.covers(kind, c) for c in date_code or ""):
                return False
    return True


def room_of(manifest, placement):
    """Bytes for number or text and padding; None when the additions do not fit."""
    length, second, crc = placement[2], placement[6], placement[7]
    if second is not None and length % 2:
        return None
    room = length // 2 if second is not None else length
    if crc == "yes":
        if manifest["serial-crc"] is None:
            return None
        room -= checks.crc_of(manifest["serial-crc"][0])[0] // 8
    return room if room > 0 else None


def placement_fits(manifest, placement):
    _, _, _, encoding, span, padding, _, _, _ = placement
    room = room_of(manifest, placement)
    if room is None:
        return False
    if encoding.startswith("binary"):
        return room <= 8 and padding is None
    first, last = span
    if last > len(manifest["part"]):
        return False
    parts = manifest["part"][first - 1:last]
    size = sum(length_of(part) for part in parts)
    if encoding == "utf-16le":
        size *= 2
    elif encoding.startswith("packed"):
        given = [characters_of(manifest, part) for part in parts]
        if size % 2 or any(g is None or set(g) - set("0123456789ABCDEF") for g in given):
            return False
        size //= 2
    return size < room if padding is not None else size == room


def bytes_of(manifest, placement, ordinal, allotment):
    if not placement_fits(manifest, placement):
        raise Refusal(371)
    _, _, _, encoding, span, padding, second, crc, _ = placement
    room = room_of(manifest, placement)
    order = "big" if encoding.endswith("be") else "little"
    if encoding.startswith("binary"):
        number = number_of(manifest, ordinal)
        if number >= 1 << (8 * room):
            raise Refusal(391)
        out = number.to_bytes(room, order)
    else:
        text = "".join(pieces_of(manifest, ordinal, allotment)[span[0] - 1:span[1]])
        if encoding.startswith("packed"):
            out = int(text, 16).to_bytes(len(text) // 2, order)
        else:
            out = text.encode("ascii" if encoding == "ascii" else "utf-16-le")
    if padding is not None:
        out = out.ljust(room, bytes.fromhex(padding))
    if crc == "yes":
        name, crc_order = manifest["serial-crc"]
        out += checks.crc(name, out).to_bytes(checks.crc_of(name)[0] // 8,
                                              "big" if crc_order == "be" else "little")
    if second is not None:
        out = b"".join(bytes((byte,)) + bytes.fromhex(second) for byte in out)
    return out
