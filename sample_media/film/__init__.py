"""Films invented putting scenes whose truth is known exactly.

World: metres, z = 0 is the putting plane, z up, x from the nominal start to the hole, y to the left.
Pixels: (0, 0) is the centre of the top left pixel. Time: seconds from the first frame. The package
shares only physical constants with ``puttvision``, so that what it films checks the measuring code.
"""
