"""What programs send: JSON, and nothing that could not be written down again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any  # JSON is a tree of any depth.

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class CarefulJSONParser(JSONParser):
    """JSON that is not nested without end and holds whole letters only.

    Half a surrogate pair is allowed in JSON and in Python, but in no database and in no answer.
    """

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """The body, or a refusal with 400."""
        try:
            found = super().parse(stream, media_type, parser_context)
            json.dumps(found, ensure_ascii=False).encode()
        except RecursionError as error:
            raise ParseError("It is nested too deeply.") from error
        except UnicodeEncodeError as error:
            raise ParseError("It holds half a letter: a surrogate without its other half.") from error
        return found
