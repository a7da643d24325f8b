"""From a defect and a welding procedure to what the welder does, minute by minute.

Pure: no framework, database, network or clock. ``estimate.estimate`` is the way in.
"""
