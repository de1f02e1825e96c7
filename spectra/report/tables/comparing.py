"""Tables of samples beside each other: one line a sample and coating, one a difference."""

from __future__ import annotations

from collections.abc import Iterator

from spectra.comparison.recipes import Difference
from spectra.comparison.together import Together
from spectra.comparison.treatment import TreatmentFinding
from spectra.comparison.trends import Trend
from spectra.report.tables.table import Table
from spectra.report.words.comparing import share, specimens_line
from spectra.report.words.numerals import plain, probability, wavenumber, with_interval
from spectra.report.words.numerals import share as percents
from spectra.report.words.reasons import sentence
from spectra.report.words.signs import chemical
from spectra.report.words.statement import amount, has_thickness, thickness
from spectra.verification.result import CoatingFinding, SampleDifference, SampleFinding, Verification


def side_by_side(verification: Verification) -> Table:
    """Return all samples in one table: expected, found, how much, how evenly, left after, the requirement."""
    head = ("sample", "expected", "coating", "coating is", "amount", "specimens", "variation")
    asked = verification.study.requirement is not None
    treated = any(
        coating.kept for sample in verification.samples.values() for coating in sample.coatings.values()
    )
    rows = tuple(
        _row(sample, coating, verification, asked, treated)
        for sample in verification.samples.values()
        for coating in sample.coatings.values()
    )
    note = (
        "Amount: per cent of neat, or mean thickness where the optics are known. Variation: standard "
        "deviation of the coating from spot to spot over its mean, what bare spots do taken off."
    )
    if treated:
        note += " Left after: share of the amount before the treatment."
    more = (*(("left after",) if treated else ()), *(("requirement",) if asked else ()))
    return Table("Samples side by side", (*head, *more), rows, "", note)


def _row(
    sample: SampleFinding, coating: CoatingFinding, verification: Verification, asked: bool, treated: bool
) -> tuple[str, ...]:
    """One line of the table."""
    requirement = sample.requirement.verdict if sample.requirement else "not asked"
    return (
        _named(sample.name, verification),
        sample.expect,
        coating.name,
        coating.presence.verdict,
        _amount(coating),
        specimens_line(coating) or str(coating.presence.specimens),
        _variation(coating, verification.study.settings.comparison.trend_alpha),
        *((_left(coating),) if treated else ()),
        *((requirement,) if asked else ()),
    )


def _named(name: str, verification: Verification) -> str:
    """Return a sample with its treatment and side."""
    group = verification.study.samples[name]
    more = [text for text in (group.treatment, group.side) if text]
    return f"{name} ({'; '.join(more)})" if more else name


def _amount(coating: CoatingFinding) -> str:
    found = coating.presence
    if has_thickness(found):
        return thickness(found)
    return amount(found)


def _variation(coating: CoatingFinding, alpha: float) -> str:
    """Coefficient of variation with its interval, and two populations where they show."""
    even = coating.evenness
    if even is None or even.variation is None or even.variation_low is None or even.variation_high is None:
        return "not determined"
    text = f"{share(even.variation)} ({_from_to(even.variation_low, even.variation_high)})"
    parts = even.parts
    if even.populations == 2 and parts.low is not None and parts.high is not None:
        text += f"; two populations, {plain(100.0 * parts.low, 2)} and {plain(100.0 * parts.high, 2)} %"
    return "; ".join([text, *(_trend(trend) for trend in coating.trends if trend.p_adjusted < alpha)])


def _trend(trend: Trend) -> str:
    ends = _from_to(trend.change_low, trend.change_high)
    return f"{trend.kind} trend over position {ends} (p {probability(trend.p_adjusted)})"


def _left(coating: CoatingFinding) -> str:
    kept = coating.kept
    if kept is None:
        return ""
    if kept.share is None or kept.share_low is None or kept.share_high is None:
        return kept.verdict
    return f"{kept.verdict}: {share(kept.share)} ({_from_to(kept.share_low, kept.share_high)})"


def _from_to(low: float, high: float) -> str:
    """Write both ends of an interval of shares, with their unit once."""
    return f"{share(low).removesuffix(' %')} to {share(high)}"


def difference_table(verification: Verification) -> Table:
    """Return the differences of recipes and sides, with intervals that hold together."""
    rows = tuple(_difference(item) for item in verification.comparisons)
    note = (
        "The intervals of one coating hold together with the stated confidence; the specimen is the unit. "
        "In nm only where the same amount is the same thickness in both samples."
    )
    return Table("Differences", ("coating", "samples", "difference", "nm", "differ", "by"), rows, "", note)


def _difference(item: SampleDifference) -> tuple[str, ...]:
    found = item.found
    nm = found.nm_per_amount
    if found.low is None or found.high is None:
        apart = " ".join(sentence(reason) for reason in found.reasons)
    else:
        apart = "yes" if found.low > 0 or found.high < 0 else "not shown"
    return (
        item.coating,
        f"{found.samples[0]} - {found.samples[1]}",
        percents(found.difference, found.low, found.high),
        "no common scale" if nm is None else _lengths(found, nm),
        apart,
        METHODS[found.method],
    )


def together_table(verification: Verification) -> Table:
    """Return the coatings of every sample that has several: sum, shares, how well they are told apart."""
    rows = tuple(
        (sample.name, *_together(found))
        for sample in verification.samples.values()
        if (found := sample.together) is not None
    )
    note = (
        "Correlation: between the errors of two amounts; near -1 only their sum is known. Shares are those "
        "of a sum fixed at one."
    )
    head = ("sample", "coatings", "sum", "shares", "correlation", "cannot be told apart", "bands of the sum")
    return Table("Several coatings together", head, rows, "", note)


def _together(found: Together) -> tuple[str, ...]:
    """Return the cells of one sample."""
    shares = [
        f"{name} {percents(part.share, part.share_low, part.share_high)}"
        for name, part in zip(found.coatings, found.parts, strict=False)
    ]
    pairs = [
        plain(float(found.correlation[i, k]), 2)
        for i in range(len(found.coatings))
        for k in range(i + 1, len(found.coatings))
    ]
    total = percents(found.total, found.total_low, found.total_high)
    length = "" if found.total_nm is None else f"; {plain(found.total_nm, 2)} nm"
    return (
        " + ".join(found.coatings),
        f"{total}{length}",
        "; ".join(shares) or "not determined",
        ", ".join(pairs),
        "; ".join(" and ".join(pair) for pair in found.alike) or "none",
        AS_THE_SUM[found.as_the_sum],
    )


AS_THE_SUM = {
    True: "yes: no interaction shown",
    False: "no: see what changed or is left over",
    None: "cannot tell",
}


def treatment_table(verification: Verification) -> Table:
    """Return what every treatment changed in coating, substrate and residues: one line each."""
    rows = tuple(
        (_named(sample.name, verification), treatment.before, what, verdict, why)
        for sample in verification.samples.values()
        if (treatment := sample.treatment) is not None
        for what, verdict, why in _treated(treatment)
    )
    note = (
        "Every band against itself before the treatment, each at the place it must have in a film of its own "
        "thickness; how much was left is told by the amounts."
    )
    return Table("What the treatments changed", ("sample", "before", "what", "is", "why"), rows, "", note)


def _treated(treatment: TreatmentFinding) -> Iterator[tuple[str, str, str]]:
    """Yield what was compared, its verdict and why."""
    parts = {**treatment.coatings, "substrate": treatment.substrate}
    for name, found in parts.items():
        yield name, found.verdict, " ".join(sentence(reason) for reason in found.reasons)
    for name, verdict in treatment.residues.items():
        yield f"residue {name}", verdict, ""


def treated_bands(sample: SampleFinding) -> Iterator[Table]:
    """Yield the bands of coating and substrate before and after, a table each."""
    if sample.treatment is None:
        return
    parts = {**sample.treatment.coatings, "the substrate": sample.treatment.substrate}
    head = ("band", "expected before", "expected after", "moved", "height after over before", "band is")
    for name, found in parts.items():
        heights = any(band.ratio is not None for band in found.bands)
        rows = tuple(
            (
                chemical(band.assignment) or "none in the tables",
                wavenumber(band.expected_before),
                wavenumber(band.expected_after),
                with_interval(band.shift, band.shift_low, band.shift_high, "cm-1"),
                *((with_interval(band.ratio, band.ratio_low, band.ratio_high),) if heights else ()),
                band.verdict,
            )
            for band in found.bands
        )
        shown = head if heights else (*head[:4], head[5])
        yield Table(f"Bands of {name} against {sample.treatment.before}", shown, rows)


def material_table(verification: Verification) -> Table:
    """Return the neat sets of one material beside each other, band by band."""
    rows = tuple(
        (
            f"{item.coatings[1]} against {item.coatings[0]}",
            item.verdict,
            wavenumber(band.position),
            with_interval(band.shift, band.shift_low, band.shift_high, "cm-1"),
            with_interval(band.ratio, band.ratio_low, band.ratio_high),
            band.verdict,
        )
        for item in verification.materials_compared
        for band in item.bands
    )
    head = ("sources", "together", "band", "shift", "height against the other bands", "band is")
    return Table("Sources of one material", head, rows)


def _lengths(found: Difference, nm: float) -> str:
    low, high = _times(found.low, nm), _times(found.high, nm)
    return with_interval(found.difference * nm, low, high, "nm")


def _times(value: float | None, nm: float) -> float | None:
    return None if value is None else value * nm


METHODS = {
    "tukey": "Tukey-Kramer, one scatter",
    "t3": "Dunnett's T3, each its own scatter",
    "dunnett": "Dunnett, one scatter",
    "dunnett_own": "Dunnett, each its own scatter",
    "paired": "paired by specimen",
}
