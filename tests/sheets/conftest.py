import pytest
from sheet_samples import make_cues, make_plan, make_programme, make_proof

from thundersheet.plan.records import Plan
from thundersheet.sheets.picture import Programme
from thundersheet.track.proof.records import Proof


@pytest.fixture(scope="session")
def plan() -> Plan:
    return make_plan(make_cues())


@pytest.fixture(scope="session")
def programme() -> Programme:
    return make_programme()


@pytest.fixture(scope="session")
def proof() -> Proof:
    return make_proof()
