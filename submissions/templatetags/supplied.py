"""{% load supplied %}: words that Bandroom itself put into a band's own data, in the language of the page.

    {{ criterion.name|as_supplied }}    of the standard rubric, as long as nobody changed it

What a director wrote is shown as it was written.
"""

from django import template
from django.utils.translation import gettext

from submissions.assigning import standard_rubric

register = template.Library()

SUPPLIED = frozenset(
    words for criterion in standard_rubric.CRITERIA for words in (criterion.name, *criterion.levels)
)


@register.filter
def as_supplied(words: str) -> str:
    return gettext(words) if words in SUPPLIED else words
