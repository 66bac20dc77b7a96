"""Productions that bend the files of a card and the package as a file, in which only the texts are
signed, and what carries them: the card's volume, the station's memory."""

import struct

import card_writer
import container
import hostile
import hostile_cards
import memory
import sealed
from mutant import production, seeded
from world import SIGNERS


@production
def a_file_of_the_card(chance, mutant):
    start = seeded(chance)

    def change(files):
        now = start()
        path = now.choice(sorted(files))
        content = files[path]
        at = now.randrange(len(content))
        what = now.choice(["drop", "flip", "flip", "cut", "grow", "other"])
        if what == "drop":
            del files[path]
        elif what == "flip":
            files[path] = content[:at] + bytes([content[at] ^ 1 << now.randrange(8)]) + content[at + 1:]
        elif what == "other":
            files[path] = files[now.choice(sorted(files))]
        else:
            files[path] = content[:at] if what == "cut" else content + bytes(now.choice([1, 512]))
    (hostile_cards.files if chance.random() < 0.35 else hostile_cards.late)(change)(mutant.card)


@production
def the_card_s_work(chance, mutant):
    """No allotment, several, or one for a package that is not there."""
    start = seeded(chance)

    def change(files):
        now = start()
        text = files.pop("CARDSEAL/A01.TXT")
        del files["CARDSEAL/A01.S01"]
        for n in range(now.choice([0, 0, 1, 2, 3])):
            values = sealed.parse("allotment", text)
            values["station"] = now.choice(["orchard-1", "orchard-2", "orchard-3"])
            values["manifest"] = now.choice([values["manifest"], values["manifest"], hostile.OTHER])
            each = sealed.spell("allotment", values)
            files[f"CARDSEAL/A{n + 1:02}.TXT"] = each
            files[f"CARDSEAL/A{n + 1:02}.S01"] = SIGNERS["allot"].sign("allotment", each)
    hostile_cards.files(change)(mutant.card)


@production
def more_work_on_the_card(chance, mutant):
    """Up to three more allotments behind the first, most of them good; some by another signer."""
    start = seeded(chance)

    def change(files):
        now = start()
        text = files["CARDSEAL/A01.TXT"]
        for n in range(now.choice([1, 1, 2, 3])):
            values = sealed.parse("allotment", text)
            values["serial"] += n + 1
            if values["scheme"] is not None and values["first"] is not None:
                values["first"] += now.choice([0, 1, 1, 1000]) * values["count"] * (n + 1)
            key, value = now.choice([("units", values["units"])] * 5 + [
                ("station", "orchard-2"), ("manifest", hostile.OTHER), ("units", 1),
                ("units", 1000000), ("enrolment", 2), ("serial", 999999999), ("product", "other"),
                ("enabled-slots", 0xFFFFFFFF), ("class", "rework")])
            values[key] = value
            each = sealed.spell("allotment", values)
            if now.random() < 0.1:
                each = each[:now.randrange(1, len(each))]
            signer = now.choice(["allot"] * 8 + ["allot-2", "stranger"])
            files[f"CARDSEAL/A{n + 2:02}.TXT"] = each
            files[f"CARDSEAL/A{n + 2:02}.S01"] = SIGNERS[signer].sign("allotment", each)
    hostile_cards.files(change)(mutant.card)


@production
def the_log(chance, mutant):
    mutant.card.log = chance.random() < 0.5
    mutant.card.index["log-extent"] = chance.choice([None, (9000, 8), (1, 1), (2**32 - 1, 4194304)])


# The package as a file; what is between the texts is not signed

def on_package(mutant, change):
    before = mutant.card.world.bend_bytes or bytes
    mutant.card.world.bend_bytes = lambda data: change(before(data))


@production
def entries_of_the_package(chance, mutant):
    start = seeded(chance)

    def change(data):
        now, entries = start(), list(container.read(data).entries())
        at = now.randrange(len(entries))
        what = now.choice(["drop", "twice", "swap", "rename", "new", "empty", "long", "reverse"])
        if what == "drop":
            del entries[at]
        elif what == "twice":
            entries.insert(at, entries[at])
        elif what == "swap":
            entries[at], entries[at - 1] = entries[at - 1], entries[at]
        elif what == "reverse":
            entries.reverse()
        elif what == "new":
            entries.insert(at + 1, (now.choice([b"doc/zz", b"doc/.z", b"signoff/03", b"note"]), b"x"))
        else:
            name, content = entries[at]
            entries[at] = {"rename": (name + b"x", content), "empty": (name, b""),
                           "long": (name, content + b"x" * 9000)}[what]
        return container.write(entries)
    on_package(mutant, change)


@production
def many_sign_offs(chance, mutant):
    count = chance.choice([7, 8, 9, 9, 10])
    mutant.card.world.plan = [("release", {}), ("quality", {})] + [
        (chance.choice(["quality-2", "quality"]), {"reason": f"again {n}"}) for n in range(count - 2)]


def header_places(data):
    at, out = 0, []
    for _, content in container.read(data).entries():
        out.append((at, len(content)))
        at += 512 + len(content) + -len(content) % 512
    return out, at


@production
def a_header_of_the_package(chance, mutant):
    start = seeded(chance)

    def change(data):
        now = start()
        at, _ = now.choice(header_places(data)[0])
        block = bytearray(data[at:at + 512])
        block[now.randrange(512)] ^= 1 << now.randrange(8)
        if now.random() < 0.7:
            block[148:156] = b" " * 8
            block[148:156] = b"%06o\0 " % sum(block)
        return data[:at] + bytes(block) + data[at + 512:]
    on_package(mutant, change)


@production
def padding_of_the_package(chance, mutant):
    start = seeded(chance)

    def change(data):
        now = start()
        places = [(at + 512 + size, -size % 512) for at, size in header_places(data)[0] if size % 512]
        at, room = now.choice(places)
        at += now.randrange(room)
        return data[:at] + bytes([now.randrange(1, 256)]) + data[at + 1:]
    on_package(mutant, change)


@production
def the_end_of_the_package(chance, mutant):
    start = seeded(chance)

    def change(data):
        now, end = start(), header_places(data)[1]
        at = now.randrange(end, len(data))
        return now.choice([data[:now.randrange(512, len(data))], data + bytes(now.randrange(1, 600)),
                           data[:at] + b"\1" + data[at + 1:], data[:at], data + data[:512]])
    on_package(mutant, change)


@production
def contents_of_the_package(chance, mutant):
    """After the manifest was made: chain, image, facts or a document differ."""
    w, start = mutant.card.world, seeded(chance)
    w.documents.append(("zz.txt", b"a document"))

    def change(package):
        now = start()
        what = now.choice(["chain", "image", "image", "facts", "document"])
        content = package.documents[-1][1] if what == "document" else getattr(package, what)
        at = now.randrange(len(content))
        content = now.choice([content[:at] + bytes([content[at] ^ 1 << now.randrange(8)]) +
                              content[at + 1:], content[:at] or b"x", content + b"x"])
        if what == "document":
            package.documents[-1] = ("zz.txt", content)
        else:
            setattr(package, what, content)
    w.bend_package = change


# The card's volume, the station's memory, and faults of both; none of it is signed

def put(file, at, content):
    file.seek(at)
    file.write(content)


@production
def the_volume(chance, mutant):
    """Fields of the first sectors, at and beyond what they allow."""
    in_table = chance.random() < 0.4
    mutant.card.start = 8192 if in_table else chance.choice([0, 8192])
    at, size = chance.choice([(446, 1), (450, 1), (454, 4), (458, 4), (466, 1), (498, 1), (510, 2)]) \
        if in_table else chance.choice([(0, 1), (2, 1), (11, 2), (13, 1), (14, 2), (16, 1), (17, 2),
                                        (19, 2), (21, 1), (22, 2), (32, 4), (36, 4), (40, 2), (42, 2),
                                        (44, 4), (82, 1), (510, 1), (3, 4), (64, 1), (71, 2)])
    value = chance.choice([0, 1, 2, 3, 7, 8, 0x0B, 0x0C, 0xE9, 0xEB, 0xF0, 0xF8, 0xFF, 512, 65535,
                           65541, 66607, 1 << 31, (1 << 32) - 1, chance.getrandbits(32)])
    value = (value & (1 << 8 * size) - 1).to_bytes(size, "little")

    def bend(file, files, start):
        put(file, at + (0 if in_table else start * 512), value)
    mutant.bend_image = bend


@production
def a_chain_of_the_card(chance, mutant):
    now = seeded(chance)

    def bend(file, files, start):
        source = now()
        placed = card_writer.place(files, start)
        chain = list(placed.chains[source.choice(sorted(placed.chains))]) or [2]
        cluster = source.choice(chain)
        value = source.choice([0, 1, 2, cluster, cluster + 1, cluster + 2, 65542, 65543, 0x0FFFFFF7,
                               0x0FFFFFF8, 0x0FFFFFFF, 0xFFFFFFFF, 0xF0000000 | cluster + 1])
        put(file, (start + card_writer.RESERVED) * 512 + 4 * cluster, struct.pack("<I", value))
    mutant.bend_image = bend


@production
def an_entry_of_a_folder(chance, mutant):
    now = seeded(chance)

    def bend(file, files, start):
        source = now()
        placed = card_writer.place(files, start)
        folder = source.choice(["", "CARDSEAL/"])
        count = len(placed.members(files, folder.rstrip("/"))) + 2
        at = placed.lba(folder) * 512 + 32 * source.randrange(count)
        field, size = source.choice([(0, 1), (1, 1), (11, 1), (20, 2), (26, 2), (28, 4), (28, 4)])
        value = source.choice([0, 1, 2, 3, 8, 0x10, 0x20, 0xE5, 511, 513, 65541, 1 << 28, (1 << 32) - 1,
                               source.getrandbits(32)])
        put(file, at + field, (value & (1 << 8 * size) - 1).to_bytes(size, "little"))
    mutant.bend_image = bend


@production
def a_sector_that_fails(chance, mutant):
    last = card_writer.RESERVED + 2 * card_writer.FAT_SECTORS
    mutant.broken = chance.choice([0, card_writer.RESERVED, last, last + 1,
                                   last + chance.randrange(200), chance.randrange(1, last)])


@production
def a_memory_that_fails(chance, mutant):
    mutant.write_fails = chance.randrange(20)


@production
def the_memory_s_bytes(chance, mutant):
    first, second = chance.choice([(None, None), (None, 0xA5), (0xFF, None), (0, None), (0xA5, 0),
                                   (chance.randrange(256), None), (0xFF, 0xFF), (0, 0)])
    at = chance.randrange(memory.SLOT)
    bit = 1 << chance.randrange(8)

    def bend(store):
        if first is None and second is None:
            store[at] ^= bit
        for place, value in ((0, first), (memory.STRIDE, second)):
            if value is not None:
                store[place] = value
    mutant.bend_store = bend
