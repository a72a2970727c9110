"""Workbooks printed as PDF by LibreOffice, as a person would print them."""

import shutil
import subprocess
from pathlib import Path

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")


def pdf_of(path: Path, folder: Path, locale: str = "") -> Path:
    """Print a workbook into a folder; with a locale such as "de_DE", by its separators."""
    assert OFFICE is not None
    if locale:
        settings = folder / "profile" / "user" / "registrymodifications.xcu"
        settings.parent.mkdir(parents=True)
        settings.write_text(
            '<?xml version="1.0" encoding="UTF-8"?>'
            '<oor:items xmlns:oor="http://openoffice.org/2001/registry">'
            '<item oor:path="/org.openoffice.Setup/L10N">'
            f'<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{locale.replace("_", "-")}</value>'
            "</prop></item></oor:items>",
            encoding="utf-8",
        )
    # A profile of its own: it may run beside an open one.
    command = [OFFICE, f"-env:UserInstallation={(folder / 'profile').absolute().as_uri()}", "--headless",
               "--convert-to", "pdf", "--outdir", str(folder), str(path)]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return folder / path.with_suffix(".pdf").name
