"""Builds bench files and readings files for the tests, clean unless stated otherwise."""

from __future__ import annotations

HEADER = {
    "format": "bench-test/1",
    "shoe": "fenrunner-2",
    "specimen": "F2-01",
    "size": "EU 42.5",
    "side": "left",
    "rig": "rig-1",
    "operator": "technician",
    "performed": "2026-03-04T10:15:00+00:00",
    "conditioned": "50.2 h",
    "temperature": "22.6 degC",
    "heel_clamp": "445 N",
    "forefoot_clamp": "178 N",
    "torsion_units": "deg, N*m",
    "compression_units": "mm, N",
}
TORSION = ["torsion,1,loading,0,0.5", "torsion,1,loading,10,3.5", "torsion,1,loading,20,6.5"]
COMPRESSION = [
    "compression,1,loading,0,5",
    "compression,1,loading,8,500",
    "compression,1,unloading,8,450",
    "compression,1,unloading,0,0",
]
TABLE_HEADER = "test,repeat,branch,position,load"
READINGS_COLUMNS = (
    "shoe,specimen,size,side,rig,operator,performed,conditioned [h],temperature [degC],heel_clamp [N],"
    "forefoot_clamp [N],repeat,torque_15 [N*m],deflection [mm]"
)
READINGS_ROW = "fenrunner-2,F2-01,EU 42.5,left,rig-1,technician,2026-03-04T10:15:00+00:00,50.2,22.6,445,178,{},{},{}"


def bench_text(rows: list[str] | None = None, *, table_header: str = TABLE_HEADER, **changes: str | None) -> str:
    """A bench file as text; a change to None leaves the key out."""
    keys = {key: value for key, value in {**HEADER, **changes}.items() if value is not None}
    comments = [f"# {key} = {value}" for key, value in keys.items()]
    return "\n".join([*comments, table_header, *(TORSION + COMPRESSION if rows is None else rows)]) + "\n"


def bench_bytes(rows: list[str] | None = None, **changes: str | None) -> bytes:
    return bench_text(rows, **changes).encode()


def readings_bytes(rows: list[str] | None = None, *, columns: str = READINGS_COLUMNS) -> bytes:
    default = [READINGS_ROW.format(1, 5.1, 5.9), READINGS_ROW.format(2, 5.2, 6.0)]
    return "\n".join([columns, *(default if rows is None else rows)]).encode()


def curve_rows(repeats: list[tuple[float, float]], *, energy_return: float = 0.7) -> list[str]:
    """Rows of straight curves: for each repeat the torque at 15° (N·m) and the deflection from 5 N (mm)."""
    rows = []
    for number, (torque, deflection) in enumerate(repeats, start=1):
        per_mm = (444.82216152605 - 5.0) / deflection
        end = deflection + 1.0
        rows += [f"torsion,{number},loading,{angle},{torque * angle / 15!r}" for angle in (0, 5, 10, 15)]
        rows += [f"compression,{number},loading,0,0", f"compression,{number},loading,1,5"]
        rows += [f"compression,{number},loading,{end!r},{5.0 + per_mm * deflection!r}"]
        rows += [f"compression,{number},unloading,{end!r},{(5.0 + per_mm * deflection) * energy_return!r}"]
        rows += [f"compression,{number},unloading,0,0"]
    return rows
