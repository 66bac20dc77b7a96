"""Sealed texts, read and spelled from lib/format/SPEC.md, "Sealed texts" and the kinds' tables.

`parse(kind, bytes)` gives a dict, or raises Refusal with the reason and the line. A line with one
field is its value, with several a tuple, `-` is None; repeated lines are a list of tuples.
`spell(kind, values)` writes the one form; parse() checks that it comes back to the same bytes.
"""

import datetime
import functools
import re

import checks
from kinds import HARMFUL, KINDS


class Refusal(Exception):
    """A numbered reason; `position` is a line, a byte or a block, as REASONS.md has it."""

    def __init__(self, reason, position=0, note=""):
        super().__init__(f"{reason} at {position} {note}")
        self.reason = reason
        self.position = position
        self.note = note


MAX_LINE = 255

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
    return text.isascii() and text.isprintable() or not any(
        any(low <= ord(c) <= high for low, high in HARMFUL) or ord(c) & 0xFFFE == 0xFFFE
        for c in text)


class Cursor:
    """The fields of one line, taken from the left. A field that is not there is 105."""

    def __init__(self, rest, line):
        self.rest = rest  # None: nothing follows the key or the field before
        self.line = line
        self.glued = False  # something other than a space follows the quoted field before

    def fail(self, reason, note=""):
        raise Refusal(reason, self.line, note)

    def there(self):
        if self.rest is None or self.glued:
            self.fail(105, "field missing")

    def token(self):
        self.there()
        token, space, rest = self.rest.partition(b" ")
        self.rest = rest if space else None
        return token

    def none(self):
        self.there()
        if self.rest == b"-" or self.rest.startswith(b"- "):
            self.token()
            return True
        return False

    def quoted(self):
        self.there()
        if not self.rest.startswith(b'"'):
            self.fail(106, "no quote")
        inside, quote, behind = self.rest[1:].partition(b'"')
        if not quote:
            self.fail(106, "quote not closed")
        self.rest = behind[1:] if behind else None
        self.glued = behind[:1] not in (b"", b" ")
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
    if "\\" in text or not harmless(text):
        cursor.fail(106, "characters")
    if not 1 <= len(inside) <= field.longest:
        cursor.fail(107, "length")
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
        cursor.fail(107, "word")
    elif field.type == "id" and len(token) > field.longest:
        cursor.fail(107, "id too long")
    return token.decode()


def take_groups(cursor, groups, rule=None):
    """`rule`: of the values, asked before anything that follows them on the line."""
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
    if rule and not rule(values):
        cursor.fail(111, "no such person")
    cursor.end()
    return tuple(values)


class Lines:
    def __init__(self, text, start):
        self.text = text
        self.at = start
        self.line = 1

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
        start = key.encode() + b" "  # a key without anything behind it is no key
        if not line.startswith(start):
            raise Refusal(104, self.line, f"expected {key}")
        return Cursor(line[len(start):], self.line)


def order_key(values, by_first):
    def one(value):
        return value if isinstance(value, int) else str(value).encode()
    return one(values[0]) if by_first else [one(v) for v in values]


def read_list(lines, row, count, rule=None):
    items = []
    for _ in range(count):
        values = take_groups(lines.row(row.key), row.groups, rule)
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


STANDARD = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
PART_FIELDS = {  # which of literal, base, width and check a part has
    "literal": (True, False, False, False), "number": (False, True, True, False),
    "date-code": (False, False, True, False), "class": (True, False, False, False),
    "check": (False, False, False, True)}


def alphabet_good(v):
    a = v["alphabet"]
    return a is None or (len(a) > 1 and len(set(a)) == len(a) and not STANDARD.startswith(a))


def excluded_good(v):
    ranges = v["excluded-range"]
    return all(a[1] + 1 < b[0] for a, b in zip(ranges, ranges[1:]))


def part_good(v, place, part):
    index, what, literal, base, width, check = part
    there = tuple(field is not None for field in (literal, base, width, check))
    if index != place or there != PART_FIELDS[what]:
        return False
    if what == "number":
        return v["alphabet"] is None or base == len(v["alphabet"])
    if what == "date-code":
        return width <= 16
    if what == "class":
        return len(literal) == 5 == len(set(literal))
    if what == "check":
        kind, first = check
        covered = v["part"][first - 1:place - 1]
        return bool(covered) and all(covers_part(v, kind, p) for p in covered)
    return True


def covers_part(v, kind, part):
    _, what, literal, base, _, _ = part
    if what == "date-code":
        return True  # asked of the allotment's
    if what == "check":
        return False
    given = (v["alphabet"] or STANDARD)[:base] if what == "number" else literal
    return all(checks.covers(kind, c) for c in given)


def placements_good(v):
    rest = (v["part"], v["placement"], v["excluded-range"], v["alphabet"], v["serial-crc"])
    if v["scheme"] is None:
        return not any(rest)
    return (sum(part[1] == "number" for part in v["part"]) == 1 and
            all((p[4] is None) == p[3].startswith("binary") for p in v["placement"]))


SERIAL_RULES = {
    "alphabet": alphabet_good,
    "serial-crc": lambda v: v["serial-crc"] is None or bool(checks.crc_of(v["serial-crc"][0])),
    "excluded-range": excluded_good,
    "part": lambda v: all(part_good(v, i, p) for i, p in enumerate(v["part"], 1)),
    "placement": placements_good,
}


def verify_good(v):
    word, limits = v["verify"]
    source, supply = v["supply"]
    if word != "low-high" or limits is None:
        return word != "low-high" and limits is None
    return source == "station" and limits[0] < limits[1] and limits[0] <= supply <= limits[1]


def spans_good(v):
    spans = v["span"]
    if v["numbers"] == "new":
        return not spans
    return (bool(spans) and spans[0][0] == v["first"] and
            all(b[0] > a[1] + 1 for a, b in zip(spans, spans[1:])) and
            sum(last - first + 1 for first, last in spans) == v["count"])


def rule_holds(kind, key, v):
    """The rules between lines that stand under each table."""
    if (kind, key) == ("root", "previous"):
        first = v["version"] == 1
        return ((v["owner"] is None) == first and (v["previous"] is None) == first and
                v["threshold"] <= min(len(v["person"]), len(v["key"])))
    if (kind, key) == ("manifest", "verify"):
        return verify_good(v)
    if kind == "manifest" and key in SERIAL_RULES:
        return SERIAL_RULES[key](v)
    if (kind, key) == ("withdrawal", "allotment"):
        return sum(v[k] is not None for k in ("manifest", "key", "allotment")) == 1
    if (kind, key) == ("allotment", "span"):
        return spans_good(v)
    if (kind, key) == ("allotment", "register-entry"):
        return (v["count"] == 0) == (v["scheme"] is None)
    return True


def line_rule(kind, key, v):
    """What a line of a list has to name, of the lines before the list."""
    if key == "key" and kind in ("root", "trust"):
        persons = {person[0] for person in v["person"]}
        return lambda line: line[1] in persons
    return None


def parse(kind, text):
    return dict(parsed(kind, text))


@functools.lru_cache(maxsize=256)
def parsed(kind, text):
    limit, rows = SCHEMAS[kind]
    if len(text) > limit:
        raise Refusal(101, 0)
    head = b"cardseal-%s 1\n" % kind.encode()
    if not text.startswith(head):
        raise Refusal(102, 1)
    lines = Lines(text, len(head))
    values = {}
    for at, row in enumerate(rows):
        if row.repeated:
            values[row.key] = read_list(lines, row, values[rows[at - 1].key],
                                        line_rule(kind, row.key, values))
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
