"""One cause with its weight against a sound installation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.channels import FAMILY

Floats = NDArray[np.float64]

PRIOR = -3.2
"""Natural logarithm of a usual cause's odds against a sound installation: about 1 in 25, an estimate."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cause:
    """One cause weighed.

    Parameters
    ----------
    kind : str
    also : tuple of str
        Kinds that this log cannot tell from it.
    channels : tuple of str
    probability : float
        Among all causes and a sound installation.
    support : float
        Log-likelihood ratio against a sound installation.
    lines : mapping of str to float
        What each line of the healthy engine gains by it.
    evidence : tuple of str
    start_s, end_s : float
    size : tuple of float
        Best size, as its `text` names it.
    text : str
    crossed : bool
        A limit was crossed.
    hard : bool
        Rests on a rail or a blank, which no engine can give.
    exact : bool
        A typed value of the engine stands behind its lines.
    low : bool
        The channel reads less than the truth by it.
    fits_cold : bool
        Before the start the probes stood far from the air and each other, and with it undone all stand on it.
    rows : mapping of channel to (windows,) float
        What the channels would show without it.
    """

    kind: str
    also: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    probability: float = 0.0
    support: float = 0.0
    weight: float = 0.0
    lines: Mapping[str, float]
    evidence: tuple[str, ...] = ()
    start_s: float = 0.0
    end_s: float = 0.0
    size: tuple[float, ...] = ()
    text: str = ""
    crossed: bool = False
    hard: bool = False
    exact: bool = False
    low: bool = False
    fits_cold: bool = False
    rows: Mapping[str, Floats]

    @property
    def family(self) -> str:
        """Family of the kind."""
        return FAMILY[self.kind]
