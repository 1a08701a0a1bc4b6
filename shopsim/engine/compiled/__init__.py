"""The shop floor compiled with numba: the rules of the SimPy model over plain arrays, with the same records bit for bit."""
