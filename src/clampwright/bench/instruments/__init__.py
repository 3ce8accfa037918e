"""Meters on a wire: what to say to them, how to reach them, how to log them without losing a reading.

`meter` describes a meter as text, `scpi` speaks to it through a transport that is passed in,
`visa_transport` is one such transport, `logger` keeps reading and hands everything to a sink given
from above, `pretend_instrument` is a meter to try all this with.
"""
