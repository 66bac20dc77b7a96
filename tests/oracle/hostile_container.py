"""Packages whose texts and signatures are good and whose form as a file is not."""

import container
from hostile import case, each, plan
from hostile_manifest import segments


def with_entries(change):
    """Bends the list of (name, content) before it is written."""
    def bend(w):
        def package_bytes(_):
            entries = w.package().entries()
            return container.write(change(entries) or entries)
        w.bend_bytes = package_bytes
    return bend


def dropped(name):
    return with_entries(lambda entries: [e for e in entries if e[0] != name])


def renamed(old, new):
    return with_entries(lambda entries: [(new if e[0] == old else e[0], e[1]) for e in entries])


def replaced(name, content):
    return with_entries(lambda entries: [(e[0], content if e[0] == name else e[1])
                                         for e in entries])


def swapped(first, second):
    def change(entries):
        out = list(entries)
        a = next(i for i, e in enumerate(out) if e[0] == first)
        b = next(i for i, e in enumerate(out) if e[0] == second)
        out[a], out[b] = out[b], out[a]
        return out
    return with_entries(change)


each(202, {
    "no manifest": dropped(b"manifest"),
    "no chain": dropped(b"chain"),
    "no image": dropped(b"image"),
    "no facts": dropped(b"facts"),
    "a signature missing": dropped(b"signoff/02.sig"),
    "a sign-off missing its text": dropped(b"signoff/02"),
    "sign-offs numbered from 02": lambda w: with_entries(
        lambda entries: [(n.replace(b"02", b"03").replace(b"01", b"02"), c)
                         for n, c in entries])(w),
    "sign-offs exchanged by name": swapped(b"signoff/01", b"signoff/02"),
    "image before chain": swapped(b"chain", b"image"),
    "facts before image": swapped(b"facts", b"image"),
    "an unknown entry": with_entries(lambda e: e + [(b"note", b"x")]),
    "a document in a folder": with_entries(lambda e: e + [(b"doc/zz/a.txt", b"x")]),
    "a document with a leading dot": with_entries(lambda e: e + [(b"doc/.z", b"x")]),
    "a document without a name": with_entries(lambda e: e + [(b"doc/", b"x")]),
    "a document of 25 characters": with_entries(lambda e: e + [(b"doc/" + b"z" * 25, b"x")]),
    "a document with a space": with_entries(lambda e: e + [(b"doc/z z", b"x")]),
    "a document twice": with_entries(lambda e: e + [(b"doc/zz", b"x"), (b"doc/zz", b"x")]),
    "documents out of order": with_entries(lambda e: e + [(b"doc/zz", b"x"), (b"doc/zy", b"x")]),
    "nine documents": with_entries(lambda e: [x for x in e if not x[0].startswith(b"doc/")] + [
        (b"doc/z%d" % i, b"x") for i in range(9)]),
    "a second manifest": with_entries(lambda e: e[:1] + e),
    "a third sign-off named 04": with_entries(lambda e: e[:5] + [
        (b"signoff/04", b"x"), (b"signoff/04.sig", b"x" * 64)] + e[5:]),
})
each(203, {
    "an empty manifest": replaced(b"manifest", b""),
    "a manifest of 8193 bytes": replaced(b"manifest", b"x" * 8193),
    "an empty sign-off": replaced(b"signoff/01", b""),
    "a sign-off of 2049 bytes": replaced(b"signoff/01", b"x" * 2049),
    "an empty signature": replaced(b"signoff/01.sig", b""),
    "a signature of 65 bytes": replaced(b"signoff/01.sig", b"x" * 65),
    "an empty chain": replaced(b"chain", b""),
    "an empty image": replaced(b"image", b""),
    "empty facts": replaced(b"facts", b""),
    "facts of 98305 bytes": replaced(b"facts", b"x" * 98305),
    "an empty document": with_entries(lambda e: e + [(b"doc/zz", b"")]),
})
each(207, {"nine sign-offs": plan("release", "quality", *["quality-2"] * 7)})


def raw(change):
    return lambda w: setattr(w, "bend_bytes", change)


def cut(count):
    return raw(lambda data: data[:-count])


def end_block(first, offset):
    def change(data):
        at = len(data) - (1024 if first else 512) + offset
        return data[:at] + b"\1" + data[at + 1:]
    return raw(change)


each(205, {
    "a byte appended": raw(lambda data: data + b"\0"),
    "a block appended": raw(lambda data: data + bytes(512)),
    "text appended": raw(lambda data: data + b"appended"),
    "second end block not zero": end_block(False, 7),
    "last byte not zero": end_block(False, 511),
})
each(206, {
    "cut inside the image": raw(lambda data: data[:data.index(b"image\0") + 600]),
    "cut inside a header": raw(lambda data: data[:data.index(b"image\0") + 100]),
    "cut after a header": raw(lambda data: data[:data.index(b"image\0") + 512]),
    "only a manifest": raw(lambda data: data[:512 + 1024]),
})
each(None, {
    "one end block": cut(512),
    "no end block": cut(1024),
    "half an end block": cut(768),
    "a byte cut": cut(1),
    "a block and a byte cut": cut(513),
    "into the last padding": cut(1025),
    "first end block not zero": end_block(True, 0),
    "first end block not zero at its end": end_block(True, 511),
    "zero blocks after the manifest": with_entries(lambda e: e[:1]),
    "zero blocks after sign-offs": with_entries(lambda e: e[:5]),
    "the first 100 bytes": raw(lambda data: data[:100]),
    "a size of 2^31": raw(lambda data: data[:124] + b"20000000000 " + data[136:]),
})


def header_bytes(name, offset, content, fixed_sum=True):
    """Bends a header and, unless told otherwise, mends its checksum."""
    def change(data):
        at = data.index(name + b"\0")
        block = bytearray(data[at:at + 512])
        block[offset:offset + len(content)] = content
        if fixed_sum:
            block[148:156] = b" " * 8
            block[148:156] = b"%06o\0 " % sum(block)
        return data[:at] + bytes(block) + data[at + 512:]
    return raw(change)


each(201, {
    "mode 0755": header_bytes(b"chain", 100, b"000755 "),
    "an owner's number": header_bytes(b"chain", 108, b"000001 "),
    "an owner's name": header_bytes(b"chain", 265, b"root"),
    "a time": header_bytes(b"chain", 136, b"00000000001 "),
    "a directory": header_bytes(b"chain", 156, b"5"),
    "a link": header_bytes(b"chain", 156, b"1"),
    "an old file": header_bytes(b"chain", 156, b"\0"),
    "GNU magic": header_bytes(b"chain", 257, b"ustar  \0"),
    "a prefix": header_bytes(b"chain", 345, b"x"),
    "a size in base 256": header_bytes(b"chain", 124, b"\x80" + bytes(10) + b" "),
    "a size with a zero behind": header_bytes(b"chain", 135, b"\0"),
    "a size with spaces in front": header_bytes(b"chain", 124, b"   "),
    "something after the name": header_bytes(b"chain", 50, b"x"),
    "a checksum off by one": header_bytes(b"chain", 153, b"1", fixed_sum=False),
    "a checksum with a space first": header_bytes(b"chain", 154, b" \0", fixed_sum=False),
    "something at the end": header_bytes(b"chain", 511, b"x"),
})


each(203, {  # the size is wrong before the file is too short for it
    "a signature said to go on behind the end": header_bytes(b"signoff/01.sig", 124, b"00077777777 "),
    "facts said to go on behind the end": header_bytes(b"facts", 124, b"00077777777 "),
})


@case(202, "a name of 99 bytes")
def name_of_99(w):
    with_entries(lambda e: e + [(b"doc/" + b"z" * 95, b"x")])(w)


@case(201, "a name of 100 bytes")
def name_of_100(w):
    with_entries(lambda e: e + [(b"doc/" + b"z" * 96, b"x")])(w)


@case(204, "padding after the image")
def padding(w):
    def change(data):
        package = container.read(data)
        at = data.index(b"facts\0" + bytes(20)) - 1
        if len(package.image) % 512 == 0:
            raise AssertionError("this image has no padding")
        return data[:at] + b"\1" + data[at + 1:]
    segments((0, 300))(w)
    w.bend_bytes = change
