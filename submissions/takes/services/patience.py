"""How often one round of a worker asks a storage that does not answer."""

from dataclasses import dataclass

# Each may take half a minute to fail, and the worker has other chores.
FAILURES_A_ROUND = 3


@dataclass(slots=True)
class Patience:
    """One row that fails stops no other; a storage that is away is not asked for all of them."""

    failures: int = 0

    def lose(self) -> None:
        self.failures += 1

    @property
    def is_spent(self) -> bool:
        """Whether the rest waits for the next round."""
        return self.failures >= FAILURES_A_ROUND
