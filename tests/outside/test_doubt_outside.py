"""Doubt of skylines against Monte Carlo: rasters drawn with correlated errors, looked at anew.

The correlation of elevation errors is that of Rolstad et al. (2009) and Hugonnet et al. (2022):
see tests/correlated_errors.py. All products with more draws: ``make doubt``.
"""

from __future__ import annotations

import numpy as np
import pytest

from backbearing.alignment.stand.uncertainty import WRONG_SHARE
from doubt_trials import RELIEF, trial


@pytest.mark.slow
@pytest.mark.parametrize("key", ["copernicus 30", "srtm north america", "3dep 10"])
def test_doubt_is_what_drawn_rasters_show(key: str) -> None:
    both = [trial(key, kind, size=256, draws=160) for kind in RELIEF]
    sigma, rise, spread, hidden = (
        np.concatenate([getattr(one, name) for one in both])
        for name in ("sigma", "rise", "spread", "hidden")
    )
    mean = np.concatenate([one.drawn.mean(axis=0) for one in both])
    # Within 20 % at nine places of ten; 160 draws leave open 6 % for a normal spread, more where
    # it has a tail, so that one place of ten more may miss.
    assert np.mean(np.abs(sigma / spread - 1.0) < 0.2) >= 0.8
    assert 0.9 < np.median(sigma / spread) < 1.08
    # How much higher the true skyline stands: half of the places within a tenth of a standard
    # deviation, nine of ten within 0.3; the draws leave open 0.08.
    off = np.abs(rise - mean) / spread
    assert np.percentile(off, 50) < 0.1
    assert np.percentile(off, 90) < 0.3
    # A target that just clears is hidden by no more of the drawn rasters than stated.
    assert hidden.mean() < WRONG_SHARE
    assert np.mean(hidden < WRONG_SHARE + 0.02) > 0.85
