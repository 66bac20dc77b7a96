"""Holds the includes of lib/ against the module table in lib/modules.cmake, both ways.

    module_table.py SOURCE_DIR     check the tree; exit 1 with one line a finding
    module_table.py --self-test    show that wrong trees are found

A module includes its own headers, headers of exactly the modules that its USES lists, headers of the
standard library, and those of its own third-party library. Python 3 standard library only.
"""

import pathlib
import re
import sys
import tempfile

# Third-party headers and the modules where they may stand; one file of tools/ has the command line's.
# <fmt/...> may stand in every module of the desk.
THIRD_PARTY = {
    "botan/": {"crypto"},
    "archive.h": {"package"},
    "archive_entry.h": {"package"},
    "tinyxml2.h": {"xml"},
    "nlohmann/": {"view"},
    "sqlite3.h": {"register"},
    "libelf.h": {"image"},
    "gelf.h": {"image"},
    "boost/": {"runlog"},
    "ctemplate/": {"page"},
    "zint.h": {"page"},
    "CLI/": {"one file of tools"},
}
NOT_FREESTANDING = {"string", "vector", "memory", "map", "algorithm", "iostream", "functional", "stdexcept"}
PLACEHOLDER = "placeholder.cpp"
SOURCES = {".h", ".cpp"}


def read_table(text):
    """{module: (freestanding, [uses])} of the cardseal_module(...) lines."""
    table = {}
    for arguments in re.findall(r"^cardseal_module\(([^)]*)\)", text, re.MULTILINE):
        words = arguments.split()
        uses, keyword = [], None
        for word in words[1:]:
            if word in ("FREESTANDING", "USES", "THIRD"):
                keyword = word
            elif keyword == "USES":
                uses.append(word)
        table[words[0]] = ("FREESTANDING" in words, uses)
    return table


def includes(path):
    """(line, bracket, header) of every include of a file."""
    text = path.read_text(encoding="utf-8")
    for number, line in enumerate(text.splitlines(), 1):
        match = re.match(r'\s*#\s*include\s*([<"])([^>"]+)[>"]', line)
        if match:
            yield number, match.group(1), match.group(2)


def third_party(header):
    for start, allowed in THIRD_PARTY.items():
        if header == start or (start.endswith("/") and header.startswith(start)):
            return allowed
    return None


def check_quoted(place, module, header, uses, table):
    target = header.split("/")[0]
    if "/" not in header or target not in table:
        yield f'{place}: "{header}" is not of the form "module/name.h" of a module in the table'
    elif target != module and target not in uses:
        yield f"{place}: {module} includes from {target}, which its USES does not list"


def check_bracketed(place, module, header, freestanding):
    allowed = third_party(header)
    if allowed is not None and module not in allowed:
        yield f"{place}: <{header}> may stand in {', '.join(sorted(allowed))} only"
    if freestanding and (header in NOT_FREESTANDING or header.startswith("fmt/")):
        yield f"{place}: {module} is freestanding and may not include <{header}>"


def check_module(lib, module, table):
    """Findings of one module, and whether it still waits for its sources."""
    freestanding, uses = table[module]
    used, findings = set(), []
    for path in sorted((lib / module).rglob("*")):
        if path.suffix not in SOURCES:
            continue
        for number, bracket, header in includes(path):
            place = f"{path.relative_to(lib.parent)}:{number}"
            if bracket == '"':
                used.add(header.split("/")[0])
                findings += check_quoted(place, module, header, uses, table)
            else:
                findings += check_bracketed(place, module, header, freestanding)
    waiting = (lib / module / PLACEHOLDER).exists()
    if not waiting:
        findings += [f"lib/modules.cmake: {module} lists {use} and includes nothing from it"
                     for use in uses if use not in used]
    return findings, waiting


def check_order(table):
    seen = set()
    for module, (freestanding, uses) in table.items():
        for use in uses:
            if use not in seen:
                yield f"lib/modules.cmake: {module} uses {use}, which does not stand above it"
            elif freestanding and not table[use][0]:
                yield f"lib/modules.cmake: {module} is freestanding and uses {use}, which is not"
        seen.add(module)


def check_tools(root):
    command_line = set()
    for path in sorted((root / "tools").rglob("*")):
        if path.suffix not in SOURCES:
            continue
        name = path.relative_to(root).as_posix()
        for number, bracket, header in includes(path):
            if header.startswith("CLI/"):
                command_line.add(name)
            elif bracket == "<" and third_party(header) is not None:
                allowed = ", ".join(sorted(third_party(header)))
                yield f"{name}:{number}: <{header}> may stand in {allowed} only"
    if len(command_line) > 1:
        yield f"<CLI/...> may stand in one file of tools only, found in {', '.join(sorted(command_line))}"


def check_tree(root):
    """(findings, modules that still hold only a placeholder)."""
    lib = root / "lib"
    table = read_table((lib / "modules.cmake").read_text(encoding="utf-8"))
    findings, waiting = list(check_order(table)), []
    for folder in sorted(path.name for path in lib.iterdir() if path.is_dir()):
        if folder not in table:
            findings.append(f"lib/{folder}: a folder without a line in lib/modules.cmake")
    for module in table:
        more, waits = check_module(lib, module, table)
        findings += more
        waiting += [module] if waits else []
    return findings + list(check_tools(root)), waiting


def write_tree(root, files):
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


GOOD = {
    "lib/modules.cmake": "cardseal_module(base FREESTANDING)\n"
                         "cardseal_module(diag USES base THIRD fmt::fmt)\n"
                         "cardseal_module(crypto USES base\n  diag THIRD PkgConfig::BOTAN)\n"
                         "cardseal_module(later USES diag)\n",
    "lib/base/a.h": "#include <cstdint>\n",
    "lib/diag/a.h": '#include "base/a.h"\n#include <fmt/format.h>\n#include <string>\n',
    "lib/crypto/a.cpp": '#include "base/a.h"\n#include "crypto/b.h"\n#include "diag/a.h"\n'
                        "#include <botan/hash.h>\n",
    "lib/later/placeholder.cpp": "namespace cardseal {}\n",
    "tools/cardseal/command_line.cpp": "#include <CLI/CLI.hpp>\n",
}

# What is put in place of a file of GOOD, and what must be said about it.
WRONG = [
    ({"lib/base/a.h": '#include "diag/a.h"\n'}, "base includes from diag"),
    ({"lib/base/a.h": "#include <vector>\n"}, "may not include <vector>"),
    ({"lib/base/a.h": "  #  include <fmt/core.h>\n"}, "may not include <fmt/core.h>"),
    ({"lib/base/a.h": "#include <botan/hash.h>\n"}, "may stand in crypto only"),
    ({"lib/diag/a.h": "#include <string>\n"}, "diag lists base and includes nothing"),
    ({"lib/diag/a.h": '#include "base/a.h"\n#include "a.h"\n'}, "not of the form"),
    ({"lib/diag/a.h": '#include "base/a.h"\n#include "other/a.h"\n'}, "not of the form"),
    ({"lib/diag/a.h": '#include "base/a.h"\n#include <archive_entry.h>\n'}, "in package only"),
    ({"lib/extra/a.h": ""}, "without a line"),
    ({"tools/cardseal/main.cpp": "#include <CLI/CLI.hpp>\n"}, "in one file of tools only"),
    ({"lib/diag/a.h": '#include "base/a.h"\n#include <CLI/CLI.hpp>\n'}, "in one file of tools only"),
    ({"tools/cardseal/main.cpp": "#include <nlohmann/json.hpp>\n"}, "in view only"),
    ({"lib/modules.cmake": GOOD["lib/modules.cmake"].replace("FREESTANDING)", "FREESTANDING USES diag)")},
     "does not stand above it"),
    ({"lib/modules.cmake": GOOD["lib/modules.cmake"].replace("diag USES", "diag2 USES")},
     "uses diag, which does not stand above it"),
    ({"lib/modules.cmake": GOOD["lib/modules.cmake"] + "cardseal_module(unit FREESTANDING USES diag)\n",
      "lib/unit/a.h": '#include "diag/a.h"\n'}, "unit is freestanding and uses diag"),
]


def findings_of(files):
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder)
        write_tree(root, files)
        return check_tree(root)


def self_test():
    findings, waiting = findings_of(GOOD)
    failures = [f"a good tree: {finding}" for finding in findings]
    if waiting != ["later"]:
        failures.append(f"waiting: found {waiting}, expected ['later']")
    for change, expected in WRONG:
        findings, _ = findings_of({**GOOD, **change})
        if not any(expected in finding for finding in findings):
            failures.append(f"{change}: expected '{expected}', found {findings}")
    return failures


def main(arguments):
    if arguments == ["--self-test"]:
        findings = self_test()
        print(f"{len(WRONG)} wrong trees tried")
    elif len(arguments) == 1:
        findings, waiting = check_tree(pathlib.Path(arguments[0]))
        for module in waiting:
            print(f"not yet: {module}")
    else:
        print(__doc__, file=sys.stderr)
        return 64
    for finding in findings:
        print(finding)
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
