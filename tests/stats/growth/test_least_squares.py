import numpy as np
import pytest
from scipy import optimize

from rearkit.stats.growth.least_squares import solve_many

X = np.linspace(0.0, 1.0, 8)


def decay(values, rows, y):
    size, rate = values[:, :1], values[:, 1:]
    power = np.exp(-rate * X)
    slope = np.stack([power, -size * X * power], axis=-1)
    return size * power - y[rows], slope


def test_a_batch_agrees_with_scipy_one_by_one():
    rng = np.random.default_rng(4)
    truth = np.stack([rng.uniform(0.5, 3, 40), rng.uniform(0.2, 6, 40)], axis=-1)
    y = decay(truth, np.arange(40), np.zeros((40, 8)))[0] + rng.normal(0, 0.05, (40, 8))
    open_ = np.full((40, 2), np.inf)
    start = np.ones((40, 2))
    solved = solve_many(lambda v, rows: decay(v, rows, y), start, lower=-open_, upper=open_)
    assert solved.converged.all()
    for row in range(40):
        single = optimize.least_squares(
            lambda v, row=row: v[0] * np.exp(-v[1] * X) - y[row],
            [1.0, 1.0],
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
        )
        assert solved.values[row] == pytest.approx(single.x, rel=1e-6)
        assert solved.rss[row] == pytest.approx(2 * single.cost, rel=1e-10)


def test_bounds_are_kept_and_the_rest_still_fitted():
    y = 2.0 * np.exp(-3.0 * X)[None, :]
    lower, upper = np.array([[-np.inf, 0.0]]), np.array([[np.inf, 1.0]])
    solved = solve_many(
        lambda v, rows: decay(v, rows, y), np.array([[1.0, 0.5]]), lower=lower, upper=upper
    )
    power = np.exp(-X)
    assert solved.values[0, 1] == 1.0
    assert solved.values[0, 0] == pytest.approx(power @ y[0] / (power @ power), rel=1e-9)
    assert solved.converged.all()


def test_an_exact_fit_settles_at_nothing_left():
    y = 2.0 * np.exp(-3.0 * X)[None, :]
    open_ = np.full((1, 2), np.inf)
    solved = solve_many(
        lambda v, rows: decay(v, rows, y), np.ones((1, 2)), lower=-open_, upper=open_
    )
    assert solved.values[0] == pytest.approx([2.0, 3.0], rel=1e-9)
    assert solved.rss[0] < 1e-25
    assert solved.converged.all()


def test_too_few_steps_are_said():
    y = 2.0 * np.exp(-3.0 * X)[None, :] + 0.1 * np.sin(9 * X)
    open_ = np.full((1, 2), np.inf)
    solved = solve_many(
        lambda v, rows: decay(v, rows, y),
        np.array([[1.0, 0.0]]),
        lower=-open_,
        upper=open_,
        max_steps=1,
    )
    assert not solved.converged.any()
