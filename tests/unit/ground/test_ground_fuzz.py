"""Whatever stands in a site and its GeoJSON, it gives ground or findings, never a failure of ours."""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.ground.sites import SITE, collection, faults, feature

GEOJSON = collection(feature(name="lot", friction=0.8, grade_percent=1, uphill_bearing_deg=3))
BITS = st.one_of(
    st.sampled_from(
        [
            "",
            "[",
            "]",
            "{",
            "}",
            ":",
            ",",
            '"',
            "null",
            "0",
            "-1e9",
            "1e308",
            "7 m",
            "- ",
            "\n",
            "nan",
        ]
    ),
    st.text(max_size=4),
)


@settings(max_examples=150)
@given(st.booleans(), st.data())
def test_changed_text_gives_ground_or_findings(in_site: bool, data: st.DataObject) -> None:
    text = SITE if in_site else GEOJSON
    for _ in range(data.draw(st.integers(1, 3))):
        begin = data.draw(st.integers(0, len(text)))
        end = min(len(text), begin + data.draw(st.integers(0, 12)))
        text = text[:begin] + data.draw(BITS) + text[end:]
    text = text.encode("utf-8", "replace").decode()
    with tempfile.TemporaryDirectory() as folder:
        found = faults(Path(folder), *((text, None) if in_site else (SITE, text)))
    placed = [one for one in found if one.origin is not None and one.origin.line > 0 and one.text]
    assert placed == list(found)
