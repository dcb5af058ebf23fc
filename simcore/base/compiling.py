"""How plain Python rules become machine code, only when a run starts.

Two marks exist.  ``@rule`` leaves a function exactly as it is and notes that
compiled code may call it.  ``@kernel`` makes a loop over runs that is compiled
on its first call and cached on disk.  ``family`` makes a function whose body
depends on the *type* of its first argument: the way a stage, counter, contact or
gesture is chosen, in plain Python as well as in compiled code.

numba is imported by the first kernel call and not before, so that commands which
simulate nothing start fast.

The cache folder is named after a hash of all sources and the versions of numba and
Python: numba notices that a cached function's own file changed, but not that a
function it calls in another file did.

Rules that come with the records of other packages run interpreted where the compiler refuses them.
"""

from __future__ import annotations

import functools
import hashlib
import inspect
import os
import pathlib
import re
import sys
import tempfile
import types
from collections.abc import Callable, Iterable
from typing import Any, TypeVar, cast

OWN = ("simcore.", "tests.")
"""Where our own records live; their rules must compile."""


def foreign_modules(arguments: Iterable[Any]) -> set[str]:
    """The modules outside this package that define a record among the arguments, or inside one."""
    found: set[str] = set()
    for each in arguments:
        if isinstance(each, tuple):
            module = type(each).__module__
            if module != "builtins" and not module.startswith(OWN):
                found.add(module)
            found |= foreign_modules(each)
    return found


def reason(text: str, module: str) -> str:
    """Where in a module's file a compiler's error arose and what it says there, or else its first line."""
    file = pathlib.Path(getattr(sys.modules.get(module), "__file__", None) or module).name
    found = re.search(rf"""([^\n]*)\n\s*File [^\n]*{re.escape(file)}"?, line (\d+)""", text)
    if found:
        return f"{file}, line {found[2]}: {found[1].strip()}"
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return (lines or ["no reason given"])[0].rstrip(".:")[:200]


Function = TypeVar("Function", bound=Callable[..., Any])

_rules: list[Callable[..., Any]] = []
_families: list[Family] = []
_kernels: list[Kernel] = []
_specials: list[Callable[[], None]] = []
_interpreted: dict[str, str] = {}
_prepared = False


def rule(function: Function) -> Function:
    """Mark a plain function as callable from compiled code; returns it unchanged."""
    _rules.append(function)
    if _prepared:
        _admit(function)
    return function


class Family:
    """One name for many functions, chosen by the type of the first argument.

    Example: ``stage_edge(params, state, time, level)`` runs the edge rule that was
    registered for ``type(params)``.  Calling it from Python runs the plain function.
    """

    def __init__(self, stub: Callable[..., Any]) -> None:
        self.name = stub.__name__
        self.stub = stub
        self.dispatch: Callable[..., Any] = stub
        self.default: Callable[..., Any] | None = None
        self.members: dict[type, Callable[..., Any]] = {}

    def register(self, kind: type, function: Callable[..., Any]) -> None:
        """Let ``function`` serve arguments whose first one is a ``kind``."""
        if kind in self.members:
            raise ValueError(f"{self.name}: {kind.__name__} is registered already")
        self.members[kind] = function
        if _prepared:
            _admit(function)
            _renew()

    def member(self, kind: type) -> Callable[..., Any]:
        """The function for ``kind``; TypeError names the family and the kinds it knows."""
        found = self.members.get(kind, self.default)
        if found is None:
            known = ", ".join(sorted(k.__name__ for k in self.members))
            raise TypeError(f"{self.name} has no rule for {kind.__name__}; known: {known}")
        return found


def family(stub: Function) -> Function:
    """Turn ``stub`` (its signature and docstring count, its body does not) into a Family."""
    chosen = Family(stub)

    @functools.wraps(stub)
    def dispatch(*arguments: Any) -> Any:
        return chosen.member(type(arguments[0]))(*arguments)

    dispatch.family = chosen  # type: ignore[attr-defined]
    chosen.dispatch = dispatch
    _families.append(chosen)
    if _prepared:
        _admit_family(chosen)
    return cast(Function, dispatch)


def family_with_default(stub: Function) -> Function:
    """A family whose stub is itself the rule for every record that has none of its own."""
    dispatch = family(stub)
    cast(Any, dispatch).family.default = stub
    return dispatch


def member(of: Callable[..., Any], kind: type) -> Callable[[Function], Function]:
    """Decorator: register the function below as ``of``'s rule for ``kind``."""

    def note(function: Function) -> Function:
        cast(Any, of).family.register(kind, function)
        return function

    return note


def handles(of: Callable[..., Any], kind: type) -> bool:
    """Whether family ``of`` has a rule of its own for records of this kind."""
    return kind in cast(Any, of).family.members


def special(setup: Callable[[], None]) -> Callable[[], None]:
    """Note a function that teaches numba something by hand, run once before compiling."""
    _specials.append(setup)
    if _prepared:
        setup()
    return setup


class Kernel:
    """A loop over runs: compiled on first call, plain by ``.plain``.

    Trailing parameters with a default may be left out, as in any function.
    Called with a record of someone else's package whose rules cannot be compiled, it runs plain, now
    and for every later record of that module, so that one record is never computed in two ways.
    """

    def __init__(self, plain: Callable[..., Any]) -> None:
        functools.update_wrapper(self, plain)
        self.plain = plain
        self.parameters = plain.__code__.co_argcount
        self.defaults: tuple[Any, ...] = plain.__defaults__ or ()
        self.compiled: Any = None
        self.proven: set[tuple[type, ...]] = set()

    def __call__(self, *arguments: Any) -> Any:
        missing = self.parameters - len(arguments)
        if 0 < missing <= len(self.defaults):
            # numba would compile once more for a default that it fills in itself.
            arguments += self.defaults[-missing:]
        if _interpreted and any(module in _interpreted for module in foreign_modules(arguments)):
            return self.plain(*arguments)
        if self.compiled is None:
            prepare()
            import numba

            self.compiled = numba.njit(cache=True, nogil=True, error_model="numpy")(self.plain)
        if foreign_modules(arguments) and not self._compiles(arguments):
            return self.plain(*arguments)
        return self.compiled(*arguments)

    def _compiles(self, arguments: tuple[Any, ...]) -> bool:
        """Whether these types of arguments can be compiled; notes the reason if not.  numba raises more kinds
        of errors than it documents, so any counts.
        """
        import numba

        types = tuple(type(each) for each in arguments)
        if types not in self.proven:
            try:
                self.compiled.compile(tuple(numba.typeof(each) for each in arguments))
            except Exception as error:
                for module in foreign_modules(arguments):
                    _interpreted.setdefault(module, reason(str(error), module))
                return False
            self.proven.add(types)
        return True


def interpreted() -> dict[str, str]:
    """Modules whose rules could not be compiled and run interpreted, each with the reason."""
    return dict(_interpreted)


def kernel(function: Function) -> Function:
    made = Kernel(function)
    _kernels.append(made)
    return cast(Function, made)


def sources() -> list[pathlib.Path]:
    """Every source file whose change must invalidate compiled code, sorted: all of simcore, and
    the files of rules that others have registered, so that code compiled with a plug-in is not
    used without it.
    """
    found = set(pathlib.Path(__file__).parents[1].rglob("*.py"))
    found.update(pathlib.Path(function.__code__.co_filename) for function in _all_rules())
    return sorted(path for path in found if path.is_file())


def sources_of(package: str) -> list[pathlib.Path]:
    """The source files of the rules that a package has registered, sorted."""
    own = [function for function in _all_rules() if function.__module__.partition(".")[0] == package]
    found = {pathlib.Path(function.__code__.co_filename) for function in own}
    return sorted(path for path in found if path.is_file())


def _all_rules() -> list[Callable[..., Any]]:
    return [*_rules, *(function for chosen in _families for function in chosen.members.values())]


def cache_folder() -> pathlib.Path:
    """Where compiled code is kept for exactly these sources and this numba.

    STEPTALLY_CACHE names the parent folder; else the user's cache folder; else, when
    that cannot be written, a folder for temporary files that only this user may enter.
    """
    import numba

    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    for source in sources():
        digest.update(source.read_bytes())
    home = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    chosen = os.environ.get("STEPTALLY_CACHE") or os.path.join(home, "steptally")
    folder = pathlib.Path(chosen) / digest.hexdigest()[:16]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        folder = pathlib.Path(tempfile.mkdtemp(prefix="steptally-"))
    return folder


def is_cold() -> bool:
    """True when nothing has been compiled for these sources on this machine yet."""
    return not any(cache_folder().iterdir())


def _renew() -> None:
    """After a late registration: a cache folder for the larger set of sources, and kernels compiled again,
    so that a process without the new rule does not use code compiled with it.
    """
    import numba

    numba.config.CACHE_DIR = str(cache_folder())
    for made in _kernels:
        made.compiled = None
        made.proven.clear()


def _admit(function: Callable[..., Any]) -> None:
    from numba.extending import register_jitable

    register_jitable(forceinline=True, error_model="numpy")(function)


def _bare(function: Callable[..., Any]) -> Callable[..., Any]:
    """The same function without annotations, which numba would compare as part of its signature."""
    return types.FunctionType(function.__code__, function.__globals__, function.__name__)


def _admit_family(chosen: Family) -> None:
    """Teach numba to choose a family's member by the record type of the first argument."""
    from numba.extending import overload

    def chooser(*arguments: Any) -> Callable[..., Any]:
        return _bare(chosen.member(arguments[0].instance_class))

    # numba insists that the chooser's signature is that of the rule it chooses.
    chooser.__signature__ = inspect.signature(_bare(chosen.stub))  # type: ignore[attr-defined]
    overload(chosen.dispatch, jit_options={"forceinline": True, "error_model": "numpy"})(chooser)


def prepare() -> None:
    """Import numba and make all rules known to it; runs once, cheap afterwards."""
    global _prepared
    if _prepared:
        return
    import numba

    numba.config.CACHE_DIR = str(cache_folder())
    for setup in _specials:
        setup()
    for function in _rules:
        _admit(function)
    for chosen in _families:
        for function in chosen.members.values():
            _admit(function)
        _admit_family(chosen)
    _prepared = True
