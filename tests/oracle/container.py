"""The release package as a file: lib/format/SPEC.md, "Release package"."""

import hashlib
import re

from sealed import Refusal

BLOCK = 512
CHAIN_BLOCK = 4096
MAX_SIGNOFFS = 8
MAX_DOCUMENTS = 8
MAX_SIZE = 2147483647

DOCUMENT = re.compile(rb"doc/([A-Za-z0-9][A-Za-z0-9._-]{0,23})")


def header(name, size):
    """The one header of an entry: the table of offsets in SPEC.md."""
    out = bytearray(BLOCK)

    def put(offset, content):
        out[offset:offset + len(content)] = content
    put(0, name)
    put(100, b"000644 \0")
    put(108, b"000000 \0")
    put(116, b"000000 \0")
    put(124, b"%011o " % size)
    put(136, b"00000000000 ")
    put(148, b" " * 8)
    put(156, b"0")
    put(257, b"ustar\x0000")
    put(329, b"000000 \0")
    put(337, b"000000 \0")
    put(148, b"%06o\0 " % sum(out))
    return bytes(out)


def pad(content):
    return content + bytes(-len(content) % BLOCK)


def write(entries):
    """`entries`: (name, content) in the order in which they shall stand; nothing is checked."""
    return b"".join(header(name, len(content)) + pad(content)
                    for name, content in entries) + bytes(2 * BLOCK)


class Package:
    def __init__(self):
        self.manifest = self.chain = self.image = self.facts = b""
        self.signoffs = []   # (text, signature)
        self.documents = []  # (name, content)

    def entries(self):
        out = [(b"manifest", self.manifest)]
        for at, (text, signature) in enumerate(self.signoffs, 1):
            out += [(b"signoff/%02d" % at, text), (b"signoff/%02d.sig" % at, signature)]
        out += [(b"chain", self.chain), (b"image", self.image), (b"facts", self.facts)]
        return out + [(b"doc/" + name.encode(), content) for name, content in self.documents]

    def bytes(self):
        return write(self.entries())


class Reader:
    """One entry after the other; every byte outside of contents is compared."""

    def __init__(self, data):
        self.data = data
        self.at = 0

    def peek(self):
        """Name and size of the entry that starts here; None at a zero block."""
        block = self.data[self.at:self.at + BLOCK]
        if len(block) < BLOCK:
            raise Refusal(206, len(self.data))
        if not any(block):
            return None
        name = block[:block.index(0)] if 0 in block[:100] else block[:100]
        size = re.fullmatch(rb"([0-7]{11}) ", block[124:136])
        if len(name) > 99 or not size or int(size[1], 8) > MAX_SIZE:
            raise Refusal(201, self.at)
        if block != header(name, int(size[1], 8)):
            raise Refusal(201, self.at)
        return name, int(size[1], 8)

    def take(self, size, limit):
        """The content of the entry that starts here."""
        if not 1 <= size <= limit:
            raise Refusal(203, self.at)
        start = self.at + BLOCK
        end = start + size + (-size % BLOCK)
        if end > len(self.data):
            raise Refusal(206, len(self.data))
        if any(self.data[start + size:end]):
            raise Refusal(204, self.at)
        self.at = end
        return self.content(start, size)

    def content(self, start, size):
        return self.data[start:start + size]

    def entry(self, name, limit):
        found = self.peek()
        if found is None or found[0] != name:
            raise Refusal(202, self.at, f"expected {name}")
        return self.take(found[1], limit)

    def end(self):
        left = len(self.data) - self.at
        if left < 2 * BLOCK:
            raise Refusal(206, len(self.data))
        if self.data[self.at:self.at + 2 * BLOCK] != bytes(2 * BLOCK) or left != 2 * BLOCK:
            raise Refusal(205, self.at)


def read(data):
    reader = Reader(data)
    package = Package()
    package.manifest = reader.entry(b"manifest", 8192)
    while (found := reader.peek()) is not None and found[0].startswith(b"signoff/"):
        if len(package.signoffs) == MAX_SIGNOFFS:
            raise Refusal(207, reader.at)
        name = b"signoff/%02d" % (len(package.signoffs) + 1)
        text = reader.entry(name, 2048)
        package.signoffs.append((text, reader.entry(name + b".sig", 64)))
    package.chain = reader.entry(b"chain", MAX_SIZE)
    package.image = reader.entry(b"image", MAX_SIZE)
    package.facts = reader.entry(b"facts", 98304)
    while (found := reader.peek()) is not None:
        name = DOCUMENT.fullmatch(found[0])
        before = package.documents[-1][0] if package.documents else ""
        if not name or name[1].decode() <= before or len(package.documents) == MAX_DOCUMENTS:
            raise Refusal(202, reader.at)
        package.documents.append((name[1].decode(), reader.take(found[1], MAX_SIZE)))
    reader.end()
    return package


MAX_ROOTS = 1048576
MAX_ROOT_SIGNATURES = 8


class RootReader(Reader):
    """A content is read from the card when somebody asks, not when it is walked over."""

    def content(self, start, size):
        return lambda: self.data[start:start + size]


def read_roots(data):
    """(text, signatures) of each root, each as what reads it, and at the end the refusal of the file's
    form, if any: what stands before a fault is believed by itself."""
    reader = RootReader(data)
    try:
        if len(data) > MAX_ROOTS:
            raise Refusal(203, 0)
        version = 0
        while version == 0 or reader.peek() is not None:
            version += 1
            name = b"root/%06d" % version
            text = reader.entry(name, 8192)
            signatures = []
            while len(signatures) < MAX_ROOT_SIGNATURES and \
                    (found := reader.peek()) is not None and \
                    found[0] == name + b".s%02d" % (len(signatures) + 1):
                signatures.append(reader.take(found[1], 64))
            if reader.peek() is None:
                reader.end()
            yield text, signatures, None
    except Refusal as refusal:
        yield None, [], refusal


def write_roots(roots):
    entries = []
    for version, (text, signatures) in enumerate(roots, 1):
        name = b"root/%06d" % version
        entries.append((name, text))
        entries += [(name + b".s%02d" % at, s) for at, s in enumerate(signatures, 1)]
    return write(entries)


def blocks(image):
    return [image[at:at + CHAIN_BLOCK] for at in range(0, len(image), CHAIN_BLOCK)]


def chain(image):
    """Entry `chain` of an image."""
    digests = [bytes(32)]
    for block in reversed(blocks(image)):
        digests.append(hashlib.sha256(block + digests[-1]).digest())
    return b"".join(reversed(digests[1:]))


def streamed(image, links, head):
    """The image block by block, each proved before it is used."""
    expected = head
    out = b""
    for at, block in enumerate(blocks(image)):
        following = links[32 * (at + 1):32 * (at + 2)] or bytes(32)
        if hashlib.sha256(block + following).digest() != expected:
            raise Refusal(510, at)
        out += block
        expected = following
    return out
