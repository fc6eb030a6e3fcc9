"""Pages and answers go out compressed: a part drawn in a page is most of its bytes, and shrinks to a fifth.

Django's own middleware does it and hides the length of what it compresses (against the attack known as
BREACH, as its documentation says). Sound is left alone: it is compressed already, and is sent in ranges that
must stay as they are.
"""

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

COMPRESSED = ("text/", "application/json", "image/svg+xml")


class CompressionMiddleware(GZipMiddleware):
    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        kind = response.headers.get("Content-Type", "")
        if response.streaming or response.status_code == 206 or not kind.startswith(COMPRESSED):
            return response
        return super().process_response(request, response)
