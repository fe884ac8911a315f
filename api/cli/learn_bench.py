"""The lines of bench.toml for a gauge that was learned."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.learn.line.setting import Setting

KIND = 'kind = "?"             # what it is: micrometer, bore-gauge, torque-adapter, …'
_STEP = "# the step of its display"


def bench_lines(
    port: str,
    profile: str | None,
    unit: str,
    resolution: str | None,
    setting: Setting | None = None,
    notify: str | None = None,
    write: str | None = None,
) -> str:
    """An ``[[instrument]]`` and, where the port is more than its name, its ``[[port]]``.

    ``profile`` is None where none is needed; ``resolution`` None where it is not known.
    """
    more = setting.lines() if setting is not None else []
    more += [f"notify = {_quoted(notify)}"] if notify else []
    more += [f"write = {_quoted(write)}"] if write else []
    rows = ["[[instrument]]", 'id = "gauge-1"', KIND]
    rows.append(f"port = {_quoted('learned-port' if more else port)}")
    if profile is not None:
        rows.append(f"profile = {_quoted(profile)}")
    rows.append(f"unit = {_quoted(unit)}")
    rows.append(f"resolution = {_quoted(resolution or '?')}".ljust(23) + _STEP)
    if more:
        at = "url" if "://" in port else "device"
        rows += ["", "[[port]]", 'id = "learned-port"', f"{at} = {_quoted(port)}", *more]
    return "\n".join(rows) + "\n"


def step_of(profile: str, raws: Sequence[bytes]) -> str | None:
    """The smallest step of the digits that the profile reads in the messages."""
    from drivers.learn.learn import decoded
    from drivers.profiles.load import parse_profile

    loaded = parse_profile(profile.encode(), "learned", "learned profile")
    digits = [said[0] for raw in raws if (said := decoded(loaded, raw)) is not None]
    if not digits or any("e" in one.lower() for one in digits):
        return None
    places = max(len(one.partition(".")[2]) for one in digits)
    return "1" if not places else f"0.{'1'.zfill(places)}"


def _quoted(text: str) -> str:
    """As a TOML basic string; JSON's is one, for what a path, a name or a number can hold."""
    return json.dumps(text, ensure_ascii=False)
