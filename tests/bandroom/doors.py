"""Every address with who may open it and what they get; see test_access.py for the rule about all others.

POST doors are pressed empty-handed: a form that is refused (422, 409, or 200 with its errors) still proves
who may press.
"""

from dataclasses import dataclass
from typing import Any

SIGN_IN, SAY_SIGN_IN, STRANGER = 302, 401, 404
VISITORS = (
    "nobody",
    "student",
    "classmate",
    "other band's student",
    "substitute",
    "director",
    "other band's director",
)
NOBODY: frozenset[str] = frozenset()
DIRECTOR = frozenset({"director"})
STAFF = frozenset({"director", "substitute"})
HIMSELF = frozenset({"student"})
STUDENT = frozenset({"student", "classmate"})
SIGNED_IN = frozenset(VISITORS) - {"nobody"}


@dataclass(frozen=True, slots=True)
class Door:
    """`answer` is what those in `who` get; `kwargs` are names of the world's ids.

    own      about the visitor's own band, whichever that is
    visitor  what somebody not signed in gets, where it is not the sign-in page
    """

    name: str
    who: frozenset[str]
    answer: int
    kwargs: tuple[str, ...]
    method: str
    own: bool = False
    visitor: int | None = None

    def __str__(self) -> str:
        return f"{self.method.upper()} {self.name}"

    def expected(self, visitor: str) -> int:
        allowed = set(self.who)
        if self.own:
            allowed |= {f"other band's {who}" for who in self.who}
        if visitor in allowed:
            return self.answer
        if visitor == "nobody":
            return self.visitor or (SAY_SIGN_IN if self.method == "post" else SIGN_IN)
        return STRANGER


def get(name: str, who: frozenset[str], answer: int, *kwargs: str, **more: Any) -> Door:
    return Door(name, who, answer, kwargs, "get", **more)


def post(name: str, who: frozenset[str], answer: int, *kwargs: str, **more: Any) -> Door:
    return Door(name, who, answer, kwargs, "post", **more)


def head(name: str, who: frozenset[str], answer: int, *kwargs: str, **more: Any) -> Door:
    return Door(name, who, answer, kwargs, "head", **more)


DOORS: tuple[Door, ...] = (
    get("home", SIGNED_IN, 302),
    get("alive", SIGNED_IN, 200, visitor=200),
    # No worker runs here, and it says so to anybody.
    get("ready", SIGNED_IN, 503, visitor=503),
    post("set-language", SIGNED_IN, 302, visitor=302),
    get("people:sign-in", STUDENT | STAFF, 302, own=True, visitor=200),
    post("people:sign-in", STUDENT | STAFF, 200, own=True, visitor=200),
    get("people:sign-in-staff", STUDENT | STAFF, 302, own=True, visitor=200),
    post("people:sign-in-staff", STUDENT | STAFF, 200, own=True, visitor=200),
    post("people:sign-out", STUDENT | STAFF, 302, own=True, visitor=302),
    post("people:set-reading", SIGNED_IN, 302, visitor=302),
    get("people:set-password", NOBODY, 404, "uid", "token", visitor=404),
    post("people:set-password", NOBODY, 404, "uid", "token", visitor=404),
    get("people:password", STAFF, 200, own=True),
    post("people:password", STAFF, 200, own=True),
    get("people:choose-band", STUDENT | STAFF, 200, own=True),
    post("people:choose-band", NOBODY, 404),
    get("people:band", STAFF, 200, own=True),
    get("people:settings", DIRECTOR, 200, own=True),
    post("people:settings", DIRECTOR, 200, own=True),
    get("people:section-new", DIRECTOR, 200, own=True),
    post("people:section-new", DIRECTOR, 200, own=True),
    get("people:section", DIRECTOR, 200, "section"),
    post("people:section", DIRECTOR, 200, "section"),
    post("people:section-move", NOBODY, 404, "section"),
    post("people:section-remove", DIRECTOR, 302, "section"),
    get("people:student-new", DIRECTOR, 200, own=True),
    post("people:student-new", DIRECTOR, 200, own=True),
    get("people:student", STAFF, 200, "member"),
    post("people:student-name", DIRECTOR, 422, "member"),
    post("people:student-recording", DIRECTOR, 302, "member"),
    post("people:student-leave", DIRECTOR, 302, "member"),
    post("people:student-come-back", DIRECTOR, 302, "member"),
    post("people:seat-new", DIRECTOR, 422, "member"),
    get("people:student-export", DIRECTOR, 200, "member"),
    get("people:student-erase", DIRECTOR, 200, "member"),
    post("people:student-erase", DIRECTOR, 200, "member"),
    post("people:seat-change", DIRECTOR, 422, "seat"),
    post("people:seat-end", DIRECTOR, 302, "seat"),
    get("people:permissions", DIRECTOR, 200, own=True),
    post("people:permissions", DIRECTOR, 200, own=True),
    get("people:staff", DIRECTOR, 200, own=True),
    post("people:staff", DIRECTOR, 200, own=True),
    post("people:staff-link", DIRECTOR, 200, "staff"),
    post("people:staff-end", DIRECTOR, 302, "staff"),
    get("people:cards", DIRECTOR, 200, own=True),
    post("people:cards-print", DIRECTOR, 422, own=True),
    get("people:import", DIRECTOR, 200, own=True),
    post("people:import", DIRECTOR, 422, own=True),
    post("people:import-preview", DIRECTOR, 302, own=True),
    post("people:import-apply", DIRECTOR, 302, own=True),
    get("exercises:exercises", STAFF, 200, own=True),
    get("exercises:write", DIRECTOR, 200, own=True),
    post("exercises:write", DIRECTOR, 422, own=True),
    post("exercises:bring-in", DIRECTOR, 422, own=True),
    post("exercises:sort", DIRECTOR, 422, own=True),
    get("exercises:pattern", DIRECTOR, 200, own=True),
    post("exercises:pattern", DIRECTOR, 422, own=True),
    post("exercises:look-at-pattern", DIRECTOR, 200, own=True),
    post("exercises:look", DIRECTOR, 200, own=True),
    get("exercises:edit", DIRECTOR, 200, "exercise"),
    post("exercises:edit", DIRECTOR, 422, "exercise"),
    post("exercises:put-away", DIRECTOR, 302, "exercise"),
    post("exercises:take-out", DIRECTOR, 302, "exercise"),
    get("exercises:exercise", STAFF, 200, "exercise"),
    get("exercises:print", STAFF, 200, "exercise"),
    get("exercises:score-musicxml", STAFF, 200, "exercise"),
    get("exercises:score-midi", STAFF, 200, "exercise"),
    get("exercises:part", STAFF, 200, "exercise", "instrument"),
    post("exercises:decide", DIRECTOR, 302, "exercise", "instrument"),
    get("exercises:part-musicxml", STAFF, 200, "exercise", "instrument"),
    get("exercises:part-midi", STAFF, 200, "exercise", "instrument"),
    get("exercises:ranges", DIRECTOR, 200, own=True),
    post("exercises:ranges", NOBODY, 404),
    post("exercises:usual-range", DIRECTOR, 302, "instrument", own=True),
    get("exercises:seat-range", DIRECTOR, 200, "seat"),
    post("exercises:seat-range", DIRECTOR, 422, "seat"),
    post("exercises:range-of-the-band", DIRECTOR, 302, "seat"),
    get("exercises:fingerings", STAFF, 200, own=True),
    post("exercises:part-settings", DIRECTOR, 422, own=True),
    get("exercises:fingering-page", STAFF, 200, "instrument", own=True),
    post("exercises:confirm-fingerings", DIRECTOR, 302, "instrument", own=True),
    get("exercises:fingering-note", DIRECTOR, 200, "instrument", "midi", own=True),
    post("exercises:fingering-note", DIRECTOR, 302, "instrument", "midi", own=True),
    get("submissions:week", STAFF, 200, own=True),
    get("submissions:assignments", STAFF, 200, own=True),
    get("submissions:post", DIRECTOR, 200, own=True),
    post("submissions:post", DIRECTOR, 200, own=True),
    post("submissions:preview-part", DIRECTOR, 200, "exercise"),
    get("submissions:edit", DIRECTOR, 200, "assignment"),
    post("submissions:edit", DIRECTOR, 200, "assignment"),
    post("submissions:copy", DIRECTOR, 302, "assignment"),
    post("submissions:withdraw", DIRECTOR, 302, "assignment"),
    post("submissions:bring-back", DIRECTOR, 302, "assignment"),
    get("submissions:rubrics", STAFF, 200, own=True),
    get("submissions:rubric-new", DIRECTOR, 200, own=True),
    post("submissions:rubric-new", DIRECTOR, 200, own=True),
    get("submissions:rubric-edit", DIRECTOR, 200, "rubric"),
    post("submissions:rubric-edit", DIRECTOR, 200, "rubric"),
    post("submissions:rubric-copy", DIRECTOR, 302, "rubric"),
    post("submissions:rubric-put-away", DIRECTOR, 302, "rubric"),
    post("submissions:rubric-take-out", DIRECTOR, 302, "rubric"),
    get("submissions:policy", DIRECTOR, 200, own=True),
    post("submissions:policy", DIRECTOR, 200, own=True),
    get("submissions:slots", STUDENT | STAFF, 200, own=True),
    get("submissions:slots-new", DIRECTOR, 200, own=True),
    post("submissions:slots-new", DIRECTOR, 200, own=True),
    post("submissions:book", STUDENT, 409, own=True),
    get("submissions:book-for", DIRECTOR, 200, "assignment", "seat"),
    post("submissions:book-for", DIRECTOR, 409, "assignment", "seat"),
    post("submissions:calendar-new", STUDENT | STAFF, 200, own=True),
    post("submissions:calendar-end", STUDENT | STAFF, 302, own=True),
    get("submissions:slot", STUDENT | STAFF, 200, "slot"),
    get("submissions:slot-edit", DIRECTOR, 200, "slot"),
    post("submissions:slot-edit", DIRECTOR, 200, "slot"),
    post("submissions:slot-cancel", DIRECTOR, 302, "slot"),
    post("submissions:slot-delete", DIRECTOR, 302, "slot"),
    get("submissions:slot-file", HIMSELF | STAFF, 200, "slot"),
    get("submissions:booking-move", HIMSELF, 200, "booking"),
    post("submissions:booking-move", HIMSELF, 409, "booking"),
    post("submissions:booking-cancel", HIMSELF, 302, "booking"),
    post("submissions:booking-here", STAFF, 302, "booking"),
    post("submissions:booking-absent", STAFF, 409, "booking"),
    post("submissions:booking-back", STAFF, 302, "booking"),
    post("submissions:booking-helped", STAFF, 302, "booking"),
    post("submissions:booking-return", STAFF, 422, "booking"),
    get("submissions:calendar", NOBODY, 404, "secret", visitor=404),
    post("submissions:declare", STUDENT, 422, "assignment"),
    post("submissions:turn-in", STUDENT, 422, "assignment"),
    post("submissions:uploads", STUDENT, 412, own=True),
    head("submissions:upload", HIMSELF, 412, "take"),
    get("submissions:take", HIMSELF | STAFF, 200, "take"),
    get("submissions:sound", HIMSELF | STAFF, 200, "take"),
    # A take that was prepared is played by the address above; what came is kept from students in any case.
    get("submissions:original", STAFF, 404, "take"),
    get("submissions:desk", STAFF, 200, "assignment"),
    get("submissions:desk-seat", STAFF, 200, "assignment", "seat"),
    get("submissions:desk-line", STAFF, 200, "assignment", "seat", "line"),
    post("submissions:desk-mark", STAFF, 422, "assignment", "seat"),
    post("submissions:desk-note", STAFF, 422, "assignment", "seat"),
    post("submissions:desk-ear", STAFF, 422, "assignment", "seat"),
    post("submissions:desk-return", STAFF, 422, "assignment", "seat"),
    post("submissions:desk-excuse", STAFF, 302, "assignment", "seat"),
    post("submissions:desk-unexcuse", STAFF, 409, "assignment", "seat"),
    post("submissions:desk-live", STAFF, 422, "assignment", "seat"),
    post("submissions:desk-unlive", STAFF, 409, "assignment", "seat"),
    post("submissions:desk-reopen", STAFF, 409, "assignment", "seat"),
    post("submissions:desk-lateness", STAFF, 422, "assignment", "seat"),
    get("submissions:phrases", DIRECTOR, 200, own=True),
    post("submissions:phrase-add", DIRECTOR, 422, own=True),
    post("submissions:phrase-edit", DIRECTOR, 422, "phrase"),
    post("submissions:phrase-move", DIRECTOR, 302, "phrase"),
    post("submissions:phrase-delete", DIRECTOR, 302, "phrase"),
    get("submissions:assignment", STAFF, 200, "assignment"),
    get("submissions:board", STAFF, 200, "assignment"),
    # Code and words alone, the same for everybody: a browser fetches them without a sign-in.
    get("submissions:service-worker", SIGNED_IN, 200, visitor=200),
    get("submissions:not-here", SIGNED_IN, 200, "language", visitor=200),
    get("submissions:export", DIRECTOR, 200, "assignment"),
    get("submissions:export-term", DIRECTOR, 200, own=True),
    get("submissions:history", STAFF, 200, "member"),
    get("submissions:my-work", STUDENT, 200, own=True),
    get("submissions:my-earlier-work", STUDENT, 200, own=True),
    get("submissions:my-assignment", STUDENT, 200, "assignment"),
    get("submissions:record", STUDENT, 200, "assignment", "labels"),
    get("submissions:step", STUDENT, 200, "assignment", "step"),
    post("submissions:step-do", STUDENT, 302, "assignment", "step"),
    post("submissions:stuck", STUDENT, 404, "assignment"),
    post("submissions:unstick", STUDENT, 302, "assignment", "stuck"),
    get("submissions:my-sheet", STUDENT, 200, "assignment"),
    get("submissions:sheets", STAFF, 404, "assignment"),
    get("submissions:checklists", DIRECTOR, 200, own=True),
    get("submissions:checklist", DIRECTOR, 200, "section"),
    post("submissions:checklist", DIRECTOR, 200, "section"),
    post("submissions:checklist-usual", DIRECTOR, 302, "section"),
)
