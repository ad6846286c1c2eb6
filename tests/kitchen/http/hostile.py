"""What somebody may send who means harm, or whose program is broken: letters, bytes, files and calendars."""

from __future__ import annotations

import json
from io import BytesIO
from zipfile import ZipFile

SCRIPT = "<script>quill()</script>"
WORDS: dict[str, str] = {
    "script": SCRIPT,
    "event": '"><img src=x onerror=quill()>',
    "template": "{{ 7|add:7 }}{% debug %}",
    "NUL": "quill\x00brook",
    "right to left": "quill\u202ekoorb\u202c",
    "surrogate": "quill\ud800brook",
    "flood of marks": "q" + "\u0301" * 5000,
    "formula": '=HYPERLINK("http://quill.example")',
    "digits": "9" * 5000,
    "long": "q" * 100_000,
    "SQL": "'; DROP TABLE members_user; --",
    "path": "../../../../etc/passwd\r\nSet-Cookie: quill=1",
}


def _zip(name: str, content: bytes) -> bytes:
    held = BytesIO()
    with ZipFile(held, "w") as archive:
        archive.writestr(name, content)
    return held.getvalue()


FILES: dict[str, bytes] = {
    "nothing": b"",
    "zip of nothing": b"PK\x05\x06" + bytes(18),
    "zip bomb": _zip("bomb.ics", bytes(100_000)),
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(64),
    "PDF": b"%PDF-1.7\n",
    "program": b"\x7fELF" + bytes(64),
    "page": b"<!doctype html><script>quill()</script>",
    "NULs": bytes(5000),
    "random": bytes(range(256)) * 16,
    "half a mark": b"\xef\xbb",
    "UTF-16 cut short": b"\xff\xfe\x00",
    "UTF-32": "food,amount".encode("utf-32"),
    "quotation marks": b'"' * 10_000,
    "one line": b"q" * 190_000,
    "commas": b"," * 10_000,
    "line ends": b"\r\n" * 90_000,
    "too much": b"q" * 2_000_000,
}


def _event(*lines: str) -> bytes:
    inside = "\r\n".join(("UID:quill", "DTSTAMP:20260101T000000Z", *lines))
    return (
        f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Q//EN\r\nBEGIN:VEVENT\r\n{inside}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    ).encode(errors="surrogatepass")


_START = "DTSTART:20260901T080000Z"
CALENDARS: dict[str, bytes] = {
    **{
        f"rule {rule}": _event(_START, "DURATION:PT1H", f"RRULE:{rule}")
        for rule in (
            "FREQ=SECONDLY",
            "FREQ=MINUTELY",
            "FREQ=SECONDLY;COUNT=999999999",
            "FREQ=DAILY;COUNT=99999999999999999999",
            "FREQ=DAILY;INTERVAL=0",
            "FREQ=DAILY;INTERVAL=-1",
            "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
            "FREQ=YEARLY;BYMONTH=13",
            "FREQ=MONTHLY;BYDAY=99MO",
            "FREQ=DAILY;UNTIL=00000000",
            "FREQ=DAILY;UNTIL=20000101T000000Z",
            "FREQ=HOURLY;BYMINUTE=0,1,2,3,4,5,6,7,8,9;BYSECOND=0,1,2,3,4,5,6,7,8,9",
            "FREQ=NEVERLY",
            "FREQ=DAILY;FREQ=SECONDLY",
            "RRULE:FREQ=DAILY",
            "",
        )
    },
    "many rules": _event(_START, *(["RRULE:FREQ=HOURLY"] * 50)),
    "a thousand years": _event("DTSTART:20260901T080000Z", "DTEND:30260901T080000Z"),
    "year 1": _event("DTSTART:00010101T000000Z", "DTEND:99991231T235959Z", "RRULE:FREQ=DAILY"),
    "endless length": _event(_START, "DURATION:P99999999999D"),
    "negative length": _event(_START, "DURATION:-P5D"),
    "end before start": _event(_START, "DTEND:20250901T080000Z"),
    "no start": _event("SUMMARY:quill"),
    "no such day": _event("DTSTART:20260231T250000Z"),
    "many dates": _event(_START, "RDATE:" + ",".join(["20260901T080000Z"] * 20_000)),
    "many exceptions": _event(
        _START, "RRULE:FREQ=DAILY", "EXDATE:" + ",".join(["20260901T080000Z"] * 20_000)
    ),
    "zone that is a path": _event("DTSTART;TZID=../../etc/passwd:20260901T080000", "DURATION:PT1H"),
    "zone that is long": _event(f"DTSTART;TZID={'Q' * 50_000}:20260901T080000", "DURATION:PT1H"),
    "zone with NUL": _event("DTSTART;TZID=Q\x00:20260901T080000", "DURATION:PT1H"),
    "script": _event(_START, "DURATION:PT1H", f"SUMMARY:{SCRIPT}"),
    "surrogate": _event(_START, "DURATION:PT1H", "SUMMARY:\ud800"),
    "itself inside": b"BEGIN:VCALENDAR\r\n" * 2000 + b"END:VCALENDAR\r\n" * 2000,
    "events inside events": b"BEGIN:VCALENDAR\r\n" + b"BEGIN:VEVENT\r\n" * 2000,
    "only ends": b"END:VCALENDAR\r\n" * 2000,
    "folded for ever": b"BEGIN:VCALENDAR\r\nX-Q:a" + b"\r\n a" * 100_000 + b"\r\nEND:VCALENDAR\r\n",
    "one property": b"BEGIN:VCALENDAR\r\nX-Q:" + b"q" * 900_000 + b"\r\nEND:VCALENDAR\r\n",
    "parameters": b"BEGIN:VCALENDAR\r\nX" + b";Q=1" * 100_000 + b":1\r\nEND:VCALENDAR\r\n",
    **{f"file: {name}": content for name, content in FILES.items()},
}

BODIES: dict[str, bytes] = {
    "deep lists": b"[" * 100_000 + b"]" * 100_000,
    "deep objects": b'{"a":' * 100_000 + b"1" + b"}" * 100_000,
    "deep inside": b'{"food":' + b"[" * 2000 + b"]" * 2000 + b"}",
    "no number": b'{"amount": NaN}',
    "without end": b'{"amount": Infinity}',
    "huge number": b'{"jars": ' + b"9" * 100_000 + b"}",
    "huge exponent": b'{"jars": 1e99999999}',
    "surrogate": b'{"food": "\\ud800"}',
    "NUL": b'{"food": "\\u0000"}',
    "bad UTF-8": b'{"food": "\xff\xfe"}',
    "a word": b'"quill"',
    "a list": b"[1, 2]",
    "null": b"null",
    "cut short": b'{"food": ',
    "nothing": b"",
    "a page": b"<script>quill()</script>",
    "the same key twice": b'{"food": 1, "food": {"food": []}}',
    "wrong kinds": json.dumps(
        {name: {"a": [1]} for name in ("food", "day", "jars", "to", "reason", "kind", "starts_at", "scopes")}
    ).encode(),
    "another encoding": '{"food": "q"}'.encode("utf-16"),
}
KINDS = (
    "text/plain",
    "application/xml",
    "multipart/form-data",
    "application/x-www-form-urlencoded; charset=utf-7",
    "q/" * 500,
)
"""Content types that are wrong; the third names no boundary."""
HEADERS: dict[str, dict[str, str]] = {
    "long token": {"Authorization": "Bearer " + "q" * 50_000},
    "token of bytes": {"Authorization": "Bearer \xff\xfe\x00"},
    "no word": {"Authorization": ""},
    "basic": {"Authorization": "Basic cXVpbGw6YnJvb2s="},
    "long key": {"Idempotency-Key": "q" * 5000},
    "key of marks": {"Idempotency-Key": "q\u0301"},
    "odd version": {"If-Match": '"' * 1000},
    "odd version read": {"If-None-Match": "W/" * 1000},
    "languages": {"Accept-Language": "q," * 5000},
    "odd language": {"Accept-Language": "../../etc;q=nan"},
    "accepts": {"Accept": "q/" * 2000},
    "forwarded": {"X-Forwarded-For": "127.0.0.1, " * 500},
    "forwarded host": {"X-Forwarded-Host": "quill.example"},
    "cookie": {"Cookie": "kitchen_session=" + "q" * 10_000},
    "cookie of marks": {"Cookie": "kitchen_language=\x01; kitchen_units=metric\x00"},
    "range": {"Range": "bytes=0-,0-,0-," * 500},
    "method": {"X-HTTP-Method-Override": "DELETE"},
    "htmx": {"HX-Request": "true", "HX-Current-URL": "javascript:quill()"},
}
