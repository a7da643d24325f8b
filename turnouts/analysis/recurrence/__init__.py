"""Events that come back: how often, whether more and more, and how long a repair lasts."""
