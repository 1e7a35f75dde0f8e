"""The cast of the tests, and a database made by its owner and used by the application's role."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from core.operations import garbage
from tests.shared import layers, order_of, shared, uses_database, wanted_by

# These begin, the longest first, so that no worker is left with one of them at the end. What is a folder is for one
# worker as a whole: its tests share something that takes long to start.
LONGEST = (
    "tests/browser/",
    "tests/core/gate/test_permissions_walk.py",
    "tests/upgrade/",
    "tests/fittings/selectors/outcomes/test_differencing_attack.py",
    "tests/fittings/models/test_row_security.py",
    "tests/core/database/test_application_role.py",
)

# Property tests judge results, not the speed of the machine that runs them beside other work. Every run draws other
# examples, so that many runs see more of them than one could.
settings.register_profile("steady", deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Look for a static file when it is asked for: each new client would list them all again, in 50 ms or more."""
    from django.conf import settings as of_project

    of_project.WHITENOISE_AUTOREFRESH = True
    if moved := [place for place in LONGEST if not (config.rootpath / place).exists()]:
        raise pytest.UsageError(f"LONGEST in tests/conftest.py names {moved}, which no longer exist.")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, and bring together the tests of a file that want the same shared fixtures.

    Otherwise files and tests stay in their random order.
    """
    files = {path: n for n, path in enumerate(dict.fromkeys(item.path for item in items))}

    def place(item: pytest.Item) -> tuple[int, int, bool, list[int]]:
        longest = next((n for n, path in enumerate(LONGEST) if item.nodeid.startswith(path)), len(LONGEST))
        layers_of = order_of(item)
        return longest, files[item.path], not layers_of, layers_of

    items.sort(key=place)


def pytest_collection_finish() -> None:
    """Leave what was imported and collected out of every later search for garbage, and search less often.

    Measured on 1,831 tests of pages: 15 s of 159 went into it before, and 5 s now.
    """
    garbage.search_less_often()


def pytest_xdist_make_scheduler(config: Any, log: Any) -> Any:
    """Give each worker a file at a time: what its tests share is built once, and nothing goes from worker to worker."""
    from xdist.scheduler import LoadScopeScheduling

    # In the order above; the number of tests in a file says little of how long they take.
    config.option.loadscopereorder = False

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return next((place for place in LONGEST if nodeid.startswith(place)), file)

    return ByFile(config, log)


@pytest.fixture(scope="session")
def django_db_setup(
    request: Any,
    tmp_path_factory: Any,
    django_test_environment: None,
    django_db_blocker: Any,
    django_db_keepdb: bool,
    django_db_createdb: bool,
) -> Iterator[None]:
    """Copy the empty database, which the first worker makes as its owner; the tests work as the application does.

    With `--reuse-db` a run begins with the one that an earlier run left.
    """
    from django.db import connection

    from core.database.roles import as_owner
    from core.gate import row_scope
    from tests.databases import PRISTINE, copy_database, drop_database, make_pristine
    from tests.once import first_of_run

    # Tests arrange and look at everything; the requests that they make see what their user may.
    row_scope._scope.set(row_scope.EVERYTHING)
    worker = getattr(request.config, "workerinput", {}).get("workerid", "main")
    name = f"test_benchlast_{worker}"
    with django_db_blocker.unblock():
        with as_owner():
            with first_of_run(tmp_path_factory, "database") as is_first:
                if is_first:
                    make_pristine(keep=django_db_keepdb and not django_db_createdb)
            copy_database(PRISTINE, name)
            connection.settings_dict["NAME"] = name
        yield
        layers.roll_back_to([])
        with as_owner():
            drop_database(name)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: Any) -> None:
    """Undo what was built for the tests before and this one does not want."""
    if uses_database(item):
        layers.roll_back_to(wanted_by(item))


@pytest.fixture
def _shared_layers(request: Any, django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    layers.build(wanted_by(request.node), django_db_blocker)
    yield
    layers.test_done()


@pytest.fixture
def _django_db_helper(_shared_layers: None, _django_db_helper: None) -> None:
    """Begin the test's own transaction inside that of the shared fixtures."""


@shared
def cast(db: None) -> Any:
    from tests.people import make_cast

    return make_cast()


@pytest.fixture
def sign_in(client: Any) -> Any:
    """Return a function that signs a person in to the test client."""

    def enter(user: Any) -> Any:
        client.force_login(user)
        return client

    return enter


@pytest.fixture
def api_for(db: None) -> Any:
    """Return a function that makes an API client holding a person's token."""
    from knox.models import AuthToken
    from rest_framework.test import APIClient

    def client_for(user: Any) -> APIClient:
        _, token = AuthToken.objects.create(user)
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        return client

    return client_for
