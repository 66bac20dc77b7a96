"""What a mutant is, and where productions are kept: each bends a card that is good, at random, at one
stage. All that is signed is signed after it was bent; what is not is said to be so."""

import random

import hostile_cards

PRODUCTIONS = {}


def production(make):
    PRODUCTIONS[make.__name__.replace("_s_", "'s_").replace("_", " ")] = make
    return make


class Mutant:
    """A card of `world`, which is bent, and what the station is and has met before."""

    def __init__(self, world):
        self.card = hostile_cards.CardWorld(world)
        self.past = []          # (station, files) -> None, before the station's memory is made
        self.bend_store = None  # bytearray -> None
        self.bend_image = None  # (open file, files, start) -> None
        self.broken = None      # sector
        self.write_fails = None
        self.made_of = []

    def add(self, chance, name):
        self.made_of.append(name)
        PRODUCTIONS[name](chance, self)


def seeded(chance):
    """A random source that starts anew at each call: bends are called more than once."""
    seed = chance.getrandbits(60)
    return lambda: random.Random(seed)
