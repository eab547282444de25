"""choreo plans and proves multi-vehicle proving-ground tests.

    import choreo
    answer = choreo.plan(choreo.load("scenarios/walker-nearside.yaml"))
    print(answer.plan.verdict, answer.clear)

What there is stands in choreo/library.py; it is imported when it is first asked for: `choreo --help` stays quick.
"""

from importlib import import_module

NAMES = (
    "Answer",
    "Change",
    "ChoreoError",
    "ErrorsPlan",
    "Explanation",
    "Finding",
    "Margin",
    "Placement",
    "Plan",
    "Repair",
    "Scenario",
    "Verification",
    "explain",
    "load",
    "place",
    "plan",
    "stress",
    "verify",
)
__all__ = list(NAMES)


def __getattr__(name: str) -> object:
    if name not in NAMES:
        raise AttributeError(f"module 'choreo' has no attribute {name!r}")
    found: object = getattr(import_module("choreo.library"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(NAMES)
