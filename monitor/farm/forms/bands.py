"""Bands as written: ideal and harm limits by quantity, each with grade and source."""

from monitor.farm.forms.kinds import Duration, Form, OneGrade, Percent, Temperature, Text
from monitor.model import Band, Harm, Ideal, Quantity


class _Ideal(Form):
    grade: OneGrade
    source: Text

    def built(self, low: float | None, high: float | None) -> Ideal:
        """Return it as it is judged by."""
        return Ideal(low, high, self.grade, self.source)


class _Harm(Form):
    grade: OneGrade
    source: Text
    tolerated: Duration | None = None
    tolerated_low: Duration | None = None
    tolerated_high: Duration | None = None
    cumulative: Duration | None = None

    def built(self, low: float | None, high: float | None) -> Harm:
        """Return it as it is judged by; a side without a time of its own has the common one."""
        common = self.tolerated or 0.0
        return Harm(
            low, high,
            common if self.tolerated_low is None else self.tolerated_low,
            common if self.tolerated_high is None else self.tolerated_high,
            self.grade, self.source, self.cumulative,
        )  # fmt: skip


class TemperatureIdeal(_Ideal):
    """Ideal limits. [°C]"""

    low: Temperature | None = None
    high: Temperature | None = None


class TemperatureHarm(_Harm):
    """Harm limits. [°C]"""

    low: Temperature | None = None
    high: Temperature | None = None


class PercentIdeal(_Ideal):
    """Ideal limits. [%]"""

    low: Percent | None = None
    high: Percent | None = None


class PercentHarm(_Harm):
    """Harm limits. [%]"""

    low: Percent | None = None
    high: Percent | None = None


class TemperatureBand(Form):
    """A band of a temperature. [°C]"""

    ideal: TemperatureIdeal | None = None
    harm: TemperatureHarm | None = None


class PercentBand(Form):
    """A band of a share. [%]"""

    ideal: PercentIdeal | None = None
    harm: PercentHarm | None = None


class BandsForm(Form):
    """The bands of a place, a kind of place or a stage."""

    temperature: TemperatureBand | None = None
    soil_temperature: TemperatureBand | None = None
    humidity: PercentBand | None = None
    battery: PercentBand | None = None

    def built(self) -> dict[Quantity, Band]:
        """Return the bands as they are judged by."""
        written = {quantity: getattr(self, quantity.value, None) for quantity in Quantity}
        return {quantity: _band(form) for quantity, form in written.items() if form is not None}


def _band(form: TemperatureBand | PercentBand) -> Band:
    ideal, harm = form.ideal, form.harm
    return Band(
        None if ideal is None else ideal.built(ideal.low, ideal.high),
        None if harm is None else harm.built(harm.low, harm.high),
    )
