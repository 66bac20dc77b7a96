"""What a unit carries: number = first + step * ordinal, its text, and a placement's bytes."""

from sealed import Refusal

MAX_NUMBER = 9999999999999999999


def number_of(manifest, ordinal):
    _, first, step, capacity = manifest["scheme"]
    number = first + step * ordinal
    if ordinal >= capacity or number > MAX_NUMBER:
        raise Refusal(391)
    return number


def text_of(manifest, ordinal):
    number = number_of(manifest, ordinal)
    out = ""
    for _, what, literal, _, digits in manifest["part"]:
        if what == "literal":
            out += literal
            continue
        if len(str(number)) > digits:
            raise Refusal(391)
        out += str(number).zfill(digits)
    return out


def text_length(manifest):
    return sum(len(literal) if what == "literal" else digits
               for _, what, literal, _, digits in manifest["part"])


def bytes_of(manifest, placement, ordinal):
    _, _, length, encoding, _ = placement
    if encoding == "ascii":
        text = text_of(manifest, ordinal).encode()
        if len(text) != length:
            raise Refusal(371)
        return text
    number = number_of(manifest, ordinal)
    if length > 8:
        raise Refusal(371)
    if number >= 1 << (8 * length):
        raise Refusal(391)
    return number.to_bytes(length, "big" if encoding == "binary-be" else "little")
