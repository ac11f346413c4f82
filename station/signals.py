"""What the register tells others; who listens is not its concern."""

from django.dispatch import Signal

limits_changed = Signal()
"""Limits, normal values or instruments of ``transmitter`` changed from the instant ``since`` on."""
