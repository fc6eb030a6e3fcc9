"""Refusals of a take, each with the status a program understands and the sentence a student reads."""

from http import HTTPStatus

from submissions.errors import Refused


class TakeRefused(Refused):
    """Nothing was changed and nothing was lost: the phone keeps its copy until a receipt came."""

    status = HTTPStatus.CONFLICT


class Malformed(TakeRefused):
    status = HTTPStatus.UNPROCESSABLE_ENTITY


class BadHeader(TakeRefused):
    status = HTTPStatus.BAD_REQUEST


class LengthRequired(TakeRefused):
    status = HTTPStatus.LENGTH_REQUIRED


class WrongVersion(TakeRefused):
    status = HTTPStatus.PRECONDITION_FAILED


class WrongType(TakeRefused):
    status = HTTPStatus.UNSUPPORTED_MEDIA_TYPE


class TooBig(TakeRefused):
    status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE


class NotAllowed(TakeRefused):
    status = HTTPStatus.FORBIDDEN


class SomebodyElse(TakeRefused):
    """The browser is signed in as another person than the page was made for."""

    status = HTTPStatus.UNAUTHORIZED


class WrongOffset(TakeRefused):
    """The bytes do not continue what is here; `offset` says where to go on."""

    def __init__(self, sentence: str, *, offset: int) -> None:
        super().__init__(sentence)
        self.offset = offset


class NoRoom(TakeRefused):
    """The disk is full."""

    status = HTTPStatus.INSUFFICIENT_STORAGE


class StorageAway(TakeRefused):
    """The storage of takes does not answer, or not as it should; the same request works later."""

    status = HTTPStatus.SERVICE_UNAVAILABLE


class Busy(TakeRefused):
    """The database is locked or away; the same request works a little later."""

    status = HTTPStatus.SERVICE_UNAVAILABLE
