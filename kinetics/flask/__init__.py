"""The flask and its condenser: two liquids, boiling, condensing and losing, as one set of balance equations."""
