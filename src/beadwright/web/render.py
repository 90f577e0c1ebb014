"""Templates to responses: everything is escaped, templates compute nothing."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from fastapi.responses import HTMLResponse

from beadwright import __version__

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def templates() -> Environment:
    """The bench's templates, the notebook's entries among them."""
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    loader = ChoiceLoader([PackageLoader("beadwright.web"), PackageLoader("beadwright.report")])
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.globals.update(version=__version__, here="")
    return made


def page_of(template: str, page: object, *, here: str = "", status: int = 200) -> HTMLResponse:
    """Render a page; `here` names its place in the masthead."""
    return HTMLResponse(templates().get_template(template).render(page=page, here=here), status)
