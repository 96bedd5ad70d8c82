"""What does the window remember from one day to the next?"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

import platformdirs

from strokewise.daq.recording.atomic import write_atomically

FILE = "window.json"
MOST_RECENT = 8


@dataclass(frozen=True, slots=True)
class Settings:
    """What is remembered.

    Attributes
    ----------
    recent_profiles, recent_recordings, recent_jobs : tuple of str
        Paths, the latest first; a job's is that of its head file.
    cautions_read : tuple of str
        Names of the jobs whose cautions have been read before their first live run.
    initials : str
        Of who ticks tasks of a job.
    gauge : bool
        The worksheet counts pressure from the air outside.
    export_folder : str
        Where pictures and tables go; empty for the platform's folder of documents.
    """

    theme: str = "light"
    unit: str = "bar"
    port: str = ""
    baud: int = 115_200
    recent_profiles: tuple[str, ...] = ()
    recent_recordings: tuple[str, ...] = ()
    recent_jobs: tuple[str, ...] = ()
    initials: str = ""
    cautions_read: tuple[str, ...] = ()
    gauge: bool = False
    export_folder: str = ""

    def with_profile(self, path: str) -> Settings:
        """Return the settings with a profile put in front of the recent ones."""
        return replace(self, recent_profiles=_in_front(path, self.recent_profiles))

    def with_recording(self, path: str) -> Settings:
        """Return the settings with a recording put in front of the recent ones."""
        return replace(self, recent_recordings=_in_front(path, self.recent_recordings))

    def with_job(self, path: str) -> Settings:
        """Return the settings with a job put in front of the recent ones."""
        return replace(self, recent_jobs=_in_front(path, self.recent_jobs))

    def with_cautions_read(self, job: str) -> Settings:
        """Return the settings with the cautions of a job put down as read."""
        if job in self.cautions_read:
            return self
        return replace(self, cautions_read=(*self.cautions_read, job)[-200:])

    @property
    def exports(self) -> Path:
        """The folder that pictures and tables go to."""
        if self.export_folder:
            return Path(self.export_folder)
        return Path(platformdirs.user_documents_dir()) / "strokewise"


def _in_front(path: str, recent: tuple[str, ...]) -> tuple[str, ...]:
    return (path, *(each for each in recent if each != path))[:MOST_RECENT]


def settings_file() -> Path:
    """Return where the settings are kept on this platform."""
    return Path(platformdirs.user_config_dir("strokewise", appauthor=False)) / FILE


def load_settings(path: Path | None = None) -> Settings:
    """Return what is remembered; what is missing, damaged or of the wrong kind is the default."""
    try:
        found = json.loads((path or settings_file()).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Settings()
    if not isinstance(found, dict):
        return Settings()
    known: dict[str, Any] = {}
    for field in fields(Settings):
        value, default = found.get(field.name), field.default
        if isinstance(default, tuple) and isinstance(value, list):
            known[field.name] = tuple(str(item) for item in value)
        elif type(value) is type(default) and not isinstance(default, tuple):
            known[field.name] = value
    return Settings(**known)


def save_settings(settings: Settings, path: Path | None = None) -> str:
    """Keep the settings; returns why that failed, in words, or an empty text.

    A window that cannot remember its colours still works: so this never raises.
    """
    path = path or settings_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, json.dumps(asdict(settings), indent=2).encode())
    except OSError as error:
        return f"Settings could not be kept in {path}: {error.strerror}"
    return ""
