"""`python -m submissions.preparing TAKE SERVED` writes the served copy and prints what it found as JSON.

One line on standard output: {"media_type", "seconds", "peaks", "findings", "marker_seconds"}, or
{"refusal", "sentence"} for a file that cannot be used. Any other ending is a fault of the machine, not
of the file, and worth another try.
"""

import argparse
import json
from pathlib import Path

from submissions.preparing.findings import Limits, Unusable
from submissions.preparing.prepare import prepare


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m submissions.preparing", description=__doc__)
    parser.add_argument("take", type=Path, help="the file as it was sent")
    parser.add_argument("served", type=Path, help="where to write the copy that is played")
    parser.add_argument("--longest-seconds", type=float, default=Limits().longest_seconds)
    arguments = parser.parse_args()
    limits = Limits(longest_seconds=arguments.longest_seconds)
    try:
        answer = prepare(source=arguments.take, served=arguments.served, limits=limits).to_json()
    except Unusable as unusable:
        answer = {"refusal": unusable.refusal, "sentence": unusable.sentence}
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
