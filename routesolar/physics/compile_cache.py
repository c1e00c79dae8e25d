"""A folder of machine code that is the user's own, and files in it that are checked before they are run.

Cached machine code is unpickled and run: whoever can write it runs as us, and a cut or flipped file ends the
process. So the folder must belong to the user and be closed to others' writing, every file carries its digest
and is written whole, and whatever does not hold is compiled anew.
"""

import atexit
import hashlib
import os
import pickle
import shutil
import stat
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache, cached_property
from io import BytesIO
from pathlib import Path
from typing import Any, ClassVar

from llvmlite.binding import parse_bitcode
from numba import config
from numba.core.caching import (
    CompileResultCacheImpl,
    FunctionCache,
    IndexDataCacheFile,
    UserProvidedCacheLocator,
)
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompileResult, compile_result
from numba.core.environment import Environment, _rebuild_env, lookup_environment
from numba.core.runtime import rtsys

_DIGEST_BYTES = hashlib.sha256().digest_size


def usable_folder(name: str) -> Path | None:
    """Return the folder `name` in the user's cache area, else one for this run alone, else None."""
    try:
        base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or "~/.cache"
        here = Path(base).expanduser().resolve() / "routesolar" / name
        for folder in (here.parent, here):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not _is_ours_alone(folder):
                return _folder_for_this_run()
        with tempfile.TemporaryFile(dir=here):
            return here
    except (OSError, RuntimeError):  # RuntimeError: there is no home, or links lead in a circle
        return _folder_for_this_run()


def _is_ours_alone(folder: Path) -> bool:
    """Tell whether nobody else can put files into a folder (where the system numbers its users)."""
    found = folder.lstat()
    mine = not hasattr(os, "getuid") or found.st_uid == os.getuid()
    return mine and stat.S_ISDIR(found.st_mode) and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _folder_for_this_run() -> Path | None:
    try:
        folder = tempfile.mkdtemp(prefix="routesolar-")
    except OSError:
        return None
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


class _Unpickler(pickle.Unpickler):
    """Reads machine code back without the modules its formulas were written in, some of numba's among them.

    Only code that calls Python again would look names up there; importing them takes longer than all the code.
    """

    def find_class(self, module: str, name: str) -> Any:
        """Return what a name in the file stands for."""
        return _environment if name == _rebuild_env.__name__ else super().find_class(module, name)


def _environment(module: str, constants: tuple[Any, ...], name: str) -> Environment:
    """Return the constants of one function's machine code, as numba's `_rebuild_env` does."""
    found = lookup_environment(name)
    if found is None:
        found = Environment({"__name__": module})
        found.consts[:] = constants
        found.env_name = name
        Environment._memo[name] = found
    return found


class _CheckedFiles(IndexDataCacheFile):  # type: ignore[misc]
    """numba's index and data files of one function, each behind its own digest."""

    def _load_index(self) -> dict[Any, str]:
        found = _checked(Path(self._index_path))
        if found is None:
            return {}
        version, stamp, overloads = pickle.loads(found)
        fresh = (version, stamp) == (self._version, self._source_stamp)
        return dict(overloads) if fresh else {}

    def _save_index(self, overloads: dict[Any, str]) -> None:
        self._write(self._index_path, (self._version, self._source_stamp, overloads))

    def _load_data(self, name: str) -> Any:
        found = _checked(Path(self._data_path(name)))
        return None if found is None else _Unpickler(BytesIO(found)).load()

    def _save_data(self, name: str, data: Any) -> None:
        self._write(self._data_path(name), data)

    def _write(self, path: str, value: Any) -> None:
        content = self._dump(value)
        with self._open_for_write(path) as file:
            file.write(hashlib.sha256(content).digest() + content)


def _checked(path: Path) -> bytes | None:
    """Return a file's content, None where it is missing, cut or changed."""
    try:
        found = path.read_bytes()
    except OSError:
        return None
    digest, content = found[:_DIGEST_BYTES], found[_DIGEST_BYTES:]
    return content if hashlib.sha256(content).digest() == digest else None


class _ReadBack(JITCodeLibrary):  # type: ignore[misc]
    """Machine code that was read back; its form for the compiler is parsed when other code is compiled with it.

    numba parses it at once for a list of the names that are defined, by which functions that call themselves
    are found; none of ours does.
    """

    def __init__(self, codegen: Any, name: str, machine_code: bytes, bitcode: bytes) -> None:
        super().__init__(codegen, name)
        self._bitcode, self._shared_module = bitcode, None
        self.enable_object_caching()
        self._set_compiled_object(machine_code)
        self._finalize_final_module()

    def get_pointer_to_function(self, name: str) -> int:
        """Return the address of one of its functions."""
        return int(self._codegen._engine.get_function_address(name))

    def _get_module_for_linking(self) -> Any:
        if self._shared_module is None:
            self._shared_module = parse_bitcode(self._bitcode)
        return self._shared_module


class _Located(UserProvidedCacheLocator):  # type: ignore[misc]
    """Where the files of one function are, in a folder of which is known that it can be written to."""

    def ensure_cache_path(self) -> None:
        """Make the folder; numba would try for each function whether it takes files."""
        Path(self.get_cache_path()).mkdir(parents=True, exist_ok=True)


class _Rebuilding(CompileResultCacheImpl):  # type: ignore[misc]
    """How what was kept of a compiled function becomes one that can be called."""

    _locator_classes = (_Located,)
    _placed: ClassVar[dict[str, int]] = {}  # environments whose address stands in the code: many come twice

    def rebuild(self, target_context: Any, payload: tuple[Any, ...]) -> CompileResult:
        """Return the function that numba's `CompileResult._reduce` took apart."""
        (name, _, code), descriptor, env, signature, objectmode, lifted, annotation, inits, environments = (
            payload
        )
        for init in inits:
            init()
        library = _ReadBack(target_context.codegen(), name, *code)
        entry_point = target_context.get_executable(library, descriptor, env)
        for environment in environments:
            if self._placed.get(environment.env_name) != id(environment):
                library.codegen.set_env(environment.env_name, environment)
                self._placed[environment.env_name] = id(environment)
        return compile_result(
            target_context=target_context,
            typing_context=target_context.typing_context,
            library=library,
            environment=env,
            entry_point=entry_point,
            fndesc=descriptor,
            type_annotation=annotation,
            signature=signature,
            objectmode=objectmode,
            lifted=lifted,
            reload_init=inits,
            referenced_envs=environments,
        )


class _CheckedCache(FunctionCache):  # type: ignore[misc]
    """numba's cache of one function, in checked files."""

    _impl_class = _Rebuilding

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._cache_file = _CheckedFiles(
            self._cache_path, self._impl.filename_base, self._impl.locator.get_source_stamp()
        )

    def _index_key(self, signature: Any, codegen: Any) -> tuple[Any, ...]:
        """Return what tells overloads apart; numba's has the code too, of which the folder's name tells."""
        return signature, _processor(codegen)


@cache
def _processor(codegen: Any) -> tuple[str, ...]:
    """Return for which processor is compiled."""
    return tuple(codegen.magic_tuple())


class CheckedCache:
    """What a dispatcher asks for machine code; a disk that refuses costs speed, not the result.

    Most formulas are compiled into others and never asked for alone, so files are looked at when one is.
    """

    def __init__(self, function: Callable[..., Any], folder: Path) -> None:
        self._function, self._folder = function, folder

    @cached_property
    def _files(self) -> _CheckedCache:
        theirs = config.CACHE_DIR
        config.CACHE_DIR = str(self._folder)
        try:
            return _CheckedCache(self._function)
        finally:
            config.CACHE_DIR = theirs

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the machine code of one signature, None where it is not kept.

        numba would first read in all that it knows to compile, half a second; code that is ready needs only the
        functions that give memory.
        """
        rtsys.initialize(target_context)
        with self._files._guard_against_spurious_io_errors():
            return self._files._load_overload(sig, target_context)

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep the machine code of one signature where the disk takes it."""
        with suppress(OSError):
            self._files.save_overload(sig, data)
