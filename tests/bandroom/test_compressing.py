"""Pages go out compressed; sound and its ranges as they are."""

import gzip

import pytest
from django.http import HttpResponse, StreamingHttpResponse
from django.test import RequestFactory

from bandroom.compressing import CompressionMiddleware

ASKS = {"Accept-Encoding": "gzip, deflate, br"}
LONG = b"line A line B " * 100


def passed(response):
    return CompressionMiddleware(lambda _request: response)(RequestFactory().get("/", headers=ASKS))


@pytest.mark.django_db
def test_a_page_is_compressed_for_who_can_read_that(client):
    response = client.get("/sign-in/", headers=ASKS)
    assert response["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in response["Vary"]
    assert b"</html>" in gzip.decompress(response.content)
    assert b"</html>" in client.get("/sign-in/").content


def test_answers_of_data_are_compressed():
    assert passed(HttpResponse(LONG, content_type="application/json"))["Content-Encoding"] == "gzip"


@pytest.mark.parametrize("kind", ["audio/webm", "application/pdf", "font/woff2"])
def test_what_is_compressed_already_is_left_alone(kind):
    assert passed(HttpResponse(LONG, content_type=kind)).content == LONG


def test_a_range_and_a_stream_are_left_alone():
    assert passed(HttpResponse(LONG, content_type="text/plain", status=206)).content == LONG
    response = passed(StreamingHttpResponse([LONG], content_type="text/plain"))
    assert "Content-Encoding" not in response
    assert b"".join(response.streaming_content) == LONG
