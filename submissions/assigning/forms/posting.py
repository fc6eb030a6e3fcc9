"""What a director decides when posting an exercise, or changing what was posted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Q, QuerySet

from bandroom.people.models import Band, Section
from exercises.models import Exercise, ExerciseLine
from submissions.assigning.deadlines import (
    CLOSING,
    DUE,
    OPENING,
    Window,
    WindowProblem,
    comes_twice,
    usual_window,
    wall_clock,
)
from submissions.assigning.forms.fields import BandTimeField
from submissions.assigning.periods import by_period
from submissions.assigning.services import window_of
from submissions.models import Assignment, Routes, Rubric, Step

SLOWEST, FASTEST = 40, 160
TIMES = (("opens", "Opens", OPENING), ("due", "Due", DUE), ("closes", "Closes", CLOSING))


@dataclass(frozen=True, slots=True)
class SectionChoice:
    """One section as the form shows it: its tick box and its own times."""

    section: Section
    seated: int
    ticked: bool
    times: tuple[forms.BoundField, ...]


@dataclass(frozen=True, slots=True)
class TempoChoice:
    """One line's tempo as the form shows it, and how far from it students may record."""

    label: str
    asked: forms.BoundField
    slowest: forms.BoundField
    fastest: forms.BoundField


class PostForm(forms.Form):
    """For one exercise. Sections may have times of their own; a box left empty takes the time for all."""

    sections = forms.ModelMultipleChoiceField(
        queryset=Section.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one section to post to."},
    )
    lines = forms.MultipleChoiceField(
        label="Lines asked for",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one line to ask for."},
    )
    routes = forms.ChoiceField(
        label="How students turn it in",
        choices=[
            (Routes.EITHER, "Recording or check-in, as each student likes"),
            (Routes.RECORDING, "Recording only"),
            (Routes.CHECK_IN, "Check-in only, played live"),
        ],
        widget=forms.RadioSelect,
        initial=Routes.EITHER,
    )
    first_steps = forms.MultipleChoiceField(
        label="Steps that come before recording",
        help_text="None: students take the steps in any order, or leave them out.",
        choices=Step.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    rubric = forms.ModelChoiceField(queryset=Rubric.objects.none(), empty_label=None)
    note = forms.CharField(
        label="Note to students",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What to look out for. Students read it over the first line.",
    )

    def __init__(
        self,
        *args: Any,
        band: Band,
        exercise: Exercise,
        sections: QuerySet[Section],
        rubric: Rubric,
        at: datetime,
        assignment: Assignment | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.band = band
        self.exercise = exercise
        self.at = at
        self.assignment = assignment
        self.exercise_lines: Sequence[ExerciseLine] = list(exercise.lines.all())
        self.section_list = list(sections)
        self.windows_before: Mapping[int, Window] = (
            {posting.section_id: window_of(posting) for posting in assignment.postings.all()}
            if assignment
            else {}
        )
        self._set_choices(sections=sections, rubric=rubric)
        self._add_times()
        self._add_tempos()

    def _set_choices(self, *, sections: QuerySet[Section], rubric: Rubric) -> None:
        assignment = self.assignment
        chosen = self.fields["sections"]
        assert isinstance(chosen, forms.ModelMultipleChoiceField)  # noqa: S101 - for the type checker
        chosen.queryset = sections
        rubrics = self.fields["rubric"]
        assert isinstance(rubrics, forms.ModelChoiceField)  # noqa: S101
        rubrics.queryset = Rubric.objects.filter(
            Q(put_away_at__isnull=True) | Q(pk=rubric.pk), band=self.band
        )
        lines = self.fields["lines"]
        assert isinstance(lines, forms.MultipleChoiceField)  # noqa: S101
        lines.choices = [(line.label, _line_words(line)) for line in self.exercise_lines]
        self.initial.setdefault("rubric", rubric.pk)
        self.initial.setdefault(
            "lines", assignment.lines if assignment else [line.label for line in self.exercise_lines]
        )
        self.initial.setdefault("sections", list(self.windows_before))
        if assignment:
            self.initial.setdefault("routes", assignment.routes)
            self.initial.setdefault("first_steps", assignment.first_steps)
            self.initial.setdefault("note", assignment.note)

    def _add_times(self) -> None:
        """The times for all sections, and for each section boxes that may stay empty."""
        zone = self.band.zone
        shared = self._shared_window()
        for name, label, twice in TIMES:
            moment = _moment(shared, name)
            self.fields[name] = BandTimeField(zone=zone, twice=twice, kept=moment, label=label)
            for section in self.section_list:
                before = self.windows_before.get(section.pk)
                own = _moment(before, name) if before else None
                self.fields[f"{name}-{section.pk}"] = BandTimeField(
                    zone=zone,
                    twice=twice,
                    kept=own if own != moment else None,
                    required=False,
                    label=f"{section}: {label.lower()}",
                )

    def _shared_window(self) -> Window:
        """The window that most sections have; the usual one for a new assignment."""
        windows = list(self.windows_before.values())
        if not windows:
            return usual_window(zone=self.band.zone, at=self.at)
        return max(windows, key=windows.count)

    def _add_tempos(self) -> None:
        """For each line its tempo, and two boxes that may stay empty: then it is recorded exactly at that."""
        for line in self.exercise_lines:
            before = self.assignment.allowance_of(line.label, line.tempo_bpm) if self.assignment else None
            apart = before is not None and not before.is_exact
            self.fields[f"tempo-{line.label}"] = _tempo_field(
                label=f"Tempo of line {line.label}",
                initial=before.asked if before else line.tempo_bpm,
            )
            self.fields[f"slowest-{line.label}"] = _tempo_field(
                label=f"Slowest tempo of line {line.label}",
                initial=before.slowest if before and apart else None,
                required=False,
            )
            self.fields[f"fastest-{line.label}"] = _tempo_field(
                label=f"Fastest tempo of line {line.label}",
                initial=before.fastest if before and apart else None,
                required=False,
            )

    # What the page shows -----------------------------------------------------------------------------------

    @property
    def periods(self) -> list[tuple[str, list[SectionChoice]]]:
        """Sections to tick by class period, all without one together at the end."""
        ticked = {str(value) for value in self["sections"].value() or []}
        groups: dict[str, list[SectionChoice]] = {}
        for group in by_period(self.section_list):
            choices = [self._choice(section, ticked) for section in group]
            groups.setdefault(group[0].period, []).extend(choices)
        return list(groups.items())

    def _choice(self, section: Section, ticked: set[str]) -> SectionChoice:
        return SectionChoice(
            section=section,
            seated=getattr(section, "seated", 0),
            ticked=str(section.pk) in ticked,
            times=tuple(self[f"{name}-{section.pk}"] for name, _, _ in TIMES),
        )

    @property
    def shared_times(self) -> list[forms.BoundField]:
        return [self[name] for name, _, _ in TIMES]

    @property
    def tempo_choices(self) -> list[TempoChoice]:
        return [
            TempoChoice(
                label=line.label,
                asked=self[f"tempo-{line.label}"],
                slowest=self[f"slowest-{line.label}"],
                fastest=self[f"fastest-{line.label}"],
            )
            for line in self.exercise_lines
        ]

    @property
    def has_own_times(self) -> bool:
        """Whether the fold with each section's own times should stand open."""
        own = [f"{name}-{section.pk}" for section in self.section_list for name, _, _ in TIMES]
        return any(self[name].value() not in (None, "") or self[name].errors for name in own)

    # What it says -------------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        windows: dict[Section, Window] = {}
        for section in data.get("sections", ()):
            times = [data.get(f"{name}-{section.pk}") or data.get(name) for name, _, _ in TIMES]
            if None in times:
                continue
            window = Window(*times)  # type: ignore[arg-type]  # no None among them
            self._check(section, window)
            windows[section] = window
        data["windows"] = windows
        data["tempos"] = {
            line.label: tempo for line in self.exercise_lines if (tempo := data.get(f"tempo-{line.label}"))
        }
        data["tempo_ranges"] = {
            label: self._range(label, asked=asked) for label, asked in data["tempos"].items()
        }
        return data

    def _range(self, label: str, *, asked: int) -> tuple[int, int]:
        """Slowest and fastest of one line; a box left empty is the tempo itself."""
        slowest = self.cleaned_data.get(f"slowest-{label}") or asked
        fastest = self.cleaned_data.get(f"fastest-{label}") or asked
        if slowest > asked:
            self.add_error(
                f"slowest-{label}", f"Line {label} is asked for at {asked}; choose that or slower."
            )
        if fastest < asked:
            self.add_error(
                f"fastest-{label}", f"Line {label} is asked for at {asked}; choose that or faster."
            )
        return min(slowest, asked), max(fastest, asked)

    def _check(self, section: Section, window: Window) -> None:
        """Say what is wrong once: on the section's own boxes if it has any, else on the shared ones."""
        problem = window.problem()
        if problem is None and window.due_at <= self.at and self._is_new(section, window):
            problem = WindowProblem("due", "This time has passed already; choose a later one.")
        if problem is None:
            return
        own = any(self.cleaned_data.get(f"{name}-{section.pk}") for name, _, _ in TIMES)
        field = f"{problem.name}-{section.pk}" if own else problem.name
        if problem.sentence not in self.errors.get(field, ()):
            self.add_error(field, problem.sentence)

    def _is_new(self, section: Section, window: Window) -> bool:
        before = self.windows_before.get(section.pk)
        return before is None or before.due_at != window.due_at

    def twice_words(self) -> list[str]:
        """For each time that the band's clock shows twice, which of the two was taken."""
        zone = self.band.zone
        found = [
            (label, twice, moment.astimezone(zone))
            for name, label, twice in TIMES
            for moment in sorted({_moment(window, name) for window in self.cleaned_data["windows"].values()})
            if comes_twice(wall_clock(moment, zone=zone), zone=zone)
        ]
        return [
            f"{label}: the clock shows that time twice, and the {twice.name.lower()} is meant "
            f"({local:%Z}), so that nobody loses time."
            for label, twice, local in found
        ]


def _tempo_field(*, label: str, initial: int | None, required: bool = True) -> forms.Field:
    wrong = f"Choose a tempo from {SLOWEST} to {FASTEST} quarter notes a minute."
    return forms.IntegerField(
        label=label,
        initial=initial,
        required=required,
        validators=[MinValueValidator(SLOWEST, wrong), MaxValueValidator(FASTEST, wrong)],
        widget=forms.NumberInput(attrs={"min": SLOWEST, "max": FASTEST}),
        error_messages={"invalid": wrong, "required": wrong},
    )


def _moment(window: Window, name: str) -> datetime:
    return {"opens": window.opens_at, "due": window.due_at, "closes": window.closes_at}[name]


def _line_words(line: ExerciseLine) -> str:
    return f"Line {line.label}, {line.caption}" if line.caption else f"Line {line.label}"
