"""Charge balance of a dye bath: from what is dissolved to its pH, in plain floats.

Every dissolved whole ("component": all the citrate, all the carbonate) is spread over its forms by mass
action, and the pH is where the charges of all forms cancel. Activities follow Davies
(log10 g = -A z^2 (sqrt I / (1 + sqrt I) - 0.3 I), neutral forms 1); ion pairs of sodium, potassium,
ammonium and aluminium with carbonate and sulfate are formed; slaked lime and aluminium hydroxide stay
undissolved beyond their solubility.

Units: mol per litre (taken as mol per kg of water), degC, pH = -log10 of the activity of H+.
Validity: 0 to 100 degC, though the constants of the organic acids were measured up to 50 or 60 degC only
(each row of the table says so), those of oxalic, tartaric and lactic acid near 25 degC; ionic strength
to about 0.1, and 0.5 at the most. Not in the balance: what the fibre and the dye take up or give off,
ammonia that leaves with the steam, metals held by citrate, oxalate or tartrate.
Sources: rules/knowledge/chemistry.toml, constant by constant.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources.abc import Traversable
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from advisor.knowledge import TableError
from advisor.paths import rules_root
from advisor.rows import Basis, Figure, MolarMass, Row
from advisor.store import kept
from advisor.toml_file import read_toml

FILE = "chemistry.toml"
CarbonDioxide = Literal["closed", "vented", "open", "gone"]
"""What becomes of carbonic acid: all kept; what is above the open air's share left; at the open air's
share, up or down, as after days; all carbonate left, as an acid bath at the boil."""

_KELVIN = 273.15
_ROOM = 298.15
_GAS_CONSTANT = 8.314462618e-3  # kJ/(mol K), CODATA
_LOWEST_PH, _HIGHEST_PH = -2.0, 16.0
_ROUNDS = 300
_THICKEST = 20.0  # mol per litre in all: beyond, the bath is taken as this strong
_LEAST_STEP, _MOST_STEP = 0.1, 20.0
_TRACE = 1e-30
_CLOSE_PH = 1e-5
_CLOSE_SHARE = 1e-4
_ROOT_PH = 1e-8

Finite = Annotated[float, Field(allow_inf_nan=False)]


class Constant(Row):
    """log10 of an equilibrium constant (no unit) against temperature, and the degC between which it was measured."""

    id: str
    reaction: str
    analytic: tuple[Finite, ...] = Field(default=(), max_length=6)
    log_k: Finite | None = None
    delta_h: Finite = 0.0
    unit: Literal["log10 K"]
    from_degc: Finite
    to_degc: Finite
    source: str
    basis: Basis
    note: str | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Constant:
        if bool(self.analytic) == (self.log_k is not None):
            raise ValueError("give either analytic or log_k")
        return self

    def log10(self, kelvin: float) -> float:
        """log10 K (no unit; activities on mol/L) at this temperature in K, a polynomial or van 't Hoff's formula.

        pK of acetic acid at 25 degC, Harned and Ehlers 1933 (from memory): 4.756.

        >>> acetic = next(c for c in chemistry().constant if c.id == "acetic")
        >>> round(acetic.log10(298.15), 3)
        4.756
        """
        if self.log_k is not None:
            return self.log_k - self.delta_h / _GAS_CONSTANT / math.log(10) * (1 / kelvin - 1 / _ROOM)
        terms = (1.0, kelvin, 1 / kelvin, math.log10(kelvin), kelvin**-2, kelvin**2)
        return sum(a * t for a, t in zip(self.analytic, terms, strict=False))


class Form(Row):
    """One form of a component: its charge, and the constants that lead to it."""

    ion: str
    charge: int
    constants: tuple[str, ...] = ()
    solid: str | None = None
    solid_protons: int = 0


class Component(Row):
    """A dissolved whole and its forms, one proton apart, the barest first."""

    id: str
    forms: tuple[Form, ...] = Field(min_length=1)


class Pair(Row):
    """An ion pair a + b_count b."""

    a: str
    b: str
    b_count: int = 1
    charge: int
    constant: str


class Dose(Row):
    """A substance that may be dosed, and what one mol of it brings."""

    id: str
    makes: Mapping[str, Finite]
    acid: Finite
    alkali: Finite
    moves: Literal["down", "up", "either"]
    molar_mass: MolarMass
    note: str | None = None


class Polynomial(Row):
    """Coefficients of a fit, lowest power first, and a divisor: (c0 + c1 x + c2 x^2 ...) / (1 + d x), in `unit`."""

    coefficients: tuple[Finite, ...]
    divisor: Finite = 0.0
    unit: str
    source: str
    basis: Basis
    note: str | None = None

    def at(self, x: float) -> float:
        """The fit at x (degC or K, as the row says), in the row's own unit.

        Permittivity of water at 298.15 K, by hand: 249.21 - 0.79069 * 298.15 + 0.72997e-3 * 298.15^2 = 78.36.

        >>> round(chemistry().water.permittivity.at(298.15), 2)
        78.36
        """
        return sum(c * x**n for n, c in enumerate(self.coefficients)) / (1 + self.divisor * x)


class Water(Row):
    """What is known of water and the air above it."""

    permittivity: Polynomial
    density: Polynomial
    debye_huckel: Figure
    davies: Figure
    air_carbon_dioxide: Figure
    tap_ph: Figure
    alkalinity_equivalent: Figure


class Chemistry(Row):
    """The whole table rules/knowledge/chemistry.toml."""

    constant: tuple[Constant, ...]
    component: tuple[Component, ...]
    pair: tuple[Pair, ...]
    water: Water
    dose: tuple[Dose, ...]
    aluminium_below: Figure

    @model_validator(mode="after")
    def _references(self) -> Chemistry:
        constants = {c.id for c in self.constant}
        ions = {form.ion for component in self.component for form in component.forms}
        components = {c.id for c in self.component}
        used = {form.solid for c in self.component for form in c.forms if form.solid}
        used |= {name for c in self.component for form in c.forms for name in form.constants}
        used |= {p.constant for p in self.pair} | {"water", "carbon dioxide gas"}
        for what, names, known in (
            ("constant", used, constants),
            ("ion", {p.a for p in self.pair} | {p.b for p in self.pair}, ions),
            ("component", {name for d in self.dose for name in d.makes}, components),
        ):
            if names - known:
                raise ValueError(f"{what} {sorted(names - known)[0]!r} is not in the table")
        return self


def load(folder: Traversable) -> Chemistry:
    """Read and check chemistry.toml in this folder; raises TableError when it is missing or wrong."""
    data = read_toml(folder / FILE, TableError)
    try:
        return Chemistry.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        raise TableError(f"{FILE}: {_where(data, first['loc'])}: {first['msg']}") from None


def _where(data: Any, path: tuple[int | str, ...]) -> str:
    """The place of an error, entries by their id rather than their number."""
    words = []
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            data = None
        words.append(repr(data["id"]) if isinstance(data, dict) and "id" in data else str(step))
    return ".".join(words) or "table"


@lru_cache(maxsize=1)
def chemistry() -> Chemistry:
    """The table that ships with the advisor, loaded once. Raises TableError when it is missing or wrong."""
    return kept("chemistry", lambda: load(rules_root() / "knowledge"))


@lru_cache(maxsize=1)
def doses() -> Mapping[str, Dose]:
    """What may be dosed, by key."""
    return {dose.id: dose for dose in chemistry().dose}


@dataclass(frozen=True, slots=True)
class Bath:
    """What is in one litre: mol of each component ("acetic", "carbonate", "sodium" ...), at a temperature in degC."""

    totals: Mapping[str, float]
    temperature: float = _ROOM - _KELVIN
    carbon_dioxide: CarbonDioxide = "closed"


def ph(bath: Bath) -> float:
    """The pH of this bath.

    Raises ValueError for an unknown component, an amount that is negative or not finite, or a
    temperature outside 0 to 100 degC. Acetic acid, 0.1 mol/L, by PHREEQC with minteq.v4.dat: 2.881.

    >>> round(ph(Bath({"acetic": 0.1})), 2)
    2.88

    Hydrochloric acid, 0.01 mol/L, by hand: -log10(0.01) + 0.51 (0.1 / 1.1 - 0.3 * 0.01) = 2.0448.

    >>> round(ph(Bath({"chloride": 0.01})), 2)
    2.04
    """
    return _ph(_key(bath), bath.temperature, bath.carbon_dioxide)


def amount_for_ph(bath: Bath, recipe: Mapping[str, float], target: float) -> float | None:
    """Mol per litre of a substance that bring the bath to the target pH.

    `recipe` says what one mol of it brings (mol of each component). Negative when the bath would have to
    lose some; None when no amount does it, or any does (lime past its solubility). Needs no search: at a
    given pH and given activities the charge is linear in the amount. Raises ValueError as `ph` does.
    By hand: at pH 7 as much sodium as chloride, neither acid nor alkali left over.

    >>> round(amount_for_ph(Bath({"chloride": 0.01}), {"sodium": 1}, 7), 6)
    0.01
    """
    key = _key(bath)
    _key(Bath(recipe))
    solver = _Solver(_constants(bath.temperature), dict(key), bath.carbon_dioxide, tuple(recipe))
    return solver.amount(recipe, target)


def water_totals(alkalinity: float) -> dict[str, float]:
    """Components of one litre of tap water of this alkalinity (mg/L as CaCO3, at least 0), at its usual pH.

    Mol of each; the metals that carry the alkalinity enter as "hardness", an ion that pairs with nothing.
    Raises ValueError for an alkalinity that is negative or not finite. By hand, with 50.0435 mg of CaCO3 for each
    mmol (IUPAC atomic weights): 100 mg/L carry 100 / 50.0435 = 1.9983 mmol of charge.

    >>> round(1000 * water_totals(100)["hardness"], 4)
    1.9983
    """
    if not 0 <= alkalinity < 1e6:
        raise ValueError(f"alkalinity {alkalinity} mg/L is negative or not finite")
    return dict(_water_totals(alkalinity))


@lru_cache(maxsize=64)
def _water_totals(alkalinity: float) -> tuple[tuple[str, float], ...]:
    water = chemistry().water
    charge = alkalinity / water.alkalinity_equivalent.interval.middle / 1000
    solver = _Solver(_constants(_ROOM - _KELVIN), {"hardness": charge}, "closed", ("carbonate",))
    carbonate = solver.amount({"carbonate": 1.0}, water.tap_ph.interval.middle) or 0.0
    return (("hardness", charge), ("carbonate", max(carbonate, 0.0)))


def _key(bath: Bath) -> tuple[tuple[str, float], ...]:
    known = _names()
    for name, amount in bath.totals.items():
        if name not in known:
            raise ValueError(f"unknown component {name!r}; known: {', '.join(sorted(known))}")
        if not 0 <= amount < math.inf:
            raise ValueError(f"{name}: {amount} mol/L is negative or not finite")
    scale = min(1.0, _THICKEST / max(sum(bath.totals.values()), 1e-300))
    return tuple(sorted((name, amount * scale) for name, amount in bath.totals.items() if amount > 0))


@lru_cache(maxsize=1)
def _names() -> frozenset[str]:
    return frozenset(c.id for c in chemistry().component)


@dataclass(frozen=True, slots=True)
class _FormAt:
    ion: str
    charge: int
    weight: float  # formation constant from the form that needs none
    solubility: float | None  # activity of the ion over the solid, per activity of H+ to the power below
    protons: int


@dataclass(frozen=True, slots=True)
class _Constants:
    kw: float
    debye: float
    davies: float
    davies_turn: float  # ionic strength where Davies has its least value
    air_co2: float
    components: Mapping[str, tuple[_FormAt, ...]]
    charges: Mapping[str, int]
    pairs: tuple[tuple[Pair, float], ...]


@lru_cache(maxsize=64)
def _constants(temperature: float) -> _Constants:
    if not 0 <= temperature <= 100:
        raise ValueError(f"temperature {temperature} degC is outside 0 to 100")
    table = chemistry()
    kelvin = temperature + _KELVIN
    logs = {c.id: c.log10(kelvin) for c in table.constant}
    water = table.water
    debye = (
        water.debye_huckel.interval.middle
        * math.sqrt(water.density.at(temperature) / 1000)
        / (water.permittivity.at(kelvin) * kelvin) ** 1.5
    )
    components = {
        c.id: tuple(
            _FormAt(
                form.ion,
                form.charge,
                10 ** sum(logs[name] for name in form.constants),
                10 ** logs[form.solid] if form.solid else None,
                form.solid_protons,
            )
            for form in c.forms
        )
        for c in table.component
    }
    return _Constants(
        10 ** logs["water"],
        debye,
        water.davies.interval.middle,
        _davies_turn(water.davies.interval.middle),
        10 ** (logs["carbon dioxide gas"] + water.air_carbon_dioxide.interval.middle),
        components,
        {form.ion: form.charge for forms in components.values() for form in forms},
        tuple((pair, 10 ** logs[pair.constant]) for pair in table.pair),
    )


def _davies_turn(c: float) -> float:
    """Where sqrt I / (1 + sqrt I) - c I is greatest: 2 c sqrt I (1 + sqrt I)^2 = 1, by bisection."""
    low, high = 0.0, 1 / (2 * c)
    for _ in range(60):
        root = (low + high) / 2
        low, high = (root, high) if 2 * c * root * (1 + root) ** 2 < 1 else (low, root)
    return low * low


@lru_cache(maxsize=4096)
def _ph(totals: tuple[tuple[str, float], ...], temperature: float, mode: CarbonDioxide) -> float:
    return _Solver(_constants(temperature), dict(totals), mode).solve()


@dataclass(slots=True)
class _Spread:
    """One component with its weights at the activities of this round; index = protons above the barest."""

    total: float
    charges: tuple[int, ...]
    weights: list[float]
    limit: tuple[int, float, int] | None = None  # form, concentration at a(H+) = 1, power of a(H+)
    held: bool = False  # concentration of that form is the limit, not just below it

    def unit(self, h: float) -> tuple[float, float]:
        """Concentration per weight at this activity of H+, and the charge of it all."""
        whole = charge = 0.0
        power = 1.0
        for z, weight in zip(self.charges, self.weights, strict=True):
            part = weight * power
            whole += part
            charge += z * part
            power *= h
        unit = self.total / whole
        if self.limit is not None:
            form, most, protons = self.limit
            ceiling = most * h**protons / (self.weights[form] * h**form)
            if self.held or ceiling < unit:
                unit = ceiling
        return unit, unit * charge


@dataclass(slots=True)
class _Solver:
    """Finds pH, activities and free ions together; one use, not shared."""

    constants: _Constants
    totals: dict[str, float]
    mode: CarbonDioxide
    also: tuple[str, ...] = ()  # components to spread though their amount is not known yet
    strength: float = 0.0
    free: dict[str, float] = field(default_factory=dict)
    spreads: dict[str, _Spread] = field(default_factory=dict)
    gamma: list[float] = field(default_factory=list)
    pairs: list[tuple[Pair, float]] = field(default_factory=list)
    gap: list[float] = field(default_factory=list)
    step: float = 1.0
    bonds: dict[str, list[tuple[float, int]]] = field(default_factory=dict)  # ion: (paired per bare, charge)

    def __post_init__(self) -> None:
        if self.mode == "gone":
            self.totals.pop("carbonate", None)
        for name in self.also:
            self.totals.setdefault(name, 0.0)
        if self.mode == "open":
            self.totals.setdefault("carbonate", 0.0)
        ions = {f.ion for name in self.totals for f in self.constants.components[name]}
        self.pairs = [(p, k) for p, k in self.constants.pairs if p.a in ions and p.b in ions]
        for pair, _ in self.pairs:
            for ion in (pair.a, pair.b):
                self.free.setdefault(ion, self._whole_of(ion))
        self.strength = sum(self.totals.values()) / 2

    def _whole_of(self, ion: str) -> float:
        forms = self.constants.components
        return next(t for name, t in self.totals.items() if any(f.ion == ion for f in forms[name]))

    def solve(self) -> float:
        """The pH."""
        value, width = 7.0, _HIGHEST_PH
        for _ in range(_ROUNDS):
            self._weigh()
            new = _root(self._charge, value, width)
            moved = self._speciate(10**-new)
            if abs(new - value) < _CLOSE_PH and moved < _CLOSE_SHARE:
                return new
            value, width = new, 0.02
        raise ArithmeticError(f"the charge balance did not settle: {self.totals}")

    def amount(self, recipe: Mapping[str, float], target: float) -> float | None:
        """Amount of the recipe that makes the charge vanish at the target pH."""
        h, base, x = 10**-target, dict(self.totals), 0.0
        for _ in range(_ROUNDS):
            found = self._linear(base, recipe, target)
            if found is None:
                return None
            self._set(base, recipe, max(found, 0.0))
            self._weigh()
            moved = self._speciate(h)
            if abs(found - x) <= _CLOSE_SHARE * abs(found) and moved < _CLOSE_SHARE:
                return found
            x = found
        return None

    def _linear(self, base: Mapping[str, float], recipe: Mapping[str, float], target: float) -> float | None:
        ways: list[bool] = [self.mode == "open"] if self.mode != "vented" else [False, True]
        roots = []
        for held in ways:
            ends = []
            for x in (0.0, 1.0):
                self._set(base, recipe, x)
                self._weigh()
                if "carbonate" in self.spreads:
                    self.spreads["carbonate"].limit = self._carbon_dioxide() if held else None
                    self.spreads["carbonate"].held = held
                ends.append(self._charge(target))
            slope = ends[1] - ends[0]
            if abs(slope) > 1e-9:
                roots.append((-ends[0] / slope, slope))
        if not roots:
            return None
        # vented: the charge is the larger of the two ways, so the root depends on which way it slopes
        values = [root for root, _ in roots]
        return min(values) if roots[0][1] > 0 else max(values)

    def _set(self, base: Mapping[str, float], recipe: Mapping[str, float], x: float) -> None:
        self.totals = dict(base)
        for name, count in recipe.items():
            if name in self.totals:  # carbonate is not, when it is gone
                self.totals[name] += x * count

    def _carbon_dioxide(self) -> tuple[int, float, int] | None:
        return (2, self.constants.air_co2, 0) if self.mode in ("vented", "open") else None

    def _weigh(self) -> None:
        """Weights of all forms from the ionic strength and the free partners of the last round."""
        # Davies turns up again beyond its least value; there it is held, so that more salt never undoes
        # what salt does
        strength = min(self.strength, self.constants.davies_turn)
        root = math.sqrt(strength)
        log = -self.constants.debye * (root / (1 + root) - self.constants.davies * strength)
        g = self.gamma = [10 ** (log * z * z) for z in range(4)]
        self.spreads = {}
        for name, total in self.totals.items():
            forms = self.constants.components[name]
            weights = []
            limit = None
            for index, form in enumerate(forms):
                z = abs(form.charge)
                weights.append(form.weight / g[z])
                if form.solubility is not None:
                    limit = (index, form.solubility / g[z], form.protons)
            if name == "carbonate":
                limit = self._carbon_dioxide()
            spread = _Spread(total, tuple(f.charge for f in forms), weights, limit)
            spread.held = name == "carbonate" and self.mode == "open"
            self.spreads[name] = spread
        self.bonds = {}
        for pair, k in self.pairs:
            a, b = (self.constants.charges[ion] for ion in (pair.a, pair.b))
            k *= g[abs(a)] * g[abs(b)] ** pair.b_count / g[abs(pair.charge)]
            on_a = k * self.free[pair.b] ** pair.b_count
            on_b = k * self.free[pair.a] * self.free[pair.b] ** (pair.b_count - 1) * pair.b_count
            self.bonds.setdefault(pair.a, []).append((on_a, pair.charge))
            self.bonds.setdefault(pair.b, []).append((on_b, 0))
        for name, spread in self.spreads.items():
            for index, form in enumerate(self.constants.components[name]):
                if form.ion in self.bonds:
                    factor = 1 + sum(bond for bond, _ in self.bonds[form.ion])
                    spread.weights[index] *= factor
                    if spread.limit is not None and spread.limit[0] == index:
                        at, most, protons = spread.limit
                        spread.limit = (at, most * factor, protons)

    def _charge(self, value: float) -> float:
        h = 10**-value
        total = (h - self.constants.kw / h) / self.gamma[1]
        for spread in self.spreads.values():
            total += spread.unit(h)[1]
        return total

    def _speciate(self, h: float) -> float:
        """Ionic strength and free partners at this acidity; returns by what share they would move."""
        strength = (h + self.constants.kw / h) / self.gamma[1]
        bare: dict[str, float] = {}
        for name, spread in self.spreads.items():
            unit, _ = spread.unit(h)
            for index, form in enumerate(self.constants.components[name]):
                amount = unit * spread.weights[index] * h**index
                bonds = self.bonds.get(form.ion)
                if bonds is not None:
                    amount /= 1 + sum(bond for bond, _ in bonds)
                    bare[form.ion] = amount
                    # each pair counts once, with its own charge, on the side of its first member
                    strength += sum(charge**2 * amount * bond for bond, charge in bonds)
                strength += form.charge**2 * amount
        was = [self.strength, *self.free.values()]
        now = [strength / 2, *(bare[ion] for ion in self.free)]
        gap = [math.log(max(n, _TRACE) / max(w, _TRACE)) for n, w in zip(now, was, strict=True)]
        step = self._step(gap)
        new = [max(w, _TRACE) * math.exp(step * g) for w, g in zip(was, gap, strict=True)]
        self.strength = new[0]
        self.free = dict(zip(self.free, new[1:], strict=True))
        return max(abs(g) for g in gap)

    def _step(self, gap: list[float]) -> float:
        """How much of the gap to close: Aitken's rule slows down what swings and speeds up what creeps."""
        step = self.step
        if self.gap:
            change = [new - old for new, old in zip(gap, self.gap, strict=True)]
            size = sum(c * c for c in change)
            if size > 0:
                step *= -sum(old * c for old, c in zip(self.gap, change, strict=True)) / size
        self.gap = gap
        self.step = min(max(step, _LEAST_STEP), _MOST_STEP)
        return self.step


def _root(function: Callable[[float], float], guess: float, width: float) -> float:
    """Root of a decreasing function of pH: Ridders' method, which halves the bracket and never loses it."""
    low, high = max(guess - width, _LOWEST_PH), min(guess + width, _HIGHEST_PH)
    f_low, f_high = function(low), function(high)
    if f_low <= 0 or f_high >= 0:
        low, high = _LOWEST_PH, _HIGHEST_PH
        f_low, f_high = function(low), function(high)
    if f_low <= 0:
        return low
    if f_high >= 0:
        return high
    last = math.inf
    for _ in range(60):
        middle = (low + high) / 2
        f_middle = function(middle)
        if f_middle == 0:
            return middle
        step = (middle - low) * f_middle / math.sqrt(f_middle * f_middle - f_low * f_high)
        new = middle + step
        f_new = function(new)
        if f_new == 0 or abs(new - last) < _ROOT_PH:
            return new
        last = new
        if f_middle > 0 > f_new:
            low, f_low, high, f_high = middle, f_middle, new, f_new
        elif f_new > 0 > f_middle:
            low, f_low, high, f_high = new, f_new, middle, f_middle
        elif f_new > 0:
            low, f_low = new, f_new
        else:
            high, f_high = new, f_new
        if high - low < _ROOT_PH:
            return new
    return (low + high) / 2
