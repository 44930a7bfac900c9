"""Questions that take many runs: options side by side, ranges, the time to reflux, what limits a batch."""
