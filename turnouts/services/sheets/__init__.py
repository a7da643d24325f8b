"""Sheets: the files a railway hands over and gets back, one sheet for each kind of record."""
