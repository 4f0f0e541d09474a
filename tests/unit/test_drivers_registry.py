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


def test_the_extra_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in [name for name in sys.modules if name.startswith("drivers.links.ble")]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setitem(sys.modules, "bleak", None)  # as if it were not installed
    monkeypatch.setitem(sys.modules, "bleak.exc", None)
    with pytest.raises(DriverError) as caught:
        link_type("ble")
    assert (caught.value.code, caught.value.words) == ("link.extra-missing", ("ble", "bleak", "ble"))


def test_no_library_loads_before_a_link_is_asked_for() -> None:
    code = (
        "import drivers.registry, drivers.reconnect, sys; print({'serial', 'bleak', 'dbus_fast'} & sys.modules.keys())"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"
