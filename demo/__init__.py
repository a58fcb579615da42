"""An invented aeroplane in an invented shop, recorded through the public interface.

The Tavrel 2 of the Ossemby works, Quarrow Metalwork, and every person, product and number in here
are made up; nothing here is data to rely on.
"""
