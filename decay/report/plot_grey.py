"""Pictures in shades of grey, as a printer without colour makes them: every colour by the light it sends out."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.collections import Collection
from matplotlib.colors import to_rgba, to_rgba_array
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text

from decay.arrays import FloatArray

LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Weights of red, green and blue in the light that is seen, ITU-R BT.709. [-]"""


def grey(colour: Any) -> FloatArray:
    """Return the grey of a colour, its transparency kept.

    Parameters
    ----------
    colour : colour
        As matplotlib takes it.

    Returns
    -------
    ndarray, shape (4,)
        Red, green and blue alike, and alpha. [-]

    Examples
    --------
    >>> [round(float(x), 3) for x in grey("#ff0000")]
    [0.213, 0.213, 0.213, 1.0]
    """
    rgba = np.asarray(to_rgba(colour), dtype=np.float64)
    return np.array([*([float(rgba[:3] @ LUMA)] * 3), rgba[3]])


def in_grey(figure: Figure) -> Figure:
    """Turn a picture grey.

    Parameters
    ----------
    figure : Figure
        Changed in place.

    Returns
    -------
    Figure
        The same.
    """
    for artist in figure.findobj():
        if isinstance(artist, Line2D):
            artist.set_color(tuple(grey(artist.get_color())))
            for part in ("markerfacecolor", "markeredgecolor"):
                found = getattr(artist, f"get_{part}")()
                if not (isinstance(found, str) and found in ("none", "auto")):
                    getattr(artist, f"set_{part}")(tuple(grey(found)))
        elif isinstance(artist, Patch):
            for part in ("facecolor", "edgecolor"):
                getattr(artist, f"set_{part}")(tuple(grey(getattr(artist, f"get_{part}")())))
        elif isinstance(artist, Collection):
            for part in ("facecolor", "edgecolor"):
                found = to_rgba_array(getattr(artist, f"get_{part}")())
                getattr(artist, f"set_{part}")([grey(colour) for colour in found])
        elif isinstance(artist, Text):
            artist.set_color(tuple(grey(artist.get_color())))
    return figure
