"""The job around the flask against molar masses of a library, handbooks, a worked example and a closed form.

The tables, their sources, their tolerances and the arguments for them stand in
kinetics/data/checks/job_around_the_flask.toml.
"""

import pytest
from comparing import assert_agreement, entries_of

from kinetics.analysis.checks import Check, Published


@pytest.mark.parametrize(("check", "at", "published"), entries_of("job_around_the_flask"))
def test_job_around_the_flask(check: Check, at: float, published: Published) -> None:
    assert_agreement(check, at, published)
