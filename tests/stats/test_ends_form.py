import numpy as np
import pytest

from rearkit.stats.curves import CURVES, curve_length, ends_from_params
from rearkit.stats.ends_form import (
    LINKS,
    SHAPED,
    Form,
    day_of,
    evaluate,
    expand,
    free_form,
    free_rows,
    height,
    turns,
)
from tests.stats.test_curves import PARAMS

U = np.linspace(0.0, 1.0, 7)[None, :]
STEP = 1e-6


def theta_of(curve, params=None):
    first, last, rate = ends_from_params(curve, params or PARAMS[curve], 0.0, 1.0)
    theta = np.array([[*height(LINKS[curve], np.array([first, last])), rate]])
    if LINKS[curve] == "reciprocal":
        theta[0, 2] -= theta[0, 1] - theta[0, 0]
    return theta


def brisk(curve):
    """Parameters of a curve that does much of its growing between 0 and 1."""
    return {
        "line": (0.2, 0.8),
        "exponential": (0.2, 1.6),
        "logistic": (1.1, 5.0, 0.4),
        "gompertz": (1.2, 3.0, 0.3),
        "von_bertalanffy": (1.3, 1.5, -0.1),
    }[curve]


@pytest.mark.parametrize("curve", CURVES)
def test_the_form_is_the_curve(curve):
    lengths, _ = evaluate(free_form(curve, 1), theta_of(curve, brisk(curve)), U)
    assert lengths == pytest.approx(curve_length(curve, U, brisk(curve)), rel=1e-12)


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("shape", [0.0, 5e-4, 9.99e-4, 1.01e-3, 0.3, 8.0, 240.0])
def test_slopes_of_the_form(curve, shape):
    theta = np.array([[0.3, 0.9, shape]])
    zero = np.zeros(1)
    form = Form(curve=curve, knot_a=zero + 0.1, knot_b=zero + 0.8, value=zero)
    u = np.linspace(0.1, 1.2, 5)[None, :]
    _, slopes = evaluate(form, theta, u)
    for column in range(3):
        step = np.zeros(3)
        step[column] = STEP
        difference = (evaluate(form, theta + step, u)[0] - evaluate(form, theta - step, u)[0]) / (
            2 * STEP
        )
        assert slopes[..., column] == pytest.approx(difference, rel=1e-6, abs=1e-8)


@pytest.mark.parametrize("curve", CURVES)
def test_small_shapes_join_smoothly(curve):
    theta = np.array([[0.3, 0.9, 9.9999e-4], [0.3, 0.9, 1.00001e-3]])
    near, far = evaluate(free_form(curve, 2), theta, np.repeat(U, 2, axis=0))[0]
    assert near == pytest.approx(far, abs=1e-8)


@pytest.mark.parametrize("curve", CURVES)
def test_days_of_lengths_invert_the_form(curve):
    form, theta = free_form(curve, 1), theta_of(curve, brisk(curve))
    lengths, _ = evaluate(form, theta, U)
    assert day_of(form, theta, height(form.link, lengths)) == pytest.approx(U, abs=1e-12)


@pytest.mark.parametrize("curve", SHAPED)
def test_a_length_above_the_asymptote_is_never_reached(curve):
    form, theta = free_form(curve, 1), theta_of(curve, brisk(curve))
    above = height(form.link, np.array([brisk(curve)[0] * 1.001]))
    assert np.isnan(day_of(form, theta, above)).all()


HELD = {"height": 0.4, "ratio": 0.9, "rise": 0.5, "rate": 1.7, "asymptote": 1.4, "turn": 0.2}


@pytest.mark.parametrize("curve", SHAPED)
@pytest.mark.parametrize("hold", HELD)
def test_slopes_of_every_hold(curve, hold):
    zero = np.zeros(1)
    value = -0.2 if (curve, hold) == ("von_bertalanffy", "turn") else HELD[hold]
    form = Form(curve=curve, knot_a=zero, knot_b=zero + 1.0, hold=hold, value=zero + value)
    phi = np.array([[0.35, 0.8]])
    assert len(free_rows(form)) == 2
    _, slopes = expand(form, phi)
    for column in range(2):
        step = np.zeros(2)
        step[column] = STEP
        difference = (expand(form, phi + step)[0] - expand(form, phi - step)[0]) / (2 * STEP)
        assert slopes[..., column] == pytest.approx(difference, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("curve", SHAPED)
def test_holds_hold_what_they_say(curve):
    asymptote, rate, turn = brisk(curve)
    theta = theta_of(curve, brisk(curve))
    link = LINKS[curve]
    values = {"asymptote": float(height(link, np.array(asymptote))), "rate": rate, "turn": turn}
    for hold, value in values.items():
        zero = np.zeros(1)
        form = Form(curve=curve, knot_a=zero, knot_b=zero + 1.0, hold=hold, value=zero + value)
        phi = theta[:, list(free_rows(form))].copy()
        if hold == "turn":
            phi[:, 1] = turns(form, theta)
        assert expand(form, phi)[0] == pytest.approx(theta, rel=1e-9, abs=1e-9)
