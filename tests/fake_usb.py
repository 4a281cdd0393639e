"""A USB bus in memory with one USBTMC instrument, as a PyUSB backend: PyVISA-py's own USB code runs on it.

USBTMC 1.0 for the messages, USB 2.0 chapter 9 for the descriptors. Needs PyUSB, which is optional.
"""

from __future__ import annotations

import errno
import queue
import struct
import threading
from array import array
from types import SimpleNamespace
from typing import Any

import usb.backend
import usb.core
from loopback_servers import Script, answering
from loopback_vxi11 import Vxi11Conversation

VENDOR, PRODUCT, SERIAL = 0x1234, 0x5678, "SN0001"
ADDRESS = f"USB0::0x{VENDOR:04X}::0x{PRODUCT:04X}::{SERIAL}::INSTR"
_IN, _OUT = 0x81, 0x02
_STRINGS = {1: "Invented", 2: "Model 1", 3: SERIAL}


class UsbInstrument:
    """One instrument on the bus. Answers are made by a script in a thread of their own."""

    def __init__(self, script: Script = answering, *, padding: int = 0) -> None:
        self._script = script
        self.padding = padding
        self.conversation = Vxi11Conversation(None)  # type: ignore[arg-type]
        self.lines: list[bytes] = []
        self.plugged = True
        self.opened = 0
        self.log: list[str] = []
        self.first_error = 0  # raised once by the next bulk transfer
        self._commands: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._carry_out, name="usb instrument")
        self._thread.start()

    @property
    def address(self) -> str:
        return ADDRESS

    def stop(self) -> None:
        self._commands.put(None)
        self._thread.join(5.0)
        assert not self._thread.is_alive()

    def take(self, line: bytes) -> None:
        self._commands.put(line)

    def _carry_out(self) -> None:
        number = 0
        while (line := self._commands.get()) is not None:
            number += 1
            self.lines.append(line)
            answer = self._script(number, line, self.conversation)
            if answer is not None:
                self.conversation.send(self.conversation.frame(answer))


class FakeBackend(usb.backend.IBackend):  # type: ignore[misc]
    """The bus: what PyUSB asks of libusb, answered from memory."""

    def __init__(self, instrument: UsbInstrument) -> None:
        self.instrument = instrument
        self._asked = (0, 0)  # tag and size of the read that was requested

    # --- what is there ------------------------------------------------------------------------------

    def enumerate_devices(self) -> Any:
        return iter([SimpleNamespace()] if self.instrument.plugged else [])

    def get_parent(self, dev: Any) -> None:
        return None

    def get_device_descriptor(self, dev: Any) -> Any:
        return SimpleNamespace(
            bLength=18, bDescriptorType=1, bcdUSB=0x200, bDeviceClass=0, bDeviceSubClass=0,
            bDeviceProtocol=0, bMaxPacketSize0=64, idVendor=VENDOR, idProduct=PRODUCT, bcdDevice=0x100,
            iManufacturer=1, iProduct=2, iSerialNumber=3, bNumConfigurations=1,
            bus=1, address=7, port_number=1, port_numbers=(1,), speed=3,
        )  # fmt: skip

    def get_configuration_descriptor(self, dev: Any, config: int) -> Any:
        if config:
            raise IndexError
        return SimpleNamespace(
            bLength=9, bDescriptorType=2, wTotalLength=39, bNumInterfaces=1, bConfigurationValue=1,
            iConfiguration=0, bmAttributes=0x80, bMaxPower=50, extra_descriptors=[],
        )  # fmt: skip

    def get_interface_descriptor(self, dev: Any, intf: int, alt: int, config: int) -> Any:
        if intf or alt:
            raise IndexError
        return SimpleNamespace(
            bLength=9, bDescriptorType=4, bInterfaceNumber=0, bAlternateSetting=0, bNumEndpoints=2,
            bInterfaceClass=0xFE, bInterfaceSubClass=3, bInterfaceProtocol=1, iInterface=0,
            extra_descriptors=[],
        )  # fmt: skip

    def get_endpoint_descriptor(self, dev: Any, ep: int, intf: int, alt: int, config: int) -> Any:
        return SimpleNamespace(
            bLength=7, bDescriptorType=5, bEndpointAddress=(_IN, _OUT)[ep], bmAttributes=2,
            wMaxPacketSize=512, bInterval=0, bRefresh=0, bSynchAddress=0, extra_descriptors=[],
        )  # fmt: skip

    # --- opening ------------------------------------------------------------------------------------

    def open_device(self, dev: Any) -> Any:
        self._need_plugged()
        self.instrument.opened += 1
        return SimpleNamespace()

    def close_device(self, dev_handle: Any) -> None:
        pass

    def get_configuration(self, dev_handle: Any) -> int:
        return 1

    def set_configuration(self, dev_handle: Any, config_value: int) -> None:
        self.instrument.log.append("set_configuration")

    def claim_interface(self, dev_handle: Any, intf: int) -> None:
        pass

    def release_interface(self, dev_handle: Any, intf: int) -> None:
        pass

    def reset_device(self, dev_handle: Any) -> None:
        self.instrument.log.append("reset")

    def clear_halt(self, dev_handle: Any, ep: int) -> None:
        self.instrument.log.append(f"clear_halt {ep:02x}")

    def is_kernel_driver_active(self, dev_handle: Any, intf: int) -> bool:
        return False

    # --- transfers ----------------------------------------------------------------------------------

    def ctrl_transfer(  # noqa: PLR0917 - as PyUSB calls it
        self,
        dev_handle: Any,
        request_type: int,
        request: int,
        value: int,
        index: int,
        data: Any,
        timeout: int,
    ) -> int:
        self._need_plugged()
        if request == 6:  # GET_DESCRIPTOR of a string
            number = value & 0xFF
            text = _STRINGS[number].encode("utf-16-le") if number else struct.pack("<H", 0x0409)
            return self._fill(data, bytes([len(text) + 2, 3]) + text)
        if request == 7:  # GET_CAPABILITIES
            return self._fill(data, bytes([1]) + bytes(13) + bytes([4]) + bytes(9))
        return self._fill(data, bytes([0x81, 0]))  # an abort: no transfer is in progress

    @staticmethod
    def _fill(data: array[int], answer: bytes) -> int:
        size = min(len(data), len(answer))
        data[:size] = array("B", answer[:size])
        return size

    def bulk_write(self, dev_handle: Any, ep: int, intf: int, data: Any, timeout: int) -> int:
        self._need_plugged()
        self._raise_first_error()
        message = bytes(data)
        kind, tag = message[0], message[1]
        size = struct.unpack_from("<L", message, 4)[0]
        if kind == 1:  # a command
            self.instrument.take(message[12 : 12 + size].strip())
        else:  # a request to read
            self._asked = (tag, size)
        return len(message)

    def bulk_read(self, dev_handle: Any, ep: int, intf: int, buff: Any, timeout: int) -> int:
        self._need_plugged()
        self._raise_first_error()
        tag, size = self._asked
        taken = self.instrument.conversation.take(timeout / 1000.0, size)
        self._need_plugged()
        if taken is None:
            raise usb.core.USBTimeoutError("Operation timed out", errno=errno.ETIMEDOUT)
        data, whole = taken
        header = struct.pack("<BBBxLBxxx", 2, tag, ~tag & 0xFF, len(data), int(whole))
        return self._fill(buff, header + data + bytes(self.instrument.padding))

    def _raise_first_error(self) -> None:
        code, self.instrument.first_error = self.instrument.first_error, 0
        if code:
            raise usb.core.USBError("Pipe error", errno=code)

    def _need_plugged(self) -> None:
        if not self.instrument.plugged:
            raise usb.core.USBError("No such device (it may have been disconnected)", errno=errno.ENODEV)
