"""A refusal that a person can act on."""


class Refused(Exception):
    """The move was not made and nothing was changed; the message is one sentence that says what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
