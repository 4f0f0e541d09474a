"""The self-check with a part that does not do what it must: named, with the reason, and exit code 1."""

import json

import pytest
from click.testing import CliRunner

from bridge.cli import selfcheck as module
from drivers.errors import DriverError
from specs.errors import SpecError


def raising(error: Exception) -> object:
    """A part that ends so."""

    def part() -> None:
        raise error

    return part


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (DriverError("link.missing", "port"), "There is no port port"),
        (SpecError("sheet.file-missing", "lid.toml"), "lid.toml"),
        (OSError("no room"), "no room"),
        (TimeoutError(), "TimeoutError"),
    ],
)
def test_a_part_that_is_broken_is_told(monkeypatch: pytest.MonkeyPatch, error: Exception, why: str) -> None:
    """The other parts are tried all the same."""
    monkeypatch.setattr(module, "_port", raising(error))
    done = CliRunner().invoke(module.selfcheck, [], standalone_mode=False)
    assert done.return_value == 1
    (broken,) = [line for line in done.output.splitlines() if line.startswith("BROKEN  ")]
    assert why in broken
    assert sum(line.startswith("works ") for line in done.output.splitlines()) == 4
    plain = CliRunner().invoke(module.selfcheck, ["--json"], standalone_mode=False)
    assert plain.return_value == 1
    assert [part["part"] for part in json.loads(plain.output)["parts"] if not part["works"]] == [
        "port: one line read through pyserial"
    ]
