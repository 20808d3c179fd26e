"""Two methods on unit values: permutation, t, rates."""
