"""The rules of placement, by what they look at; ``capture.place`` puts them in order."""
