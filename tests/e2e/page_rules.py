"""What every page is held to, and how its words and values are compared."""

import re
import sys

from world import SOURCE

sys.path.insert(0, str(SOURCE / "tests" / "support"))
from html_page import Page  # noqa: E402


def leaves(value, path=""):
    """(path, value) of everything in a JSON text that is no list or object."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from leaves(each, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for at, each in enumerate(value):
            yield from leaves(each, f"{path}.{at}")
    else:
        yield path, value


def masked_lot(lines):
    """Without what every run has anew: digests, keys, ids, times of entries."""
    text = "\n".join(lines) + "\n"
    text = re.sub(r"[0-9a-f]{64}", "DIGEST", text)
    text = re.sub(r"\b[0-9a-f]{16}\b", "CARD", text)
    text = re.sub(r"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ \(claimed\)", "TIME (claimed)", text)
    return re.sub(r"id [0-9a-f]{8,}, a file|id \d+, a file", "id N, a file", text)


def check_file(case, html):
    """One file, whole in itself: nothing is fetched, nothing runs."""
    page = Page(html)
    case.assertEqual([], page.problems)
    case.assertTrue(html.startswith("<!DOCTYPE html>"), html[:80])
    case.assertLess(len(html.encode()), 500 * 1024)
    case.assertNotRegex(html, r"(?i)<script|<link|<img|<iframe|@import|https?:|javascript:|\{\{")
    case.assertNotRegex(html, r"(?i)\s(on\w+|src|href)=|url\((?!#)")
    case.assertEqual(1, len(page.all("h1")))


def check_structure(case, html):
    """Headings in steps, a caption for each table, and on narrow screens each cell with its heading."""
    page = Page(html)
    levels = [level for level, _ in page.heads]
    case.assertTrue(all(b <= a + 1 for a, b in zip([0, *levels], levels)), page.heads)
    case.assertEqual(len(page.all("table")), len(page.all("caption")))
    for table in re.findall(r'<table class="(?:causes tight )?stack">.*?</table>', html, re.S):
        heads = [re.sub("<[^>]+>", "", head)
                 for head in re.findall(r'<th scope="col"[^>]*>(.*?)</th>', table)]
        for row in re.findall(r"<tr[^>]*>(.*?)</tr>", table.split("<tbody>")[1], re.S):
            cells = re.findall(r'<(td data-th="([^"]*)"|th scope="row")', row)
            case.assertEqual(heads, [said or heads[at] for at, (_, said) in enumerate(cells)], row)
