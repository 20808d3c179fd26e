"""Is method B better than method A? All outcomes on the same units, one of them tested."""
