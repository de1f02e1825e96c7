"""Archives, workbooks and named arrays."""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.hardcases.making import HEAD, PLAIN, A, Array, B, T, X, case, text


def zipped(members: dict[str, bytes]) -> bytes:
    """Return a ZIP archive of some files."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


PAIR = [("wavenumber", "f8"), ("absorbance", "f8")]
TEXT = (HEAD + PLAIN).encode()
text("film.csv.gz", "read or refuse", gzip.compress(TEXT, mtime=0), A)
text("film.zip", "read or refuse", zipped({"film.csv": TEXT}), A)
text("film_clutter.zip", "read or refuse", zipped({"film.csv": TEXT, "__MACOSX/._film.csv": b"\x00\x05"}), A)
text("two_films.zip", "refuse", zipped({"film.csv": TEXT, "other.csv": TEXT}))
text("gz_in_zip.zip", "read or refuse", zipped({"film.csv.gz": gzip.compress(TEXT, mtime=0)}), A)


def sheet(path: Path, *sheets: tuple[str, list[list[object]], bool]) -> None:
    """Write a workbook of sheets: title, rows, whether it is hidden."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, lines, hidden in sheets:
        one = book.create_sheet(title)
        for line in lines:
            one.append(line)
        one.sheet_state = "hidden" if hidden else "visible"
    book.save(path)


def table(*heads: str, columns: Sequence[Array]) -> list[list[object]]:
    """Rows of a sheet."""
    return [list(heads), *(list(map(float, row)) for row in zip(*columns, strict=True))]


@case("sheet_of_notes_first.xlsx", "read", A)
def _(path: Path) -> None:
    sheet(
        path,
        ("notes", [["operator", "x"], ["scans", 32]], False),
        ("data", table("cm-1", "absorbance", columns=[X, A]), False),
    )


@case("sheet_hidden.xlsx", "refuse or warn")
def _(path: Path) -> None:
    sheet(
        path,
        ("data", table("cm-1", "absorbance", columns=[X, A]), False),
        ("old", table("cm-1", "absorbance", columns=[X, B]), True),
    )


@case("sheet_text_commas.xlsx", "read", A)
def _(path: Path) -> None:
    sheet(
        path,
        (
            "data",
            [
                ["cm-1", "absorbance"],
                *(
                    [f"{x:.1f}".replace(".", ","), f"{a:.5f}".replace(".", ",")]
                    for x, a in zip(X, A, strict=False)
                ),
            ],
            False,
        ),
    )


@case("sheet_title_rows.xlsx", "read", A, B)
def _(path: Path) -> None:
    head: list[list[object]] = [
        ["Films of today"],
        [],
        ["", "film 1", "film 2"],
        ["Wavenumber", "Absorbance", "Absorbance"],
        ["(cm-1)", "(a.u.)", "(a.u.)"],
    ]
    sheet(path, ("data", head + [list(map(float, row)) for row in zip(X, A, B, strict=False)], False))


@case("sheet_percent_cells.xlsx", "refuse")
def _(path: Path) -> None:
    sheet(path, ("data", table("cm-1", "transmittance (%)", columns=[X, T]), False))


@case("sheet_results_below.xlsx", "read or refuse", A)
def _(path: Path) -> None:
    sheet(
        path,
        (
            "data",
            [
                *table("cm-1", "absorbance", columns=[X, A]),
                [],
                ["mean", float(A.mean())],
                ["max", float(A.max())],
            ],
            False,
        ),
    )


@case("sheet_two_side.xlsx", "read", A, B)
def _(path: Path) -> None:
    lines: list[list[object]] = [["cm-1", "absorbance", None, "cm-1", "absorbance"]]
    lines += [[float(x), float(a), None, float(x), float(b)] for x, a, b in zip(X, A, B, strict=False)]
    sheet(path, ("data", lines, False))


@case("sheet_dates.xlsx", "refuse")
def _(path: Path) -> None:
    import datetime

    lines = table("cm-1", "absorbance", columns=[X, A])
    for i in range(40, 60):
        lines[i][1] = datetime.datetime(2026, 1, i % 28 + 1)
    sheet(path, ("data", lines, False))


@case("arrays_numbered.npz", "read or refuse", A)
def _(path: Path) -> None:
    np.savez(path, X, A)


@case("arrays_um.npz", "read", A)
def _(path: Path) -> None:
    np.savez(path, wavelength_um=1e4 / X, absorbance=A)


@case("arrays_square_image.npz", "read", A)
def _(path: Path) -> None:
    np.savez(path, wavenumber=X, absorbance=A, image=np.zeros((64, 64)), std=0.01 * B)


@case("arrays_cube.npz", "read or refuse", A, B, A, B)
def _(path: Path) -> None:
    np.savez(path, wavenumber=X, absorbance=np.array([[A, B], [A, B]]))


@case("arrays_transmittance.npz", "read", A, B)
def _(path: Path) -> None:
    np.savez(path, wn=X, transmittance=np.stack([T, 10.0**-B]))


@case("structured.npy", "read or refuse", A)
def _(path: Path) -> None:
    np.save(path, np.array(list(zip(X, A, strict=True)), dtype=PAIR))


@case("two_rows.npy", "read or refuse", A)
def _(path: Path) -> None:
    np.save(path, np.stack([X, A]))


@case("only_y.npy", "refuse")
def _(path: Path) -> None:
    np.save(path, A)


@case("struct.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"film": {"wavenumber": X, "absorbance": A, "note": "x", "scans": 32.0}})


@case("struct_array.mat", "read", A, B)
def _(path: Path) -> None:
    import scipy.io

    films = np.array(
        [({"wavenumber": X, "absorbance": A},), ({"wavenumber": X, "absorbance": B},)], dtype=[("s", object)]
    )
    scipy.io.savemat(path, {"films": films})


@case("nested_struct.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"run": {"sample": {"x": X, "data": {"absorbance": A}}}})


@case("single_precision.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"wn": X.astype(np.float32), "A": A.astype(np.float32)})


@case("matrix_beside_axis.mat", "read", A, B)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"wn": X, "spectra": np.stack([A, B], axis=1)})


@case("groups.h5", "read", A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        for name, y in (("run1", A), ("run2", B)):
            group = file.create_group(f"entry/{name}")
            group["x"] = X
            group["x"].attrs["units"] = "1/cm"
            group["y"] = y
            group["y"].attrs["units"] = "absorbance"


@case("axis_above.h5", "read", A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["wavenumber"] = X
        file["data/film1/absorbance"] = A
        file["data/film2/absorbance"] = B


@case("compound.h5", "read or refuse", A)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["film"] = np.array(
            list(zip(X, A, strict=False)), dtype=[("wavenumber", "f8"), ("absorbance", "f8")]
        )


@case("map.h5", "read or refuse", A, B, A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["wavenumber"] = X
        file["absorbance"] = np.array([[A, B], [A, B]])
