"""People and wrenches as the trail knows them: a fold over their events."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from bridge.core.events import PersonAdded, Reason, Stored, WrenchAdded, WrenchChecked, WrenchQuarantined
from bridge.core.events_links import WrenchProven

KINDS = frozenset({"person added", "wrench added", "wrench quarantined", "wrench checked", "wrench proven"})


@dataclass(frozen=True, slots=True)
class Proof:
    """The last proof of one thing of a wrench, by whom and when."""

    body: WrenchProven
    person: str | None
    utc: str


@dataclass(frozen=True, slots=True)
class Registry:
    """The latest of each person, wrench and proof; `quarantined` says why a wrench is not to be used before a check."""

    people: Mapping[str, PersonAdded] = field(default_factory=lambda: MappingProxyType({}))
    wrenches: Mapping[str, WrenchAdded] = field(default_factory=lambda: MappingProxyType({}))
    quarantined: Mapping[str, Reason] = field(default_factory=lambda: MappingProxyType({}))
    proofs: Mapping[tuple[str, str], Proof] = field(default_factory=lambda: MappingProxyType({}))  # by serial no., what

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
            case WrenchProven() as body:
                proof = Proof(body, stored.event.person, stored.utc)
                return replace(self, proofs=MappingProxyType({**self.proofs, (body.serial, body.what): proof}))
        return self

    def has_role(self, person: str, role: str) -> bool:
        """Whether a person is known and may act in that role."""
        known = self.people.get(person)
        return known is not None and role in known.roles
