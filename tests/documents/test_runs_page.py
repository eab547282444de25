"""The page on recorded runs against the models of a recording description: every key stands in its tables."""

import re

from choreo.guide.pages import page_of
from choreo.recordings.written import RecordingWritten

PAGE = page_of("runs").text


def test_every_key_of_a_recording_description_stands_in_the_tables() -> None:
    schema = RecordingWritten.model_json_schema(by_alias=True)
    told = set(re.findall(r"`([a-z ]+)[`:]", PAGE))
    models = {"RecordingWritten": schema, **schema["$defs"]}
    keys = {key for model in models.values() for key in model.get("properties", {})}
    assert len(keys) > 20
    assert keys <= told, keys - told
