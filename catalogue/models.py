"""What everyone shares: brands, shoes, stock, the scale of bands, published score cards."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex
from django.contrib.postgres.search import SearchVectorField
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from core.models import Store, User, printable

EU_SIZE_MIN, EU_SIZE_MAX = Decimal("15"), Decimal("55")


class Brand(models.Model):
    """A maker of shoes."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=60, unique=True, validators=[printable])

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name


class Use(models.TextChoices):
    """What a shoe is made for."""

    RUNNING = "running", "running"
    WALKING = "walking", "walking"
    STANDING = "standing", "standing work"


class ShoeQuerySet(models.QuerySet["Shoe"]):
    def published(self) -> ShoeQuerySet:
        """Shoes with a current score card."""
        return self.filter(score_cards__is_current=True)


class Shoe(models.Model):
    """One version of a model of shoe."""

    slug = models.SlugField(max_length=80, unique=True)
    brand = models.ForeignKey(Brand, on_delete=models.PROTECT, related_name="shoes")
    name = models.CharField(max_length=80, validators=[printable])
    version = models.CharField(max_length=20, blank=True, validators=[printable])
    use = models.CharField(max_length=10, choices=Use.choices, default=Use.RUNNING)
    mass_g = models.FloatField(null=True, blank=True, validators=[MinValueValidator(20), MaxValueValidator(2000)])
    stack_heel_mm = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(120)])
    stack_forefoot_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(120)]
    )
    drop_mm = models.GeneratedField(
        expression=F("stack_heel_mm") - F("stack_forefoot_mm"), output_field=models.FloatField(), db_persist=True
    )
    previous = models.OneToOneField("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="next")
    is_discontinued = models.BooleanField(default=False)

    objects = ShoeQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["brand__name", "name", "version"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["brand", "name", "version"],
                name="shoe_once",
                violation_error_message="This brand already has a shoe of this name and version.",
            ),
            models.CheckConstraint(
                condition=Q(mass_g__isnull=True) | Q(mass_g__gt=0),
                name="shoe_mass_positive",
                violation_error_message="The mass must be more than 0 g.",
            ),
            models.CheckConstraint(
                condition=~Q(previous=F("id")),
                name="shoe_not_its_own_previous",
                violation_error_message="A shoe can't be its own previous version.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slug}"

    @property
    def title(self) -> str:
        """The name with its version, without the brand."""
        return f"{self.name} {self.version}".strip()


class Scale(models.Model):
    """A way of cutting the stability axis into bands. A version is never edited: a new one is made."""

    version = models.CharField(max_length=20, unique=True)

    class Meta:
        ordering: ClassVar = ["version"]

    def __str__(self) -> str:
        return self.version


class Band(models.Model):
    """One interval of a scale, lower limit included, upper limit excluded; the outer bands are open."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="bands")
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=40, validators=[printable])
    lower = models.FloatField(null=True, blank=True)
    upper = models.FloatField(null=True, blank=True)
    suits = models.TextField()
    runner_mass_max_kg = models.FloatField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["scale", "order"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["scale", "order"], name="band_order_once"),
            models.CheckConstraint(
                condition=Q(lower__isnull=True) | Q(upper__isnull=True) | Q(lower__lt=F("upper")),
                name="band_lower_below_upper",
                violation_error_message="A band's lower limit must be below its upper limit.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.scale}: {self.name}"


class ScoreCard(models.Model):
    """The published scores of a shoe. A new publication makes a new card; the old ones stay readable."""

    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="score_cards")
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="+")
    band = models.ForeignKey(Band, on_delete=models.PROTECT, related_name="+")
    stability = models.FloatField()
    midfoot = models.FloatField()
    rearfoot = models.FloatField()
    cushioning = models.FloatField()
    # Standard uncertainties; null where they are not known.
    stability_u = models.FloatField(null=True, blank=True)
    midfoot_u = models.FloatField(null=True, blank=True)
    rearfoot_u = models.FloatField(null=True, blank=True)
    cushioning_u = models.FloatField(null=True, blank=True)
    cushioning_estimated = models.BooleanField(default=False)
    band_probability = models.FloatField(null=True, blank=True)
    is_borderline = models.BooleanField(default=False)
    neighbour = models.ForeignKey(Band, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    is_provisional = models.BooleanField(default=False)
    specimens = models.PositiveSmallIntegerField()
    tested_on = models.DateField()
    scoring_model = models.CharField(max_length=20)
    protocol = models.CharField(max_length=20)
    is_current = models.BooleanField(default=True)
    published_at = models.DateTimeField()
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        ordering: ClassVar = ["-published_at"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["shoe"],
                condition=Q(is_current=True),
                name="score_card_one_current",
                violation_error_message="The shoe already has a current score card.",
            ),
            models.CheckConstraint(condition=Q(specimens__gte=1), name="score_card_of_specimens"),
            models.CheckConstraint(
                condition=Q(band_probability__isnull=True) | Q(band_probability__range=(0, 1)),
                name="score_card_probability_range",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["stability"], condition=Q(is_current=True), name="score_card_current_stability"),
        ]

    def __str__(self) -> str:
        return f"{self.shoe.slug} by {self.scoring_model}"


class StockItem(models.Model):
    """How many pairs of a size of a shoe lie in a store."""

    # No indexes of their own: the ones below begin with each of them.
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="stock", db_index=False)
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="stock", db_index=False)
    size_eu = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(EU_SIZE_MIN), MaxValueValidator(EU_SIZE_MAX)]
    )
    quantity = models.PositiveSmallIntegerField()
    # Repeats the shoe's current score card, set by triggers and by nobody else: a fitting asks for a store, a size and
    # a stretch of the scale at once, and one index answers that only where the three lie together.
    stability = models.FloatField(null=True, editable=False)

    class Meta:
        ordering: ClassVar = ["store", "shoe", "size_eu"]
        indexes: ClassVar = [
            models.Index(
                fields=["store", "size_eu", "stability"],
                include=["shoe"],
                condition=Q(quantity__gt=0),
                name="stock_by_size_and_score",
            ),
            models.Index(fields=["shoe", "size_eu", "store"], include=["quantity"], name="stock_by_shoe"),
            models.Index(fields=["size_eu", "shoe"], condition=Q(quantity__gt=0), name="stock_item_size_there"),
        ]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["store", "size_eu", "shoe"],
                name="stock_item_once",
                violation_error_message="The store already has an entry for this shoe and size.",
            ),
            models.CheckConstraint(
                condition=Q(size_eu__range=(EU_SIZE_MIN, EU_SIZE_MAX)),
                name="stock_item_size_range",
                violation_error_message="Sizes run from EU 15 to EU 55.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.shoe.slug} EU {self.size_eu.normalize():f} at {self.store.slug}: {self.quantity}"


CARDS_MOST = 200


class Paper(models.TextChoices):
    """What wall cards are printed on."""

    A4 = "a4", "A4 (210 × 297 mm)"
    LETTER = "letter", "Letter (8.5 × 11 in)"


class CardsPerSheet(models.IntegerChoices):
    """How many wall cards share a sheet."""

    ONE = 1, "1, the whole sheet"
    TWO = 2, "2, half a sheet each"
    FOUR = 4, "4, a quarter each"
    EIGHT = 8, "8, an eighth each"


class PrintRun(models.Model):
    """Wall cards that a store printed in one go. Its cards belong to it in the audit trail."""

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="print_runs")
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    cards_per_sheet = models.PositiveSmallIntegerField(choices=CardsPerSheet.choices, default=CardsPerSheet.FOUR)
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    is_withdrawn = models.BooleanField(default=False, help_text="Not printed after all, or taken down.")

    class Meta:
        ordering: ClassVar = ["-printed_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(cards_per_sheet__in=CardsPerSheet.values), name="print_run_cards_per_sheet"
            ),
        ]

    def __str__(self) -> str:
        return f"run {self.pk} of wall cards for {self.store.slug}"


class PrintedCard(models.Model):
    """One wall card of a run: which shoe, with which published scores on it."""

    run = models.ForeignKey(PrintRun, on_delete=models.PROTECT, related_name="cards")
    shoe = models.ForeignKey(Shoe, on_delete=models.PROTECT, related_name="+")
    score_card = models.ForeignKey(ScoreCard, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering: ClassVar = ["run", "position"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["run", "shoe"], name="printed_card_once_a_run")]

    def __str__(self) -> str:
        return f"{self.shoe.slug} in run {self.run_id}"


class CatalogueRevision(models.Model):
    """One row that changes with everything the public catalogue shows. Triggers set it; pages tell their age by it.

    `shoes_number` leaves stock and stores out, which change all day. It repeats what other rows' audit entries already
    say, so it has none of its own.
    """

    id = models.SmallIntegerField(primary_key=True, default=1)
    number = models.BigIntegerField(default=0)
    changed_at = models.DateTimeField()
    shoes_number = models.BigIntegerField(default=0)
    shoes_changed_at = models.DateTimeField(null=True)

    class Meta:
        constraints: ClassVar = [models.CheckConstraint(condition=Q(id=1), name="catalogue_revision_one_row")]

    def __str__(self) -> str:
        return f"{self.number} of {self.changed_at:%Y-%m-%d %H:%M:%S.%f}"


class ShoesChange(models.Model):
    """Which shoes a statement changed, by the `shoes_number` it led to; None for more than can be listed.

    Triggers write it, so that what is held in memory is mended and not read anew. The last thousand are kept.
    """

    number = models.BigIntegerField(primary_key=True)
    changed_at = models.DateTimeField()
    shoes = ArrayField(models.BigIntegerField(), null=True)

    def __str__(self) -> str:
        return f"{self.number}: {'many' if self.shoes is None else len(self.shoes)}"


class StoreHolding(models.Model):
    """How many published shoes a store has in stock in at least one size. Triggers count."""

    store = models.OneToOneField(Store, on_delete=models.CASCADE, primary_key=True, related_name="holding")
    shoes = models.IntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.store_id}: {self.shoes}"


class ShoeHolding(models.Model):
    """How many stores have a shoe in stock in at least one size. Triggers count."""

    shoe = models.OneToOneField(Shoe, on_delete=models.CASCADE, primary_key=True, related_name="holding")
    stores = models.IntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.shoe_id}: {self.stores}"


class ShoeSearch(models.Model):
    """The words of a shoe's brand, name and version, to search in. Triggers write it; nothing is said here first."""

    shoe = models.OneToOneField(Shoe, on_delete=models.CASCADE, primary_key=True, related_name="search")
    document = SearchVectorField()

    class Meta:
        indexes: ClassVar = [GinIndex(fields=["document"], name="shoe_search_document")]

    def __str__(self) -> str:
        return f"{self.document}"


class ApiAllowance(models.Model):
    """How often an address without an account asked the API in one minute. Kept for two, not on disk."""

    address = models.CharField(max_length=45)
    minute = models.BigIntegerField()
    requests = models.IntegerField(default=1)

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["minute", "address"], name="api_allowance_once")]

    def __str__(self) -> str:
        return f"{self.address}: {self.requests}"
