"""The line that tells how far a sweep is."""

from choreo.commands.progress import Countdown


def test_time_left_counts_only_what_was_solved_now() -> None:
    told: list[str] = []
    now_s = iter([0.0, 0.1, 10.0, 10.1, 20.0])
    countdown = Countdown(told.append, lambda: next(now_s))
    for done in (40, 50, 51, 60):  # 40 were in the store; too soon after a line nothing is told
        countdown(done, 100)
    assert told == [
        "[##########          ] 50 of 100, 50 s left",
        "[############        ] 60 of 100, 40 s left",
    ]
