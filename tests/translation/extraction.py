"""Every sentence that is marked for translation, found in Python and templates without any tool but Python.

A message is (context, singular, plural), with "" for no context and no plural, as gettext tells them apart.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from django.utils.translation.template import templatize

ROOT = Path(__file__).parents[2]
PACKAGES = ("bandroom", "exercises", "submissions")
#: Functions that translate or mark, with what their arguments are.
SINGULAR = {"_", "gettext", "gettext_lazy", "gettext_noop"}
PLURAL = {"ngettext", "ngettext_lazy"}
IN_CONTEXT = {"pgettext", "pgettext_lazy"}
#: What `templatize` makes of a template's tags: calls of these among filler.
CALL = re.compile(
    r"\b(?:gettext|ngettext|pgettext|_)\((?:[^()'\"]|'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")*\)"
)


class Message(NamedTuple):
    context: str
    singular: str
    plural: str


def marked() -> dict[Message, str]:
    """Every message with the file it was first met in, in the order of files."""
    found: dict[Message, str] = {}
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            if "migrations" not in path.parts:
                for message in in_python(path.read_text(encoding="utf-8")):
                    found.setdefault(message, str(path.relative_to(ROOT)))
    for path in sorted((ROOT / "templates").rglob("*.html")):
        for message in in_template(path.read_text(encoding="utf-8")):
            found.setdefault(message, str(path.relative_to(ROOT)))
    return found


def in_python(source: str) -> Iterator[Message]:
    """Messages in the calls of a module; one that is no plain text cannot be translated and is an error."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            yield from _of_call(node, node.func.id)


def _of_call(node: ast.Call, name: str) -> Iterator[Message]:
    if name in SINGULAR and not _is_text(node.args[0]):
        return  # a sentence that was marked elsewhere: _(REST)
    if name in SINGULAR:
        yield Message("", _text(node.args[0]), "")
    elif name in PLURAL and _is_text(node.args[0]):
        yield Message("", _text(node.args[0]), _text(node.args[1]))
    elif name in IN_CONTEXT and _is_text(node.args[0]):
        yield Message(_text(node.args[0]), _text(node.args[1]), "")


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _text(node: ast.expr) -> str:
    assert isinstance(node, ast.Constant), "what is translated is written out, never put together"
    assert isinstance(node.value, str)
    return node.value


def in_template(source: str) -> Iterator[Message]:
    """Through Django's own reader of templates, which its `makemessages` uses as well."""
    for call in CALL.findall(templatize(source)):
        yield from in_python(call)
