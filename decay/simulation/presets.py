"""Jobs that a word or two call for: what each shows, and how its log is written."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

from decay.errors import RangeError
from decay.simulation.job_file import JobFile, read_job_file

PRESETS = Path(__file__).resolve().parent / "preset_jobs"
"""One job file each; the sample logs are made from them."""


def preset_names() -> tuple[str, ...]:
    """Return the names of all presets, sorted."""
    return tuple(sorted(path.stem for path in PRESETS.glob("*.toml")))


def preset(name: str) -> JobFile:
    """Return a preset.

    Parameters
    ----------
    name : str
        Its name; blanks, hyphens and underscores count alike.

    Raises
    ------
    RangeError
        If there is none of that name; the nearest ones are named.

    Examples
    --------
    >>> preset("Leaking slowly").job.name
    'Kestrel Yard, refrigerated van 7, two evaporators'
    """
    wanted = "_".join(name.lower().replace("-", " ").replace("_", " ").split())
    names = preset_names()
    if wanted not in names:
        near = get_close_matches(wanted, names, 2) or names
        raise RangeError(f"there is no preset {name!r}. Did you mean {', '.join(near)}? `--presets` lists all.")
    return read_job_file(PRESETS / f"{wanted}.toml")
