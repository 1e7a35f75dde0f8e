"""Adding shoes from a file: looked at first, with every mistake by row and column, then all of them or none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from catalogue.domain.gtin import short_gtin
from catalogue.models import Brand, Shoe
from catalogue.services.csv_file import FileProblem, FileRejected
from catalogue.services.records import shoe_rules as rules
from catalogue.services.records.shoe_file import COLUMNS, ShoeLine, line_of
from catalogue.services.records.shoes import brand_create, shoe_create
from catalogue.services.rights import needs
from core.database.validation import check_fields
from core.domain.errors import DomainError, field_error
from core.models import User

Rows = Sequence[tuple[int, Mapping[str, str]]]
PROBLEMS_MOST = 200


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What a file would add: shoes in the order of the file, and the names of brands that are not there yet."""

    lines: tuple[ShoeLine, ...]
    new_brands: tuple[str, ...]


@dataclass(slots=True)
class _Checker:
    """Checks rows against the catalogue and against each other."""

    brands: dict[str, Brand]
    problems: list[FileProblem] = field(default_factory=list)
    names: dict[tuple[str, str, str], int] = field(default_factory=dict)
    slugs: dict[str, int] = field(default_factory=dict)
    followed: dict[str, int] = field(default_factory=dict)
    gtins: dict[str, int] = field(default_factory=dict)

    def check(self, line: ShoeLine) -> None:
        self._check_within(line)
        brand = self.brands.get(line.brand.casefold())
        shoe = Shoe(brand=brand)
        for step in (self._fill, self._check_shoe, self._check_previous, self._check_barcodes):
            try:
                step(line, shoe)
            except DomainError as problem:
                self._add(line.row, problem)

    def _add(self, row: int, problem: DomainError) -> None:
        for name, sentences in problem.fields.items():
            column = name if name in COLUMNS else "row"
            self.problems += [FileProblem(row, column, sentence) for sentence in sentences]
        if not problem.fields:
            self.problems.append(FileProblem(row, "row", problem.message))

    def _once(self, seen: dict[str, int], key: str, line: ShoeLine, words: tuple[str, str]) -> None:
        earlier = seen.setdefault(key, line.row)
        if earlier != line.row:
            column, what = words
            self.problems.append(FileProblem(line.row, column, f"{what} is in row {earlier} too. Remove one of them."))

    def _check_within(self, line: ShoeLine) -> None:
        """Name what the file says twice."""
        brand = self.brands.get(line.brand.casefold())
        key = (
            brand.slug if brand else line.brand.casefold(),
            str(line.details["name"]).casefold(),
            str(line.details.get("version", "")).casefold(),
        )
        earlier = self.names.setdefault(key, line.row)
        if earlier != line.row:
            message = f"{line.title} is in row {earlier} too. Remove one of them."
            self.problems.append(FileProblem(line.row, "name", message))
        if slug := line.details.get("slug"):
            self._once(self.slugs, slug, line, ("slug", f"The address {slug}"))
        if line.previous:
            self._once(self.followed, line.previous, line, ("previous", f"The previous version {line.previous}"))
        for barcode in line.barcodes:
            self._once(self.gtins, barcode.gtin, line, ("barcodes", f"The barcode {short_gtin(barcode.gtin)}"))

    def _fill(self, line: ShoeLine, shoe: Shoe) -> None:
        for name, value in rules.cleaned(line.details).items():
            setattr(shoe, name, value)
        if line.brand.casefold() not in self.brands:
            self._check_brand(line)
        check_fields(shoe, but={"brand", "previous"} | ({"slug"} - line.details.keys()))
        low, high = shoe.smallest_size_eu, shoe.largest_size_eu
        if low is not None and high is not None and low > high:
            raise field_error("largest_size_eu", "The smallest size must not be above the largest.")

    def _check_brand(self, line: ShoeLine) -> None:
        try:
            check_fields(Brand(name=line.brand), but={"slug"})
        except DomainError as problem:
            raise field_error("brand", problem.message) from problem

    def _check_shoe(self, line: ShoeLine, shoe: Shoe) -> None:
        if line.brand.casefold() in self.brands:
            rules.check_shoe_is_new(shoe)
        if shoe.slug:
            rules.check_address_is_free(shoe)

    def _check_previous(self, line: ShoeLine, shoe: Shoe) -> None:
        is_above = self.slugs.get(line.previous, line.row) < line.row
        if not line.previous or is_above:
            return
        previous = Shoe.objects.filter(slug=line.previous).first()
        if previous is None:
            message = f"There is no shoe {line.previous} in the catalogue or in a row above."
            raise field_error("previous", message)
        shoe.previous = previous
        rules.check_previous(shoe)

    def _check_barcodes(self, line: ShoeLine, shoe: Shoe) -> None:
        rules.barcode_rows(shoe, line.barcodes)


def _brands() -> dict[str, Brand]:
    """Return the brands by name and by address, without regard to case."""
    brands = list(Brand.objects.all())
    return {brand.slug.casefold(): brand for brand in brands} | {brand.name.casefold(): brand for brand in brands}


def import_plan(rows: Rows) -> ImportPlan:
    """Read the rows of a file and check them against the catalogue and against each other. Nothing is changed.

    Raises
    ------
    FileRejected
        With up to 200 problems by row and column.
    """
    brands = _brands()
    checker = _Checker(brands)
    lines = []
    for row, cells in rows:
        line, problems = line_of(row, cells)
        checker.problems += problems
        if line is not None:
            checker.check(line)
            lines.append(line)
    if checker.problems:
        raise FileRejected(checker.problems[:PROBLEMS_MOST])
    new: dict[str, str] = {}
    for line in lines:
        if line.brand.casefold() not in brands:
            new.setdefault(line.brand.casefold(), line.brand)
    return ImportPlan(tuple(lines), tuple(new.values()))


@needs("catalogue.shoe:write")
@transaction.atomic
def shoes_import(*, actor: User, rows: Rows) -> list[Shoe]:
    """Add the shoes of a file, and the brands that are not there yet: all of them or none.

    Raises
    ------
    FileRejected
        Where a row can't be added, also because of what somebody else added since the file was looked at.
    """
    plan = import_plan(rows)
    brands, shoes = _brands(), []
    for name in plan.new_brands:
        brands[name.casefold()] = brand_create(actor=actor, name=name)
    for line in plan.lines:
        previous = Shoe.objects.get(slug=line.previous) if line.previous else None
        try:
            shoes.append(
                shoe_create(
                    actor=actor,
                    brand=brands[line.brand.casefold()],
                    barcodes=line.barcodes,
                    previous=previous,
                    **line.details,
                )
            )
        except DomainError as problem:
            column = next((name for name in problem.fields if name in COLUMNS), "row")
            raise FileRejected([FileProblem(line.row, column, problem.message)]) from problem
    return shoes
