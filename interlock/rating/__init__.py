"""Ratings, distances and intervals by the published standards: one file a standard, each step shown.

Everything here computes from numbers it is given and reads nothing; the standards themselves, local codes
and a competent person decide. Numbers that were not seen in a public text of their standard are marked
`from memory` in the code and in every result that uses them.
"""
