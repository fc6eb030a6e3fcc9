"""The table of what phones went through and how many takes were lost, told at the end of the run.

Each trial travels with its test's report, so that the table is whole however many processes shared the tests.
A trial is one take put at risk.
"""

from collections.abc import Iterable

import pytest

PROPERTY = "trials of a row"


def rows_of(reports: Iterable[pytest.TestReport]) -> dict[str, tuple[int, int]]:
    """(trials, takes lost) of each row, in the order they came in."""
    rows: dict[str, tuple[int, int]] = {}
    for report in reports:
        for name, value in report.user_properties:
            if name == PROPERTY:
                row, trials, lost = value
                before = rows.get(row, (0, 0))
                rows[row] = (before[0] + trials, before[1] + lost)
    return rows


def table(rows: dict[str, tuple[int, int]]) -> list[str]:
    width = max(map(len, rows))
    trials, lost = (sum(counts) for counts in zip(*rows.values(), strict=True))
    lines = [(row, *counts) for row, counts in rows.items()] + [("all", trials, lost)]
    return [f"{'what happened':{width}}  trials  takes lost"] + [
        f"{row:{width}}  {trials:6}  {lost:10}" for row, trials, lost in lines
    ]


def tell(reporter: pytest.TerminalReporter) -> None:
    reports = [
        report
        for group in ("passed", "failed")
        for report in reporter.stats.get(group, [])
        if isinstance(report, pytest.TestReport) and report.when == "call"
    ]
    if rows := rows_of(reports):
        reporter.section("takes lost")
        for line in table(rows):
            reporter.write_line(line)
