"""How much of an uploaded file is kept."""

from __future__ import annotations

from io import BytesIO

from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler

MOST_KEPT = 1_000_001
"""One byte more than the largest file that any page takes: that is how its form sees that it was too much."""


class SmallFileHandler(FileUploadHandler):
    """Keeps the beginning of a file in memory and lets the rest pass by, however much is sent."""

    _held: BytesIO

    def new_file(self, *args: object, **kwargs: object) -> None:
        """Begin with nothing."""
        super().new_file(*args, **kwargs)  # type: ignore[arg-type]  # Django's own arguments, passed on
        self._held = BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Keep what still fits."""
        self._held.write(raw_data[: max(0, MOST_KEPT - self._held.tell())])

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        """The file as far as it was kept."""
        size = self._held.tell()
        self._held.seek(0)
        return InMemoryUploadedFile(
            self._held,
            self.field_name,
            self.file_name or "",
            self.content_type or "",
            size,
            self.charset,
            self.content_type_extra,
        )
