"""How the functions of this room are compiled: without the lock of Python, so that threads run side by side."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeVar, cast

import numba
from numba.core import types
from numba.extending import intrinsic


class Whole(Protocol):
    """The beginning of a row of int64, without its length.

    To pass an array itself to the hundreds of calls of a run would cost more than what they do.
    """

    def __getitem__(self, place: int) -> int: ...

    def __setitem__(self, place: int, value: int) -> None: ...


class Real(Protocol):
    """The beginning of a row of float64, without its length."""

    def __getitem__(self, place: int) -> float: ...

    def __setitem__(self, place: int, value: float) -> None: ...


Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """A function that others of this room call now and then."""
    return cast(Function, numba.njit(nogil=True)(function))


def inlined(function: Function) -> Function:
    """A function that others of this room call all the time: put where it is called, which takes longer to compile."""
    return cast(Function, numba.njit(nogil=True, forceinline=True)(function))


def _beginning(context: Any, array: Any) -> Any:
    def lay(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return types.CPointer(array.dtype)(array), lay  # type: ignore[no-untyped-call]


#: The beginning of an array without gaps. It holds only as long as whoever called from Python holds the array: what
#: compiled code makes for itself is gone after its last use by name.
beginning: Any = intrinsic(_beginning)


def _at(type_: Any) -> Any:
    def pointer(context: Any, address: Any) -> Any:
        def lay(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            return builder.inttoptr(arguments[0], context.get_value_type(signature.return_type))

        return types.CPointer(type_)(address), lay  # type: ignore[no-untyped-call]

    return intrinsic(pointer)


#: What lies at an address (a whole number), by the letter that ``machine_code.ENTRIES`` has for it.
AT_ADDRESS: dict[str, Any] = {"i": _at(types.int64), "u": _at(types.uint64), "f": _at(types.float64)}
