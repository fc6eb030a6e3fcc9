"""The catalogues: read, held against what is marked, and written by `python -m tests.translation`."""

from pathlib import Path

from babel.messages import Catalog
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po, write_po

from tests.translation.extraction import ROOT, Message, marked

LOCALE = ROOT / "locale"
#: Every language there is beside English, in which everything is written.
LANGUAGES = sorted(path.name for path in LOCALE.iterdir())
WIDTH = 110


def po(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def mo(language: str) -> Path:
    return po(language).with_suffix(".mo")


def catalogue(language: str) -> Catalog:
    """What translators wrote; empty for a language that is new."""
    if not po(language).exists():
        return Catalog(locale=language)
    with po(language).open("rb") as file:
        return read_po(file, locale=language)


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


def compiled(language: str) -> dict[Message, tuple[str, ...]]:
    """What a server reads."""
    with mo(language).open("rb") as file:
        return entries(read_mo(file))


def update(language: str) -> list[Message]:
    """Bring both files of a language up to what is marked now; returns what wants a translation."""
    old = catalogue(language)
    before = entries(old)
    new = Catalog(
        locale=language,
        header_comment=old.header_comment,
        project="Bandroom",
        version="1",
        copyright_holder="the Bandroom contributors",
        msgid_bugs_address="-",
        creation_date=old.creation_date,
        revision_date=old.revision_date,
        last_translator="the Bandroom contributors",
        language_team=language,
        fuzzy=False,
    )
    for message, place in marked().items():
        ident = (message.singular, message.plural) if message.plural else message.singular
        known = before.get(message, ("",) * (new.num_plurals if message.plural else 1))
        new.add(
            ident,
            known if message.plural else known[0],
            locations=[(place, None)],
            context=message.context or None,
        )
    po(language).parent.mkdir(parents=True, exist_ok=True)
    with po(language).open("wb") as file:
        write_po(file, new, width=WIDTH, include_lineno=False)
    with mo(language).open("wb") as file:
        write_mo(file, new)
    return [message for message, strings in entries(new).items() if not all(strings)]
