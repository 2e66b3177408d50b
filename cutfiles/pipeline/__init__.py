"""The wiring: the one package that knows every room, and the one that opens paths.

Nothing is printed here. What a caller may want to show comes by the callbacks of `Effort` and in
the results.
"""
