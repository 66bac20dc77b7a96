"""Sealed texts, read and spelled from lib/format/SPEC.md, "Sealed texts" and the kinds' tables.

`parse(kind, bytes)` gives a dict, or raises Refusal with the reason and the line. A line with one
field is its value, with several a tuple, `-` is None; repeated lines are a list of tuples.
`spell(kind, values)` writes the one form; parse() checks that it comes back to the same bytes.
"""

import datetime
import re


class Refusal(Exception):
    """A numbered reason; `position` is a line, a byte or a block, as REASONS.md has it."""

    def __init__(self, reason, position=0, note=""):
        super().__init__(f"{reason} at {position} {note}")
        self.reason = reason
        self.position = position
        self.note = note


MAX_LINE = 255

# (key, fields, lines), each row as its table in SPEC.md has it.
KINDS = {
    "root": (8192, [
        ("owner", "[digest]", "1"),
        ("version", "uint 1..999999", "1"),
        ("threshold", "uint 1..16", "1"),
        ("persons", "uint 1..16", "1"),
        ("person", "id 16, quoted 24 people", "1..16 by first"),
        ("keys", "uint 1..16", "1"),
        ("key", "hex 64, id 16", "1..16 by first"),
        ("previous", "[digest]", "1"),
    ]),
    "trust": (8192, [
        ("owner", "digest", "1"),
        ("root-version", "uint 1..999999", "1"),
        ("sequence", "uint 1..999999999", "1"),
        ("previous", "[digest]", "1"),
        ("time", "utc", "1"),
        ("persons", "uint 1..16", "1"),
        ("person", "id 16, quoted 24 people", "1..16 by first"),
        ("keys", "uint 0..16", "1"),
        ("key", "hex 64, id 16, word release/quality/allot/withdraw/engineering, [id 16], "
                "word active/revoked", "0..16 by first"),
        ("thresholds", "uint 0..5", "1"),
        ("threshold", "word release/quality/allot/withdraw/engineering, uint 1..8",
         "0..5 by first"),
        ("products", "uint 0..8", "1"),
        ("product", "id 16, uint 0..999999, uint 1..999999999", "0..8 by first"),
        ("windows", "uint 0..12", "1"),
        ("window", "hex 64, id 16, uint 0..999999999999, uint prev..999999999999",
         "0..12 by all"),
        ("withdrawn", "uint 0..32", "1"),
        ("manifest", "digest", "0..32 by all"),
    ]),
    "manifest": (8192, [
        ("owner", "digest", "1"),
        ("product", "id 16", "1"),
        ("release", "quoted 24 display", "1"),
        ("epoch", "uint 0..999999", "1"),
        ("sequence", "uint 1..999999999", "1"),
        ("title", "quoted 24 display", "1"),
        ("previous", "[digest]", "1"),
        ("device", "id 32", "1"),
        ("device-id", "[uint 1..8, hex 2..16, hex 2..16]", "1"),
        ("board", "id 32, uint 0..999999", "1"),
        ("station-models", "uint 1..8", "1"),
        ("station-model", "id 16", "1..8 by all"),
        ("slots", "hex 8", "1"),
        ("supply", "word station/board, uint 0..60000", "1"),
        ("erase", "word none/chip", "1"),
        ("blank", "word no/yes", "1"),
        ("verify", "word none/nominal/low-high", "1"),
        ("lock", "word none/reversible/permanent", "1"),
        ("kept", "uint 0..16", "1"),
        ("kept-range", "id 16, uint 0..4294967295, uint 1..4294967295", "0..16 by all"),
        ("stop-after", "uint 0..99", "1"),
        ("scheme", "[id 16, uint 0..9999999999999999999, uint 1..999999, "
                   "uint 1..1000000000000]", "1"),
        ("parts", "uint 0..8", "1"),
        ("part", "uint 1..8, word literal/number, [quoted 16 display], [uint 10..10], "
                 "[uint 1..19]", "0..8 by first"),
        ("placements", "uint 0..8", "1"),
        ("placement", "id 16, uint 0..4294967295, uint 1..64, word ascii/binary-be/binary-le, "
                      "word erased/placeholder", "0..8 by all"),
        ("segments", "uint 1..64", "1"),
        ("segment", "uint 0..4294967295, uint 1..2147483647", "1..64 by all"),
        ("image", "uint 1..2147483647, digest", "1"),
        ("chain-head", "digest", "1"),
        ("plain-file", "word no/yes", "1"),
        ("facts", "uint 1..65536, digest", "1"),
        ("files", "uint 0..8", "1"),
        ("file", "quoted 24 display, uint 0..2147483647, digest", "0..8 by first"),
    ]),
    "signoff": (2048, [
        ("owner", "digest", "1"),
        ("manifest", "digest", "1"),
        ("product", "id 16", "1"),
        ("epoch", "uint 0..999999", "1"),
        ("sequence", "uint 1..999999999", "1"),
        ("role", "word release/quality/allot/withdraw/engineering", "1"),
        ("person", "id 16", "1"),
        ("key", "hex 64", "1"),
        ("meaning", "quoted 64 people", "1"),
        ("reason", "quoted 96 people", "1"),
        ("time", "utc", "1"),
        ("previous", "[digest]", "1"),
        ("trust-sequence", "uint 1..999999999", "1"),
        ("units-a-station", "[uint 1..9999999]", "1"),
        ("stations", "[uint 1..9999]", "1"),
        ("numbers", "[uint 0..999999999999, uint prev..999999999999]", "1"),
        ("plain-file", "word no/yes", "1"),
        ("tool", "quoted 24 display", "1"),
    ]),
    "withdrawal": (2048, [
        ("owner", "digest", "1"),
        ("manifest", "[digest]", "1"),
        ("key", "[hex 64]", "1"),
        ("allotment", "[digest]", "1"),
        ("person", "id 16", "1"),
        ("reason", "quoted 96 people", "1"),
        ("time", "utc", "1"),
    ]),
    "allotment": (2048, [
        ("owner", "digest", "1"),
        ("manifest", "digest", "1"),
        ("product", "id 16", "1"),
        ("scheme", "[id 16]", "1"),
        ("card", "hex 16", "1"),
        ("station", "id 16", "1"),
        ("enrolment", "uint 1..999999", "1"),
        ("serial", "uint 1..999999999", "1"),
        ("first", "uint 0..999999999999", "1"),
        ("count", "uint 0..9999999", "1"),
        ("units", "uint 1..9999999", "1"),
        ("class", "word engineering/pilot/production/rework/sample", "1"),
        ("work-order", "quoted 24 display", "1"),
        ("enabled-slots", "hex 8", "1"),
        ("date-code", "[quoted 16 display]", "1"),
        ("register-entry", "[digest]", "1"),
    ]),
    "card": (8192, [
        ("owner", "digest", "1"),
        ("card-id", "hex 16", "1"),
        ("root-version", "uint 1..999999", "1"),
        ("trust-sequence", "uint 1..999999999", "1"),
        ("log-extent", "[uint 1..4294967295, uint 1..4194304]", "1"),
        ("packages", "uint 0..8", "1"),
        ("package", "quoted 40 display, uint 1..2147483647, digest, digest", "0..8 by first"),
        ("allotments", "uint 0..8", "1"),
        ("allotment", "quoted 40 display, uint 0..2147483647, digest", "0..8 by first"),
        ("files", "uint 0..24", "1"),
        ("file", "quoted 40 display, uint 0..2147483647, digest", "0..24 by first"),
    ]),
    "facts": (65536, [
        ("owner", "digest", "1"),
        ("product", "id 16", "1"),
        ("release", "quoted 24 display", "1"),
        ("firmware", "quoted 64 people, uint 1..2147483647, digest, word intel-hex/raw", "1"),
        ("checksums", "uint 0..16", "1"),
        ("checksum", "quoted 32 display, hex 8, hex 2", "0..16 by all"),
        ("device-supply", "uint 0..60000, uint prev..60000, uint prev..60000", "1"),
        ("board-supply", "uint 0..60000, uint prev..60000", "1"),
        ("stations", "uint 0..8", "1"),
        ("station", "id 16, word signed-package/plain-file, hex 8, uint 0..60000, "
                    "uint prev..60000, uint 1..10000, word none/type-0b/type-0c, uint 1..64, "
                    "uint 1..4194304, quoted 11 display", "0..8 by first"),
        ("plain-files", "uint 0..8", "1"),
        ("plain", "id 16, quoted 40 display, word intel-hex/raw, uint 1..255, word lf/crlf, "
                  "quoted 32 display, hex 8", "0..8 by first"),
        ("findings-counted", "uint 0..999999", "1"),
        ("findings", "uint 0..100", "1"),
        ("finding", "uint 1..100, word note/warn/refuse, id 32, quoted 192 people",
         "0..100 by first"),
        ("tool", "quoted 24 display", "1"),
    ]),
}

HARMFUL = [
    (0x0000, 0x001F), (0x007F, 0x009F), (0x00AD, 0x00AD), (0x034F, 0x034F), (0x061C, 0x061C),
    (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F), (0x200B, 0x200F), (0x2028, 0x202E),
    (0x2060, 0x206F), (0x3164, 0x3164), (0xE000, 0xF8FF), (0xFDD0, 0xFDEF), (0xFE00, 0xFE0F),
    (0xFEFF, 0xFEFF), (0xFFA0, 0xFFA0), (0xFFF0, 0xFFFB), (0x1D173, 0x1D17A), (0xE0000, 0xE0FFF),
    (0xF0000, 0x10FFFF),
]

UINT = re.compile(rb"0|[1-9][0-9]{0,18}")
DIGEST = re.compile(rb"sha256:[0-9a-f]{64}")
ID = re.compile(rb"[a-z][a-z0-9-]{0,31}")
UTC = re.compile(rb"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)Z", re.ASCII)


class Field:
    """One field of a table: its type, and what the type needs to know."""

    def __init__(self, words):
        self.type, *rest = words.split()
        if self.type == "uint":
            low, high = rest[0].split("..")
            self.low = None if low == "prev" else int(low)
            self.high = int(high)
        elif self.type == "hex":
            self.digits = None if ".." in rest[0] else int(rest[0])
        elif self.type == "id":
            self.longest = int(rest[0])
        elif self.type == "quoted":
            self.longest, self.people = int(rest[0]), rest[1] == "people"
        elif self.type == "word":
            self.words = rest[0].split("/")


def columns_of(text):
    """[digest], uint 1..2 -> [([Field], True), ([Field], False)]: groups, and may they be `-`?"""
    groups = []
    for piece in re.findall(r"\[[^]]*\]|[^,\[\]]+", text):
        piece = piece.strip()
        if piece:
            optional = piece.startswith("[")
            groups.append(([Field(f.strip()) for f in piece.strip("[]").split(",")], optional))
    return groups


class Row:
    def __init__(self, key, fields, lines):
        self.key = key
        self.groups = columns_of(fields)
        self.repeated = lines != "1"
        self.by_first = lines.endswith("by first")
        if self.repeated:
            self.low, self.high = (int(n) for n in lines.split()[0].split(".."))
        self.single = len(self.groups) == 1 and len(self.groups[0][0]) == 1


SCHEMAS = {kind: (limit, [Row(*row) for row in rows]) for kind, (limit, rows) in KINDS.items()}


def harmless(text):
    return not any(
        any(low <= ord(c) <= high for low, high in HARMFUL) or ord(c) & 0xFFFE == 0xFFFE
        for c in text)


class Cursor:
    """The fields of one line, taken from the left. A field that is not there is 105."""

    def __init__(self, rest, line):
        self.rest = rest  # None: nothing follows the key or the field before
        self.line = line

    def fail(self, reason, note=""):
        raise Refusal(reason, self.line, note)

    def token(self):
        if self.rest is None:
            self.fail(105, "field missing")
        token, space, rest = self.rest.partition(b" ")
        self.rest = rest if space else None
        return token

    def none(self):
        if self.rest is not None and (self.rest == b"-" or self.rest.startswith(b"- ")):
            self.token()
            return True
        return False

    def quoted(self):
        if self.rest is None:
            self.fail(105, "field missing")
        if not self.rest.startswith(b'"'):
            self.fail(106, "no quote")
        close = self.rest.find(b'"', 1)
        if close < 0 or self.rest[close + 1:close + 2] not in (b"", b" "):
            self.fail(106, "quote not closed")
        inside = self.rest[1:close]
        self.rest = self.rest[close + 2:] if len(self.rest) > close + 1 else None
        return inside

    def end(self):
        if self.rest is not None:
            self.fail(105, "too many fields")


def take_uint(cursor, field, before):
    token = cursor.token()
    if not UINT.fullmatch(token):
        cursor.fail(106, "number")
    value = int(token)
    low = before if field.low is None else field.low
    if not low <= value <= field.high:
        cursor.fail(107, "number")
    return value


def take_hex(cursor, field, before_first):
    token = cursor.token()
    digits = field.digits or 2 * before_first
    if not re.fullmatch(rb"[0-9a-f]{%d}" % digits, token):
        cursor.fail(106, "hex")
    return token.decode()


def take_utc(cursor):
    token = cursor.token()
    match = UTC.fullmatch(token)
    if not match:
        cursor.fail(106, "time")
    year, *others = (int(part) for part in match.groups())
    try:  # Python's years start at 1; the calendar repeats every 400 years
        datetime.datetime(year or 400, *others)
    except ValueError:
        cursor.fail(106, "no such time")
    return token.decode()


def take_quoted(cursor, field):
    inside = cursor.quoted()
    try:
        text = inside.decode("utf-8" if field.people else "ascii")
    except UnicodeDecodeError:
        cursor.fail(106, "characters")
    if not text or "\\" in text or not harmless(text):
        cursor.fail(106, "characters")
    if len(inside) > field.longest:
        cursor.fail(107, "too long")
    return text


def take(cursor, field, taken):
    """`taken`: the values of this group before."""
    if field.type == "uint":
        return take_uint(cursor, field, taken[-1] if taken else None)
    if field.type == "hex":
        return take_hex(cursor, field, taken[0] if taken else None)
    if field.type == "utc":
        return take_utc(cursor)
    if field.type == "quoted":
        return take_quoted(cursor, field)
    token = cursor.token()
    if field.type == "digest":
        if not DIGEST.fullmatch(token):
            cursor.fail(106, "digest")
    elif not ID.fullmatch(token):
        cursor.fail(106, "id")
    elif field.type == "word" and token.decode() not in field.words:
        cursor.fail(106, "word")
    elif field.type == "id" and len(token) > field.longest:
        cursor.fail(107, "id too long")
    return token.decode()


def take_groups(cursor, groups):
    values = []
    flat = []  # for `prev` across a group's start
    for fields, optional in groups:
        if optional and cursor.none():
            values.append(None)
            continue
        group = []
        for field in fields:
            group.append(take(cursor, field, group if optional else flat))
            flat.append(group[-1])
        if optional and len(fields) > 1:
            values.append(tuple(group))
        else:
            values.extend(group)
    cursor.end()
    return tuple(values)


class Lines:
    def __init__(self, text):
        self.text = text
        self.at = 0
        self.line = 0

    def next(self):
        """The next line without its line feed; 110 when there is none."""
        self.line += 1
        if self.at >= len(self.text):
            raise Refusal(110, self.line, "ends early")
        feed = self.text.find(b"\n", self.at, self.at + MAX_LINE)
        if feed < 0:
            raise Refusal(103, self.line)
        line = self.text[self.at:feed]
        self.at = feed + 1
        return line

    def row(self, key):
        line = self.next()
        found, space, rest = line.partition(b" ")
        if found != key.encode():
            raise Refusal(104, self.line, f"expected {key}")
        return Cursor(rest if space else None, self.line)


def order_key(values, by_first):
    def one(value):
        return value if isinstance(value, int) else str(value).encode()
    return one(values[0]) if by_first else [one(v) for v in values]


def read_list(lines, row, count):
    items = []
    for _ in range(count):
        values = take_groups(lines.row(row.key), row.groups)
        if items and not order_key(items[-1], row.by_first) < order_key(values, row.by_first):
            raise Refusal(109, lines.line)
        items.append(values)
    return items


def read_count(lines, row, low, high):
    cursor = lines.row(row.key)
    token = cursor.token()
    if not UINT.fullmatch(token):
        cursor.fail(106)
    cursor.end()
    if int(token) > high:
        cursor.fail(108)
    if int(token) < low:
        cursor.fail(107)
    return int(token)


def rule_holds(kind, key, v):
    """The rules between lines that stand under each table."""
    if (kind, key) in (("root", "key"), ("trust", "key")):
        persons = {person[0] for person in v["person"]}
        return all(k[1] in persons for k in v["key"])
    if (kind, key) == ("root", "previous"):
        first = v["version"] == 1
        return ((v["owner"] is None) == first and (v["previous"] is None) == first and
                v["threshold"] <= min(len(v["person"]), len(v["key"])))
    if (kind, key) == ("manifest", "part"):
        for place, (index, what, literal, base, digits) in enumerate(v["part"], 1):
            there = (literal is not None, base is not None, digits is not None)
            wanted = (True, False, False) if what == "literal" else (False, True, True)
            if index != place or there != wanted:
                return False
    if (kind, key) == ("manifest", "placement"):
        return bool(v["part"]) if v["scheme"] else not v["part"] and not v["placement"]
    if (kind, key) == ("withdrawal", "allotment"):
        return sum(v[k] is not None for k in ("manifest", "key", "allotment")) == 1
    if (kind, key) == ("allotment", "register-entry"):
        return (v["count"] == 0) == (v["scheme"] is None)
    return True


def parse(kind, text):
    limit, rows = SCHEMAS[kind]
    if len(text) > limit:
        raise Refusal(101, 0)
    lines = Lines(text)
    if lines.next() != b"cardseal-%s 1" % kind.encode():
        raise Refusal(102, 1)
    values = {}
    for at, row in enumerate(rows):
        if row.repeated:
            values[row.key] = read_list(lines, row, values[rows[at - 1].key])
        elif at + 1 < len(rows) and rows[at + 1].repeated:
            values[row.key] = read_count(lines, row, rows[at + 1].low, rows[at + 1].high)
        else:
            taken = take_groups(lines.row(row.key), row.groups)
            values[row.key] = taken[0] if len(row.groups) == 1 and len(taken) == 1 else taken
        if not rule_holds(kind, row.key, values):
            raise Refusal(111, lines.line)
    if lines.at != len(text):
        raise Refusal(110, lines.line + 1, "goes on")
    if spell(kind, values) != text:
        raise AssertionError(f"an accepted {kind} text has two spellings")
    return values


def spell_field(field, value):
    if field.type == "quoted":
        return f'"{value}"'
    return str(value)


def spell_groups(groups, values):
    out = []
    values = list(values)
    for fields, optional in groups:
        if not optional:
            out += [spell_field(field, values.pop(0)) for field in fields]
            continue
        value = values.pop(0)
        if value is None:
            out.append("-")
        else:
            group = value if len(fields) > 1 else (value,)
            out += [spell_field(field, one) for field, one in zip(fields, group)]
    return " ".join(out)


def spell(kind, values):
    """Counts are taken from the lists; nothing is checked, so that tests can spell what is wrong."""
    _, rows = SCHEMAS[kind]
    out = [f"cardseal-{kind} 1"]
    for at, row in enumerate(rows):
        if row.repeated:
            out += [f"{row.key} {spell_groups(row.groups, item)}" for item in values[row.key]]
        elif at + 1 < len(rows) and rows[at + 1].repeated:
            out.append(f"{row.key} {len(values[rows[at + 1].key])}")
        else:
            value = values[row.key]
            several = not row.single and not (len(row.groups) == 1 and row.groups[0][1])
            out.append(f"{row.key} {spell_groups(row.groups, value if several else [value])}")
    return ("\n".join(out) + "\n").encode()
