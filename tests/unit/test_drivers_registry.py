"""Links by name; their libraries load only when asked for."""

import subprocess
import sys
from importlib.util import find_spec

import pytest

from drivers import registry
from drivers.errors import DriverError
from drivers.registry import LINKS, link_type


@pytest.mark.parametrize("name", LINKS)
def test_every_link_is_there(name: str) -> None:
    module, maker = LINKS[name]
    assert find_spec(module) is not None
    assert getattr(link_type(name), "__name__", "") == maker


def test_an_unknown_link_is_refused_with_those_there_are() -> None:
    with pytest.raises(DriverError) as caught:
        link_type("infrared")
    assert caught.value.code == "link.unknown-link"
    assert "serial" in caught.value.words[1]


def test_a_library_that_is_not_installed_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(registry, "LINKS", {"infrared": ("drivers.links.infrared", "Link")})
    with pytest.raises(DriverError) as caught:
        link_type("infrared")
    assert (caught.value.code, caught.value.words) == ("link.library-missing", ("infrared", "drivers.links.infrared"))


def test_no_library_loads_before_a_link_is_asked_for() -> None:
    code = "import drivers.registry, drivers.reconnect, sys; print('serial' in sys.modules, 'asyncio' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.split()[0] == "False"
