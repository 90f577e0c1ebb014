"""The case sheet as one HTML file that needs nothing else: style, strips and pictures are inside it."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from beadwright.report.page import sheet_page
from beadwright.report.strip import strips_of
from beadwright.report.xray_figure import figures_of

if TYPE_CHECKING:
    from jinja2 import Environment

    from beadwright.workup import Workup


@cache
def environment() -> Environment:
    """The templates, escaping everything that is not marked safe."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("beadwright.report"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


@cache
def stylesheet() -> str:
    """The notebook's style sheet."""
    return (files("beadwright.report") / "static" / "notebook.css").read_text("utf-8")


def render_sheet(workup: Workup) -> str:
    """Return the case sheet as a complete HTML document, UTF-8 text."""
    page = sheet_page(workup, strips=(*figures_of(workup), *strips_of(workup)))
    return environment().get_template("sheet.html").render(page=page, css=stylesheet())
