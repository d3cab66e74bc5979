"""A job of Windows around a process: all that it starts, detached or not, ends when the job is closed.

From Microsoft's description of CreateJobObject and JOBOBJECT_EXTENDED_LIMIT_INFORMATION; not tried on Windows yet.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

_KILL_ON_CLOSE, _EXTENDED_LIMITS = 0x2000, 9  # JOB_OBJECT_LIMIT_KILL_ON_JOB_CLOSE, JobObjectExtendedLimitInformation
_MAY = 0x0100 | 0x0001                        # PROCESS_SET_QUOTA | PROCESS_TERMINATE


def contained(process: int) -> Callable[[], None]:
    """Put a process into a job of its own; what comes back closes the job. Elsewhere it does nothing."""
    if sys.platform != "win32":
        return lambda: None
    import ctypes
    from ctypes import wintypes

    class Limits(ctypes.Structure):
        _fields_ = [
            ("times", ctypes.c_int64 * 2), ("flags", wintypes.DWORD), ("sizes", ctypes.c_size_t * 2),
            ("processes", wintypes.DWORD), ("affinity", ctypes.c_size_t), ("classes", wintypes.DWORD * 2),
            ("counters", ctypes.c_uint64 * 6), ("memory", ctypes.c_size_t * 4),
        ]

    system = ctypes.WinDLL("kernel32", use_last_error=True)
    system.CreateJobObjectW.restype = system.OpenProcess.restype = wintypes.HANDLE
    job = wintypes.HANDLE(system.CreateJobObjectW(None, None))
    limits = Limits(flags=_KILL_ON_CLOSE)
    system.SetInformationJobObject(job, _EXTENDED_LIMITS, ctypes.byref(limits), ctypes.sizeof(limits))
    handle = wintypes.HANDLE(system.OpenProcess(_MAY, False, process))
    system.AssignProcessToJobObject(job, handle)
    system.CloseHandle(handle)
    return lambda: system.CloseHandle(job)
