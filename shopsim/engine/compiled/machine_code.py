"""The functions of this room as machine code that lies in files: loaded by LLVM alone, as loading numba takes longer than most answers.

``code_builder.py`` makes the files. A function is called by the name it has in the source, with arrays without gaps of
the kinds that ``ENTRIES`` says, and lets other threads of Python go on meanwhile.
"""

from __future__ import annotations

import ctypes
import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

#: What each function takes: kind of number (``i``: int64, ``u``: uint64, ``f``: float64) and how many dimensions.
ENTRIES = {
    "fill_uniform": "u2 i1 u1 u1 f2",
    "scores_to_logs": "f2 f2 f1 i1 f1 f1 f1 f1 f1 f1 f2",
    "add_to_tasks": "f2 i1 f1 f2",
    "to_ticks": "f1",
    "simulate_block": "i1 f1 i1 f1 i1 f1 f2 f2 f2 i1 f2 i2 i2 f2 i1 i1 i1 i1 i1 i1 f1 i1 f2 f2 i2 f1 f1 f1 f2 i1 i1 i1",
}
#: The file that says by which name a function is found in its file.
INDEX = "functions.json"
_TYPES = {"i": "<i8", "u": "<u8", "f": "<f8"}
#: Status, from: room for what comes back (nothing), room for an exception (none can come), and where the arrays are.
_PROTOTYPE = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)

_loaded: dict[str, _Function] = {}
_engines: list[Any] = []  # what holds the code: it must outlive every call
_lock = threading.Lock()


class _Function:
    """One function, to be called with its arrays."""

    def __init__(self, name: str, address: int) -> None:
        self.name, self._code = name, _PROTOTYPE(address)
        self._kinds = [(_TYPES[kind[0]], int(kind[1])) for kind in ENTRIES[name].split()]

    def __call__(self, *arrays: np.ndarray) -> None:
        self.prepare(*arrays)()

    def prepare(self, *arrays: np.ndarray) -> Call:
        """A call with these arrays, to be made as often as wanted; what stands in them then counts."""
        places: list[int] = []
        for (type_, n_dimensions), array in zip(self._kinds, arrays, strict=True):
            said = array.__array_interface__
            shape = said["shape"]
            if said["typestr"] != type_ or len(shape) != n_dimensions or said["strides"] is not None:
                raise TypeError(f"{self.name} takes {ENTRIES[self.name]}, without gaps, and got {said}")
            places.append(said["data"][0])
            places.extend(shape)
        return Call(self.name, self._code, np.array(places, dtype=np.int64), arrays)


class Call:
    """A function with the arrays that it is called with, which it holds."""

    def __init__(self, name: str, code: Callable[..., int], frame: np.ndarray, arrays: tuple[np.ndarray, ...]) -> None:
        self.name, self._code = name, code
        self._held = frame, arrays, ctypes.c_int64(0), ctypes.c_int64(0)
        self._given = ctypes.addressof(self._held[2]), ctypes.addressof(self._held[3]), frame.ctypes.data

    def __call__(self) -> None:
        status = self._code(*self._given)
        if status:
            raise RuntimeError(f"{self.name} ended with {status}")


def load(folder: Path) -> None:
    """Load all functions from their files; whatever is wrong with them is raised."""
    with _lock:
        if _loaded:
            return
        names = json.loads((folder / INDEX).read_text())
        addresses = find_addresses({name: (folder / f"{name}.o").read_bytes() for name in ENTRIES}, names)
        _loaded.update({name: _Function(name, address) for name, address in addresses.items()})


def find_addresses(objects: dict[str, bytes], names: dict[str, str]) -> dict[str, int]:
    """Where the functions are in memory, after their code was put there; ``names``: by which name each is found in its code."""
    import llvmlite.binding as llvm

    begin_llvm()
    addresses = {}
    for name, content in objects.items():
        nothing = llvm.parse_assembly(_NEVER_CALLED)
        engine = llvm.create_mcjit_compiler(nothing, target_machine())
        engine.add_object_file(llvm.ObjectFileRef.from_data(content))
        engine.finalize_object()
        _engines.append(engine)
        address = engine.get_function_address(names[name])
        if not address:
            raise RuntimeError(f"{name} is not in its file")
        addresses[name] = address
    return addresses


#: What numba has for arrays that it made itself. There are none, so nothing calls it, but code still names it.
_NEVER_CALLED = """
declare void @llvm.trap()
define void @NRT_MemInfo_call_dtor(i8* %0) {
  call void @llvm.trap()
  unreachable
}
"""


def begin_llvm() -> None:
    """Have LLVM ready for the processor of this machine."""
    import llvmlite.binding as llvm

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()


def target_machine() -> Any:
    """The processor of this machine, as LLVM knows it."""
    import llvmlite.binding as llvm

    return llvm.Target.from_default_triple().create_target_machine(
        cpu=llvm.get_host_cpu_name(), features=llvm.get_host_cpu_features().flatten(), opt=3, reloc="default",
        codemodel="jitdefault", jit=True,
    )  # fmt: skip


def _by_name(name: str) -> Callable[..., None]:
    def call(*arrays: np.ndarray) -> None:
        _loaded[name](*arrays)

    return call


#: See ``luck_kernels.py`` and ``simulate.py``; KeyError before ``load``.
fill_uniform, scores_to_logs, add_to_tasks, to_ticks, simulate_block = (_by_name(name) for name in ENTRIES)


def prepare_simulation(*arrays: np.ndarray) -> Call:
    """``simulate_block`` with these arrays, to be called again and again."""
    return _loaded["simulate_block"].prepare(*arrays)
