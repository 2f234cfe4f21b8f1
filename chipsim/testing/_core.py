"""What a check is, which checks a subject has, and how one is run; hypothesis and pytest are imported late."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import wraps
from importlib import import_module
from typing import Any

import numpy as np

from ..errors import DomainError
from ..scene.cuts import Carving, Cut
from ..scene.cutters import must_be_a_cutter
from ..scene.grain import Grain
from ..scene.machine import Machine
from ..scene.paths import Path
from ._code import as_code

__all__ = [
    "Check",
    "Draw",
    "Generator",
    "Miss",
    "PropertyError",
    "Result",
    "check",
    "check_all",
    "checks_for",
    "close",
    "holds",
    "kind_of",
    "lifted",
    "parametrize_with_checks",
    "property_of",
    "some",
]

Draw = Callable[[Any, str], Any]
"""Takes a strategy and the name under which the value is shown when the property fails; returns the value."""

_KINDS = {
    "cutter profile": "a method `radius(height)`",
    "path": "a `Path`",
    "grain field": "a `Grain`, from `straight_grain` or `grain_field`",
    "risk model": "`bundle` and a method `lip_risks(strikes, fibres, cut, wood)`",
    "cut": "a `Cut`",
    "carving": "a `Carving`",
    "machine": "a `Machine`",
    "generator": "a `Generator`, or a function and the strategies of its arguments given to `check_all`",
}
_MODULES = ("_cutter", "_path", "_grain", "_model", "_cut", "_history", "_carving", "_machine", "_generator")
_REGISTRY: dict[str, list[Check]] = {kind: [] for kind in _KINDS}


class Miss(AssertionError):
    """A property does not hold: what was looked at, what came out, what should have, and how near is near enough."""

    def __init__(self, what: str, got: object, expected: object, tolerance: str = "") -> None:
        super().__init__(f"{what}: got {got}, expected {expected}")
        self.what, self.got, self.expected, self.tolerance = what, got, expected, tolerance


class PropertyError(AssertionError):
    """A subject breaks a property; the text says which, and how to see it for oneself.

    Attributes
    ----------
    check : name of the property.
    got, expected, tolerance : as text.
    counterexample : Python source that builds the smallest case that was found.
    """

    def __init__(self, check: Check, miss: Exception, counterexample: str, subject: str) -> None:
        self.check = check.name
        self.counterexample = counterexample
        if isinstance(miss, Miss):
            what, self.got, self.expected = f"{miss.what}: ", str(miss.got), str(miss.expected)
            self.tolerance = miss.tolerance or "none: it holds or it does not"
        else:
            what, self.got = "", f"{type(miss).__name__}: {miss}"
            self.expected, self.tolerance = "an answer", "none"
        code = "\n".join("    " + row for row in counterexample.splitlines())
        super().__init__(
            f"{subject} breaks {check.name}\n"
            f"  property   {' '.join(check.property.split())}\n"
            f"  got        {what}{self.got}\n"
            f"  expected   {self.expected}\n"
            f"  tolerance  {self.tolerance}\n"
            f"  counterexample, to be copied:\n{code}"
        )


@dataclass(frozen=True)
class Check:
    """One property of one kind of subject; call it with the subject.

    Attributes
    ----------
    kind : of subject, as in the table of `chipsim.testing`.
    function : the property, ``f(subject, draw)`` or ``f(subject)``; raises `Miss` where it does not hold.
    examples : how many cases are tried; one for a property that draws nothing.
    needs : which subjects of the kind have it: names of attributes without which it says nothing.
    """

    kind: str
    function: Callable[..., None]
    examples: int
    needs: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of the property."""
        return self.function.__name__

    @property
    def property(self) -> str:
        """The property with its precondition and tolerance."""
        return self.function.__doc__ or ""

    def __repr__(self) -> str:
        return f"<check {self.name} of a {self.kind}>"

    def __call__(self, subject: Any, *, examples: int | None = None) -> None:
        """Try the property on the subject.

        Parameters
        ----------
        subject
            What `checks_for` was asked about.
        examples
            How many cases to try; None: the check's own number.

        Raises
        ------
        PropertyError
            If it does not hold; the case shown is the smallest found.
        ImportError
            If it draws cases and hypothesis is not there.
        """
        draws = self.function.__code__.co_argcount > 1 or isinstance(subject, Generator)
        if draws:
            self._search(subject, self.examples if examples is None else examples)
        else:
            self._try(subject, _nothing, [])

    def _search(self, subject: Any, examples: int) -> None:
        hypothesis = _hypothesis()
        failures: list[PropertyError] = []
        after = 0

        def search(data: Any) -> None:
            nonlocal after
            if failures:
                # a search for a smaller case ends after this many: a count and no clock, so that every run is alike
                after += 1
                if after > 60 + 2 * examples:
                    return
            drawn: list[tuple[str, Any]] = []

            def draw(strategy: Any, name: str) -> Any:
                value = data.draw(strategy)
                drawn.append((name, value))
                return value

            try:
                self._try(subject, draw, drawn)
            except PropertyError as error:
                failures.append(error)
                raise

        settings = hypothesis.settings(
            max_examples=examples,
            derandomize=True,
            deadline=None,
            database=None,
            print_blob=False,
            report_multiple_bugs=False,
            phases=[hypothesis.Phase.generate, hypothesis.Phase.shrink],
            suppress_health_check=list(hypothesis.HealthCheck),
        )
        try:
            settings(hypothesis.given(hypothesis.strategies.data())(search))()
        except Exception:
            if not failures:
                raise
            found = failures[-1]
            found.__notes__ = []  # hypothesis' own account of the case, which the message gives as code
            raise found from found.__cause__

    def _try(self, subject: Any, draw: Draw, drawn: list[tuple[str, Any]]) -> None:
        made, call = subject, ""
        try:
            if isinstance(subject, Generator):
                arguments = {name: draw(s, name) for name, s in subject.arguments.items()}
                names = ", ".join(f"{name}={name}" for name in arguments)
                call = f"{subject.name}({names})"
                if self.kind == "generator":
                    self.function(subject, arguments, draw)
                    return
                made = subject.function(**arguments)
                if kind_of(made) != self.kind:
                    raise Miss("kind of what the generator makes", kind_of(made), self.kind)
                if any(not hasattr(made, a) for a in self.needs):
                    return
            if self.function.__code__.co_argcount > 1:
                self.function(made, draw)
            else:
                self.function(made)
        except Exception as error:
            if type(error).__module__.startswith("hypothesis"):
                raise
            who = type(subject).__name__ if not isinstance(subject, Generator) else subject.name
            code = _source(subject, made, call, drawn, self.name)
            raise PropertyError(self, error, code, who) from (None if isinstance(error, Miss) else error)


def _nothing(strategy: Any, name: str) -> Any:
    raise RuntimeError("this property draws nothing")


def _source(subject: Any, made: Any, call: str, drawn: list[tuple[str, Any]], check_name: str) -> str:
    rows = ["import numpy as np", "import chipsim as cs", "from chipsim.testing import check"]
    known: dict[int, str] = {}
    body = []
    if not isinstance(subject, Generator):
        body.append(f"subject = {as_code(subject)}")
        known[id(subject)] = "subject"
    for i, (name, value) in enumerate(drawn):
        body.append(f"{name} = {as_code(value, known)}")
        if not isinstance(value, (int, float, str, bool, type(None))):
            known[id(value)] = name
        if isinstance(subject, Generator) and i + 1 == len(subject.arguments):
            body.append(f"subject = {call}")
            known[id(made)] = "subject"
    text = "\n".join(body)
    if "SlowTurn(" in text or "FourierLoop(" in text:
        rows.append("from chipsim.testing.strategies import FourierLoop, SlowTurn")
    if isinstance(subject, Generator) and not subject.arguments:
        text += f"\nsubject = {call}"
    return "\n".join([*rows, text, f"check(subject, only={check_name!r})"])


@dataclass(frozen=True, eq=False)
class Generator:
    """A function that makes subjects, with a strategy for each of its arguments.

    Parameters
    ----------
    function
        Called with keywords only.
    arguments
        Name of an argument -> hypothesis strategy, as from `chipsim.testing.strategies`.
    moves
        Name of an argument that is a point (x, y) with which the whole path moves; None: 'centre' if there is one.
    turns
        Name of an argument that is an angle in degrees with which the path turns about the origin; None: none.
    lengths
        Names of the arguments that are lengths [mm]: all of them times a number give the same shape that much bigger.
        Empty: not asked.

    Raises
    ------
    DomainError
        If the function cannot be called or a name is not among the arguments.
    """

    function: Callable[..., Any]
    arguments: Mapping[str, Any]
    moves: str | None = field(default=None, kw_only=True)
    turns: str | None = field(default=None, kw_only=True)
    lengths: tuple[str, ...] = field(default=(), kw_only=True)

    def __post_init__(self) -> None:
        if not callable(self.function):
            raise DomainError(f"function must be callable, got {type(self.function).__name__}")
        object.__setattr__(self, "arguments", dict(self.arguments))
        if self.moves is None and "centre" in self.arguments:
            object.__setattr__(self, "moves", "centre")
        for name in (self.moves, self.turns, *self.lengths):
            if name is not None and name not in self.arguments:
                raise DomainError(f"{name!r} must be one of the arguments {', '.join(self.arguments)}")

    @property
    def name(self) -> str:
        """Name of the function."""
        return str(getattr(self.function, "__name__", type(self.function).__name__))

    def __repr__(self) -> str:
        return f"<Generator {self.name}({', '.join(self.arguments)})>"


@dataclass(frozen=True)
class Result:
    """What became of one check.

    Attributes
    ----------
    check : its name.
    status : 'passed', 'failed', or 'expected' for a failure that was foretold.
    error : the `PropertyError`, or None.
    """

    check: str
    status: str
    error: PropertyError | None = None


class Results(list[Result]):
    """What became of all checks of a subject, in their order; a list. Print it for a line a check and a verdict.

    Attributes
    ----------
    said : what was not tried, and why; '' if nothing was left out.
    """

    said: str = ""

    def __str__(self) -> str:
        count = {status: sum(r.status == status for r in self) for status in ("passed", "expected", "failed")}
        words = {"passed": "hold", "expected": "fail as foretold", "failed": "FAIL"}
        each = ", ".join(f"{n} {words[status]}" for status, n in count.items() if n)
        rows = [f"  {r.status:8}  {r.check}" for r in self]
        return "\n".join(
            [f"Properties tried: {len(self)}{f'; {each}' if each else ''}.", *rows, *filter(None, [self.said])]
        )


def property_of(kind: str, *, examples: int = 20, needs: tuple[str, ...] = ()) -> Callable[..., Callable[..., None]]:
    """Register a property of a kind of subject."""

    def register(function: Callable[..., None]) -> Callable[..., None]:
        _REGISTRY[kind].append(Check(kind, function, examples, needs))
        return function

    return register


def lifted(
    kind: str, function: Callable[..., None], *, examples: int, needs: tuple[str, ...] = (), **using: str
) -> None:
    """Register a property of cuts for what a cut is made of: `using` says which argument of `cuts` the subject is."""
    ((argument, name),) = using.items()

    @wraps(function)
    def on_a_cut(subject: Any, draw: Draw) -> None:
        cut = draw(some().cuts(**{argument: _hypothesis().strategies.just(subject)}), name)
        function(cut, draw) if function.__code__.co_argcount > 1 else function(cut)

    _REGISTRY[kind].append(Check(kind, on_a_cut, examples, needs))


def some() -> Any:
    """Return the strategies, imported only now."""
    _hypothesis()
    return import_module("chipsim.testing.strategies")


def _hypothesis() -> Any:
    try:
        import hypothesis
        import hypothesis.strategies
    except ImportError:
        raise ImportError("checks that draw cases need hypothesis: pip install 'chipsim[testing]'") from None
    return hypothesis


def kind_of(subject: Any) -> str:
    """Say what a subject is; TypeError with what was looked for if it is nothing known."""
    if isinstance(subject, Generator):
        return "generator"
    for kind, family in (("cut", Cut), ("carving", Carving), ("machine", Machine), ("path", Path)):
        if isinstance(subject, family):
            return kind
    if isinstance(subject, Grain):
        return "grain field"
    if callable(getattr(subject, "lip_risks", None)) and hasattr(subject, "bundle"):
        return "risk model"
    if callable(getattr(subject, "radius", None)):
        return "cutter profile"
    looked = "; ".join(f"{kind}: {what}" for kind, what in _KINDS.items())
    raise TypeError(f"nothing is known about a {type(subject).__name__}. Looked for: {looked}")


def checks_for(subject: Any) -> tuple[Check, ...]:
    """Return the properties a subject is held to.

    What it can do decides, not what it inherits from: anything with ``radius(height)`` is a cutter profile, and one
    with the rest of `Cutter` is put into cuts as well. For a `Generator` they are those of what it makes, with its own.

    Parameters
    ----------
    subject
        Cutter profile, `Path`, `Grain`, risk model, `Cut`, `Carving`, `Machine` or `Generator`.

    Raises
    ------
    TypeError
        If it is none of these; the message says what was looked for.
    """
    for module in _MODULES:
        import_module(f"chipsim.testing.{module}")
    kind = kind_of(subject)
    if kind == "generator":
        return (*_REGISTRY["generator"], *_REGISTRY[_product_kind(subject)])
    return tuple(c for c in _REGISTRY[kind] if all(hasattr(subject, a) for a in c.needs))


def _product_kind(generator: Generator) -> str:
    """Kind of what a generator makes, from the first of its examples that it can make."""
    hypothesis = _hypothesis()
    kinds: list[str] = []
    faults: list[Exception] = []
    settings = hypothesis.settings(
        max_examples=20,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(hypothesis.HealthCheck),
    )

    def look(data: Any) -> None:
        arguments = {name: data.draw(s) for name, s in generator.arguments.items()}
        if kinds:
            return
        try:
            made = generator.function(**arguments)
        except Exception as error:  # the properties will say so, once it is known which they are
            faults.append(error)
        else:
            kinds.append(kind_of(made))

    settings(hypothesis.given(hypothesis.strategies.data())(look))()
    if not kinds:
        raise TypeError(f"{generator.name} makes nothing from its arguments: {faults[-1]}") from faults[-1]
    return kinds[0]


def check(
    subject: Any,
    *,
    only: str | Iterable[str] | None = None,
    expected_failures: Mapping[str, str] | None = None,
    on_fail: str = "raise",
    examples: int | None = None,
) -> Results:
    """Hold a subject to the physics.

    Every run tries the same cases. Checks that draw cases need hypothesis; within a test that draws for itself give a
    `Generator` instead, for hypothesis refuses a search within a search.

    Parameters
    ----------
    subject
        As for `checks_for`.
    only
        Name or names of the checks to run; None: all.
    expected_failures
        Name of a check -> reason why it fails; one that passes after all is an error.
    on_fail
        'raise' at the first failure, or 'collect' and return them all.
    examples
        Cases a check; None: each check's own number.

    Returns
    -------
    list of Result
        One a check, in their order. Print it for a verdict, which also says what could not be tried: an outline
        without the numbers of a cutter, which a `Cut` refuses, is looked at as an outline only.

    Raises
    ------
    PropertyError
        At the first failure that was not expected.
    DomainError
        If a name is unknown, or `on_fail` is.
    TypeError
        If the subject is nothing known.
    """
    if on_fail not in ("raise", "collect"):
        raise DomainError(f"on_fail must be one of 'raise', 'collect', got {on_fail!r}")
    found = checks_for(subject)
    foretold = dict(expected_failures or {})
    wanted = [only] if isinstance(only, str) else None if only is None else list(only)
    _known_names([*(wanted or ()), *foretold], found)
    results = Results()
    results.said = _left_out(subject)
    for each in found:
        if wanted is not None and each.name not in wanted:
            continue
        error: PropertyError | None = None
        try:
            each(subject, examples=examples)
        except PropertyError as caught:
            error = caught
        if each.name in foretold:
            if error is None:
                raise DomainError(
                    f"expected_failures must fail: {each.name} passes, though {foretold[each.name]!r} was given"
                )
            results.append(Result(each.name, "expected", error))
        elif error is not None and on_fail == "raise":
            raise error
        else:
            results.append(Result(each.name, "passed" if error is None else "failed", error))
    return results


def _left_out(subject: Any) -> str:
    """What a subject lacks to be tried in earnest."""
    if kind_of(subject) != "cutter profile":
        return ""
    try:
        must_be_a_cutter(subject)
    except DomainError as error:
        return f"It was looked at as an outline only, for a Cut refuses it: {error}."
    return ""


def _known_names(names: Iterable[str], found: Iterable[Check]) -> None:
    have = [c.name for c in found]
    for name in names:
        if name not in have:
            raise DomainError(f"checks must be among {', '.join(have)}; got {name!r}")


def check_all(generator: Callable[..., Any], **strategies: Any) -> Results:
    """Hold everything a function makes to the physics: `check` of a `Generator`.

    Parameters
    ----------
    generator
        Function that returns a subject, a `Path` for instance.
    strategies
        A hypothesis strategy for each argument that is to vary, by name.

    Raises
    ------
    PropertyError
        At the first failure, with the smallest arguments found.
    """
    return check(Generator(generator, strategies))


def parametrize_with_checks(
    subjects: Iterable[Any],
    *,
    expected_failures: Mapping[str, str] | Callable[[Any], Mapping[str, str]] | None = None,
) -> Any:
    """Decorator that makes one pytest test of every subject and check: ``def test(subject, check): check(subject)``.

    Parameters
    ----------
    subjects
        As for `check`.
    expected_failures
        Name of a check -> reason, for all subjects, or a function subject -> such a mapping. They become strict
        xfails: one that passes fails.

    Raises
    ------
    ImportError
        If pytest is not there.
    DomainError
        If a name is unknown to every subject.
    """
    try:
        import pytest
    except ImportError:
        raise ImportError("parametrize_with_checks needs pytest: pip install pytest") from None
    rows = []
    everything: list[Check] = []
    for i, subject in enumerate(subjects):
        found = checks_for(subject)
        everything += found
        foretold = expected_failures(subject) if callable(expected_failures) else expected_failures or {}
        if callable(expected_failures):
            _known_names(foretold, found)
        for each in found:
            reason = foretold.get(each.name)
            marks = [] if reason is None else [pytest.mark.xfail(reason=reason, strict=True, raises=PropertyError)]
            title = subject.name if isinstance(subject, Generator) else type(subject).__name__
            rows.append(pytest.param(subject, each, id=f"{title}{i}-{each.name}", marks=marks))
    if expected_failures is not None and not callable(expected_failures):
        _known_names(expected_failures, everything)
    return pytest.mark.parametrize(("subject", "check"), rows)


# --- comparing --------------------------------------------------------------------------------------------------------


def holds(truth: Any, what: str, got: object, expected: object, tolerance: str = "") -> None:
    """Raise `Miss` unless the truth (all of it) holds."""
    if not np.all(truth):
        raise Miss(what, got, expected, tolerance)


def close(what: str, got: Any, expected: Any, tolerance: float, unit: str = "") -> None:
    """Raise `Miss` unless two arrays have one shape, NaN in the same places, and differ by at most the tolerance."""
    a, b = np.asarray(got, dtype=float), np.asarray(expected, dtype=float)
    if a.shape != b.shape:
        raise Miss(f"shape of {what}", a.shape, b.shape)
    known = ~np.isnan(a)
    with np.errstate(invalid="ignore"):
        off = np.where(known & ~np.isnan(b) & (a != b), np.abs(a - b), 0.0)
    off = np.where(known != ~np.isnan(b), np.inf, off)
    if not (off <= tolerance).all():
        at = np.unravel_index(int(np.argmax(off)), off.shape)
        where = f"{what}{[int(i) for i in at]}" if at else what
        end = f" {unit}" if unit else ""
        raise Miss(where, f"{a[at]:.17g}{end}", f"{b[at]:.17g}{end}", f"{tolerance:g}{end}")
