"""A scenario in, a run out: reading and checking, planning, integrating, and what is reported."""
