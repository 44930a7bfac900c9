"""Solution chemistry, each published equation one pure function: activity, acid-base, equilibria, rates, volatility."""
