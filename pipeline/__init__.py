"""Loopwright: which limit of which vehicle each stretch of trail presses on, and which loop to drive.

Results are a planning aid from measured and assumed data. They never replace walking the trail, measuring the
vehicle as it stands, a spotter, the site's rules, local law and a qualified instructor's judgement.
"""

__version__ = "0.1.0"
