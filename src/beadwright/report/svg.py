"""Pieces of SVG in the page's own inks.

On a page the inks are the page's variables (`var(--ink)` …), so a figure follows it into the dark. A figure on its own
carries the same colours along, read from the notebook's style sheet.
"""

from __future__ import annotations

import re
from functools import cache
from html import escape

FONT = "system-ui, Liberation Sans, sans-serif"
SIZE = 11  # px, of all words unless said otherwise


def number(value: float) -> str:
    """Write a length in px, to a hundredth."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float = 1.0) -> str:
    """A straight line in one of the page's inks."""
    return (f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}" stroke="var(--{colour})" '
            f'stroke-width="{width:g}"/>')  # fmt: skip


def text(
    x: float, y: float, words: str, *, colour: str = "ink", anchor: str = "start", size: float = 11, weight: str = "400"
) -> str:
    """Words in one of the page's inks, escaped."""
    extra = f' font-size="{size:g}"' if size != SIZE else ""
    extra += f' font-weight="{weight}"' if weight != "400" else ""
    extra += f' text-anchor="{anchor}"' if anchor != "start" else ""
    return f'<text x="{number(x)}" y="{number(y)}"{extra} fill="var(--{colour})">{escaped(words)}</text>'


def halo(x: float, y: float, words: str) -> str:
    """Paper round words that lie on a picture, to be drawn before them."""
    return (f'<text x="{number(x)}" y="{number(y)}" font-weight="600" text-anchor="end" '
            f'fill="none" stroke="var(--paper)" stroke-width="3.5" stroke-linejoin="round">'
            f"{escaped(words)}</text>")  # fmt: skip


def escaped(words: str) -> str:
    """Escape for XML; characters that XML cannot hold are shown as a box."""
    return escape(re.sub(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "□", words))


def svg(inside: str, width: float, height: float, *, label: str) -> str:
    """A drawing with its words for someone who does not see it; without words it is left unread."""
    role = f'role="img" aria-label="{escaped(label)}"' if label else 'aria-hidden="true"'
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(height)}" '
            f'viewBox="0 0 {number(width)} {number(height)}" font-family="{FONT}" font-size="{SIZE}" {role}>'
            f"{inside}</svg>")  # fmt: skip


@cache
def inks() -> dict[str, tuple[str, str]]:
    """The notebook's colours by name: on light paper, on dark paper."""
    from beadwright.report.sheet import stylesheet

    found = re.findall(r"--([\w-]+): light-dark\((#\w+), (#\w+)\)", stylesheet())
    return {name: (light, dark) for name, light, dark in found}


def with_own_ink(drawing: str) -> str:
    """Write the colours out, for viewers that know no style sheets; a style turns them for a dark screen."""
    used: set[tuple[str, str]] = set()

    def plain(match: re.Match[str]) -> str:
        used.add((match[1], match[2]))
        return f'{match[1]}="{inks()[match[2]][0]}" class="{match[1]}-{match[2]}"'

    body = re.sub(r'(fill|stroke)="var\(--([\w-]+)\)"', plain, drawing)
    dark = "".join(f".{kind}-{name}{{{kind}:{inks()[name][1]}}}" for kind, name in sorted(used))
    return body.replace(">", f"><style>@media (prefers-color-scheme: dark){{{dark}}}</style>", 1)
