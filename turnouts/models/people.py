"""People, what they may do and where, and the units they read and type."""

from django.contrib.auth.models import AbstractUser
from django.db import models

from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.terms import Role
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only


@audited(exclude=["password", "last_login"])
class Person(AbstractUser):
    """Somebody who logs in. The units say what they see and type; what is stored is SI."""

    LENGTH = [("in", "inches and fractions"), ("mm", "millimetres")]
    SPEED = [("mph", "mph"), ("km/h", "km/h")]
    TEMPERATURE = [("degF", "°F"), ("degC", "°C")]
    MASS = [("lb", "pounds"), ("kg", "kilograms")]

    length_unit = models.CharField(max_length=4, choices=LENGTH, default="in")
    speed_unit = models.CharField(max_length=4, choices=SPEED, default="mph")
    temperature_unit = models.CharField(max_length=4, choices=TEMPERATURE, default="degF")
    mass_unit = models.CharField(max_length=4, choices=MASS, default="lb")

    class Meta:
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def units(self) -> UnitPreference:
        """What this person reads and types; distance goes with speed."""
        return UnitPreference(
            length="in" if self.length_unit == "in" else "mm",
            distance="mi" if self.speed_unit == "mph" else "km",
            speed="mph" if self.speed_unit == "mph" else "km/h",
            temperature="degF" if self.temperature_unit == "degF" else "degC",
            mass="lb" if self.mass_unit == "lb" else "kg",
        )


@audited()
class RoleGrant(models.Model):
    """One role of one person in one territory; no territory means all of them."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="grants")
    role = models.CharField(max_length=16, choices=choices(Role))
    territory = models.ForeignKey(
        "turnouts.Territory", on_delete=models.CASCADE, null=True, blank=True, related_name="grants"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "role", "territory"],
                name="one_grant_of_a_role_a_territory",
                nulls_distinct=False,
            ),
            only("role", Role, "grant_role_is_known"),
        ]

    def __str__(self) -> str:
        where = self.territory.name if self.territory else "all territories"
        return f"{self.person}: {self.role} in {where}"
