"""Our failures as pages, and as one JSON shape (RFC 9457) where JSON was asked for."""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from beadwright.errors import BeadwrightError, CaseChangedError, NotFoundError, StoreError
from beadwright.web.guard import TooLargeError
from beadwright.web.pages import ProblemPage
from beadwright.web.render import page_of

TITLES = {404: "Not here", 409: "Changed meanwhile", 413: "Too large", 500: "Not stored"}
TYPED = ("note", "other", "story")  # fields whose words are shown again when they could not be stored


def add_problems(app: FastAPI) -> None:
    """Turn failures into sentences."""

    @app.exception_handler(BeadwrightError)
    async def ours(request: Request, failure: BeadwrightError) -> Response:
        return problem(request, status_of(failure), str(failure), _kept_words(request))

    @app.exception_handler(HTTPException)
    async def http(request: Request, failure: HTTPException) -> Response:
        sentence = "There is no such page." if failure.status_code == 404 else str(failure.detail)
        return problem(request, failure.status_code, sentence)

    @app.exception_handler(TooLargeError)
    async def large(request: Request, failure: TooLargeError) -> Response:
        return problem(request, 413, "That is larger than the bench takes at once.")


def status_of(failure: BeadwrightError) -> int:
    """Return the HTTP status that a failure of ours amounts to."""
    if isinstance(failure, CaseChangedError):
        return 409
    if isinstance(failure, NotFoundError):
        return 404
    return 500 if isinstance(failure, StoreError) else 400


def problem(request: Request, status: int, sentence: str, kept: str = "") -> Response:
    """Answer with a sentence, and with `kept`, the words that were typed."""
    if request.url.path.endswith(".json"):
        body = {"type": "about:blank", "title": sentence, "status": status}
        return JSONResponse(body, status, media_type="application/problem+json")
    number = request.path_params.get("number")
    back = ("/", "Back to the bench")
    if number and status == 409:
        back = (f"/cases/{number}", "Back to the case as it is now")
    page = ProblemPage(TITLES.get(status, "That could not be done"), sentence, *back, kept=kept)
    return page_of("problem.html", page, status=status)


def _kept_words(request: Request) -> str:
    form = getattr(request, "_form", None)
    if request.method != "POST" or form is None:
        return ""
    words = [value for key, value in form.multi_items() if isinstance(value, str) and key in TYPED]
    return "\n".join(word for word in words if word.strip())
