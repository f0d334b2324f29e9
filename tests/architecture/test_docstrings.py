"""Public functions of physics, measure and predict say what they take, give and raise; and the examples run."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

from tests.architecture.docstrings import WHERE, missing_in
from tests.architecture.sources import PACKAGE, Module, read_modules

MODULES = read_modules()
# An example that needs a file nobody has is marked +SKIP; a module with no other examples has none to run.
WITH_EXAMPLES = [
    module.name
    for module in MODULES
    if any(">>> " in line and "+SKIP" not in line for line in module.text.splitlines())
]


def test_public_functions_are_documented() -> None:
    looked_at = [m for m in MODULES if m.top in WHERE and not any(part.startswith("_") for part in m.parts)]
    missing = [line for module in looked_at for line in missing_in(module)]
    assert not missing, f"{len(missing)} lacks\n" + "\n".join(missing)


def test_every_module_says_what_it_is_for() -> None:
    silent = [m.name for m in MODULES if m.text.strip() and not m.text.lstrip().startswith(('"""', 'r"""'))]
    assert not silent


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_run(name: str) -> None:
    failed, tried = doctest.testmod(import_module(name))
    assert tried > 0
    assert failed == 0


# ---------------------------------------------------------------- the test, tested

# Every rule's text once, well formed; each case below takes one thing away.
GOOD = '''
def pitch_step(n_teeth: int, ratio: float) -> float:
    """Crank degrees that pass while one pitch passes.

    Parameters
    ----------
    n_teeth : int
        Teeth of the sprocket.
    ratio : float [-]
        Crank turns per turn of the sprocket.

    Returns
    -------
    float, shape () [deg]

    Raises
    ------
    InputError
        If there are no teeth.

    Notes
    -----
    Follows from the mesh: one pitch turns the sprocket by 360/n of its own degrees.

    Examples
    --------
    >>> pitch_step(20, 1.0)
    18.0
    """
    if n_teeth < 1:
        raise InputError("no teeth")
    return 360.0 / n_teeth * ratio
'''

GOOD_CLASS = '''
@dataclass(frozen=True, slots=True)
class Step:
    """One pitch.

    Parameters
    ----------
    step_deg : float [deg]
        Crank degrees.
    name : str
    """

    step_deg: float
    name: str

    @property
    def twice_deg(self) -> float:
        """Two of them [deg]."""
        return 2 * self.step_deg
'''


def lacks(source: str, package: str = "physics") -> list[str]:
    return missing_in(Module(f"{PACKAGE}.{package}.chain", False, source))


@pytest.mark.parametrize("source", [GOOD, GOOD_CLASS])
def test_what_is_complete_passes(source: str) -> None:
    assert lacks(source) == []


@pytest.mark.parametrize(
    ("source", "take", "put", "complaint"),
    [
        (GOOD, "    Parameters\n    ----------\n", "", "no section Parameters"),
        (GOOD, "    n_teeth : int\n", "    teeth : int\n", "does not name n_teeth"),
        (GOOD, "ratio : float [-]", "ratio : float", "ratio has neither unit"),
        (GOOD, "    Returns\n    -------\n    float, shape () [deg]\n", "", "no section Returns"),
        (GOOD, "float, shape () [deg]", "float", "Returns has neither unit"),
        (GOOD, "    Raises\n    ------\n", "", "no section Raises"),
        (GOOD, "    InputError\n        If", "    ValueError\n        If", "Raises does not name InputError"),
        (GOOD, "Follows from the mesh", "Known to all", "where the formula comes from"),
        (GOOD, "    Notes\n    -----\n", "", "no section Notes"),
        (GOOD, ">>> pitch_step(20, 1.0)\n", "", "no Examples with a doctest"),
        (GOOD_CLASS, "step_deg : float [deg]", "step_deg : float", "step_deg has neither unit"),
        (GOOD_CLASS, '    name : str\n    "', '    "', "does not name name"),
        (GOOD_CLASS, "Two of them [deg]", "Two of them", "a property with neither unit"),
        ("def f(): ...", "", "", "no docstring"),
    ],
)
def test_what_is_missing_is_caught(source: str, take: str, put: str, complaint: str) -> None:
    assert take in source
    assert any(complaint in line for line in lacks(source.replace(take, put, 1)))


def test_outside_physics_neither_source_nor_example_is_asked_for() -> None:
    short = GOOD.replace("Follows from the mesh", "Known to all").replace(">>> pitch_step(20, 1.0)\n", "")
    assert lacks(short, "measure") == []


def test_private_functions_are_left_alone() -> None:
    assert lacks("def _f(x: float) -> float: ...") == []
