"""Productions that bend any sealed text by its grammar or by its bytes."""

import random

import fuzz
import grammar
import hostile
import sealed
from mutant import production, seeded

TEXTS = ("manifest", "signoff", "facts", "trust", "root", "allotment", "card", "withdrawal")


def bend_text(mutant, kind, change):
    before = mutant.card.world.bend.get(kind, bytes)
    if kind == "withdrawal" and not mutant.card.world.withdrawals:
        mutant.card.world.withdrawals = [({"manifest": hostile.OTHER}, "quality")]
    mutant.card.world.bend[kind] = lambda text: change(before(text))


@production
def a_value_in_a_text(chance, mutant):
    kind = chance.choice(TEXTS)
    role, start = chance.choice(["release", "quality"]), seeded(chance)

    def change(text):
        values = sealed.parse(kind, text)
        if kind == "signoff" and values["role"] != role:
            return text
        return sealed.spell(kind, grammar.changed_values(start(), kind, values))
    bend_text(mutant, kind, change)


@production
def a_count_in_a_text(chance, mutant):
    kind, start = chance.choice(TEXTS), seeded(chance)
    bend_text(mutant, kind, lambda text: grammar.count_line_changed(start(), kind, text))


@production
def the_bytes_of_a_text(chance, mutant):
    bend_text(mutant, chance.choice(TEXTS), fuzz.change(chance))


@production
def the_length_of_a_text(chance, mutant):
    kind = chance.choice(TEXTS)
    limit = sealed.SCHEMAS[kind][0]
    size = chance.choice([0, 1, limit - 1, limit, limit + 1, limit + chance.randrange(2, 400)])
    bend_text(mutant, kind, lambda text: (text * (size // len(text) + 1))[:size])


@production
def the_kind_of_a_text(chance, mutant):
    kind, other = chance.choice(TEXTS), chance.choice(TEXTS + ("facts", "cards", "", "root"))
    number = chance.choice([b"1", b"1", b"2", b"01", b""])
    bend_text(mutant, kind, lambda text: b"cardseal-%s %s\n" % (other.encode(), number) +
              text.partition(b"\n")[2])


@production
def the_end_of_a_text(chance, mutant):
    kind, more = chance.choice(TEXTS), chance.choice([b"\n", b"more 1\n", b"x", None, None])

    def change(text):
        lines = text.splitlines(keepends=True)
        return text + more if more else b"".join(lines[:place_in(text, len(lines))])
    bend_text(mutant, kind, change)


def place_in(text, below):
    return random.Random(text).randrange(1, below)


@production
def two_lines_of_a_list(chance, mutant):
    """Neighbours exchanged, so that the list does not ascend."""
    kind, start = chance.choice(["trust", "root", "manifest", "card", "facts"]), seeded(chance)

    def change(text):
        lines = text.splitlines(keepends=True)
        keys = [line.split(b" ")[0] for line in lines]
        again = [at for at in range(1, len(lines)) if keys[at] == keys[at - 1]]
        if again:
            at = start().choice(again)
            lines[at - 1], lines[at] = lines[at], lines[at - 1]
        return b"".join(lines)
    bend_text(mutant, kind, change)


@production
def a_line_of_a_text(chance, mutant):
    """Its length, its end, its key, or how many fields it has."""
    start = seeded(chance)

    def change(text):
        now, lines = start(), text.splitlines()
        at = now.randrange(1, len(lines))
        fields = lines[at].split(b" ")
        what = now.choice(["long", "open", "key", "more", "fewer", "fewer"])
        if what == "long":
            lines[at] = lines[at].ljust(now.choice([253, 254, 255, 256, 300]), b"x")
        elif what == "open":
            return b"\n".join(lines)
        elif what == "key":
            lines[at] = now.choice([b"other", fields[0] + b"s", fields[0][:-1]]) + b" " + \
                b" ".join(fields[1:])
        else:
            lines[at] = b" ".join(fields[:-1] if what == "fewer" else fields + [b"1"])
        return b"\n".join(lines) + b"\n"
    bend_text(mutant, chance.choice(TEXTS), change)
