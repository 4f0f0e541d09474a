"""The emulated service on a bus: owns its name, answers calls, sends signals. No radio, no wrench, real messages."""

import asyncio
from collections import Counter

from dbus_fast import Message, MessageType, NameFlag, RequestNameReply
from dbus_fast.aio import MessageBus

from drivers.sim.bluez import names
from drivers.sim.bluez.daemon import NoBusError
from drivers.sim.bluez.methods import Call, Refused, Unanswered, answer
from drivers.sim.bluez.outbox import Outbox
from drivers.sim.bluez.radio import Radio, Signal, nobody

ADVERTISE_S = 0.05


class BluetoothService:
    """`radio` on the bus at `address` while it is up; `down` is a crash: no farewell, and its state is lost."""

    def __init__(self, radio: Radio, address: str, *, advertise_s: float = ADVERTISE_S) -> None:
        self.radio = radio
        self._address = address
        self._advertise_s = advertise_s
        self._bus: MessageBus | None = None
        self._outbox: Outbox | None = None
        self._advertiser: asyncio.Task[None] | None = None
        self._called: Counter[str] = Counter()
        self._news = asyncio.Event()

    async def up(self) -> None:
        """Come onto the bus. Raises `NoBusError` where another one is there."""
        bus = MessageBus(bus_address=self._address)
        await bus.connect()
        self._bus = bus
        bus.add_message_handler(self._handle)
        # Clients that leave the bus end their scans and subscriptions.
        rule = f"type='signal',sender='{names.BUS}',member='NameOwnerChanged'"
        await bus.call(
            Message(
                destination=names.BUS,
                path=names.BUS_PATH,
                interface=names.BUS,
                member="AddMatch",
                signature="s",
                body=[rule],
            )
        )
        self._outbox = Outbox(bus)
        self.radio.emit = self._emit
        self._advertiser = asyncio.create_task(self._advertise(), name="advertisements of the emulated service")
        owned = await bus.request_name(names.SERVICE_NAME, NameFlag.DO_NOT_QUEUE)
        if owned is not RequestNameReply.PRIMARY_OWNER:
            await self.down()
            raise NoBusError("link.bus-owned", names.SERVICE_NAME)

    async def down(self) -> None:
        """Leave the bus as a crashed service does; calling it again does nothing."""
        self.radio.emit = nobody
        self.radio.reset()
        advertiser, self._advertiser = self._advertiser, None
        if advertiser is not None:
            advertiser.cancel()
            await asyncio.wait({advertiser})
        outbox, self._outbox = self._outbox, None
        if outbox is not None:
            await outbox.close()
        bus, self._bus = self._bus, None
        if bus is not None:
            bus.disconnect()
            try:
                await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]  # the library's
            except (OSError, EOFError):
                return  # the bus went first

    async def called(self, member: str, times: int = 1) -> None:
        """Returns when that method has been called so often since the start."""
        while self._called[member] < times:
            self._news.clear()
            await self._news.wait()

    def count(self, member: str) -> int:
        """How often that method was called."""
        return self._called[member]

    async def flushed(self) -> None:
        """Returns when the bus has taken all that was sent."""
        if self._outbox is not None:
            await self._outbox.flushed()

    def _handle(self, message: Message) -> bool:
        if message.message_type is MessageType.SIGNAL:
            if message.member == "NameOwnerChanged" and not message.body[2]:
                self.radio.forget_client(str(message.body[0]))
            return False
        if message.message_type is not MessageType.METHOD_CALL or message.interface == f"{names.BUS}.Peer":
            return False
        call = Call(
            str(message.sender), str(message.path), str(message.interface), str(message.member), tuple(message.body)
        )
        try:
            found = answer(self.radio, call)
        except Refused as refused:
            self._put(Message.new_error(message, refused.name, refused.text))
        except Unanswered:
            pass  # the fault that is played: a call that hangs
        else:
            self._put(Message.new_method_return(message, found.signature, list(found.body)))
            if call.member == "StartDiscovery":
                self.radio.advertise()  # after the answer: what is heard before it is lost to some callers
        self._called[call.member] += 1
        self._news.set()
        return True

    def _emit(self, signal: Signal) -> None:
        self._put(
            Message(
                message_type=MessageType.SIGNAL,
                path=signal.path,
                interface=signal.interface,
                member=signal.member,
                signature=signal.signature,
                body=signal.body,
            )
        )

    def _put(self, message: Message) -> None:
        if self._outbox is not None:
            self._outbox.put(message)

    async def _advertise(self) -> None:
        while True:
            await asyncio.sleep(self._advertise_s)
            self.radio.advertise()
