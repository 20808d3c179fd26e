import numpy as np
import pytest

from rearkit.stats.growth.curves import CURVES, LEVELLING_OFF
from rearkit.stats.growth.daily_means import daily_means
from rearkit.stats.growth.fitted_form import (
    Form,
    bounds,
    day_of,
    end_form,
    evaluate,
    expand,
    free_part,
    make_batch,
)
from tests.stats.growth.examples import EXAMPLES, lengths_of, theta_of

U = np.linspace(0.0, 1.0, 7)[None, :]
STEP = 1e-6


@pytest.mark.parametrize("name", CURVES)
def test_the_form_is_the_curve(name):
    theta = theta_of(CURVES[name], EXAMPLES[name], (0.0, 60.0), 60.0)
    lengths, _ = evaluate(end_form(CURVES[name], 1), theta, U)
    assert lengths == pytest.approx(lengths_of(name, 60.0 * U), rel=1e-12)


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("shape", [0.0, 5e-4, 9.99e-4, 1.01e-3, 0.3, 8.0, 240.0])
def test_slopes_of_the_form(name, shape):
    theta = np.array([[0.3, 0.9, shape]])
    zero = np.zeros(1)
    form = Form(curve=CURVES[name], knot_a=zero + 0.1, knot_b=zero + 0.8, value=zero)
    u = np.linspace(0.1, 1.2, 5)[None, :]
    _, slopes = evaluate(form, theta, u)
    for column in range(3):
        step = np.zeros(3)
        step[column] = STEP
        up, down = evaluate(form, theta + step, u)[0], evaluate(form, theta - step, u)[0]
        assert slopes[..., column] == pytest.approx((up - down) / (2 * STEP), rel=1e-6, abs=1e-8)


@pytest.mark.parametrize("name", CURVES)
def test_small_shapes_join_smoothly(name):
    theta = np.array([[0.3, 0.9, 9.9999e-4], [0.3, 0.9, 1.00001e-3]])
    near, far = evaluate(end_form(CURVES[name], 2), theta, np.repeat(U, 2, axis=0))[0]
    assert near == pytest.approx(far, abs=1e-8)


@pytest.mark.parametrize("name", CURVES)
def test_days_of_lengths_invert_the_form(name):
    form, theta = (
        end_form(CURVES[name], 1),
        theta_of(CURVES[name], EXAMPLES[name], (0.0, 60.0), 60.0),
    )
    lengths, _ = evaluate(form, theta, U)
    assert day_of(form, theta, form.curve.scale.height(lengths)) == pytest.approx(U, abs=1e-12)


@pytest.mark.parametrize("name", LEVELLING_OFF)
def test_a_length_above_the_asymptote_is_never_reached(name):
    form, theta = (
        end_form(CURVES[name], 1),
        theta_of(CURVES[name], EXAMPLES[name], (0.0, 60.0), 60.0),
    )
    above = form.curve.scale.height([EXAMPLES[name][0] * 1.001])
    assert np.isnan(day_of(form, theta, above)).all()


@pytest.mark.parametrize("name", LEVELLING_OFF)
def test_slopes_of_a_held_asymptote(name):
    form = end_form(CURVES[name], 1, hold="asymptote", value=np.array([1.4]))
    phi = np.array([[0.35, 0.8]])
    _, slopes = expand(form, phi)
    for column in range(2):
        step = np.zeros(2)
        step[column] = STEP
        difference = (expand(form, phi + step)[0] - expand(form, phi - step)[0]) / (2 * STEP)
        assert slopes[..., column] == pytest.approx(difference, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", LEVELLING_OFF)
def test_holds_hold_what_they_say(name):
    curve = CURVES[name]
    theta = theta_of(curve, EXAMPLES[name], (0.0, 60.0), 60.0)
    top = curve.scale.height(EXAMPLES[name][:1])
    form = end_form(curve, 1, hold="asymptote", value=top)
    assert expand(form, free_part(form, theta))[0] == pytest.approx(theta, rel=1e-9, abs=1e-9)
    point = end_form(curve, 1, hold="point", value=theta[:, 0])
    assert expand(point, free_part(point, theta))[0].tolist() == theta.tolist()
    straight = end_form(curve, 1, hold="straight")
    assert expand(straight, free_part(straight, theta))[0][0].tolist() == [*theta[0, :2], 0.0]


@pytest.mark.parametrize(
    ("name", "limit"),
    [("von_bertalanffy", "line"), ("gompertz", "exponential"), ("logistic", "exponential")],
)
def test_without_a_shape_a_curve_is_its_limit(name, limit):
    theta = np.array([[0.2, 0.9, 0.0]])
    held = evaluate(end_form(CURVES[name], 1), theta, 1.5 * U)[0]
    assert held == pytest.approx(evaluate(end_form(CURVES[limit], 1), theta, 1.5 * U)[0])


@pytest.mark.parametrize("name", CURVES)
def test_only_what_is_free_is_bounded(name):
    curve, batch = CURVES[name], make_batch([daily_means([0, 1, 10], [4.0, 5.0, 9.0])])
    lower, upper = bounds(end_form(curve, 1), batch)
    assert lower.shape == upper.shape == (1, len(curve.parameters))
    if curve.levels_off:
        assert lower[0, 2] == 0.0
        assert upper[0, 2] == pytest.approx(12.0 / 0.1)  # twelve turns between two sampled days
        held = end_form(curve, 1, hold="asymptote", value=np.array([0.5]))
        assert np.all(bounds(held, batch)[1] < 0.5)
