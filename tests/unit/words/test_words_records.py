"""Records are dataclasses in all that one can see, whenever their methods are written."""

import dataclasses
import pickle
from typing import Any

import pytest

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Mark:
    """A field of each kind."""

    name: str
    station_m: float = 3.0
    beside: list[str] = dataclasses.field(default_factory=list)
    length: int = dataclasses.field(init=False, default=7)


@dataclass()
class Count:
    """Can be changed."""

    seen: int = 0
    names: dict[str, int] = dataclasses.field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.seen += 1


@dataclass(eq=False)
class Alone:
    """Equal to itself only."""

    value: int


def standard(record: type, **asked: bool) -> Any:
    """Give the standard library's dataclass of the same fields."""
    kinds = {"init": True, "default": dataclasses.MISSING, "default_factory": dataclasses.MISSING}
    parts = [
        (one.name, one.type, dataclasses.field(**{kind: getattr(one, kind) for kind in kinds}))
        for one in dataclasses.fields(record)
    ]
    return dataclasses.make_dataclass(record.__qualname__, parts, **asked)


def test_records_are_made_shown_and_compared_as_dataclasses_are() -> None:
    other = standard(Mark, frozen=True)
    assert repr(Mark("a", beside=["b"])) == repr(other("a", beside=["b"]))
    assert Mark("a", 3) == Mark("a") != Mark("a", 4.0)
    assert Mark("a") != other("a")
    assert dataclasses.replace(Mark("a", 1.0), name="b") == Mark("b", 1.0)
    assert dataclasses.asdict(Mark("a")) == dataclasses.asdict(other("a"))
    assert Mark("a").beside is not Mark("a").beside
    assert Mark.__match_args__ == other.__match_args__  # type: ignore[attr-defined]


def test_frozen_records_refuse_changes_and_travel_between_processes() -> None:
    mark = Mark("a", 2.0, ["c"])
    with pytest.raises(dataclasses.FrozenInstanceError, match="station_m"):
        mark.station_m = 1.0  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError, match="name"):
        del mark.name
    assert pickle.loads(pickle.dumps(mark)) == mark
    assert not hasattr(mark, "__dict__")


def test_only_frozen_records_have_a_hash_and_eq_false_keeps_the_object_s() -> None:
    with pytest.raises(TypeError, match="unhashable"):
        hash(Count())
    assert hash(Alone(1)) != hash(Alone(1))
    assert Alone(1) != Alone(1)
    with pytest.raises(TypeError, match="unhashable"):
        hash(Mark("a"))  # of its list


def test_what_runs_after_init_runs_and_wrong_arguments_are_told() -> None:
    assert Count(4) == Count(4)
    assert (Count(4).seen, Count().names) == (5, {})
    with pytest.raises(TypeError, match="name"):
        Mark()  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="length"):
        Mark("a", length=3)  # type: ignore[call-arg]


def test_a_class_that_derives_from_another_is_refused() -> None:
    with pytest.raises(TypeError, match="Child derives"):

        @dataclass(frozen=True)
        class Child(Mark):  # type: ignore[misc]
            """A mark of another."""
