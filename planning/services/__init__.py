"""The only writers of track time, crews and week plans."""
