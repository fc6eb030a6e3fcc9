"""Which settings a command is for, where nobody said so.

On a laptop that is `dev`: SQLite and a demo school. On a school's server the same guess would open an empty
database beside the real one, and a technician would look at a school without students. So whoever left
`DJANGO_SETTINGS_MODULE` out is asked, wherever something tells of a school.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

LAPTOP = "bandroom.settings.dev"
SCHOOL = "bandroom.settings.production"
#: Settings that only a school's server has; a laptop needs none of them.
OF_A_SCHOOL = ("SECRET_KEY", "ALLOWED_HOSTS", "DATABASE_URL", "S3_BUCKET")
#: What the units in bandroom/deploy read their settings from.
UNIT_SETTINGS = Path("/etc/bandroom/environment")


def settings_for(
    arguments: Sequence[str], environ: Mapping[str, str], *, unit_settings: Path = UNIT_SETTINGS
) -> str:
    """The settings module; raises LookupError with a sentence where it must not be guessed."""
    if module := environ.get("DJANGO_SETTINGS_MODULE"):
        return module
    if any(word.startswith("--settings") for word in arguments):
        return LAPTOP  # Django takes the option
    signs = [name for name in OF_A_SCHOOL if name in environ or f"{name}_FILE" in environ]
    signs = [f"{name} is set" for name in signs] or [f"{unit_settings} exists"] * unit_settings.exists()
    if signs:
        raise LookupError(
            f"This looks like a school's server ({', '.join(signs)}), and nobody said which settings to use. "
            f"Set DJANGO_SETTINGS_MODULE={SCHOOL} and the settings in README.md, or {LAPTOP} for a laptop."
        )
    return LAPTOP
