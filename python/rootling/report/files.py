"""The file of a report: what may be its name, what it may replace, and how it is written whole or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
import shutil
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rootling._pages import MARK
from rootling.exceptions import ReportError

# Letters of a path that a message shows.
LONGEST = 160
# Letters of a page within which a report says that it is one.
HEAD = 4096
# By these a Word document is known as ours, and as saved by nobody else; a digest in it says whether it was edited.
CATEGORY, OWNER = "Report of rootling", "rootling"
# Parts of a Word document that are read; in these the letters, beginnings of paragraphs, breaks, tabs and pictures.
READ = re.compile(r"word/(?:document|header\d*|footer\d*|footnotes|endnotes|comments)\.xml")
SIGNS = re.compile(rb"<w:(?:t|delText)(?: [^>]*)?>([^<]*)</w:|<(w:p|w:br|w:tab|w:drawing|w:pict|m:oMath)[ />]")
# By this line a text is; the digest of the rest says whether it was edited.
SIGNED = "Report of rootling, replaced by the next of its name until it is edited: "
# What we put beside a text; texts of one name share the folder, and each has files of its own in it.
OURS = re.compile(r"(figure|record)_\d+_\w+\.(png|pdf|json)")
OF_TEX = (".pdf", "_tex.json")


@dataclass
class Made:
    """A report as it goes to the disk: the file, and files of a folder beside it."""

    data: bytes
    folder: str = ""
    beside: dict[str, bytes] = field(default_factory=dict)


def target_of(what: Any, path: Any, endings: tuple[str, ...]) -> Path:
    """The file to write, looked at before any work is done."""
    if not isinstance(path, (str, os.PathLike)):
        order = "; the results come first, the file second" if isinstance(what, (str, os.PathLike)) else ""
        raise ReportError(
            f'{type(path).__name__!r} is no name of a file; write rl.report.write(what, "report.html"){order}'
        )
    target = Path(path)
    try:
        named = b"\0" not in os.fsencode(target)
    except UnicodeEncodeError:
        named = False
    if not named:
        raise ReportError(f"{str(target)!r} cannot be the name of a file; name another")
    if os.path.isdir(target):
        raise ReportError(f"{str(target)!r} is a folder; add the name of a file to it, for example report.html")
    if target.suffix.lower() not in endings:
        pdf = (
            ", open it in a browser and print it from there into a PDF file" if target.suffix.lower() == ".pdf" else ""
        )
        known = " or ".join(f"{str(target.with_suffix(one).name)!r}" for one in (".html", ".docx", ".md", ".tex"))
        raise ReportError(f"a report is no {_short(target.suffix)} file; name it {_short(known)}{pdf}")
    if not os.path.isdir(target.parent):
        raise ReportError(f"there is no folder {str(target.parent)!r}; create it first, or name another")
    return target


def folder_of(target: Path) -> str:
    """The name of the folder beside a text; letters that TeX or an address would take for something else are dashes.

    >>> folder_of(Path("trials/K12, spring.tex"))
    'K12--spring_figures'
    """
    return re.sub(r"[^A-Za-z0-9_.-]", "-", target.stem) + "_figures"


def signed(text: str, comment: str) -> bytes:
    """A text with a first line by which it is known again."""
    data = text.encode("utf-8", "backslashreplace")
    return f"{comment.format(SIGNED + _digest(data))}\n".encode() + data


def _digest(data: bytes) -> str:
    return hashlib.sha256(data.replace(b"\r\n", b"\n")).hexdigest()[:16]


def keep(target: Path) -> None:
    """Refuses to take the place of a file that somebody else made, or of a report that somebody edited."""
    found = _found(target) if os.path.isfile(target) else None
    if found is not None:
        raise ReportError(
            f"there is a file {str(target)!r} that {found}, so it is left as it is; name another, or replace it with "
            "overwrite=True"
        )
    if target.suffix.lower() not in (".md", ".tex") or os.path.isfile(target):
        return
    folder = target.with_name(folder_of(target))
    tex = target.suffix.lower() == ".tex"
    if folder.is_dir() and any(_is_of(one.name, tex=tex) for one in folder.iterdir()):
        raise ReportError(
            f"there is a folder {str(folder)!r} with figures of another report, so it is left as it is; name another "
            "file, or replace it with overwrite=True"
        )


def _is_of(name: str, *, tex: bool) -> bool:
    """True for a file that a text of LaTeX, or one of Markdown, has put beside it.

    >>> _is_of("record_1_trend.json", tex=False), _is_of("record_1_trend_tex.json", tex=False)
    (True, False)
    """
    return OURS.fullmatch(name) is not None and name.endswith(OF_TEX) == tex


def _found(target: Path) -> str | None:
    """Why a file may not be replaced; none where it is a report as it was written, or empty."""
    no, edited = "is no report of rootling", "is a report that was edited"
    try:
        if target.stat().st_size == 0:
            return None
        if target.suffix.lower() == ".docx":
            return _found_in_word(target, no, edited)
        with target.open("rb") as file:
            if target.suffix.lower() not in (".md", ".tex"):
                return None if MARK.encode() in file.read(HEAD) else no
            first, rest = file.readline(HEAD), file.read()
    except (OSError, zipfile.BadZipFile, KeyError):
        return no
    if SIGNED.encode() not in first:
        return no
    return None if _digest(rest).encode() in first else edited


def _found_in_word(target: Path, no: str, edited: str) -> str | None:
    with zipfile.ZipFile(target) as packed:
        told = packed.read("docProps/core.xml").decode("utf-8", "replace")
        held = _content_of(packed)
    if f"<cp:category>{CATEGORY}<" not in told:
        return no
    # A program that saves it anew names its user, and counts; one that leaves both alone changes what is read.
    saved = f"<cp:lastModifiedBy>{OWNER}<" not in told or "<cp:revision>1<" not in told
    own = re.search(r"<dc:identifier>([0-9a-f]+)</dc:identifier>", told)
    if saved or (own is not None and own[1] != held):
        return edited
    return "is a report of an earlier version that may have been edited" if own is None else None


def content_of(document: bytes) -> str:
    """A digest of all that is read in a Word document: body, tables, heads, feet, notes, and its pictures."""
    with zipfile.ZipFile(io.BytesIO(document)) as packed:
        return _content_of(packed)


def _content_of(packed: zipfile.ZipFile) -> str:
    """Runs may be cut otherwise by a program that saves anew; the letters, their paragraphs and pictures stay."""
    found = hashlib.sha256()
    for name in sorted(name for name in packed.namelist() if READ.fullmatch(name)):
        parts = SIGNS.findall(packed.read(name))
        text = b"".join(letters if letters else b"|" + tag for letters, tag in parts)
        found.update(text.strip(b"|wp:") and name.encode() + b"\0" + text + b"\0")
    return found.hexdigest()[:32]


def put(target: Path, made: Made) -> None:
    """Writes a report with what stands beside it: all of it, or nothing.

    Raises
    ------
    ReportError
        When it cannot be written; what stood there is as it was.
    """
    if not made.beside:
        whole(target, made.data)
        return
    folder = Path(os.path.realpath(target)).with_name(made.folder)
    if os.path.lexists(folder) and (folder.is_symlink() or not folder.is_dir()):
        raise ReportError(f"{_short(str(folder))!r} is no folder that figures could go into; name another file")
    import secrets

    new, old = (folder.with_name(f".{secrets.token_hex(8)}.part") for _ in range(2))
    had = folder.is_dir()
    try:
        _filled(new, folder, made.beside)
        if had:
            os.rename(folder, old)
        os.rename(new, folder)
        whole(target, made.data)
    except BaseException as error:
        _back(folder, old, new, had=had)
        if isinstance(error, OSError) and not isinstance(error, ReportError):
            raise _unwritten(target, error) from None
        raise
    else:
        shutil.rmtree(old, ignore_errors=True)
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _filled(new: Path, folder: Path, beside: dict[str, bytes]) -> None:
    """The folder as it will be: what others put there, and the files of this report in place of those before."""
    os.mkdir(new)
    tex = any(name.endswith(OF_TEX) for name in beside)
    for one in folder.iterdir() if folder.is_dir() else ():
        if _is_of(one.name, tex=tex):
            continue
        (shutil.copytree if one.is_dir() else shutil.copy2)(one, new / one.name)
    for name, data in beside.items():
        _write(new / name, data)


def _back(folder: Path, old: Path, new: Path, *, had: bool) -> None:
    """Puts the folder back that was there before, where the new one had taken its place."""
    if had == old.is_dir() and not new.exists():
        shutil.rmtree(folder, ignore_errors=True)
    if old.is_dir():
        with contextlib.suppress(OSError):
            os.rename(old, folder)


def whole(target: Path, data: bytes) -> None:
    """Writes a file; what stood there stays as it was unless all of the new data has reached the disk.

    Parameters
    ----------
    target : pathlib.Path
        The file; where it is a link, the file the link leads to.
    data : bytes
        What to write.

    Raises
    ------
    ReportError
        When the file cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder) / "page.html"
    ...     whole(file, b"walnut")
    ...     file.read_bytes()
    b'walnut'
    """
    place = Path(os.path.realpath(target))
    import secrets

    beside = place.with_name(f".{secrets.token_hex(8)}.part")
    try:
        if place.exists() and not place.is_file():
            # A pipe or a device holds nothing that could be lost, and must not be replaced by a file.
            place.write_bytes(data)
            return
        _write(beside, data)
        with contextlib.suppress(FileNotFoundError):
            os.chmod(beside, place.stat().st_mode & 0o777)
        os.replace(beside, place)
    except OSError as error:
        raise _unwritten(target, error) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _unwritten(target: Path, error: OSError) -> ReportError:
    reason = error.strerror or type(error).__name__
    return ReportError(
        f"the report {_short(str(target))!r} could not be written ({reason}); what stood there is as it was; "
        "name another file"
    )


def _short(name: str) -> str:
    """A name of any length so that a message can hold it."""
    return name if len(name) <= LONGEST else f"{name[: LONGEST // 2]} ... {name[-LONGEST // 2 :]}"


def _write(beside: Path, data: bytes) -> None:
    with open(beside, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
