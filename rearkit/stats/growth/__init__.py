"""Growth curves from daily means."""
