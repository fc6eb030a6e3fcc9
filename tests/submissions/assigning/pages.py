"""What tests of pages share: text that must be escaped, what was said, who is turned away."""

from django.contrib.messages import get_messages
from django.http import HttpResponse
from django.test import Client

HTML = "<b onclick=alert(1)>&\"'</b>"
ESCAPED = "&lt;b onclick=alert(1)&gt;&amp;&quot;&#x27;&lt;/b&gt;"


def said(response: HttpResponse) -> list[str]:
    """The messages for the next page."""
    return [str(message) for message in get_messages(response.wsgi_request)]  # type: ignore[attr-defined]


def statuses(url: str, *clients: Client, method: str = "get") -> list[int]:
    return [getattr(client, method)(url).status_code for client in clients]


def assert_escaped(response: HttpResponse) -> None:
    page = response.content.decode()
    assert ESCAPED in page
    assert "<b onclick" not in page
