"""Which components come back more than their like: repeat offenders, funnels, Pareto, groups.

Components, turnouts, batches and places are ranked; people never are.
"""
