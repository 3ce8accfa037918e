"""An open line to one page: every message is a question, answered in order until the page leaves.

A request of its own takes a browser several milliseconds; over a line (RFC 6455) it is about one.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from fastapi import WebSocket
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ValidationError

from clampwright.web.guard import LARGEST_BODY
from clampwright.web.problems import Problem, problem_of

Asked = TypeVar("Asked", bound=BaseModel)


async def keep_line(
    line: WebSocket, root: Path, kind: type[Asked], answer: Callable[[Asked], str]
) -> None:
    """Answer every message, a JSON text of `kind`; a refusal carries the status a request would get."""
    await line.accept()
    while True:
        message = await line.receive()
        if message["type"] == "websocket.disconnect":
            return
        await line.send_text(_answered(message.get("text") or "", root, kind, answer))


def _answered(text: str, root: Path, kind: type[Asked], answer: Callable[[Asked], str]) -> str:
    try:
        if len(text) <= LARGEST_BODY:
            return answer(_read(kind, text))
        told = Problem(413, f"the message is larger than {LARGEST_BODY} characters")
    except Exception as error:  # the line outlives every error, as the server does
        told = problem_of(error, root)
    return json.dumps({"status": told.status, "error": told.sentence, "fields": told.fields})


def _read(kind: type[Asked], text: str) -> Asked:
    try:
        return kind.model_validate_json(text)
    except ValidationError as error:
        raise RequestValidationError(error.errors()) from None
