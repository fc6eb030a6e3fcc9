"""Spanish with marks, for pages that must say nothing outside of them."""

from collections.abc import Iterator

import pytest
from django.core.cache import caches
from django.utils.translation import trans_real

from tests.translation.marking import MarkedTranslation


@pytest.fixture(scope="module")
def marked_spanish() -> Iterator[None]:
    """Drawings made meanwhile are thrown away in the end: their words have marks."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(trans_real._translations, "es", MarkedTranslation("es"))
        caches["engravings"].clear()
        yield
    caches["engravings"].clear()
