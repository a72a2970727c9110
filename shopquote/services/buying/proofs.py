"""Proofs of cut plans as files: write one, and check one without a solver.

A file holds the proof of one cut list, or one proof for each material of a takeoff.
"""

import hashlib
import json
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_job import MONEY_PARTS
from shopquote.calc.takeoff.cut_plan import CutPlan, Material
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.units import NM_PER_MM, Unit
from shopquote.errors import InputError
from shopquote.files import put_file
from shopquote.reading.files import bytes_of
from shopquote.services.buying.cut_list import read_cut_list

# A proof of a shop's list has some thousand figures: larger files are refused before JSON takes memory for
# them.
MOST_BYTES = 50_000_000
# Counted before the file is parsed: each figure becomes a Python object many times its size.
MOST_FIGURES = 2_000_000
HOW = "Write one with: shopquote cut … --proof FILE"


@dataclass(frozen=True, slots=True)
class Checked:
    """Result of checking a file of proofs; `cost` and `bound` are money, or mm of bar if not `priced`.

    `of_takeoff`: costs are of cuts at the lowest price of each length, not of a purchase.
    """

    faults: tuple[str, ...]
    cost: Decimal
    bound: Decimal
    priced: bool
    list_sha256: str
    of_takeoff: bool = False

    @property
    def good(self) -> bool:
        """Whether the proof holds."""
        return not self.faults

    @property
    def proven(self) -> bool:
        """Whether it proves that no plan is cheaper."""
        return self.good and self.cost == self.bound


def write_proof(plan: CutPlan, cut_list: Path, path: Path) -> Checked | None:
    """Write the proof of a cut list's plan and check the written file; None if the plan has no proof.

    Raises:
        InputError: the file cannot be written.
    """
    if plan.proof is None:
        return None
    name = {"name": cut_list.name, "sha256": _sha256(cut_list)}
    return _written(path, [sealed(plan.proof | {"list": name})])


def write_takeoff_proof(materials: Sequence[Material], unit: Unit, path: Path) -> Checked | None:
    """Write the proofs of all materials to one file and check it; None if any plan has no proof.

    Raises:
        InputError: the file cannot be written.
    """
    proofs = []
    for material in materials:
        if material.plan.proof is None:
            return None
        name = f"{material.section.name(unit)}, {material.grade.name}"
        proofs.append(sealed(material.plan.proof | {"list": {"name": name, "sha256": ""}}))
    return _written(path, proofs)


def _written(path: Path, proofs: Sequence[dict[str, Any]]) -> Checked:
    return check_proof(put_file(path, json.dumps({"proofs": proofs}, ensure_ascii=True).encode("ascii")))


def check_proof(path: Path, cut_list: Path | None = None, unit: Unit = "mm") -> Checked:
    """Check a file of proofs and, if a cut list is given, that it is the list of the proof.

    Raises:
        InputError: the file or the list cannot be read.
    """
    proofs = _read(path)
    faults = [f"{_name(proof)}{fault}" for proof in proofs for fault in faults_of_proof(proof)]
    if not faults and cut_list is not None:
        faults = _faults_of_list(proofs, cut_list, unit)
    priced = all(_table(proof, "units").get("cost") != "nm of bar" for proof in proofs)
    part = MONEY_PARTS if priced else NM_PER_MM
    cost, bound = (Decimal(sum(_amount(proof, key) for proof in proofs)) / part for key in ("cost", "bound"))
    hashes = [str(_table(proof, "list").get("sha256", "")) for proof in proofs]
    return Checked(tuple(faults), cost, bound, priced, hashes[0] if len(hashes) == 1 else "", not any(hashes))


def _read(path: Path) -> list[dict[str, Any]]:
    try:
        held = bytes_of(path, MOST_BYTES)
        if sum(map(held.count, (b",", b"[", b"{"))) > MOST_FIGURES:
            raise InputError(f"{path.name} has over {MOST_FIGURES:,} figures; no proof has.")
        content = json.loads(held)
        proofs = content["proofs"]
    except (UnicodeDecodeError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError(
            f"{path.name} is no proof of a cut plan.", hint="shopquote cut … --proof FILE"
        ) from error
    if not isinstance(proofs, list) or not proofs or not all(isinstance(proof, dict) for proof in proofs):
        raise InputError(f"{path.name} is no proof of a cut plan.", hint=HOW)
    return proofs


def _name(proof: dict[str, Any]) -> str:
    name = _table(proof, "list").get("name")
    return f"{name}: " if name else ""


def _table(proof: dict[str, Any], key: str) -> dict[str, Any]:
    """An object in a proof; empty where something else stands there, which `faults_of_proof` reports."""
    value = proof.get(key)
    return value if isinstance(value, dict) else {}


def _amount(proof: dict[str, Any], key: str) -> int:
    value = proof.get(key)
    # In JSON true is no number, but in Python it is the int 1.
    return value if isinstance(value, int) and not isinstance(value, bool) else 0


def _faults_of_list(proofs: Sequence[dict[str, Any]], cut_list: Path, unit: Unit) -> list[str]:
    """Faults if the one proof is not about this cut list: other pieces, or another file of the same."""
    if len(proofs) != 1:
        return [f"the file has {len(proofs)} proofs, of a takeoff; a cut list has one"]
    wanted: dict[tuple[str, int], int] = {}
    for piece in read_cut_list(cut_list, unit):
        wanted[piece.mark, piece.length.nm] = wanted.get((piece.mark, piece.length.nm), 0) + piece.count
    found: dict[tuple[str, int], int] = {}
    for given in proofs[0]["pieces"]:
        key = (given["mark"], given["length"])
        found[key] = found.get(key, 0) + given["count"]
    if wanted != found:
        odd = sorted({mark for (mark, length), n in (wanted.items() ^ found.items())})
        return [f"the proof is about another list than {cut_list.name}: see mark {odd[0]!r}"]
    if _table(proofs[0], "list").get("sha256") not in ("", _sha256(cut_list)):
        return [f"{cut_list.name} has the same pieces, but is not the very file that was planned"]
    return []


def _sha256(path: Path) -> str:
    return hashlib.sha256(bytes_of(path, MOST_BYTES)).hexdigest()
