"""The Spanish catalogue: read, held against what is marked, and written by `python -m tests.translation`."""

from pathlib import Path

from babel.messages import Catalog
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po, write_po

from tests.translation.extraction import ROOT, Message, marked

LANGUAGE = "es"
PO = ROOT / "locale" / LANGUAGE / "LC_MESSAGES" / "django.po"
MO = PO.with_suffix(".mo")
WIDTH = 110


def catalogue() -> Catalog:
    with PO.open("rb") as file:
        return read_po(file, locale=LANGUAGE)


def entries(found: Catalog) -> dict[Message, tuple[str, ...]]:
    """Each message with its translations: one, or one for each plural form."""
    return {
        message_of(each.id, each.context): (each.string,)
        if isinstance(each.string, str)
        else tuple(each.string)
        for each in found
        if each.id
    }


def message_of(ident: str | tuple[str, ...] | list[str], context: str | bytes | None) -> Message:
    singular, plural = (ident, "") if isinstance(ident, str) else (ident[0], ident[1])
    where = context.decode() if isinstance(context, bytes) else context or ""  # Babel's reader of .mo
    return Message(where, singular, plural)


def compiled(path: Path = MO) -> dict[Message, tuple[str, ...]]:
    with path.open("rb") as file:
        return entries(read_mo(file))


def update() -> list[Message]:
    """Bring both files up to what is marked now; returns what wants a translation."""
    before = entries(catalogue())
    old = catalogue()
    new = Catalog(
        locale=LANGUAGE,
        header_comment=old.header_comment,
        project="Bandroom",
        version="1",
        copyright_holder="the Bandroom contributors",
        msgid_bugs_address="-",
        creation_date=old.creation_date,
        revision_date=old.revision_date,
        last_translator="the Bandroom contributors",
        language_team="Spanish",
        fuzzy=False,
    )
    for message, place in marked().items():
        ident = (message.singular, message.plural) if message.plural else message.singular
        known = before.get(message, ("", "") if message.plural else ("",))
        new.add(
            ident,
            known if message.plural else known[0],
            locations=[(place, None)],
            context=message.context or None,
        )
    with PO.open("wb") as file:
        write_po(file, new, width=WIDTH, include_lineno=False)
    with MO.open("wb") as file:
        write_mo(file, new)
    return [message for message, strings in entries(new).items() if not all(strings)]
