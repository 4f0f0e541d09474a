"""What is out of order at an emulated Bluetooth service just now."""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Faults:
    """`hanging` and `refused` go by method, such as `Connect`; the sets of devices by address."""

    hanging: set[str] = field(default_factory=set)  # the call is taken and never answered
    refused: dict[str, tuple[str, str]] = field(default_factory=dict)  # answered with this error and text
    silent: set[str] = field(default_factory=set)  # connected as far as anybody is told, but dead
    unresolved: set[str] = field(default_factory=set)  # connects and never shows its services
    off_air: set[str] = field(default_factory=set)  # does not advertise and cannot be reached

    def heal(self) -> None:
        """Everything works again; calls that hang stay unanswered."""
        self.hanging.clear()
        self.refused.clear()
        self.silent.clear()
        self.unresolved.clear()
        self.off_air.clear()
