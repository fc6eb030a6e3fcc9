"""`python -m tests.translation`: collect what is marked, keep what is translated, compile it.

With a language (`python -m tests.translation fr`) for that one, also one that is new; else for all there are.
"""

import sys

from tests.translation.catalogue import LANGUAGES, po, update
from tests.translation.extraction import ROOT


def main(asked: list[str]) -> int:
    wanting = 0
    for language in asked or LANGUAGES:
        missing = update(language)
        for message in missing:
            print(f"Not translated yet: {message.singular}")
        print(f"{po(language).relative_to(ROOT)} and its .mo are written; {len(missing)} want a translation.")
        wanting += len(missing)
    return 1 if wanting else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
