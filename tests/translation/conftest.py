"""Spanish with marks, for pages that must say nothing outside of them."""

from collections.abc import Iterator

import pytest

from tests.translation.marking import spanish_with_marks


@pytest.fixture(scope="module")
def marked_spanish() -> Iterator[None]:
    with spanish_with_marks():
        yield
