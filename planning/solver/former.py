"""The former plan as far as it can still be carried out: where planning again begins."""

from __future__ import annotations

from planning.solver.ready import Ready
from planning.solver.search import Search
from planning.solver.timing import Route, empty, extend


def take_up_former(ready: Ready, search: Search) -> None:
    """Put every crew-day's former jobs in, at their former minutes, with those locked to it.

    A job that cannot stay (its window gone, its time taken by a lock) is passed over; so are parts
    of jobs, which `Search.take_in` puts in together.
    """
    for number, present in enumerate(search.routes):
        route = _former(ready, number)
        if route.jobs & present.jobs == present.jobs and search.fits(route):
            search.swap(route)


def _former(ready: Ready, number: int) -> Route:
    day = ready.crew_days[number]
    fixed = [
        option
        for option in ready.options[number]
        if option.fixed is not None and (option.locked or option.job not in ready.parts)
    ]
    route = empty(day)
    for option in sorted(fixed, key=lambda o: (o.fixed or 0, o.job)):
        route = extend(ready, route, option) or route
    return route
