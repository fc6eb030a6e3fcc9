"""`python -m tests.translation`: collect what is marked, keep what is translated, compile it."""

from tests.translation.catalogue import PO, update
from tests.translation.extraction import ROOT


def main() -> int:
    missing = update()
    for message in missing:
        print(f"Not translated yet: {message.singular}")
    print(f"{PO.relative_to(ROOT)} and its .mo are written; {len(missing)} messages want a translation.")
    return 1 if missing else 0


if __name__ == "__main__":
    raise SystemExit(main())
