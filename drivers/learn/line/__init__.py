"""Speed, parity and stop bits of a serial line, from what was received at settings tried; pure."""
