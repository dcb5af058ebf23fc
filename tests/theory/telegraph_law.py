"""The exact law of a resistor-capacitor section driven by a random telegraph contact.

The contact opens at rate ``b`` and closes at rate ``a``; while it is open the voltage x (supply 1)
rises with ``tau_up``, while it is closed it falls with ``tau_down``.  Balance of flux gives the
density and the crossing rate (Wonham and Fuller, J. Electronics and Control 4 (1958) 567; Pawula
and Rice, IEEE Trans. IT-32 (1986) 63; Horsthemke and Lefever, Noise-Induced Transitions (1984),
chapter 9: from memory, derived anew below):

    mu(x) = x^(b tau_down) (1 - x)^(a tau_up)
    p(x)  = mu(x) [tau_up x + tau_down (1 - x)] / (x (1 - x)) / Z
    J(x)  = mu(x) / Z      up-crossings of x per unit time

For the Schmitt input let m_open(x), m_closed(x) be the mean times to first reach ``high`` from
x.  Backward equations, with D = m_closed - m_open:

    m_open'   = -(1 + a D) tau_up / (1 - x)
    m_closed' =  (1 - b D) tau_down / x
    D' + D mu'/mu = tau_up / (1 - x) + tau_down / x,   mu D -> 0 at x = 0

so D(x) mu(x) is the integral of mu(y) [tau_up/(1-y) + tau_down/y] from 0, which is Z times the
distribution function of p.  The output rises when x reaches ``high`` and falls when x reaches
``low`` with the contact closed; by exchanging the ends (x for 1 - x, a for b, up for down) the
same function gives the way back.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy.integrate import quad
from scipy.special import beta, betainc


@dataclass(frozen=True)
class Law:
    """Rates and time constants in units of one and the same time."""

    closing: float
    opening: float
    tau_up: float
    tau_down: float

    @property
    def low_end(self) -> float:
        """Exponent of x, b tau_down."""
        return self.opening * self.tau_down

    @property
    def high_end(self) -> float:
        """Exponent of 1 - x, a tau_up."""
        return self.closing * self.tau_up

    def mu(self, x: float) -> float:
        """Integrating factor, the shape of the crossing rate."""
        return float(x**self.low_end * (1.0 - x) ** self.high_end)

    @property
    def norm(self) -> float:
        """Z, by two beta functions."""
        p, q = self.low_end, self.high_end
        return float(self.tau_up * beta(p + 1.0, q) + self.tau_down * beta(p, q + 1.0))

    def crossings(self, x: float) -> float:
        """Up-crossings of ``x`` per unit time."""
        return self.mu(x) / self.norm

    def distribution(self, x: float) -> float:
        """P(voltage < x), by two incomplete beta functions."""
        p, q = self.low_end, self.high_end
        upper = self.tau_up * beta(p + 1.0, q) * betainc(p + 1.0, q, x)
        lower = self.tau_down * beta(p, q + 1.0) * betainc(p, q + 1.0, x)
        return float(upper + lower) / self.norm

    def moment(self, k: int) -> float:
        """Mean of the voltage to the power ``k``."""
        p, q = self.low_end, self.high_end
        rising = self.tau_up * beta(p + 1.0 + k, q)
        return float(rising + self.tau_down * beta(p + k, q + 1.0)) / self.norm

    def mirrored(self) -> Law:
        """The same section seen from the supply."""
        return Law(self.opening, self.closing, self.tau_down, self.tau_up)

    def lag(self, x: float) -> float:
        """D: how much later ``high`` is reached from ``x`` with the contact closed than open."""
        return self.distribution(x) / self.crossings(x)

    def passage(self, low: float, high: float) -> float:
        """Mean time from ``low`` with the contact closed until ``high`` is first reached."""

        def slope(x: float) -> float:
            return (1.0 + self.closing * self.lag(x)) * self.tau_up / (1.0 - x)

        way, _ = quad(slope, low, high, epsabs=1e-12, epsrel=1e-12)
        return self.lag(low) + way

    def cycles(self, low: float, high: float) -> float:
        """Output cycles of a Schmitt input per unit time."""
        return 1.0 / (self.passage(low, high) + self.mirrored().passage(1.0 - high, 1.0 - low))
