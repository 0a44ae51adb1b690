from __future__ import annotations

import pytest

from api.app import RESOURCES, create_app
from tests.http.fakes import SETTINGS, FakeServices, probe


@pytest.fixture
def services():
    return FakeServices()


@pytest.fixture
def app(services):
    return create_app(SETTINGS, services, resources=(*RESOURCES, probe))


@pytest.fixture
def client(app):
    return app.test_client()
