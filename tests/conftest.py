"""The cast of the tests, and a database made by its owner and used by the application's role."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.shared import layers, shared, uses_database, wanted_by

# Tests below these paths share something slow, each of them: they run on one worker.
TOGETHER = (
    "tests/browser/",
    "tests/catalogue/views/public/test_reading_from_replicas.py",
    "tests/fixtures/test_load_demo.py",
    "tests/labtests/services/bench/test_faults.py",
    "tests/upgrade/",
)

# Property tests judge results, not the speed of the machine that runs them beside other work.
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Look for a static file when it is asked for: each new client would list them all again, in 50 ms or more."""
    from django.conf import settings as of_project

    of_project.WHITENOISE_AUTOREFRESH = True
    if moved := [place for place in TOGETHER if not (config.rootpath / place).exists()]:
        raise pytest.UsageError(f"TOGETHER in tests/conftest.py names {moved}, which are not there any more.")


def pytest_xdist_make_scheduler(config: Any, log: Any) -> Any:
    """Spread single tests over the workers, but for those that belong together.

    xdist's own marks for that write to a name that pytest no longer reads the test's id from.
    """
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return next((place for place in TOGETHER if nodeid.startswith(place)), nodeid)

    return Together(config, log)


@pytest.fixture(scope="session")
def django_db_setup(
    django_test_environment: None,
    django_db_blocker: Any,
    django_db_modify_db_settings: None,
    django_db_keepdb: bool,
    django_db_createdb: bool,
) -> Iterator[None]:
    """Make the test database as its owner; the tests then work as the application does, owning nothing.

    With `--reuse-db` it stays for the next run, which then starts at once; no test leaves anything in it.
    """
    from django.db import connection
    from django.test.utils import setup_databases, teardown_databases

    from core.database.roles import as_owner
    from core.gate import row_scope
    from tests.databases import copy_database, drop_database, pristine_copy_of

    # Tests arrange and look at everything; the requests that they make see what their user may.
    row_scope._scope.set(row_scope.EVERYTHING)
    found = django_db_keepdb and not django_db_createdb
    with django_db_blocker.unblock():
        with as_owner():
            databases = setup_databases(verbosity=0, interactive=False, keepdb=found, parallel=0, aliases=["default"])
            name = str(connection.settings_dict["NAME"])
            copy_database(name, pristine_copy_of(name))
        yield
        layers.roll_back_to([])
        with as_owner():
            drop_database(pristine_copy_of(name))
            teardown_databases(databases, verbosity=0, keepdb=django_db_keepdb)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(request: Any) -> None:
    """Give each worker a test database of its own."""
    from django.db import connection

    worker = getattr(request.config, "workerinput", {}).get("workerid", "main")
    connection.settings_dict.setdefault("TEST", {})["NAME"] = f"test_benchlast_{worker}"


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
