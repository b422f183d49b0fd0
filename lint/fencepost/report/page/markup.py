"""Text from files as markup: first as everywhere without control characters, then without any meaning in HTML."""

from __future__ import annotations

import json
from collections.abc import Iterable
from html import escape as html_escape

from fencepost.report.escape import escape


def text(said: str) -> str:
    """As text between tags."""
    return html_escape(escape(said), quote=False)


def attribute(said: str) -> str:
    """As the value of an attribute, with its quotation marks."""
    return f'"{html_escape(escape(said), quote=True)}"'


def data(value: object) -> str:
    """JSON for a script element: ASCII, and nothing in it can end the element or begin a comment."""
    written = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def listed(items: Iterable[str], kind: str = "ul") -> str:
    """A list of pieces of markup."""
    return f"<{kind}>{''.join(f'<li>{item}</li>' for item in items)}</{kind}>"


def table(head: Iterable[str], rows: Iterable[Iterable[str]], caption: str) -> str:
    """A table of pieces of markup; the first cell of a row is its heading."""
    heads = "".join(f'<th scope="col">{cell}</th>' for cell in head)
    lines = []
    for row in rows:
        first, *others = row
        lines.append(f'<tr><th scope="row">{first}</th>{"".join(f"<td>{cell}</td>" for cell in others)}</tr>')
    top = f"<thead><tr>{heads}</tr></thead>" if heads else ""
    inside = f"<table><caption>{text(caption)}</caption>{top}<tbody>{''.join(lines)}</tbody></table>"
    return f'<div class="scroll" tabindex="0" role="group" aria-label={attribute(caption)}>{inside}</div>'
