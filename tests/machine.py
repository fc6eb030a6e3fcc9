"""What the tests need from the machine beside Python packages, and how it gets there.

On Debian or Ubuntu as root it is installed; elsewhere the missing things are named.
"""

import os
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests import postgres

SOUND_FONTS = (Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), Path("/usr/share/soundfonts/FluidR3_GM.sf2"))


# Chromium without its windows: the same engine for half of the machine's time. Not every system packs it.
SHELL = "chromium-headless-shell"


def chromium() -> str | None:
    names = (SHELL, "chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return os.environ.get("CHROMIUM") or next((path for name in names if (path := shutil.which(name))), None)


def nginx() -> str | None:
    places = os.environ.get("PATH", "") + os.pathsep + "/usr/sbin"
    return shutil.which("nginx", path=places)


def sound_font() -> Path | None:
    return next((path for path in SOUND_FONTS if path.exists()), None)


@dataclass(frozen=True, slots=True)
class Need:
    name: str
    debian: tuple[str, ...]
    present: Callable[[], object]
    without: str


NEEDS = (
    Need("Chromium", ("chromium",), chromium, "the browser tests"),
    Need("nginx", ("nginx-light", "openssl"), nginx, "the nginx example"),
    Need(
        "systemd-analyze",
        ("systemd",),
        lambda: shutil.which("systemd-analyze"),
        "the systemd units",
    ),
    Need("PostgreSQL", ("postgresql",), postgres.binaries, "the suite on PostgreSQL"),
    Need(
        "FluidSynth",
        ("fluidsynth",),
        lambda: shutil.which("fluidsynth"),
        "the listener on played instruments",
    ),
    Need(
        "a General MIDI sound font", ("fluid-soundfont-gm",), sound_font, "the listener on played instruments"
    ),
    Need(
        "Pango",
        ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core"),
        lambda: any(Path("/usr/lib").rglob("libpangoft2-1.0.so.0")) or shutil.which("brew"),
        "printed parts and cards",
    ),
)


def missing() -> list[Need]:
    return [need for need in NEEDS if not need.present()]


def install_missing() -> list[Need]:
    """Install on Debian as root; return what is still missing."""
    lacking = missing()
    packages = sorted({package for need in lacking for package in need.debian})
    quicker = [] if shutil.which(SHELL) else [SHELL]
    if (packages or quicker) and os.geteuid() == 0 and shutil.which("apt-get"):
        print(f"Installing for the tests: {' '.join(packages + quicker)}", flush=True)
        _apt_get("update")
        for wanted in (packages, quicker):  # apart: one name that apt does not know stops them all
            if wanted:
                _apt_get("install", "-y", "--no-install-recommends", *wanted)
    return missing()


def _apt_get(*words: str) -> None:
    subprocess.run(
        ["apt-get", "-qq", "-o", "Acquire::http::Timeout=20", *words],
        env=os.environ | {"DEBIAN_FRONTEND": "noninteractive"},
        check=False,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
