"""Growth curves from daily means, and the plain figures of growth."""
