"""What travels with the program: the pages of its guide, and ready files to begin with.

Nothing is imported here: pages are shown without the packages that reading scenarios takes.
"""
