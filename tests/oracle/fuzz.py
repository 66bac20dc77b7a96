"""One change of a sealed text's bytes, repeatable and describable."""

PIECES = [b" ", b"-", b'"', b"\\", b"\n", b"\r", b"\t", b"0", b"1", b"9", b"x", b"A", b"\0",
          "å".encode(), "\u200b".encode(), "\ufffe".encode(), b"\xc0\x80", b"\xed\xa0\x80",
          b"\xff", b"00", b"99999999999999999999", b"  ", b"- ", b"x" * 40, b"x" * 260]


class Change:
    def __init__(self, what, place, piece, bit):
        self.what, self.place, self.piece, self.bit = what, place, piece, bit

    def __repr__(self):
        return f"{self.what} at {self.place:.4f} {self.piece!r} {self.bit}"

    def __call__(self, text):
        lines = text.splitlines(keepends=True)
        at = int(self.place * len(text))
        line = int(self.place * len(lines))
        if self.what == "flip":
            return text[:at] + bytes([text[at] ^ 1 << self.bit]) + text[at + 1:]
        if self.what == "drop":
            return text[:at] + text[at + 1:]
        if self.what == "insert":
            return text[:at] + self.piece + text[at:]
        if self.what == "cut":
            return text[:at]
        if self.what == "append":
            return text + self.piece
        if self.what == "line twice":
            return b"".join(lines[:line + 1] + lines[line:])
        if self.what == "line dropped":
            return b"".join(lines[:line] + lines[line + 1:])
        if self.what == "lines exchanged":
            other = (line + 1) % len(lines)
            lines[line], lines[other] = lines[other], lines[line]
            return b"".join(lines)
        fields = lines[line][:-1].split(b" ")
        field = self.bit % len(fields)
        if self.what == "field replaced":
            fields[field] = self.piece
        elif self.what == "field twice":
            fields.insert(field, fields[field])
        else:  # field dropped
            del fields[field]
        lines[line] = b" ".join(fields) + b"\n"
        return b"".join(lines)


WHATS = ["flip", "flip", "drop", "insert", "cut", "append", "line twice", "line dropped",
         "lines exchanged", "field replaced", "field replaced", "field twice", "field dropped"]


def change(chance):
    return Change(chance.choice(WHATS), chance.random(), chance.choice(PIECES),
                  chance.randrange(8))
