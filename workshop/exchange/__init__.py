"""Moving in and out: the demo shop is the first thing that moves in."""
