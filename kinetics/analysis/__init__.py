"""Questions that take many runs: options side by side, ranges, how long to reflux, and what limits a batch."""
