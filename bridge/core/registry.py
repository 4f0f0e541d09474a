"""People and wrenches as the trail knows them: a fold over their events."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from bridge.core.events import PersonAdded, Reason, Stored, WrenchAdded, WrenchChecked, WrenchQuarantined

KINDS = frozenset({"person added", "wrench added", "wrench quarantined", "wrench checked"})


@dataclass(frozen=True, slots=True)
class Registry:
    """The latest of each person and wrench; `quarantined` says why a wrench is not to be used before a check."""

    people: Mapping[str, PersonAdded] = field(default_factory=lambda: MappingProxyType({}))
    wrenches: Mapping[str, WrenchAdded] = field(default_factory=lambda: MappingProxyType({}))
    quarantined: Mapping[str, Reason] = field(default_factory=lambda: MappingProxyType({}))

    def fold(self, stored: Stored) -> "Registry":
        """With one event taken; itself where the event says nothing of people or wrenches."""
        match stored.event.body:
            case PersonAdded() as person:
                return replace(self, people=MappingProxyType({**self.people, person.name: person}))
            case WrenchAdded() as wrench:
                return replace(self, wrenches=MappingProxyType({**self.wrenches, wrench.serial: wrench}))
            case WrenchQuarantined(serial, reason):
                return replace(self, quarantined=MappingProxyType({**self.quarantined, serial: reason}))
            case WrenchChecked(serial) if serial in self.quarantined:
                left = {name: why for name, why in self.quarantined.items() if name != serial}
                return replace(self, quarantined=MappingProxyType(left))
        return self

    def has_role(self, person: str, role: str) -> bool:
        """Whether a person is known and may act in that role."""
        known = self.people.get(person)
        return known is not None and role in known.roles
