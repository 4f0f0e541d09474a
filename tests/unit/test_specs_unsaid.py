"""What a sheet does not say yet, wherever that stands."""

from pathlib import Path

import pytest

from bridge.words import say
from specs.load import sample, samples
from specs.parse import parse
from specs.unsaid import unsaid

EVERY_KEY = (Path(__file__).resolve().parents[2] / "fixtures" / "sheets" / "every-key.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", samples())
def test_samples_say_everything(name: str) -> None:
    assert unsaid(sample(name)) == ()


@pytest.mark.parametrize(
    ("was", "path"),
    [
        ("Every key", "title"),
        ("Lock out the motor.", "cautions"),
        ("large wrench", "wrenches.W1.title"),
        ("light oil", "groups.C.lubrication"),
        ("New studs only.", "groups.C.cautions"),
        ("Once round, slowly.", "stages.C1.note"),
        ("Cover is cold to the hand.", "stages.K.text"),
    ],
)
def test_a_todo_is_found_where_it_stands(was: str, path: str) -> None:
    (advice,) = unsaid(parse(EVERY_KEY.replace(was, "TODO: ask")))
    assert (advice.path, advice.severity) == (path, "stops release")
    assert say(advice.code, *advice.args)


def test_a_wrench_without_its_range() -> None:
    (advice,) = unsaid(parse(EVERY_KEY.replace('range = ["15 ft·lb", "350 N·m"]\n', "")))
    assert (advice.path, advice.severity) == ("wrenches.W1", "note")
