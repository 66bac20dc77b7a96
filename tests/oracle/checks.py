"""Check characters and CRCs, from the published rules in words: every one as sums over positions or
long division, where the product goes character by character."""

ALNUM = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

DAMM = [[int(c) for c in row] for row in (
    "0317598642 7092154863 4206871359 1750983426 6123045978 "
    "3674209581 5869720134 8945362017 9438617205 2581436790").split()]


def luhn(text):
    total = 0
    for place, c in enumerate(reversed(text)):
        value = int(c) * (2 - place % 2)
        total += value // 10 + value % 10
    return str(-total % 10)


def gs1(text):
    return str(-sum(int(c) * (3 - 2 * (place % 2)) for place, c in enumerate(reversed(text))) % 10)


def pure(text, modulus, radix):
    """The one value that makes the weighted sum 1."""
    total = sum(ALNUM.index(c) * pow(radix, place, modulus)
                for place, c in enumerate(reversed(text), 1))
    return ALNUM[(1 - total) % modulus]


def mod_97_10(text):
    return f"{98 - int(text) * 100 % 97:02}"


def hybrid(text, modulus):
    """The one character with which the whole comes out as 1."""
    def rest(whole):
        product = modulus
        for c in whole[:-1]:
            product = ((product + ALNUM.index(c)) % modulus or modulus) * 2 % (modulus + 1)
        return (product + ALNUM.index(whole[-1])) % modulus
    return next(c for c in ALNUM[:modulus] if rest(text + c) == 1)


def damm(text):
    state = 0
    for c in text:
        state = DAMM[state][int(c)]
    return str(state)


def symmetry(value):
    """A symmetry of the pentagon as where its corners go: 0 to 4 turned, 5 to 9 mirrored first."""
    return tuple((value + corner if value < 5 else value - corner) % 5 for corner in range(5))


def verhoeff(text):
    once = (1, 5, 7, 6, 2, 8, 3, 0, 9, 4)
    names = {symmetry(value): value for value in range(10)}
    for check in range(10):
        turned = tuple(range(5))
        for place, c in enumerate(reversed(text + str(check))):
            value = int(c)
            for _ in range(place % 8):
                value = once[value]
            inner = symmetry(value)
            turned = tuple(turned[inner[corner]] for corner in range(5))
        if names[turned] == 0:
            return str(check)
    raise AssertionError("a digit always exists")


KINDS = {
    "luhn": luhn, "gs1-mod-10": gs1, "damm": damm, "verhoeff": verhoeff, "mod-97-10": mod_97_10,
    "mod-11-2": lambda text: pure(text, 11, 2).replace("A", "X"),
    "mod-37-2": lambda text: pure(text, 37, 2),
    "mod-11-10": lambda text: hybrid(text, 10), "mod-37-36": lambda text: hybrid(text, 36),
}


def covers(kind, character):
    return character in (ALNUM[:36] if kind in ("mod-37-2", "mod-37-36") else ALNUM[:10])


# The CRC catalogue's parameters: bits, polynomial, start, reflected, end
CATALOGUE = {
    "CRC-16/ARC": (16, 0x8005, 0, True, 0),
    "CRC-16/MODBUS": (16, 0x8005, 0xFFFF, True, 0),
    "CRC-16/XMODEM": (16, 0x1021, 0, False, 0),
    "CRC-16/IBM-3740": (16, 0x1021, 0xFFFF, False, 0),
    "CRC-16/SPI-FUJITSU": (16, 0x1021, 0x1D0F, False, 0),
    "CRC-16/KERMIT": (16, 0x1021, 0, True, 0),
    "CRC-16/IBM-SDLC": (16, 0x1021, 0xFFFF, True, 0xFFFF),
    "CRC-16/GENIBUS": (16, 0x1021, 0xFFFF, False, 0xFFFF),
    "CRC-32/ISO-HDLC": (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
    "CRC-32/BZIP2": (32, 0x04C11DB7, 0xFFFFFFFF, False, 0xFFFFFFFF),
    "CRC-32/MPEG-2": (32, 0x04C11DB7, 0xFFFFFFFF, False, 0),
    "CRC-32/CKSUM, no length": (32, 0x04C11DB7, 0, False, 0xFFFFFFFF),
    "CRC-32/ISCSI": (32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
}


def crc_of(name):
    """The parameters, or None when it is neither a name nor a spelling without one."""
    if name in CATALOGUE:
        return CATALOGUE[name]
    parts = name.split("/")
    if len(parts) != 5 or parts[0] not in ("8", "16", "24", "32") or parts[3] not in ("r", "n"):
        return None
    bits = int(parts[0])
    values = [parts[i] for i in (1, 2, 4)]
    if any(len(v) != bits // 4 or v.strip("0123456789abcdef") for v in values):
        return None
    found = (bits, int(values[0], 16), int(values[1], 16), parts[3] == "r", int(values[2], 16))
    return None if found in CATALOGUE.values() else found


def crc(name, data):
    """Division of bits, the first `bits` of them changed by the start value."""
    bits, poly, start, reflected, end = crc_of(name)
    line = [byte >> (i if reflected else 7 - i) & 1 for byte in data for i in range(8)]
    line += [0] * bits
    for i in range(bits):
        line[i] ^= start >> (bits - 1 - i) & 1
    for i in range(len(line) - bits):
        if line[i]:
            for j in range(bits):
                line[i + 1 + j] ^= poly >> (bits - 1 - j) & 1
    rest = line[-bits:]
    return int("".join(map(str, reversed(rest) if reflected else rest)), 2) ^ end
