"""The shop floor as a SimPy model, and what the rules mean: crew, stations, clamps, racks, queue, dispatcher, work."""
