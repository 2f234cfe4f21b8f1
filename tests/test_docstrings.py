"""Everything public says what it is, what it takes and in which units; ruff holds the form, this the content."""

import inspect
import re

import pytest
from names import NAMES

import chipsim as cs

UNIT = re.compile(r"\[(1/mm|[^\]\d(][^\]]*)\]")  # no range, no shape
KINDS = {n: o for n, o in NAMES.items() if inspect.isclass(o) and not issubclass(o, Exception)}
FUNCTIONS = {n: o for n, o in NAMES.items() if inspect.isfunction(o)}
CALLED = {  # functions, and the classes whose docstring says with what they are made
    *(n for n in cs.__all__ if callable(o := getattr(cs, n)) and not inspect.isclass(o)),
    *(
        n
        for n in cs.__all__
        if n in KINDS and re.match(r"(?!.*made by).*\n(.*\n)*Parameters\n---", inspect.getdoc(KINDS[n]) or "")
    ),
    *("CuttingForceModel", "DomainError", "Grader", "RiskModel"),  # whose fields say it, or that are caught
}
QUANTITY = re.compile(r"\b(float|FloatArray|ArrayLike)\b")
BARE = {  # a pure number, said in words; the coefficients say their units in their fields' metadata
    *(
        "FittedModel.tangled",
        "Grader.chances",
        "Grader.on_own_scale",
        "Grader.poor",
        "RiskMap.values",
        "RiskMap.damage",
    ),
    *("RiskMap.mean", "Rose.values", "CuttingForceModel", "RiskModel"),
}


def annotations(function):
    return {k: str(p.annotation) for k, p in inspect.signature(function).parameters.items()}


def members():
    """Public methods and properties, by name."""
    for name, kind in KINDS.items():
        for key, value in vars(kind).items():
            inner = value.fget if isinstance(value, property) else getattr(value, "__func__", value)
            inner = getattr(inner, "func", inner)  # cached_property
            if not key.startswith("_") and inspect.isfunction(inner) and not getattr(kind, "_is_protocol", False):
                yield f"{name}.{key}", inner


MEMBERS = dict(members())


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_names_its_arguments_and_their_units(name):
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    missing = [a for a in annotations(FUNCTIONS[name]) if not re.search(rf"\b{a}\b", text)]
    assert not missing
    if any(QUANTITY.search(a) for a in annotations(FUNCTIONS[name]).values()):
        assert UNIT.search(text)


@pytest.mark.parametrize("name", KINDS)
def test_a_class_says_what_it_is_and_in_which_units(name):
    kind = KINDS[name]
    assert len((inspect.getdoc(kind) or "").split()) > 5
    fields = getattr(kind, "__dataclass_fields__", {})
    if name in BARE:
        assert all(f.metadata["unit"] for f in fields.values())
    elif any(QUANTITY.search(str(f.type)) for f in fields.values()):
        assert UNIT.search(inspect.getdoc(kind))


@pytest.mark.parametrize("name", MEMBERS)
def test_a_member_says_what_it_gives_and_in_which_unit(name):
    text, gives = inspect.getdoc(MEMBERS[name]) or "", str(inspect.signature(MEMBERS[name]).return_annotation)
    assert text
    if QUANTITY.search(gives) and not gives.startswith("dict") and name not in BARE:
        assert UNIT.search(text), text


@pytest.mark.parametrize("name", sorted(CALLED))
def test_what_a_user_calls_has_a_short_example(name):
    """That it runs and prints what it says is seen to by tests/test_doctests.py."""
    lines = (inspect.getdoc(getattr(cs, name)) or "").partition("Examples\n--------\n")[2].splitlines()
    assert 2 <= len(lines) <= 12, f"{name}: an example of 2 to 12 lines stands last in the docstring"
    assert lines[0].startswith(">>> import ")
    assert any(re.search(rf"\bcs\.{name}\b", line) for line in lines if line.startswith((">>> ", "... ")))


def test_what_is_let_off_is_there():
    assert {*KINDS, *MEMBERS} >= BARE
