"""Job sheets on paper."""
