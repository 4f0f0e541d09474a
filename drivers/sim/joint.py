"""A simple bolted joint: torque against the turn of the nut, in newton-metres and degrees."""

import random
from dataclasses import dataclass
from math import exp, isfinite, sqrt

TOE_SHARE = 0.3  # of the turn from snug to target; own choice, it gives 10° to 60° on usual joints
RESTART = 1.08  # friction at rest against friction in motion, inside the 1.05 … 1.25 of common experience


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint that needs `angle_to_target_deg` from snug to `target_nm`; 0° is where the elastic line starts.

    Before snug only `drag_nm` is felt; a quadratic toe leads over `toe_deg` into a straight line. `scatter`
    multiplies the torque of the clamped joint (1 = friction as planned). `restart` is the factor by which a
    nut at rest resists more than one in motion. Raises `ValueError` for numbers that no joint can have.
    """

    target_nm: float
    angle_to_target_deg: float
    drag_nm: float = 0.0
    scatter: float = 1.0
    restart: float = RESTART
    toe_deg: float | None = None

    def __post_init__(self) -> None:
        for name, value in (
            ("target_nm", self.target_nm),
            ("angle_to_target_deg", self.angle_to_target_deg),
            ("scatter", self.scatter),
        ):
            if not (isfinite(value) and value > 0):
                raise ValueError(f"{name} must be above zero, found {value}")
        if not (isfinite(self.drag_nm) and self.drag_nm >= 0):
            raise ValueError(f"drag_nm must not be below zero, found {self.drag_nm}")
        if not (isfinite(self.restart) and self.restart >= 1):
            raise ValueError(f"restart must be 1 or more, found {self.restart}")
        if self.toe_deg is not None and not 0 < self.toe_deg <= 2 * self.angle_to_target_deg:
            raise ValueError(f"toe_deg must lie above 0 and end before the target, found {self.toe_deg}")

    @property
    def slope_nm_deg(self) -> float:
        """Rise of the elastic line in newton-metres a degree."""
        return self.scatter * self.target_nm / self.angle_to_target_deg

    @property
    def contact_deg(self) -> float:
        """Angle of first contact, below zero: the toe starts here."""
        return -self._half_toe_deg

    def torque_at(self, angle_deg: float) -> float:
        """Torque of the moving nut at that angle; never falls with the angle."""
        half = self._half_toe_deg
        if angle_deg <= -half:
            return self.drag_nm
        if angle_deg >= half:
            return self.drag_nm + self.slope_nm_deg * angle_deg
        # The parabola that meets the drag and the elastic line with equal value and slope at both of its ends.
        return self.drag_nm + self.slope_nm_deg * (angle_deg + half) ** 2 / (4 * half)

    def angle_at(self, torque_nm: float) -> float:
        """Angle at which the moving nut takes that torque; first contact for anything up to the drag."""
        half = self._half_toe_deg
        line_deg = (torque_nm - self.drag_nm) / self.slope_nm_deg
        if line_deg <= 0:
            return -half
        if line_deg >= half:
            return line_deg
        return sqrt(4 * half * line_deg) - half

    def break_free_nm(self, angle_deg: float) -> float:
        """Torque that a nut at rest at that angle takes before it moves on."""
        return self.torque_at(angle_deg) * self.restart

    @property
    def _half_toe_deg(self) -> float:
        toe_deg = TOE_SHARE * self.angle_to_target_deg if self.toe_deg is None else self.toe_deg
        return toe_deg / 2


def friction_scatter(rng: random.Random, sigma: float, batch: float = 1.0) -> float:
    """Log-normal factor of mean `batch` for one bolt; `sigma` is about 0.05 good paste, 0.1 oil, 0.15 dry."""
    return batch * exp(rng.gauss(-sigma * sigma / 2, sigma))
