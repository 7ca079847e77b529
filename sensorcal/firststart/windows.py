"""The log in blocks of about a second, and the stretches of it that questions are asked of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import JUDGED
from sensorcal.firststart.channels import CHANNELS
from sensorcal.firststart.digital import Signs
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.phases import Phases
from sensorcal.firststart.startlog import StartLog

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Values = Mapping[str, Floats]
"""Channel to block means, shape (m,), home units."""

_MOST_BLOCKS = 1500


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """Block means of the cleaned log and where its stretches lie.

    Parameters
    ----------
    time_s : (m,) float
        Middle of each block.
    values : mapping of channel to (m,) float
        NaN where a block holds nothing that can be believed.
    width_s : float
    start_s, stop_s : float or None
    rest, before, crank, after_start, running, idle, end_run, after_stop, soak, at_rest_again : (m,) bool
        Engine off before the start; the last seconds before cranking; cranking; 5-15 s after the start; running from
        15 s on; the slow part of it; the last 20 s of it; 3-10 s after the stop; 10-300 s after it; from 15 s after
        it on.
    ambient_c, u_ambient_c : float
        Air temperature by the setup, the log's own column or the resting probes.
    """

    time_s: Floats
    values: Values
    width_s: float
    start_s: float | None
    stop_s: float | None
    rest: Bools
    before: Bools
    crank: Bools
    after_start: Bools
    running: Bools
    idle: Bools
    end_run: Bools
    after_stop: Bools
    soak: Bools
    at_rest_again: Bools
    ambient_c: float
    u_ambient_c: float


def windows(log: StartLog, phases: Phases, facts: StartFacts, signs: Mapping[str, Signs]) -> Windows:
    """Reduce a log to blocks, leaving out what the channels' own signs show to be no reading.

    Parameters
    ----------
    log : StartLog
    phases : Phases
    facts : StartFacts
    signs : mapping of channel to Signs

    Returns
    -------
    Windows
    """
    t = log.time_s
    span = float(t[-1] - t[0])
    width = max(1.0, span / _MOST_BLOCKS, float(np.median(np.diff(t))) if t.size > 1 else 1.0)
    if log.kind == "events":
        index = np.arange(t.size)
    else:
        index = np.unique(((t - t[0]) / width).astype(np.int64), return_inverse=True)[1]
    count = int(index[-1]) + 1
    rows = np.bincount(index, minlength=count)
    middle = np.bincount(index, weights=t, minlength=count) / rows
    values: dict[str, Floats] = {}
    for name in CHANNELS:
        if name not in log.values:
            continue
        x = log.values[name]
        good = np.isfinite(x)
        if name in signs:
            good &= ~signs[name].bad
            for stretch in signs[name].frozen:
                if signs[name].frozen_expected > 15.0:
                    good &= ~((t > stretch.start_s) & (t <= stretch.end_s))
        if not good.any():
            continue
        seen = np.bincount(index, weights=good, minlength=count)
        total = np.bincount(index, weights=np.where(good, x, 0.0), minlength=count)
        with np.errstate(invalid="ignore", divide="ignore"):
            values[name] = np.where(seen > 0, total / seen, np.nan)
    # A block belongs to the phase of its first row; cranking counts wherever any row of the block cranks.
    first = np.searchsorted(index, np.arange(count))
    in_phase = {name: phases.mask(name)[first] for name in ("rest", "pump", "run_up", "shutdown", "soak")}
    cranking = np.bincount(index, weights=phases.mask("crank"), minlength=count) > 0
    running = phases.mask("first_30_s", "idle", "warm_up", "run_up")[first] & ~cranking
    if phases.start_s is not None:
        cranking &= middle < phases.start_s + 2.0  # a last turn while the engine stops is no start
    start, stop = phases.start_s, phases.stop_s
    first_crank = min((span.start_s for span in phases.crank), default=start)
    never = np.zeros(count, bool)
    rest = (in_phase["rest"] | in_phase["pump"]) & ~cranking
    before = rest & (middle > first_crank - 10.0) if first_crank is not None else never
    if start is not None:
        after_start = running & (middle > start + 5.0) & (middle < start + 15.0)
        running = running & (middle > start + 15.0)
    else:
        after_start = never
    if stop is not None:
        end_run = running & (middle > stop - 20.0) & (middle < stop)
        after_stop = (middle > stop + 3.0) & (middle < stop + 10.0)
        soak = (middle > stop + 10.0) & (middle < stop + 300.0)
        again = middle > stop + 15.0
    else:
        end_run = running & (middle > middle[-1] - 20.0)
        after_stop = soak = again = never
    ambient, u_ambient = _ambient(values, rest, running, facts)
    return Windows(
        time_s=middle, values=values, width_s=width, start_s=start, stop_s=stop,
        rest=rest, before=before, crank=cranking, after_start=after_start, running=running,
        idle=running & ~in_phase["run_up"], end_run=end_run, after_stop=after_stop, soak=soak, at_rest_again=again,
        ambient_c=ambient, u_ambient_c=u_ambient,
    )  # fmt: skip


def _ambient(values: Values, rest: Bools, running: Bools, facts: StartFacts) -> tuple[float, float]:
    """Air temperature: the setup's, else the log's own column, else what the probes agree on."""
    if facts.oat_c is not None:
        return facts.oat_c, 1.5
    oat = values.get("oat")
    if oat is not None and np.isfinite(oat).any():
        seen = oat[rest] if np.isfinite(oat[rest]).any() else oat
        return float(np.nanmedian(seen)), 2.0
    temperatures = [values[name] for name in JUDGED[:4] if name in values]
    early = [x[rest] if rest.any() else x[:5] for x in temperatures]
    seen_at_rest = [float(np.nanmedian(x)) for x in early if np.isfinite(x).any()]
    if not seen_at_rest:
        return 15.0, 15.0
    # An engine that has run before is warm: the second coldest is nearest to the air, and the charge air after the
    # cooler comes near it once the engine breathes.
    nearest = sorted(seen_at_rest)[min(1, len(seen_at_rest) - 1)]
    breathing = values.get("charge_out")
    if max(seen_at_rest) > nearest + 12.0 and breathing is not None:
        later = breathing[running & np.isfinite(breathing)]
        if later.size > 20:
            nearest = min(nearest, float(np.quantile(later, 0.1)) - 1.0)
    return nearest, 7.0


def middle_of(x: Floats, where: Bools) -> float:
    """Median of a channel in a window; NaN where nothing stands there."""
    part = x[where]
    part = part[np.isfinite(part)]
    return float(np.median(part)) if part.size else float("nan")


def smoothed(x: Floats, blocks: int) -> Floats:
    """Moving mean over an odd number of blocks, blanks left out."""
    if blocks <= 1:
        return x
    good = np.isfinite(x)
    kernel = np.ones(blocks | 1)
    total = np.convolve(np.where(good, x, 0.0), kernel, mode="same")
    seen = np.convolve(good.astype(float), kernel, mode="same")
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(seen > 0, total / seen, np.nan)
