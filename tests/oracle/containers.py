#!/usr/bin/python3
"""Containers bent in ways that tar readers take differently: the product, GNU tar and libarchive
read the same ones, and none that the product takes may hold other files or bytes for the others.

Environment: CARDSEAL, JUDGE_MANY, SOURCE; ORACLE_CONTAINERS: how many random ones; CARDSEAL_SHARED:
a folder with cases/containers (beside SOURCE: shared), small files of the same tricks.
"""

import collections
import hashlib
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

import test_oracle  # noqa: F401: first, says "skipped" where the cryptography is missing

import admission
import card_writer
import container
import hostile_cards
import matrix
import memory
from many import Many, scratch

SEED = 20260312
COUNT = int(os.environ.get("ORACLE_CONTAINERS", "300"))
FULL = 10000  # from here on each trick is tried at every entry
ENTRY = re.compile(r"([-A-Za-z])\S{9} \S+ +(\d+) \S+ \S+ (.*)")


# A container as a list of raw entries, each with its header, so that anything can be put between

def raw_header(name, size=0, kind=b"0", mode=b"000644 \0", link=b"", magic=b"ustar\x0000", field=None):
    """A header as other writers make it, sum and all; `field` is the size's 12 bytes."""
    block = bytearray(container.header(name[:100], 0))
    for at, content in ((100, mode), (124, field or b"%011o\0" % size), (156, kind),
                        (157, link.ljust(100, b"\0")), (257, magic)):
        block[at:at + len(content)] = content
    return summed(block)


def summed(block):
    block = bytearray(block)
    block[148:156] = b" " * 8
    block[148:156] = b"%06o\0 " % sum(block)
    return bytes(block)


def entry(name, content=b"1", **more):
    return raw_header(name, len(content), **more) + container.pad(content)


def pax(*records, kind=b"x"):
    return entry(b"PaxHeaders/x", b"".join(records), kind=kind)


def record(key, value):
    body = b" %s=%s\n" % (key, value)
    size = len(body) + 1
    while len(b"%d" % size) + len(body) != size:
        size += 1
    return b"%d%s" % (size, body)


def pieces(data):
    """(header, padded content) of each entry of a good package."""
    out, at = [], 0
    for _, content in container.read(data).entries():
        end = at + 512 + len(container.pad(content))
        out.append((data[at:at + 512], data[at + 512:end]))
        at = end
    return out


def joined(parts, end=bytes(1024)):
    return b"".join(h + c for h, c in parts) + end


def name_of(header):
    return header[:100].rstrip(b"\0")


def size_of(header):
    return int(header[124:135], 8)


def patched(header, at, content):
    return summed(header[:at] + content + header[at + len(content):])


# The tricks, each at one entry of a real package

TRICKS = {}


def before_entry(name, *blocks):
    """Whole entries that stand before the one at `at`."""
    TRICKS[name] = lambda parts, at: joined(parts[:at] + [(b"".join(blocks), b"")] + parts[at:])


def on_header(name, change):
    """The header at `at` is another one."""
    def bend(parts, at):
        header, content = parts[at]
        return joined(parts[:at] + [(change(header), content)] + parts[at + 1:])
    TRICKS[name] = bend


def with_pax(name, *records, change=bytes):
    """An extended header before the entry at `at`."""
    def bend(parts, at):
        header, content = parts[at]
        head = pax(*(r(header) if callable(r) else r for r in records))
        return joined(parts[:at] + [(head + change(header), content)] + parts[at + 1:])
    TRICKS[name] = bend


before_entry("backslash", entry(b"..\\evil"))
before_entry("colon_ads", entry(b"manifest:x"))
before_entry("dir_with_size", entry(b"d/", b"smuggled" + bytes(504), kind=b"5"))
before_entry("hardlink_with_data", entry(b"manifest", b"DATA", kind=b"1", link=b"image"))
before_entry("symlink_with_size", entry(b"l", b"smuggled" + bytes(504), kind=b"2", link=b"t"))
before_entry("mac_dot", entry(b"._image", b"MAC"))
before_entry("space_dot", entry(b"manifest. "))
before_entry("trailslash_file", entry(b"manifest/"))
before_entry("gnu_longname_entry", entry(b"././@LongLink", b"manifest\0", kind=b"L",
                                         magic=b"ustar  \0"), entry(b"x"))
before_entry("absolute", entry(b"/etc/x"))
before_entry("dot_dot", entry(b"../x"))
before_entry("zero_blocks", bytes(1024))
before_entry("one_zero_block", bytes(512))
before_entry("global_pax", pax(record(b"path", b"image"), kind=b"g"))
before_entry("volume_label", entry(b"label", b"", kind=b"V"))
before_entry("multivolume", entry(b"manifest", b"x", kind=b"M"))
before_entry("incremental", entry(b"d/", b"Yx\0\0", kind=b"D"))
before_entry("device", entry(b"dev", b"", kind=b"3"))
before_entry("fifo", entry(b"fifo", b"", kind=b"6"))
before_entry("not_utf8", entry(b"\xff\xfe"))

on_header("contig7", lambda h: patched(h, 156, b"7"))
on_header("type_unknown", lambda h: patched(h, 156, b"Z"))
on_header("type_zero", lambda h: patched(h, 156, b"\0"))
on_header("hardlink_type", lambda h: patched(h, 156, b"1"))
on_header("symlink_type", lambda h: patched(h, 156, b"2"))
on_header("sparse_type", lambda h: patched(h, 156, b"S"))
on_header("setuid", lambda h: patched(h, 100, b"006755 \0"))
on_header("size_spaces", lambda h: patched(h, 124, b"%11o " % size_of(h)))
on_header("size_ends_in_nul", lambda h: patched(h, 135, b"\0"))
on_header("size_base_256", lambda h: patched(h, 124, b"\x80" + size_of(h).to_bytes(11, "big")))
on_header("size_negative", lambda h: patched(h, 124, b"\xff" * 12))
on_header("size_terabyte", lambda h: patched(h, 124, b"\x80" + (1 << 40).to_bytes(11, "big")))
on_header("size_zero", lambda h: patched(h, 124, b"%011o " % 0))
on_header("octal_junk", lambda h: patched(h, 134, b"x"))
on_header("gnu_magic", lambda h: patched(h, 257, b"ustar  \0"))
on_header("no_magic", lambda h: patched(h, 257, bytes(8)))
on_header("prefix", lambda h: patched(h, 345, b"doc"))
on_header("name_goes_on", lambda h: patched(h, len(name_of(h)) + 1, b"x"))
on_header("case_twin", lambda h: patched(h, 0, name_of(h).upper()))
on_header("sum_with_signs", lambda h: h[:148] + b"%07o\0" % sum(
    b - 256 if b > 127 else b for b in h[:148] + b" " * 8 + h[156:]) + h[156:])
on_header("sum_off", lambda h: h[:153] + bytes([h[153] ^ 1]) + h[154:])
on_header("user_name", lambda h: patched(h, 265, b"root"))
on_header("time", lambda h: patched(h, 136, b"00000000001 "))
on_header("end_of_header", lambda h: patched(h, 511, b"x"))

with_pax("pax_dup_key", record(b"path", b"one"), record(b"path", b"two"))
with_pax("pax_linkpath", record(b"linkpath", b"/etc/passwd"), change=lambda h: patched(h, 156, b"2"))
with_pax("pax_path_nul", lambda h: record(b"path", name_of(h) + b"\0evil"))
with_pax("pax_size_bigger_ustar", record(b"size", b"0"))
with_pax("pax_size_smaller_ustar", lambda h: record(b"size", b"%d" % (size_of(h) + 512)))
with_pax("pax_same_path", lambda h: record(b"path", name_of(h)))
with_pax("pax_comment", record(b"comment", b"nothing"))
with_pax("pax_sparse", record(b"GNU.sparse.major", b"1"), record(b"GNU.sparse.realsize", b"1"),
         record(b"GNU.sparse.name", b"image"))
with_pax("pax_bad_length", b"999 path=x\n")


def trick(name):
    def keep(bend):
        TRICKS[name] = bend
        return bend
    return keep


@trick("pax_two_x")
def _(parts, at):
    two = pax(record(b"path", b"one")) + pax(record(b"path", b"two"))
    return joined(parts[:at] + [(two, b"")] + parts[at:])


@trick("gnu_longname")
def _(parts, at):
    header, _ = parts[at]
    long = entry(b"././@LongLink", name_of(header) + b"\0", kind=b"L", magic=b"ustar  \0")
    return joined(parts[:at] + [(long, b"")] + parts[at:])


@trick("dup")
def _(parts, at):
    header, content = parts[at]
    other = bytes([content[0] ^ 1]) + content[1:]
    return joined(parts[:at + 1] + [(header, other)] + parts[at + 1:])


@trick("nonzero_pad")
def _(parts, at):
    padded = [i for i, (h, _) in enumerate(parts) if size_of(h) % 512]
    i = padded[at % len(padded)]
    header, content = parts[i]
    return joined(parts[:i] + [(header, content[:-1] + b"x")] + parts[i + 1:])


@trick("truncated")
def _(parts, at):
    header, content = parts[at]
    return joined(parts[:at], b"") + header + content[:max(0, size_of(header) - 1)]


@trick("no_eof")
def _(parts, at):
    return joined(parts, b"") if at == 0 else joined(parts[:at], b"")


TRICKS["empty"] = lambda parts, at: bytes(1024)
TRICKS["zerolen"] = lambda parts, at: b""
TRICKS["one_end_block"] = lambda parts, at: joined(parts, bytes(512))
TRICKS["three_end_blocks"] = lambda parts, at: joined(parts, bytes(1536))
TRICKS["tar_s_own_blocking"] = lambda parts, at: joined(
    parts, bytes(11264 - len(joined(parts)) % 10240))
TRICKS["behind_the_end"] = lambda parts, at: joined(parts) + b"more"
TRICKS["two_joined"] = lambda parts, at: joined(parts) + joined(parts)
TRICKS["end_not_zero"] = lambda parts, at: joined(parts, bytes(1000) + b"x" + bytes(23))
TRICKS["swapped"] = lambda parts, at: joined(
    parts[:at] + parts[at + 1:at + 2] + parts[at:at + 1] + parts[at + 2:]) \
    if at + 1 < len(parts) else joined(parts[::-1])


# Random changes, some of which leave a container that is in form

def changed(chance, parts):
    """One change of a list of raw entries."""
    parts = list(parts)
    at = chance.randrange(len(parts))
    header, content = parts[at]
    what = chance.choice(["byte", "byte", "header", "header", "content", "content", "content",
                          "document", "document", "signoff", "drop", "copy", "move", "resize",
                          "rename", "pax", "extra"])
    spot = chance.randrange(512)
    if what == "byte":
        header = header[:spot] + bytes([header[spot] ^ 1 << chance.randrange(8)]) + header[spot + 1:]
    elif what == "header":
        fields = [(0, 100), (100, 8), (108, 8), (116, 8), (124, 12), (136, 12), (148, 8), (156, 1),
                  (157, 100), (257, 8), (265, 32), (297, 32), (329, 8), (337, 8), (345, 155), (500, 12)]
        start, size = chance.choice(fields)
        length = chance.randint(1, min(size, 12))
        value = bytes(chance.choice(b"\0 01237x/.\xff") for _ in range(length))
        header = patched(header, start + chance.randrange(size - len(value) + 1), value)
    elif what == "content" and size_of(header):
        place = chance.randrange(size_of(header))
        content = content[:place] + bytes([chance.randrange(256)]) + content[place + 1:]
    elif what == "resize":
        size = max(0, size_of(header) + chance.choice([-513, -1, 1, 2, 511, 512, 1 << 20]))
        header = patched(header, 124, b"%011o " % size)
    elif what == "rename":
        header = patched(header, 0, chance.choice(
            [b"image", b"doc/x", b"signoff/03", b"manifest", b"./image", b"doc/../x"]).ljust(100, b"\0"))
    return around(chance, what, parts, at, (header, content))


def around(chance, what, parts, at, part):
    """Changes that move entries or add some."""
    parts[at] = part
    if what == "drop":
        del parts[at]
    elif what == "copy":
        parts.insert(chance.randrange(len(parts) + 1), part)
    elif what == "move":
        parts.insert(chance.randrange(len(parts)), parts.pop(at))
    elif what == "document":
        text = bytes(chance.randrange(256) for _ in range(chance.choice([1, 511, 512, 513, 2000])))
        name = b"doc/z%06d" % chance.randrange(10**6)
        parts.append((container.header(name, len(text)), container.pad(text)))
    elif what == "signoff":
        last = [i for i, (h, _) in enumerate(parts) if name_of(h).startswith(b"signoff/")]
        number = len(last) // 2 + 1
        text = bytes(chance.randrange(32, 127) for _ in range(chance.randint(1, 2048)))
        place = last[-1] + 1 if last else 1
        parts[place:place] = [
            (container.header(b"signoff/%02d" % number, len(text)), container.pad(text)),
            (container.header(b"signoff/%02d.sig" % number, 64), container.pad(text.ljust(64)[:64]))]
    elif what == "pax":
        key = chance.choice([b"path", b"size", b"linkpath", b"comment", b"mtime", b"SCHILY.realsize",
                             b"GNU.sparse.size", b"hdrcharset", b"GNU.sparse.map"])
        value = chance.choice([b"0", b"1", b"image", b"99999", b"x\0y", b"", b"../x"])
        parts.insert(at, (pax(record(key, value), kind=chance.choice([b"x", b"x", b"g"])), b""))
    elif what == "extra":
        parts.insert(at, (entry(chance.choice([b"x", b"image", b"doc/", b"././@LongLink", b"/a"]),
                                b"x" * chance.choice([0, 1, 512, 600]),
                                kind=bytes([chance.choice(b"0123567LKSVMDNAXgxZ\0")])), b""))
    return parts


def random_container(chance, parts):
    if chance.random() < 0.25:
        name = chance.choice(sorted(TRICKS))
        data = TRICKS[name](parts, chance.randrange(len(parts)))
    else:
        for _ in range(chance.choice([1, 1, 1, 2, 3])):
            try:
                parts = changed(chance, parts)
            except ValueError:  # a header without a size any more
                break
        data = joined(parts)
    if chance.random() < 0.15 and data:
        cut = chance.randrange(len(data))
        data = chance.choice([data[:cut], data[:cut // 512 * 512], data + bytes(512), data + b"x",
                              data[:cut] + bytes([data[cut] ^ 1 << chance.randrange(8)]) + data[cut + 1:],
                              data[:cut // 512 * 512] + bytes(512) + data[cut // 512 * 512:]])
    return data


# The three readers

def gnu_tar(path):
    """([name in hex, size, digest] of each entry, did it end well?); None for what is no file."""
    done = subprocess.run(
        ["tar", "--extract", "--to-stdout", "-vv", "--index-file", path + ".list", "--absolute-names",
         "--quoting-style=escape", "--full-time", "--numeric-owner", "--file", path],
        capture_output=True, check=False, close_fds=False, env={"LC_ALL": "C", "PATH": os.environ["PATH"],
                                                                "TZ": "UTC"})
    with open(path + ".list", "rb") as file:
        listed = file.read().decode("latin-1").splitlines()
    out, at = [], 0
    for line in listed:
        found = ENTRY.fullmatch(line)
        if not found:
            out.append(["?" + line, 0, ""])
            continue
        plain, size, name = found[1] == "-", int(found[2]), found[3]
        content = done.stdout[at:at + size] if plain else b""
        at += len(content)
        shown = name if plain else "not a file: " + name
        out.append([shown.encode("latin-1").hex(), size, hashlib.sha256(content).hexdigest()])
    if at != len(done.stdout):
        out.append(["more bytes", len(done.stdout) - at, ""])
    return out, done.returncode == 0


def differences(said, tar, tar_good):
    """Between what the product takes and what the others read."""
    for reader, found, good in (("GNU tar", tar, tar_good),
                                ("libarchive", said["libarchive"], said["libarchive_good"])):
        if said["reason"] == 0 and (found != said["ours"] or not good):
            yield f"{reader} reads {found}, not {said['ours']}"


class Run:
    def __init__(self, many, switched, folder, owner):
        self.many, self.switched = many, switched
        self.path, self.owner = os.path.join(folder, "judged.crp"), owner
        self.faults = []
        self.counts = collections.Counter()

    def judge(self, name, data):
        """The product's reason for the form."""
        with open(self.path, "wb") as file:
            file.write(data)
        said = self.many.ask("tar", self.path, 0)
        if "error" in said:
            self.faults.append(f"{name}: {said['error']}")
            return said["error"]
        tar, tar_good = gnu_tar(self.path)
        reason = said["reason"]
        self.counts["judged"] += 1
        self.counts["taken by libarchive"] += said["libarchive_good"]
        self.counts["taken by GNU tar"] += tar_good
        self.counts[f"refused with {reason}" if reason else "in form"] += 1
        if reason and said["libarchive_good"] and tar_good:
            self.counts["refused though both take it"] += 1
        for difference in differences(said, tar, tar_good):
            self.faults.append(f"{name}: in form, and {difference}")
        if reason and self.switched:
            self.without(reason, tar, tar_good)
        return reason

    def without(self, reason, tar, tar_good):
        """Would the comparison notice if this check were left out?"""
        said = self.switched.ask("tar", self.path, reason)
        if said.get("reason") == 0:
            noticed = bool(list(differences(said, tar, tar_good)))
            self.counts[f"taken without check {reason}, " +
                        ("read otherwise by another" if noticed else "read alike by all")] += 1

    def refused_alike(self, name, data):
        """A trick: refused for its form, and by the desk with the same reason."""
        reason = self.judge(name, data)
        desk = self.many.ask("package", self.path, *self.owner, 0).get("reason")
        if not reason or desk != reason:
            self.faults.append(f"{name}: the form gives {reason}, the desk {desk}")
        return reason

    def print(self):
        for what, count in sorted(self.counts.items()):
            print(f"  {count:6}  {what}")
        for fault in self.faults[:40]:
            print("FAIL", fault[:1000])
        print(f"{len(self.faults)} faults")


def on_a_card(many, folder, world, data):
    """The reason of a station for a card that holds these bytes as its package, all else good."""
    card = hostile_cards.CardWorld(world.copy())
    card.world.bend_bytes = lambda _: data
    station = hostile_cards.station_of(card.station)
    text, signatures, _, _ = card.world.owner_files()
    station.root = admission.Root(text, signatures)
    paths = [os.path.join(folder, name) for name in ("card", "state", "after")]
    card_writer.write(paths[0], card.files())
    with open(paths[1], "wb") as file:
        file.write(memory.make(station))
    said = many.ask("card", *paths, 0, "-", "-")["jobs"][0]
    return said["reason"]["number"] if "reason" in said else said.get("verdict", said)


def check_tricks(run, folder, world, good):
    parts = pieces(good)
    for n, (name, bend) in enumerate(TRICKS.items()):
        on_card = n % len(parts)
        for at in range(len(parts)) if COUNT >= FULL else {0, on_card}:
            data = bend(parts, at)
            reason = run.refused_alike(f"{name} at entry {at}", data)
            if at == on_card and data:
                found = on_a_card(run.many, folder, world, data)
                if found != reason:
                    run.faults.append(f"{name} at entry {at}: the form gives {reason}, a card {found}")


def check_shared(run, good, folder):
    """Small files of the same tricks: each is one of TRICKS, and refused alone and inside a package."""
    if not os.path.isdir(folder):
        print("skipped: no cases/containers")
        return
    parts = pieces(good)
    for file in sorted(os.listdir(folder)):
        with open(os.path.join(folder, file), "rb") as opened:
            data = opened.read()
        name = file.removesuffix(".tar")
        if name not in TRICKS:
            run.faults.append(f"{file} is no trick that is tried on a package")
        run.judge(file, data)
        inside = data.removesuffix(bytes(1024))
        places = range(len(parts) + 1) if COUNT >= FULL else (len(parts) - 1, len(parts))
        for at in places if inside else ():
            reason = run.judge(f"{file} before entry {at}",
                               joined(parts[:at] + [(inside, b"")] + parts[at:]))
            if not reason:
                run.faults.append(f"{file} before entry {at} is taken")


def main():
    source, program = os.environ["SOURCE"], os.environ["CARDSEAL"]
    if not shutil.which("tar"):
        print("skipped: no tar")
        return 1 if os.environ.get("CI") == "true" else 0
    shared = os.environ.get("CARDSEAL_SHARED", os.path.join(os.path.dirname(
        os.path.abspath(source)), "shared"))
    chance = random.Random(SEED)
    with tempfile.TemporaryDirectory(dir=scratch()) as folder:
        world = matrix.packed_world(program, source, folder)
        good = world.bytes()
        switched = os.environ.get("JUDGE_MANY_SWITCHED", "")
        run = Run(Many(os.environ["JUDGE_MANY"]),
                  Many(switched) if os.path.exists(switched) else None, folder,
                  world.write_owner(folder))
        if run.judge("the package itself", good) != 0:
            run.faults.append("the package itself is refused")
        check_tricks(run, folder, world, good)
        check_shared(run, good, os.path.join(shared, "cases/containers"))
        for n in range(COUNT):
            run.judge(f"random {n}", random_container(chance, pieces(good)))
        run.many.close()
        if run.switched:
            run.switched.close()
    run.print()
    few = run.counts["in form"] < COUNT / 20 or run.counts["refused though both take it"] < COUNT / 20
    if few:
        print("FAIL too few that are in form, or that only the product refuses")
    if run.switched and not run.counts["taken without check 201, read otherwise by another"]:
        run.faults.append("without check 201 no reader differs")
        print("FAIL", run.faults[-1])
    return 1 if run.faults or few else 0


if __name__ == "__main__":
    sys.exit(main())
