"""How is an engine profile put down again? As a table for a recording's header, or as a TOML file.

Reading what was written gives the same profile again, bit for bit: defaults are left out and every
quantity is written in the unit that the profile carries.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import tomli_w

from strokewise.analysis.errors import ProfileError
from strokewise.analysis.profile import Atmosphere, Encoder, Profile, even_intervals_deg
from strokewise.daq.profile.keys import TABLES, TOP_TABLE, KeyTable
from strokewise.daq.recording.atomic import write_atomically


def profile_to_table(profile: Profile) -> dict[str, Any]:
    """Return the profile as TOML or JSON can carry it."""
    table = _keys(TOP_TABLE, profile)
    if profile.firing_intervals_deg == even_intervals_deg(profile.cylinders, profile.cycle_deg):
        del table["firing_intervals"]
    for name, spec in TABLES.items():
        written = _table(spec, profile)
        if written is not None:
            table[name] = written
    return table


def profile_to_toml(profile: Profile) -> str:
    """Return the profile as the text of a TOML file.

    Examples
    --------
    >>> from strokewise.daq import known_engine, profile_to_toml
    >>> known = known_engine(overrides=["cylinders=3", "firing_order=1-3-2", "bore=3 1/4 in"])
    >>> 'bore = "82.55 mm"' in profile_to_toml(known.profile).splitlines()
    True
    """
    return tomli_w.dumps(profile_to_table(profile))


def write_profile(profile: Profile, path: Path | str) -> None:
    """Write the profile as TOML, whole or not at all; an existing file is replaced.

    Raises
    ------
    ProfileError
        The file cannot be written.

    Examples
    --------
    >>> from pathlib import Path
    >>> from strokewise.daq import known_engine, write_profile
    >>> bench = known_engine(overrides=["cylinders=3", "firing_order=1-3-2"])
    >>> write_profile(bench.profile, "bench.toml")
    >>> known_engine(engine="bench.toml").profile == bench.profile
    True
    """
    try:
        write_atomically(Path(path), profile_to_toml(profile).encode())
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ProfileError(f"{path}: cannot write the engine profile: {reason}") from None


def _table(spec: KeyTable, profile: Profile) -> Any:
    """Return one table, a list of tables, or None where there is nothing to say."""
    if spec.field is None:
        return _keys(spec, profile) or None
    built = getattr(profile, spec.field)
    if spec.many:
        written = [_keys(spec, each) for each in built]
        single = spec.field == "sensors" and len(written) == 1
        return (written[0] if single else written) or (None if not built else {})
    if built is None or built in (Atmosphere(), Encoder()):
        return None
    # A measured atmosphere that happens to equal the default is still a measured one.
    return _keys(spec, built, whole=isinstance(built, Atmosphere))


def _keys(spec: KeyTable, built: Any, *, whole: bool = False) -> dict[str, Any]:
    """Return the keys of one table that say more than the default."""
    defaults: Mapping[str, Any] = {each.name: each.default for each in fields(built)}
    values = {key: getattr(built, key.field) for key in spec.keys}
    return {
        key.name: key.kind.write(value)
        for key, value in values.items()
        if value is not None
        and value != ()
        and (whole or key.needed or value != defaults[key.field])
    }
