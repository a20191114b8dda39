"""A limit on what is taken in: a file that is too big is passed over while it comes, and never kept."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest

MOST_BYTES = 10_000_000


class Limit(FileUploadHandler):
    """First in FILE_UPLOAD_HANDLERS. The page that asked for the file says so: `too_big(request)`."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        if self.request is not None and too_big(self.request):
            raise SkipFile

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None


def too_big(request: HttpRequest) -> bool:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES + 100_000
    except ValueError:
        return False
