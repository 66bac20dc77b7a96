"""A page read strictly enough to be held against other texts: elements balanced, ids once, every number
that names its source. Python 3 standard library only."""

import re
from html.parser import HTMLParser

# Elements without an end tag: the HTML standard, "void elements"; those of SVG that the pages end by '/>'.
VOID = {"meta", "br", "link", "img", "hr", "input"}


SLOTS = {str(slot) for slot in range(1, 33)}


class Page(HTMLParser):
    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.open, self.problems, self.elements = [], [], []
        self.ids, self.of = set(), []  # of: (path, value attribute or None, visible text)
        self.lines, self.heads = [""], []
        self.feed(html)
        self.close()
        if self.open:
            self.problems.append(f"not closed: {[each['tag'] for each in self.open]}")

    def handle_starttag(self, tag, attributes):
        found = dict(attributes)
        if len(found) != len(attributes):
            self.problems.append(f"an attribute twice in <{tag}>")
        element = {"tag": tag, "attributes": found, "text": "",
                   "inside": [each["tag"] for each in self.open]}
        self.elements.append(element)
        if "id" in found:
            if found["id"] in self.ids:
                self.problems.append(f"id {found['id']} stands twice")
            self.ids.add(found["id"])
        if tag in ("p", "li", "tr", "dt", "h1", "h2", "h3", "h4", "caption", "title", "desc"):
            self.lines.append("")
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open[-1]["tag"] != tag:
            self.problems.append(f"</{tag}> closes {self.open[-1]['tag'] if self.open else 'nothing'}")
            return
        element = self.open.pop()
        if "data-of" in element["attributes"]:
            self.of.append((element["attributes"]["data-of"], element["attributes"].get("value"),
                            element["text"]))
        if self.open:
            self.open[-1]["text"] += element["text"]
        if re.fullmatch("h[1-6]", tag):
            self.heads.append((int(tag[1]), element["text"].strip()))
        if tag in ("td", "th", "dt", "dd", "text"):
            self.lines[-1] += "  "

    def handle_data(self, data):
        if self.open:
            self.open[-1]["text"] += data
            if self.open[-1]["tag"] != "style" and "hidden" not in self.open[-1]["attributes"]:
                self.lines[-1] += data

    def words(self):
        """What can be read, line by line, blanks as one."""
        lines = (re.sub(r"\s+", " ", line).strip() for line in self.lines)
        return [line for line in lines if line]

    def all(self, tag):
        return [each for each in self.elements if each["tag"] == tag]


def time_of(text):
    """(what a shown time means, half of its last place), in microseconds; None: it is no time in seconds and more."""
    if found := re.fullmatch(r"(\d+)(?:\.(\d+))? s", text):
        places = len(found[2] or "")
        return float(text[:-2]) * 1e6, 0.5e6 / 10 ** places
    if found := re.fullmatch(r"(?:(\d+) min)?(?: ?(\d+) s)?", text):
        return (int(found[1] or 0) * 60 + int(found[2] or 0)) * 1e6, 0.5e6
    if found := re.fullmatch(r"(\d+) h (\d+) min", text):
        return (int(found[1]) * 60 + int(found[2])) * 60e6, 30e6
    return None


def means(text, value, key):
    """Whether the visible text of a value says this number: exactly, and times as round as they are shown."""
    text = text.strip()
    time = time_of(text) if text else None
    if time and key.endswith(("_us", "_s")):
        return abs(time[0] - value * (1 if key.endswith("_us") else 1e6)) <= time[1]
    return value in number_of(text)


def number_of(text):
    """Every number that the visible text of a value can mean, whole as it is sealed."""
    text = text.strip()
    out = set()
    if found := re.fullmatch(r"(\d+)(?:\.(\d{1,6}))? s", text):
        out.add(int(found[1]) * 1000000 + int((found[2] or "0").ljust(6, "0")))
    if re.fullmatch(r"-?\d+", text):
        out.add(int(text))
    if found := re.fullmatch(r"(-?)(\d+)\.(\d{3}) V", text):
        out.add(int(found[2]) * 1000 + int(found[3]))
    if found := re.fullmatch(r"(-?)(\d+)(?:\.(\d{1,3}))? (mV|mA|ms)", text):
        value = int(found[2]) * 1000 + int((found[3] or "0").ljust(3, "0"))
        out.add(-value if found[1] else value)
    if found := re.fullmatch(r"(\d+)(?:\.(\d{1,3}))? %", text):
        out.add(int(found[1]) * 10000 + int((found[2] or "0").ljust(3, "0")) * 10)
    if re.fullmatch(r"(0x)?[0-9A-F]+", text):
        out.add(int(text, 16))
    slots = text.split(", ")
    if all(slot in SLOTS for slot in slots):  # as a mask
        out.add(sum(1 << (int(slot) - 1) for slot in slots))
    return out


def codes_of(html):
    """Every drawn code as rows of 0 and 1, with its quiet zone."""
    codes = []
    for svg in html.split("<svg")[1:]:
        path = re.search(r'<path d="((?:M\d+ \d+h(\d+)v1h-\2z)+)" fill="#000"', svg)
        box = re.match(r'[^>]*viewBox="-(\d+) -\d+ (\d+) (\d+)"', svg)
        if not path or not box:
            continue
        quiet, width, height = map(int, box.groups())
        rows = [[0] * width for _ in range(height)]
        for x, y, run in re.findall(r"M(\d+) (\d+)h(\d+)", path[1]):
            rows[quiet + int(y)][quiet + int(x):quiet + int(x) + int(run)] = [1] * int(run)
        codes.append(rows)
    return codes


def picture_of(rows, scale=6):
    """The code as a grey picture (PGM), for outside readers."""
    lines = []
    for row in rows:
        line = bytes(0 if module else 255 for module in row for _ in range(scale))
        lines += [line] * scale
    return b"P5\n%d %d\n255\n" % (len(rows[0]) * scale, len(lines)) + b"".join(lines)
