"""Pages and sheets of a campaign: the caution comes first, and names of variants break between values only."""

from choreo.page import campaign_page, campaign_sheets
from choreo.page.markup import named
from choreo.report.content import Content, caution_notes
from choreo.report.sections import Table
from choreo.words.caution import CAUTION

NAME = "near/test_speed=10 km/h,walking_speed=-0.5 km/h,side=left,mass=<b>"
TIMES = Table("timetable", ("go", "variant"), (("08:00", NAME),))
CONTENT = Content("feasible", "FITS", "A week", "All fit.", (TIMES, caution_notes()))


def test_the_caution_stands_above_all_tables_of_a_day_and_once() -> None:
    sheets = campaign_sheets(CONTENT, [])
    assert sheets.index(CAUTION) < sheets.index("<table")
    assert sheets.count("Caution") == 1
    assert sheets.count("Advice only") == 0


def test_a_variants_name_breaks_between_values_and_never_inside_one() -> None:
    assert named(NAME) == (
        'near/test_speed=<span class="unbroken">10 km/h,</span><wbr>'
        'walking_speed=<span class="unbroken">-0.5 km/h,</span><wbr>side=left,<wbr>mass=&lt;b&gt;'
    )
    assert named("a, b <= 3 m and x = 4") == "a, b &lt;= 3 m and x = 4"
    page = campaign_page(CONTENT, "", ())
    assert f'<td data-head="variant" class="name"><span>{named(NAME)}</span></td>' in page
