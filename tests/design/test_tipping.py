import numpy as np
import pytest

from rearkit.design.too_few import tipping_icc
from rearkit.errors import DesignError


def test_tipping_point_of_two_containers():
    sd, icc = tipping_icc(0.6, 100, 0.8, 100)
    assert round(icc, 3) == 0.015
    assert sd == pytest.approx(np.sqrt(((0.2 / 1.96) ** 2 - 0.7 * 0.3 * 0.02) / 2))
    assert tipping_icc(0.8, 100, 0.6, 100) == pytest.approx((sd, icc))
    assert tipping_icc(0.7, 20, 0.75, 20) == (0, 0)
    assert tipping_icc(1.0, 20, 0.0, 20)[0] > 0
    assert np.isnan(tipping_icc(1.0, 20, 1.0, 20)[1])


def test_impossible_survival_is_refused():
    with pytest.raises(DesignError, match="not possible"):
        tipping_icc(1.2, 10, 0.5, 10)
