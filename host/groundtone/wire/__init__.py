"""The wire: bytes to messages and back, as firmware/WIRE.md specifies them."""
