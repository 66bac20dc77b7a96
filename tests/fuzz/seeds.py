#!/usr/bin/python3
"""Seeds that are made from the worked examples of lib/format/SPEC.md, so that they never fall behind.

  seeds.py FOLDER sealed_text|container
"""
import pathlib
import re
import sys

SOURCE = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(SOURCE / "tests/oracle"))
import container  # noqa: E402  the second judge's rendering of a header

KINDS = ("root", "trust", "manifest", "signoff", "withdrawal", "allotment", "card", "facts",
         "first-article", "concession", "close")


def main():
    folder = pathlib.Path(sys.argv[1])
    spec = (SOURCE / "lib/format/SPEC.md").read_text()

    def example(name):
        return re.search(rf"^```\w+ example-{name}\n(.*?)^```", spec, re.M | re.S).group(1)

    def framed(name, content):
        return container.header(name.encode(), len(content)) + content + bytes(-len(content) % 512)

    folder.mkdir(parents=True, exist_ok=True)
    if sys.argv[2] == "sealed_text":
        for kind in KINDS:
            (folder / kind).write_bytes(example(kind).encode())
        return
    entries = [
        ("manifest", example("manifest").encode()),
        ("signoff/01", example("signoff").encode()),
        ("signoff/01.sig", bytes.fromhex(example("signature"))),
        ("chain", bytes.fromhex(example("chain"))),
        ("image", bytes(4096) + b"\1"),
        ("facts", example("facts").encode()),
        ("doc/NOTES.txt", example("document").encode()),
    ]
    package = b"".join(framed(*entry) for entry in entries) + bytes(1024)
    (folder / "example").write_bytes(package)


main()
