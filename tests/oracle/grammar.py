"""Changes of a sealed text by its own grammar: the tables of kinds.py say which lines, fields and
values there are, and each change takes one to, at or beyond what the table allows. What comes out
is spelled, and signed, again."""

import copy

import sealed

DIGITS = "0123456789abcdef"
DATES = ["0000-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "2024-02-29T00:00:00Z",
         "2023-02-29T00:00:00Z", "2100-02-29T12:00:00Z", "2000-02-29T12:00:00Z",
         "2026-13-01T00:00:00Z", "2026-00-10T00:00:00Z", "2026-01-00T00:00:00Z",
         "2026-04-31T00:00:00Z", "2026-01-01T24:00:00Z", "2026-01-01T23:60:00Z",
         "2026-01-01T23:59:60Z", "2026-01-01t00:00:00Z", "2026-01-01T00:00:00", "-"]
CHARACTERS = ['"', "\\", "\t", "\u200b", "\u202e", "\ufffe", "å", "\x7f", "  ", "\ue000", "-", " "]


def hex_of(chance, count):
    return "".join(chance.choice(DIGITS) for _ in range(count))


def uint_value(chance, field, now):
    low = field.low or 0
    near = now if isinstance(now, int) else low
    return chance.choice([
        low, field.high, low - 1, field.high + 1, near + 1, near - 1, chance.randint(low, field.high),
        chance.randint(low, min(field.high, low + 99)), 1 << 32, 1 << 63, (1 << 64) - 1, 10**19,
        f"0{near}", f"+{near}", f"{near}.0", "", "-", "1e3"])


def hex_value(chance, count):
    good = hex_of(chance, count)
    return chance.choice([good, good, "0" * count, "f" * count, good.upper() + "A", good[1:],
                          good + "0", "g" + good[1:], "A" + good[1:]])


def digest_value(chance, now):
    good = "sha256:" + hex_of(chance, 64)
    return chance.choice([good, good, good[:-1], good + "0", good.upper(), "sha512:" + good[7:],
                          good[7:], "-", str(now)[:-1] + chance.choice(DIGITS)])


def id_value(chance, field, now):
    return chance.choice(["other", "a", "x" * field.longest, "x" * (field.longest + 1), "9a", "-a",
                          "Abc", "a_b", "a-", "", f"{now}x"])


def quoted_value(chance, field, now):
    text = f"{now}"
    at = chance.randrange(len(text) + 1)
    inside = text[:at] + chance.choice(CHARACTERS) + text[at:]
    return chance.choice(["x", "Reviewed again", "x" * field.longest, "x" * (field.longest + 1), "",
                          text[1:], text + "1", inside, inside, "x" * 250])


def word_value(chance, field):
    return chance.choice(field.words + field.words + ["other", field.words[0].upper(), "-"])


def value_of(chance, field, now=None, first=None):
    if field.type == "uint":
        return uint_value(chance, field, now)
    if field.type == "hex":
        known = field.digits or 2 * (first if isinstance(first, int) and first < 9 else 1)
        return hex_value(chance, known)
    if field.type == "utc":
        return chance.choice(DATES)
    if field.type == "digest":
        return digest_value(chance, now)
    if field.type == "id":
        return id_value(chance, field, now)
    if field.type == "quoted":
        return quoted_value(chance, field, now)
    return word_value(chance, field)


def group_value(chance, fields):
    values = []
    for field in fields:
        values.append(value_of(chance, field, None, values[0] if values else None))
    return tuple(values) if len(values) > 1 else values[0]


def changed_group(chance, fields, now):
    """Of an optional group: there or not, or one field of it."""
    if now is None:
        return group_value(chance, fields)
    if chance.random() < 0.3:
        return None
    if len(fields) == 1:
        return value_of(chance, fields[0], now)
    at = chance.randrange(len(fields))
    return now[:at] + (value_of(chance, fields[at], now[at], now[0]),) + now[at + 1:]


def changed_line(chance, row, values):
    """`values`: of the line, a tuple as the groups want it."""
    places = []  # (place in values, field or fields, optional)
    at = 0
    for fields, optional in row.groups:
        if optional:
            places.append((at, fields, True))
            at += 1
        else:
            for field in fields:
                places.append((at, field, False))
                at += 1
    at, fields, optional = chance.choice(places)
    change = changed_group(chance, fields, values[at]) if optional else \
        value_of(chance, fields, values[at], values[0])
    return values[:at] + (change,) + values[at + 1:]


def fresh_line(chance, row):
    values = []
    for fields, optional in row.groups:
        if optional:
            values.append(changed_group(chance, fields, None))
        else:
            values += [value_of(chance, field) for field in fields]
    return tuple(values)


def changed_list(chance, row, items):
    items = list(items)
    what = chance.choice(["line", "line", "line", "drop", "twice", "swap", "add", "full", "over",
                          "none"])
    if what in ("full", "over") or not items and what in ("line", "drop", "twice", "swap"):
        count = row.high + (what == "over") - len(items) if what in ("full", "over") else 1
        return items + [changed_line(chance, row, items[-1]) if items else fresh_line(chance, row)
                        for _ in range(count)]
    at = chance.randrange(len(items)) if items else 0
    if what == "line":
        items[at] = changed_line(chance, row, items[at])
    elif what == "drop":
        del items[at]
    elif what == "twice":
        items.insert(at, items[at])
    elif what == "swap":
        items[at], items[at - 1] = items[at - 1], items[at]
    elif what == "add":
        items.append(changed_line(chance, row, items[at]) if items else fresh_line(chance, row))
        if chance.random() < 0.5:
            items.sort(key=str)
    else:
        items = []
    return items


def changed_values(chance, kind, values, keys=None):
    """A copy with one line changed, one of `keys` if they are named."""
    _, rows = sealed.SCHEMAS[kind]
    values = copy.copy(values)
    rows = [row for row in rows if row.key in values and (keys is None or row.key in keys)]
    row = chance.choice(rows)
    now = values[row.key]
    if row.repeated:
        values[row.key] = changed_list(chance, row, now)
    elif is_single(row):
        values[row.key] = changed_line(chance, row, (now,))[0]
    else:
        values[row.key] = changed_line(chance, row, now)
    return values


def is_single(row):
    return row.single or len(row.groups) == 1 and row.groups[0][1]


def count_line_changed(chance, kind, text):
    """A count that does not fit the lines that follow it, or is no count."""
    _, rows = sealed.SCHEMAS[kind]
    counts = [(row.key, after.high) for row, after in zip(rows, rows[1:]) if after.repeated]
    if not counts:
        return text
    key, high = chance.choice(counts)
    lines = text.split(b"\n")
    for at, line in enumerate(lines):
        if line.startswith(key.encode() + b" "):
            now = int(line.split()[1])
            said = chance.choice([now + 1, max(now - 1, 0), high, high + 1, high + 1, 999, f"0{now}",
                                  10**19, "-"])
            lines[at] = f"{key} {said}".encode()
    return b"\n".join(lines)
