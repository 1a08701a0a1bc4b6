"""Makes machine code of the functions of this room with numba, and files of it; see ``machine_code.py``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import llvmlite.binding as llvm
import numba
from numba.core import types

from shopsim.engine.compiled import luck_kernels, simulate
from shopsim.engine.compiled.jit import AT_ADDRESS
from shopsim.engine.compiled.machine_code import ENTRIES, INDEX, begin_llvm, find_addresses, target_machine
from shopsim.scenario.writing import write_bytes_safely

_numba: Any = numba  # its types leave out some of what it has
#: What machine code may call that lies elsewhere: functions of the C library, and one that is never called.
MAY_CALL = {"memcpy", "memmove", "memset", "NRT_MemInfo_call_dtor"}


def build_code(folder: Path) -> None:
    """Compile all functions, and write their files into a folder that is there; about half a minute."""
    begin_llvm()
    names, objects = {}, {}
    for name, kinds in ENTRIES.items():
        names[name], objects[name] = _compile(getattr(_SOURCES[name], name), kinds.split())
    find_addresses(objects, names)  # code that cannot be loaded ends this process here, and no other
    for name, content in objects.items():
        write_bytes_safely(folder / f"{name}.o", content)
    write_bytes_safely(folder / INDEX, json.dumps(names).encode())


_SOURCES = {name: luck_kernels if hasattr(luck_kernels, name) else simulate for name in ENTRIES}


def _compile(function: Any, kinds: list[str]) -> tuple[str, bytes]:
    """(the name to find it by, machine code) of a function that is given one array: where its own arrays are, and their shapes."""
    lines, place = [], 0
    for n, kind in enumerate(kinds):
        n_dimensions = int(kind[1])
        shape = "".join(f"frame[{place + 1 + k}], " for k in range(n_dimensions))
        lines.append(f"    a{n} = carray({kind[0]}(frame[{place}]), ({shape}))")
        place += 1 + n_dimensions
    given = ", ".join(f"a{n}" for n in range(len(kinds)))
    source = "\n".join(["def with_frame(frame):", *lines, f"    function({given})"])
    names: dict[str, Any] = {"carray": _numba.carray, "function": function, **AT_ADDRESS}
    exec(source, names)
    signature = types.void(types.CPointer(types.int64))  # type: ignore[no-untyped-call]
    made = _numba.njit(signature, no_cpython_wrapper=True, no_cfunc_wrapper=True)(names["with_frame"])
    (compiled,) = made.overloads.values()
    module = llvm.parse_assembly(compiled.library.get_llvm_str())
    called = {one.name for one in module.functions if one.is_declaration and not one.name.startswith("llvm.")}
    if called - MAY_CALL:
        raise RuntimeError(f"{function.__name__} calls what cannot be loaded: {sorted(called - MAY_CALL)}")
    return compiled.fndesc.mangled_name, target_machine().emit_object(module)
