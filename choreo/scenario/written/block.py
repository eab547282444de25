"""What every file model is made of: a block of known keys, names, points."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

from choreo.scenario.written.fields import Length

Point = tuple[Length, Length]
Name = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]*$")]
# Of what is repeated, from the second time on with its number.
CountedName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_-]*( [1-9][0-9]*)?$")]


class Written(BaseModel):
    """Unknown keys are refused; keys are written with spaces, as in the guide."""

    # Built late: a block is built once, as part of the file that it stands in.
    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        arbitrary_types_allowed=True,
        populate_by_name=False,
        defer_build=True,
    )

    @model_validator(mode="before")
    @classmethod
    def _nothing_is_empty(cls, data: Any) -> Any:
        """`- stop:` with nothing behind it is an empty block, and so is `triggers:`."""
        if data == "":
            return {}
        if isinstance(data, dict):
            return {
                key: value for key, value in data.items() if value != "" or key not in cls._blocks
            }
        return data

    _blocks: ClassVar[frozenset[str]] = frozenset()
