"""All productions, and which of them are likely to give a reason."""

import bend_texts  # noqa: F401: these four fill PRODUCTIONS
import bend_values  # noqa: F401
import bend_past  # noqa: F401
import bend_files  # noqa: F401
import hostile
import hostile_cards
import hostile_container  # noqa: F401: adds to hostile.CASES
import hostile_roots  # noqa: F401: adds to hostile_cards.CASES
from mutant import PRODUCTIONS, Mutant  # noqa: F401

# What is known to be wrong in one thing, among other changes

def known(name, bend, on_card):
    def make(_, mutant):
        bend(mutant.card if on_card else mutant.card.world)
    PRODUCTIONS[name] = make


KNOWN = {}  # name: the reason that the pages give
for at_name, (at_reason, at_bend) in hostile.CASES.items():
    KNOWN[f"package: {at_name}"] = at_reason
    known(f"package: {at_name}", at_bend, False)
for at_name, (at_reason, at_bend) in hostile_cards.CASES.items():
    KNOWN[f"card: {at_name}"] = at_reason
    known(f"card: {at_name}", at_bend, True)

# Which production is likely to give a reason for which no known case stands.
HINTS = {
    101: "the length of a text", 102: "the kind of a text", 103: "a line of a text",
    104: "a line of a text", 105: "a line of a text", 106: "a value in a text",
    107: "a value in a text", 108: "a count in a text", 109: "two lines of a list",
    110: "the end of a text", 314: "list and root versions", 356: "list and root versions",
    366: "work with other releases", 367: "work with other releases",
    368: "work with other releases", 389: "work with other cards", 395: "work with other cards",
    501: "a sector that fails", 502: "the volume", 503: "the volume", 504: "a chain of the card",
    601: "the memory's bytes", 602: "the memory's bytes", 603: "a memory that fails",
    604: "stops met before"}

BASES = [name for name, reason in KNOWN.items() if reason == 0]
GRAMMAR = [name for name in PRODUCTIONS if name not in KNOWN]
