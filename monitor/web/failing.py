"""What is answered when something is not there, not allowed, or fails."""

from typing import Final

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from monitor.errors import (
    CormwatchError,
    LedgerRuleError,
    OutOfRangeError,
    UnitError,
    UnknownNameError,
)
from monitor.phrase import Phrase
from monitor.web.rendering import pages_for

_MACHINES = ("/api/", "/health/", "/metrics")
_NAMED: Final = ("/batches/", "/alarms/", "/year/")
"""Pages whose address holds a number: another word there is a page that is not."""
_NOT_HERE = Phrase("There is no such page.")
_ASKED_WRONGLY = (LedgerRuleError, OutOfRangeError, UnitError)


def answer_failures(app: FastAPI) -> None:
    """Make the application answer failures with a page, or with JSON under /api/."""

    def told(request: Request, status: int, sentence: str) -> Response:
        if request.url.path.startswith(_MACHINES):
            return JSONResponse({"detail": sentence}, status)
        return pages_for(request).said(sentence, status)

    @app.exception_handler(HTTPException)
    def http(request: Request, failure: HTTPException) -> Response:
        return told(request, failure.status_code, _sentence(failure))

    @app.exception_handler(RequestValidationError)
    def asked(request: Request, failure: RequestValidationError) -> Response:
        page = request.url.path.startswith(_NAMED) and request.method == "GET"
        return told(request, 404 if page else 422, _NOT_HERE if page else _wrong(failure))

    @app.exception_handler(CormwatchError)
    def expected(request: Request, failure: CormwatchError) -> Response:
        status = 404 if isinstance(failure, UnknownNameError) else 503
        return told(request, 422 if isinstance(failure, _ASKED_WRONGLY) else status, str(failure))


def _sentence(failure: HTTPException) -> str:
    return _NOT_HERE if failure.status_code == 404 else str(failure.detail)  # noqa: PLR2004


def _wrong(failure: RequestValidationError) -> str:
    """Say what was wrong with what was asked, without repeating it."""
    parts = [
        f"{'.'.join(str(each) for each in error['loc'][1:])}: {error['msg']}"
        for error in failure.errors()
    ]
    return "; ".join(parts)
